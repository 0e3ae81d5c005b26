"""Hold a file against its schema, and turn what the validator found into words to act on."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any, cast

from pydantic_core import SchemaValidator, ValidationError

from balancer.errors import Fault, InputError
from balancer.files.format.bounds import MOST_FAULTS, first_of
from balancer.files.format.faults import in_order, line_of, meant, suggestion
from balancer.files.format.toml_text import Key, TomlFile, spell
from balancer.units import Units, other

_WORDS = {
    "float": "a number",
    "int": "a whole number",
    "str": "text in quotes",
    "string": "text in quotes",
    "bool": "true or false",
    "list": "a list in brackets",
    "dict": "a table",
}
_KINDS = {
    "wheelbase": "a car file",
    "readings": "a readings file",
    "total": "a readings file",
    "part": "a parts book",
    "variant": "a parts book",
    "lift": "a file of lifts",
    "weighing": "a file of weighings",
}
"""Keys that tell what a file is."""

_SORTED = 2_000
"""So many errors at most are put in the order of the file."""

_MANY = 3
"""So many values in the wrong units are one fault: that of the key `units`."""


def validate(file: TomlFile, schema: dict[str, Any], units: Units | None) -> list[Fault]:
    """Hold a file against a schema.

    Args:
        schema: From `keys`.
        units: Of the file; None: they are not known, so ranges are left alone.

    Returns:
        All there are, in the order of the file, with those of its TOML.

    Raises:
        InputError: When it is another kind of file altogether, or has more faults than are
            told.

    References:
        pydantic-core's `SchemaValidator`.

    Examples:
        >>> from balancer.files.format.keys import BODY_FIELDS
        >>> from balancer.files.format.value_types import table
        >>> file = TomlFile("a.toml", {"cgup": 450}, "\\ncgup = 450")
        >>> print(*validate(file, table(BODY_FIELDS), None))
        a.toml:2: cgup: unknown key: did you mean cg_up?
    """
    _right_kind(file, schema)
    try:
        SchemaValidator(schema).validate_python(file.data, context=units)
    except ValidationError as error:
        errors = [dict(one) for one in error.errors(include_url=False)]
        total = len(file.slips) + sum(one["type"] != "units" for one in errors)
        errors = _first(file, schema, errors) if total > MOST_FAULTS else errors
        found = in_order(file, [*file.slips, *_told(file, schema, errors, units)])
        if total > MOST_FAULTS:
            # What else may be wrong can't be looked for while so much of it is.
            raise InputError(first_of(file.name, found, total)) from None
        return found
    return list(file.slips)


def _first(
    file: TomlFile, schema: dict[str, Any], errors: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Take as many errors as are told, in the order of the file; wrong units are one."""
    rest = [one for one in errors if one["type"] != "units"][:_SORTED]
    rest.sort(key=lambda one: file.line(_key(schema, one["loc"])) or 10**6)
    return [*rest[:MOST_FAULTS], *(one for one in errors if one["type"] == "units")]


def _right_kind(file: TomlFile, schema: dict[str, Any]) -> None:
    """Refuse a file that was taken for another, instead of each of its keys."""
    wanted = [kind for key, kind in _KINDS.items() if key in schema["fields"]]
    given = [kind for key, kind in _KINDS.items() if key in file.data]
    if wanted and given and wanted[0] not in given:
        way_out = f"give {wanted[0]} here, and each file in its place"
        raise InputError.one(file.name, f"is {given[0]}", way_out)


def _told(
    file: TomlFile, schema: dict[str, Any], errors: list[dict[str, Any]], units: Units | None
) -> Iterator[Fault]:
    mended = {line_of(file, slip) for slip in file.slips}
    keys = [_key(schema, one["loc"]) for one in errors]
    foreign = list(
        dict.fromkeys(
            key[:-1] if isinstance(key[-1], int) else key
            for key, one in zip(keys, errors, strict=True)
            if one["type"] == "units"
        )
    )
    strange = [
        key for key, one in zip(keys, errors, strict=True) if one["type"] == "extra_forbidden"
    ]
    found = {(*key[:-1], meant(str(key[-1]), _siblings(schema, key))) for key in strange}
    found |= {key[-1:] for key in strange}
    if len(foreign) >= _MANY and units:
        right = other(units).name
        yield Fault(
            file.place(("units",)),
            f'"{units.name}", but {_some(foreign)} are in "{right}" units',
            f'write units = "{right}"',
        )
    for key, one in zip(keys, errors, strict=True):
        missing = one["type"] == "missing"
        # What a slip of the keyboard has hidden is not missing, nor worth a second complaint.
        if (missing and key in found) or (not missing and file.line(key) in mended):
            continue
        if one["type"] != "units" or len(foreign) < _MANY:
            yield _fault(file, schema, key, one, units)


def _some(keys: Sequence[Key]) -> str:
    """Name the first of several keys and count the others.

    >>> _some([("wheelbase",), ("front", "track"), ("rear", "track")])
    'wheelbase and 2 others'
    """
    return f"{spell(keys[0])} and {len(keys) - 1} others"


def _key(schema: dict[str, Any], place: tuple[str | int, ...]) -> Key:
    """Take out of pydantic's path the branches of unions, which the file knows nothing of."""
    key: list[str | int] = []
    for part in place:
        schema = _inner(schema)
        if schema["type"] == "tagged-union":
            schema = schema["choices"][part]
        else:
            schema = _down(schema, part)
            key.append(part)
    return tuple(key)


def _inner(schema: dict[str, Any]) -> dict[str, Any]:
    while schema["type"].startswith("function"):
        schema = schema["schema"]
    return schema


def _down(schema: dict[str, Any], part: str | int) -> dict[str, Any]:
    """Go from the schema of a list or a table to that of one item."""
    if schema["type"] == "list":
        return cast(dict[str, Any], schema["items_schema"])
    found: dict[str, Any] = schema.get("fields", {}).get(part, {}).get("schema", {"type": "any"})
    return found


def _fault(
    file: TomlFile, schema: dict[str, Any], key: Key, error: dict[str, Any], units: Units | None
) -> Fault:
    kind, value, context = error["type"], error["input"], error.get("ctx", {})
    where = file.place(key)
    meaning = _meaning(schema, key)
    if kind in ("fault", "units"):
        return Fault(where, context["found"], context["way_out"])
    if kind == "zero":
        _, left_out, what = meaning.partition("; left out: ")
        way_out = context["way_out"] + (f", or leave it out ({what})" if left_out else "")
        return Fault(where, context["found"], way_out)
    if kind == "extra_forbidden":
        what = "unknown table" if _is_table(value) else "unknown key"
        return Fault(where, what, _home(schema, key))
    if kind == "missing":
        return Fault(where, "is missing", f"add it: {meaning}")
    if kind == "literal_error":
        known = re.sub("'", '"', context["expected"])
        return Fault(where, f"{_shown(value)} is not known", f"write {known}")
    if kind == "finite_number":
        return Fault(where, f"{value} is not a number", "give its true value")
    if kind in ("too_short", "too_long"):
        return Fault(where, *_wrong_count(meaning, value, context))
    if kind == "string_too_long":
        return Fault(where, f"has {len(value)} characters", f"{context['max_length']} at most")
    if kind in ("greater_than_equal", "less_than_equal"):
        what = f"{_shown(value)} is out of reason"
        return Fault(where, what, "expected a whole number, 0 to 1000")
    wanted = _WORDS.get(kind.split("_")[0], "understood")
    return Fault(where, *_wrong_kind(key, value, wanted, units))


def _wrong_count(meaning: str, value: list[Any], context: dict[str, Any]) -> tuple[str, str]:
    count = f"has {len(value)} value{'' if len(value) == 1 else 's'}"
    least, most = context.get("min_length"), context.get("max_length")
    if most and most > 4:
        return count, f"{most} at most"
    way_out = f"give {least or most}: {meaning}"
    if least is None:
        way_out += " (a decimal takes a point, not a comma)"
    return count, way_out


def _number_meant(key: Key, text: str, units: Units | None) -> str:
    """Say what to write for a text that is to be a number; never a number of another worth."""
    # Only for a fault: fractions take longer to import than all the rest of this.
    from balancer.files.format.advice import advised, dimension_of

    name = next((part for part in reversed(key) if isinstance(part, str)), "")
    # The first of a row is measured in something else than the second.
    in_a_row = all(isinstance(part, int) for part in key[-2:]) and name != "readings"
    name = "" if in_a_row else name
    if number := advised(text, name, units):
        return f"write {number}, without quotes{'' if ',' in text else ' or unit'}"
    label = units.labels[dimension] if units and (dimension := dimension_of(name)) else ""
    return f"write a number in {label}, without quotes" if label else "write a number"


def _wrong_kind(key: Key, value: Any, wanted: str, units: Units | None) -> tuple[str, str]:
    found = f"{_shown(value)} is not {wanted}"
    if wanted == "a table" and isinstance(value, list):
        return found, f"write [{key[-1]}], in single brackets"
    if wanted == "a list in brackets" and isinstance(value, dict):
        return found, f"write [[{key[-1]}]], in double brackets"
    if isinstance(value, int) and wanted == "a number" and not isinstance(value, bool):
        return f"{_shown(value)} is too large", "give its true value"
    if isinstance(value, float) and wanted == "a whole number" and value.is_integer():
        return found, f"write {value:.0f}"
    if isinstance(value, int | float) and wanted == "text in quotes":
        return found, f'write "{_shown(value)}"'
    if isinstance(value, str) and wanted == "a number":
        return found, _number_meant(key, value, units)
    if isinstance(value, str) and wanted == "a whole number" and re.fullmatch(r"\d{1,4}", value):
        return found, f"write {value}, without quotes"
    if isinstance(value, str) and wanted == "a list in brackets" and value[:1].isalpha():
        return found, f"write [{_shown(value)}]".translate({ord("“"): '"', ord("”"): '"'})
    return found, f"write {wanted}"


def _is_table(value: object) -> bool:
    return isinstance(value, dict) or (
        isinstance(value, list) and bool(value) and all(isinstance(item, dict) for item in value)
    )


def _shown(value: object) -> str:
    """Show a value of a file in a fault, short.

    >>> _shown("x" * 99), _shown([70, 70]), _shown(True), _shown({})
    ('“xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx…”', '[70, 70]', 'true', 'a table')
    """
    if isinstance(value, dict):
        return "a table"
    if _is_table(value):
        return "a list of tables"
    text = str(value).lower() if isinstance(value, bool) else str(value)
    text = text if len(text) <= 40 else f"{text[:37]}…"
    return f"“{text}”" if isinstance(value, str) else text


def _home(schema: dict[str, Any], key: Key) -> str:
    """Say where a key belongs that is not known where it is."""
    name = str(key[-1])
    homes = ["above the first table"] if name in schema["fields"] else []
    inside = []
    for table, field in schema["fields"].items():
        items = _inner(field["schema"])
        if name in items.get("fields", {}):
            inside.append(f"[{table}]")
        if name in items.get("items_schema", {}).get("fields", {}):
            inside.append(f"[[{table}]]")
    if inside:
        *others, last = inside
        homes.append(f"in {', '.join(others)} or {last}" if others else f"in {last}")
    return (
        f"it belongs {', or '.join(homes)}" if homes else suggestion(name, _siblings(schema, key))
    )


def _siblings(schema: dict[str, Any], key: Key) -> list[str]:
    """List the names known in the table that holds a key."""
    for part in key[:-1]:
        schema = _inner(_down(schema, part))
    return list(schema.get("fields", {}))


def _meaning(schema: dict[str, Any], key: Key) -> str:
    """Say what a key means, or what holds it."""
    meaning = ""
    for part in key:
        field = schema.get("fields", {}).get(part)
        meaning = field["metadata"]["pydantic_js_updates"]["description"] if field else meaning
        schema = _inner(_down(schema, part))
    return meaning
