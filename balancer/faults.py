"""Turn what pydantic's validator found into faults that a person can act on."""

from __future__ import annotations

import re
from typing import Any

from pydantic_core import SchemaValidator, ValidationError

from balancer.errors import Fault
from balancer.toml_file import Key, TomlFile
from balancer.units import Units

_TAGS = ("single", "several")
_WORDS = {
    "float": "a number",
    "int": "a whole number",
    "str": "text in quotes",
    "string": "text in quotes",
    "bool": "true or false",
    "list": "a list in brackets",
    "dict": "a table",
}


def validate(file: TomlFile, schema: dict[str, Any], units: Units | None) -> list[Fault]:
    """Hold a file against a schema.

    Parameters
    ----------
    file : TomlFile
    schema : dict
        From `keys`.
    units : Units or None
        Of the file; None: they are not known, so ranges are left alone.

    Returns
    -------
    list of Fault
        All there are, in the order of the file.

    References
    ----------
    pydantic-core's `SchemaValidator`.

    Examples
    --------
    >>> from balancer.keys import BODY_FIELDS, table
    >>> file = TomlFile("a.toml", {"cgup": 450}, "\\ncgup = 450")
    >>> print(*validate(file, table(BODY_FIELDS), None))
    a.toml:2: cgup: unknown key: did you mean cg_up?
    """
    try:
        SchemaValidator(schema).validate_python(file.data, context=units)
    except ValidationError as error:
        found = [
            (file.lines.get(_key(one["loc"]), 10**6), _fault(file, schema, dict(one)))
            for one in error.errors(include_url=False)
        ]
        # Both branches of a union speak; the same place needs to be named once.
        found.sort(key=lambda pair: pair[0])
        return list(dict.fromkeys(fault for _, fault in found))
    return []


def _key(place: tuple[str | int, ...]) -> Key:
    return tuple(part for part in place if part not in _TAGS and part not in ("float", "str"))


def _fault(file: TomlFile, schema: dict[str, Any], error: dict[str, Any]) -> Fault:
    key, kind, value = _key(error["loc"]), error["type"], error["input"]
    context = error.get("ctx", {})
    where = file.place(key)
    if kind == "fault":
        return Fault(where, context["found"], context["way_out"])
    if kind == "extra_forbidden":
        return Fault(where, "unknown key", suggestion(str(key[-1]), _siblings(schema, key)))
    if kind == "missing":
        return Fault(where, "is missing", f"give it: {_meaning(schema, key)}")
    if kind == "literal_error":
        return Fault(where, f"{value!r} is not known", f"write {context['expected']}")
    if kind == "finite_number":
        return Fault(where, f"{value} is not a number", "give its true value")
    if kind in ("too_short", "too_long"):
        count = f"{len(value)} value{'' if len(value) == 1 else 's'}"
        wanted = context.get("min_length") if kind == "too_short" else context.get("max_length")
        return Fault(
            where, f"has {count}", f"expected {'at most ' if (wanted or 0) > 4 else ''}{wanted}"
        )
    if kind.startswith("string_too"):
        return Fault(where, "is empty" if not value else "is too long", "1 to 200 characters")
    if kind in ("greater_than_equal", "less_than_equal"):
        return Fault(where, f"{value} is out of reason", "a whole number, 0 to 1000")
    wanted = _WORDS.get(kind.split("_")[0], "something else")
    return Fault(where, f"{shown(value)} is not {wanted}", _number_hint(value, wanted))


def shown(value: object) -> str:
    """Show a value of a file in a fault, short."""
    text = (
        f"“{value}”"
        if isinstance(value, str)
        else str(value).lower()
        if isinstance(value, bool)
        else str(value)
    )
    return text if len(text) <= 40 else text[:37] + "…”"


def _number_hint(value: object, wanted: str) -> str:
    if wanted == "a number" and isinstance(value, str):
        if comma := re.fullmatch(r"\s*([+-]?\d+),(\d+)\s*", value):
            return f"write {comma[1]}.{comma[2]}, without quotes"
        if number := re.match(r"\s*([+-]?\d+(?:\.\d+)?)", value):
            return f"write {number[1]}, without quotes or unit"
    return f"write {wanted}"


def suggestion(name: str, known: list[str]) -> str:
    """Suggest the known name that is meant, or list them.

    >>> suggestion("wheelbse", ["wheelbase", "front"])
    'did you mean wheelbase?'
    """
    import difflib

    lowered = {one.lower(): one for one in known}
    close = difflib.get_close_matches(name.lower(), lowered, n=1, cutoff=0.5)
    return f"did you mean {lowered[close[0]]}?" if close else f"known here: {', '.join(known)}"


def _fields(schema: dict[str, Any], key: Key) -> dict[str, Any]:
    """Walk down a schema to the table that holds a key."""
    for part in key[:-1]:
        if schema["type"] == "list":
            schema = schema["items_schema"]
        elif schema["type"] == "typed-dict" and part in schema["fields"]:
            schema = schema["fields"][part]["schema"]
    fields: dict[str, Any] = schema.get("fields", {})
    return fields


def _siblings(schema: dict[str, Any], key: Key) -> list[str]:
    return list(_fields(schema, key))


def _meaning(schema: dict[str, Any], key: Key) -> str:
    field = _fields(schema, key).get(str(key[-1]))
    return str(field["metadata"]["pydantic_js_updates"]["description"]) if field else str(key[-1])
