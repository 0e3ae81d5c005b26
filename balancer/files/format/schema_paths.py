"""The way through a schema: from a key of a file to what is said of it, and what stands beside."""

from collections.abc import Iterator
from typing import Any

from balancer.files.format.value_types import Key, Schema


def inner(schema: Schema) -> Schema:
    """Take off what only checks."""
    while schema["type"].startswith("function"):
        schema = schema["schema"]
    return schema


def _down(schema: Schema, part: str | int) -> Schema:
    """Go from the schema of a list or a table to that of one item."""
    anything: Schema = {"type": "any"}
    if schema["type"] == "list":
        return inner(schema["items_schema"])
    return inner(schema.get("fields", {}).get(part, {}).get("schema", anything))


def key_of(schema: Schema, place: tuple[str | int, ...]) -> Key:
    """Take out of pydantic's path the branches of unions, which the file knows nothing of."""
    key: list[str | int] = []
    schema = inner(schema)
    for part in place:
        if schema["type"] == "tagged-union":
            schema = inner(schema["choices"][part])
        else:
            schema = _down(schema, part)
            key.append(part)
    return tuple(key)


def siblings(schema: Schema, key: Key) -> list[str]:
    """List the names known in the table that holds a key."""
    for part in key[:-1]:
        schema = _down(schema, part)
    return list(schema.get("fields", {}))


def meaning(schema: Schema, key: Key) -> str:
    """Say what a key means, or what holds it."""
    said = ""
    for part in key:
        field = schema.get("fields", {}).get(part)
        said = field["metadata"]["pydantic_js_updates"]["description"] if field else said
        schema = _down(schema, part)
    return said


def homes(schema: Schema, name: str) -> str:
    """Say where in a file a key of this name belongs; nothing where it is not known."""
    places = ["above the first table"] if name in schema["fields"] else []
    tables = []
    for table, field in schema["fields"].items():
        items = inner(field["schema"])
        if name in items.get("fields", {}):
            tables.append(f"[{table}]")
        if name in items.get("items_schema", {}).get("fields", {}):
            tables.append(f"[[{table}]]")
    if tables:
        *others, last = tables
        places.append(f"in {', '.join(others)} or {last}" if others else f"in {last}")
    return ", or ".join(places)


def named(schema: Schema, name: str) -> Iterator[Schema]:
    """Find the schemas of the keys of a name."""
    for key, field in schema.get("fields", {}).items():
        if key == name:
            yield field["schema"]
        else:
            yield from named(field["schema"], name)
    for part in ("schema", "items_schema"):
        if part in schema:
            yield from named(schema[part], name)


def nested(schema: Schema) -> Iterator[Schema]:
    """Give a schema and all that it is made of."""
    yield schema
    parts: list[Any] = [schema[part] for part in ("schema", "items_schema") if part in schema]
    for part in (*parts, *schema.get("choices", {}).values()):
        yield from nested(part)
