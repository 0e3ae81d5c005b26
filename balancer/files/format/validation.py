"""Hold a file against its schema, and turn what the validator found into words to act on."""

import re
from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

from pydantic_core import SchemaValidator, ValidationError

from balancer.car.errors import Fault, InputError
from balancer.files.format.bounds import MOST_FAULTS, first_of
from balancer.files.format.faults import in_order, line_of, meant, suggestion
from balancer.files.format.schema_paths import homes, key_of, meaning, siblings
from balancer.files.format.toml_text import TomlFile, spell
from balancer.files.format.value_types import COUNTED_BY, Key, Schema
from balancer.files.units import Units, other

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


class Validated(NamedTuple):
    """A file held against its schema.

    Attributes:
        si: What it holds, in SI; empty where there is a fault, or units are not known.
        faults: All there are, in the order of the file, with those of its TOML.
    """

    si: dict[str, Any]
    faults: list[Fault]


def validate(file: TomlFile, schema: Schema, units: Units | None) -> Validated:
    """Hold a file against a schema.

    Args:
        schema: From `keys`.
        units: Of the file; None: they are not known, so ranges are left alone.

    Raises:
        InputError: When it is another kind of file altogether, or has more faults than are
            told.

    References:
        pydantic-core's `SchemaValidator`.

    Examples:
        >>> from balancer.files.format.keys import BODY_FIELDS
        >>> from balancer.files.format.value_types import table
        >>> file = TomlFile("a.toml", {"cgup": 450}, "\\ncgup = 450")
        >>> print(*validate(file, table(BODY_FIELDS), None).faults)
        a.toml:2: cgup: unknown key: did you mean cg_up?
    """
    _right_kind(file, schema)
    try:
        si = _validator(schema).validate_python(file.data, context=units)
    except ValidationError as error:
        errors = error.errors(include_url=False)
        return Validated({}, _faults(file, schema, [dict(each) for each in errors], units))
    return Validated(si if units and not file.slips else {}, list(file.slips))


_made: dict[int, tuple[Schema, SchemaValidator]] = {}


def _validator(schema: Schema) -> SchemaValidator:
    """Make a validator, each once: a folder has many files of a kind."""
    # The schema is kept beside it, so that no other can ever have its id.
    if id(schema) not in _made:
        _made[id(schema)] = schema, SchemaValidator(schema)
    return _made[id(schema)][1]


def _right_kind(file: TomlFile, schema: Schema) -> None:
    """Refuse a file that was taken for another, instead of each of its keys."""
    wanted = [kind for key, kind in _KINDS.items() if key in schema["fields"]]
    given = [kind for key, kind in _KINDS.items() if key in file.data]
    if wanted and given and wanted[0] not in given:
        way_out = f"give {wanted[0]} here, and each file in its place"
        raise InputError.one(file.name, f"is {given[0]}", way_out)


def _faults(
    file: TomlFile, schema: Schema, errors: list[dict[str, Any]], units: Units | None
) -> list[Fault]:
    """Put errors into words; raise where there are more than are told."""
    for error in errors:
        error["key"] = key_of(schema, error["loc"])
    total = len(file.slips) + sum(error["type"] != "units" for error in errors)
    errors = _first(file, errors) if total > MOST_FAULTS else errors
    faults = in_order(file, [*file.slips, *_in_words(file, schema, errors, units)])
    if total > MOST_FAULTS:
        # What else may be wrong can't be looked for while so much of it is.
        raise InputError(first_of(file.name, faults, total)) from None
    return faults


def _first(file: TomlFile, errors: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Take as many errors as are told, in the order of the file; wrong units are one."""
    rest = [error for error in errors if error["type"] != "units"][:_SORTED]
    rest.sort(key=lambda error: file.line(error["key"]) or 10**6)
    return [*rest[:MOST_FAULTS], *(error for error in errors if error["type"] == "units")]


def _in_words(
    file: TomlFile, schema: Schema, errors: list[dict[str, Any]], units: Units | None
) -> Iterator[Fault]:
    mended = {line_of(file, slip) for slip in file.slips}
    foreign = _foreign(errors)
    if len(foreign) >= _MANY and units:
        right = other(units).name
        what = f'"{units.name}", but {_some(foreign)} are in "{right}" units'
        yield Fault(file.place(("units",)), what, f'write units = "{right}"')
    strange = [error["key"] for error in errors if error["type"] == "extra_forbidden"]
    hidden = {(*key[:-1], meant(str(key[-1]), siblings(schema, key))) for key in strange}
    hidden |= {key[-1:] for key in strange}
    for error in errors:
        key, missing = error["key"], error["type"] == "missing"
        # What a slip of the keyboard has hidden is not missing, nor worth a second complaint.
        if (missing and key in hidden) or (not missing and file.line(key) in mended):
            continue
        if error["type"] != "units" or len(foreign) < _MANY:
            yield Fault(file.place(key), *_what(schema, error, units))


def _foreign(errors: list[dict[str, Any]]) -> list[Key]:
    """List the keys whose values are in other units, a list of numbers once."""
    keys = [error["key"] for error in errors if error["type"] == "units"]
    return list(dict.fromkeys(key[:-1] if isinstance(key[-1], int) else key for key in keys))


def _some(keys: Sequence[Key]) -> str:
    """Name the first of several keys and count the others.

    >>> _some([("wheelbase",), ("front", "track"), ("rear", "track")])
    'wheelbase and 2 others'
    """
    return f"{spell(keys[0])} and {len(keys) - 1} others"


def _what(schema: Schema, error: dict[str, Any], units: Units | None) -> tuple[str, str]:
    """Say what is wrong with a key, and a way out."""
    kind, key, value, context = error["type"], error["key"], error["input"], error.get("ctx", {})
    if kind in ("fault", "units"):
        return context["what"], context["way_out"]
    if kind == "zero":
        _, left_out, what = meaning(schema, key).partition("; left out: ")
        or_not = f", or leave it out ({what})" if left_out else ""
        return context["what"], context["way_out"] + or_not
    if kind == "extra_forbidden":
        home = homes(schema, str(key[-1]))
        way_out = f"it belongs {home}" if home else suggestion(str(key[-1]), siblings(schema, key))
        return "unknown table" if _is_table(value) else "unknown key", way_out
    if kind == "missing":
        return "is missing", f"add it: {meaning(schema, key)}"
    if kind == "literal_error":
        known = context["expected"].replace("'", '"')
        return f"{_shown(value)} is not known", f"write {known}"
    if kind == "finite_number":
        return f"{value} is not a number", "give its true value"
    if kind in ("too_short", "too_long"):
        return _wrong_count(meaning(schema, key), value, context)
    if kind == "string_too_long":
        return f"has {len(value)} characters", f"{context['max_length']} at most"
    if kind in ("greater_than_equal", "less_than_equal"):
        return f"{_shown(value)} is out of reason", "expected a whole number, 0 to 1000"
    return _wrong_kind(key, value, _WORDS.get(kind.split("_")[0], "understood"), units)


def _wrong_count(said: str, value: list[Any], context: dict[str, Any]) -> tuple[str, str]:
    count = f"has {len(value)} value{'' if len(value) == 1 else 's'}"
    least, most = context.get("min_length"), context.get("max_length")
    if most and most > 4:
        return count, f"{most} at most"
    point = " (a decimal takes a point, not a comma)" if least is None else ""
    return count, f"give {least or most}: {said}{point}"


_INSTEAD: tuple[tuple[str, Callable[[Any], bool], str], ...] = (
    ("a table", lambda value: isinstance(value, list), "write [{key}], in single brackets"),
    (
        "a list in brackets",
        lambda value: isinstance(value, dict),
        "write [[{key}]], in double brackets",
    ),
    (
        "a whole number",
        lambda value: isinstance(value, float) and value.is_integer(),
        "write {value:.0f}",
    ),
    ("text in quotes", lambda value: isinstance(value, int | float), 'write "{shown}"'),
    (
        "a whole number",
        lambda value: isinstance(value, str) and bool(re.fullmatch(r"\d{1,4}", value)),
        "write {value}, without quotes",
    ),
    (
        "a list in brackets",
        lambda value: isinstance(value, str) and value[:1].isalpha(),
        'write ["{shown}"]',
    ),
)
"""What was wanted, what is there instead, and the way out; the first counts."""


def _wrong_kind(key: Key, value: Any, wanted: str, units: Units | None) -> tuple[str, str]:
    what = f"{_shown(value)} is not {wanted}"
    if wanted == "a number" and isinstance(value, str):
        return what, _number_meant(key, value, units)
    if wanted == "a number" and isinstance(value, int) and not isinstance(value, bool):
        return f"{_shown(value)} is too large", "give its true value"
    for kind, is_there, way_out in _INSTEAD:
        if kind == wanted and is_there(value):
            shown = _shown(value)[1:-1] if isinstance(value, str) else _shown(value)
            return what, way_out.format(key=key[-1], value=value, shown=shown)
    return what, f"write {wanted}"


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
    if name == "perch_travel":
        return COUNTED_BY
    label = units.labels[dimension] if units and (dimension := dimension_of(name)) else ""
    return f"write a number in {label}, without quotes" if label else "write a number"


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
