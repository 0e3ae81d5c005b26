"""The kinds of values that the files hold: their ranges, and what is said of what lies outside.

Each is a schema for pydantic-core's own validator, built directly so that `balancer weigh` need not
wait for the rest of pydantic. What a sound file holds comes out of it in SI, steps as numbers and
ranges as pairs.
"""

import re
from collections.abc import Callable, Mapping
from math import inf
from typing import Any, LiteralString, NamedTuple

from pydantic_core import PydanticCustomError

from balancer.car.errors import spelled
from balancer.files.counting import read_count
from balancer.files.units import Dimension, Units, other

Schema = dict[str, Any]

Key = tuple[str | int, ...]
"""A key path; list items by number from 0."""

Check = Callable[[Any, Any], Any]
"""Takes a value and the context of the validation, whose `context` is the units of the file."""

_LONGEST = 200
"""Characters of a name or a note."""

SMALLEST_STEP, LARGEST_STEP = 0.01, 4.0
"""Of an adjuster [turns]."""

MOST_TURNS = 200.0
"""That an adjuster can have left."""

COUNTED_BY = 'write a number, and what it counts as perch_count = "6 flats", "8 clicks" or "mm"'
MOST_COUNTED = 5000.0
"""Flats, clicks or millimeters that a perch can have left; its turns are looked at later."""


class Field(NamedTuple):
    """One key: its validation schema, what it means, and whether it must be there."""

    schema: Schema
    meaning: str
    required: bool = False


def wrong(what: str, way_out: str, kind: LiteralString = "fault") -> PydanticCustomError:
    """Make the error of a value: what is wrong with it, and a way out."""
    return PydanticCustomError(kind, "{what}", {"what": what, "way_out": way_out})


def after(check: Check, schema: Schema) -> Schema:
    """Check, or convert, what has passed a schema."""
    function = {"type": "with-info", "function": check}
    return {"type": "function-after", "function": function, "schema": schema}


def before(check: Callable[[Any], Any], schema: Schema) -> Schema:
    """Check a value before a schema does."""
    function = {"type": "no-info", "function": check}
    return {"type": "function-before", "function": function, "schema": schema}


def _stated(schema: Schema, bounds: dict[str, Any]) -> Schema:
    """State in the JSON Schema what a function checks."""
    return {**schema, "metadata": {**schema.get("metadata", {}), "pydantic_js_updates": bounds}}


NUMBER: Schema = {"type": "float", "strict": True, "allow_inf_nan": False}

_WRITTEN = {"type": ["number", "string"]}
"""What the JSON Schema says of a number: in quotes it may have a fraction and a unit. That is made
a number before anything is held against a schema, see `quoted`."""


def quantity(dimension: Dimension, low: float, high: float) -> Schema:
    """Describe a number of a dimension between two SI values; it comes out in SI.

    The range is checked in the units of the file; a value that would fit in the other system of
    units is said to look like that.

    Args:
        dimension: One of `units.Dimension`.
        low, high: In the SI unit of the dimension [kg, m, N/m …].
    """

    def check(value: float, info: Any) -> float:
        if value < 0 <= low:
            raise wrong(f"{value:g} is negative", "leave out the minus sign")
        if value == 0 < low:
            raise wrong("is zero", "give its true value", kind="zero")
        units: Units | None = info.context
        si = value if units is None else units.to_si(value, dimension)
        if units is not None and not low <= si <= high:
            raise _out_of_reason(value, dimension, (low, high), units)
        return si

    # What has a unit is bounded in SI, which a schema of the file can't say.
    bounds = {"minimum": low, "maximum": high} if dimension == "number" else {}
    schema = {**after(check, NUMBER), "metadata": {"dimension": dimension}}
    return _stated(schema, {**bounds, **_WRITTEN})


def _out_of_reason(
    value: float, dimension: Dimension, bounds: tuple[float, float], units: Units
) -> PydanticCustomError:
    label, foreign = units.labels[dimension], other(units)
    meant = foreign.to_si(value, dimension)
    if dimension != "number" and bounds[0] <= meant <= bounds[1]:
        return wrong(
            f"{value:g} {label} is out of reason, {value:g} {foreign.labels[dimension]} is not",
            f'write {_round(units.from_si(meant, dimension))}, or units = "{foreign.name}"',
            kind="units",
        )
    least, most = (_round(units.from_si(bound, dimension)) for bound in bounds)
    unit = f" {label}" if label else ""
    return wrong(f"{value:g}{unit} is out of reason", f"expected {least} to {most}{unit}")


def _round(value: float) -> str:
    return f"{value:.4g}" if abs(value) < 10_000 else f"{value:.0f}"


def _motion_ratio(value: float, info: Any) -> float:
    if 1.3 < value <= 10:
        raise wrong(
            f"{value:g} looks like wheel travel / spring travel",
            f"here it is spring travel / wheel travel, write {1 / value:.3g}",
        )
    if not 0.1 <= value <= 1.3:
        way_out = "expected 0.1 to 1.3, spring travel / wheel travel"
        raise wrong(f"{value:g} is out of reason", way_out)
    return value


def _share(value: float, info: Any) -> float:
    if 0 < value < 1:
        raise wrong(f"{value:g} looks like a fraction", f"write {100 * value:g}, in percent")
    if not 1 <= value <= 99:
        raise wrong(f"{value:g} is out of reason", "expected 1 to 99 percent")
    return value


def turns_left(adjuster: str, less: str, more: str, most: float = MOST_TURNS) -> Schema:
    """Describe the turns left of an adjuster, from where it stands, and what they make it do.

    Args:
        most: Of whatever is counted there [1].
    """

    def check(value: list[float], info: Any) -> list[float]:
        low, high = value
        turns = f"turns left {less} (≤ 0), then {more} (≥ 0)"
        if low > high:
            raise wrong(f"{low:g} is above {high:g}", f"give {turns}")
        if not low <= 0 <= high:
            what = f"[{low:g}, {high:g}] leaves out where {adjuster} stands now"
            raise wrong(what, f"count from there: {turns}")
        return value

    return after(check, several(quantity("number", -most, most), 2))


def _step(value: float | str, info: Any) -> float:
    step = _counted_step(value, info)
    if not SMALLEST_STEP <= step <= LARGEST_STEP:
        raise wrong(f"{step:g} turns is out of reason", "expected 0.01 to 4 turns")
    return step


def _counted_step(value: float | str, info: Any) -> float:
    return _fraction(value) if isinstance(value, str) else value


def _count(value: str, info: Any) -> str:
    if read_count(value) is None:
        way_out = 'write "turns", "mm", or how many make a turn: "6 flats" or "8 clicks"'
        raise wrong(f"“{value[:40]}” is not counted at a perch", way_out)
    return value


def _fraction(text: str) -> float:
    fraction = re.fullmatch(r"\s*(\d{1,3})\s*/\s*(\d{1,3})\s*", text, re.ASCII)
    if re.fullmatch(r"\s*\d{1,3}\.\d{1,6}\s*", text, re.ASCII):
        raise wrong(f"“{text}” is not a number", f"write {text.strip()}, without quotes")
    if re.search("flat|click|mm", text):
        raise wrong(f"“{text[:40]}” is not a number", COUNTED_BY)
    if not fraction or not int(fraction[2]):
        raise wrong(f"“{text[:40]}” is not a fraction of a turn", 'write 0.25 or "1/6"')
    return int(fraction[1]) / int(fraction[2])


def _name(value: str, info: Any) -> str:
    if not value.strip():
        raise wrong("is blank", "give it a name")
    if spelled(value) != value:
        raise wrong(f"“{value[:40]}” has a control character in it", "leave that out")
    return value


def _date(value: Any, info: Any) -> Any:
    if isinstance(value, str):
        if len(value) > _LONGEST:
            raise wrong(f"has {len(value)} characters", f"{_LONGEST} at most")
        return _name(value, info)
    # datetime itself would only be imported to be named here.
    if not hasattr(value, "isoformat"):
        raise wrong("is not a date", "write one like 2026-05-09, or text in quotes")
    return value


def _nested(value: Any) -> Any:
    if not isinstance(value, list) or any(isinstance(item, int | float) for item in value):
        what = "is a list of numbers" if isinstance(value, list) else "is no list"
        raise wrong(what, "write a list of lists, [[LF, RF, LR, RR]]")
    return value


def several(item: Schema, least: int, most: int | None = None) -> Schema:
    """Describe a list.

    Args:
        item: Schema of each of its items.
        least, most: How many items; None: as many as `least`.
    """
    return {"type": "list", "items_schema": item, "min_length": least, "max_length": most or least}


def either(number: Schema, kind: type, otherwise: Schema) -> Schema:
    """Describe a number or another kind, so that a fault speaks of the one that was meant."""
    return {
        "type": "tagged-union",
        "discriminator": lambda value: "other" if isinstance(value, kind) else "number",
        "choices": {"number": number, "other": otherwise},
    }


def point_or_range(number: Schema) -> Schema:
    """Describe a number, or a list of the lowest and the highest; it comes out as a pair."""

    def pair(value: Any, inner: Callable[[Any], Any], info: Any) -> tuple[float, float]:
        sound = inner(value)
        if not isinstance(value, list):
            return sound, sound
        if value[0] > value[1]:
            raise wrong(f"{value[0]:g} is above {value[1]:g}", "give the lowest first")
        return sound[0], sound[1]

    function = {"type": "with-info", "function": pair}
    schema = either(number, list, several(number, 2))
    return {"type": "function-wrap", "function": function, "schema": schema}


def table(fields: Mapping[str, Field]) -> Schema:
    """Describe a table whose keys are these and no others."""
    return {
        "type": "typed-dict",
        "extra_behavior": "forbid",
        "fields": {
            name: {
                "type": "typed-dict-field",
                "schema": field.schema,
                "required": field.required,
                "metadata": {"pydantic_js_updates": {"description": field.meaning}},
            }
            for name, field in fields.items()
        },
    }


TEXT: Schema = {"type": "str", "max_length": _LONGEST, "strict": True}
NAME = after(_name, TEXT)
DATE = _stated(after(_date, {"type": "any"}), {"maxLength": _LONGEST})
FLAG: Schema = {"type": "bool", "strict": True}
COUNT: Schema = {"type": "int", "ge": 0, "le": 1000, "strict": True}
UNITS: Schema = {"type": "literal", "expected": ["metric", "us"]}
MOMENT: Schema = {"type": "literal", "expected": ["before", "after"]}
AXLE: Schema = {"type": "literal", "expected": ["front", "rear"]}
SHARE = _stated(after(_share, NUMBER), {**_WRITTEN, "minimum": 1, "maximum": 99})
MOTION_RATIO = _stated(after(_motion_ratio, NUMBER), {**_WRITTEN, "minimum": 0.1, "maximum": 1.3})
STEP = after(_step, either(NUMBER, str, TEXT))
PERCH_STEP = after(_counted_step, either(NUMBER, str, TEXT))
COUNTED = after(_count, TEXT)
FOUR_LOADS = several(quantity("load", -inf, inf), 4)
REPEATS = before(_nested, several(FOUR_LOADS, 1, 100))
