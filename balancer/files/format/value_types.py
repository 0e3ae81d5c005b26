"""The kinds of values that the files hold: their ranges, and what is said of what lies outside.

Each is a schema for pydantic-core's own validator, built directly so that `balancer weigh` need not
wait for the rest of pydantic.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from itertools import pairwise
from math import inf
from typing import Any, LiteralString, NamedTuple

from pydantic_core import PydanticCustomError

from balancer.errors import spelled
from balancer.units import Dimension, Units, other

Schema = dict[str, Any]


_LONGEST = 200
"""Characters of a name or a note."""


class Field(NamedTuple):
    """One key: its validation schema, what it means, and whether it must be there."""

    schema: Schema
    meaning: str
    required: bool = False


def _fault(found: str, way_out: str, kind: LiteralString = "fault") -> PydanticCustomError:
    return PydanticCustomError(kind, "{found}", {"found": found, "way_out": way_out})


def _after(check: Callable[[Any, Any], Any], schema: Schema) -> Schema:
    return {
        "type": "function-after",
        "function": {"type": "with-info", "function": check},
        "schema": schema,
    }


def _stated(schema: Schema, bounds: dict[str, float]) -> Schema:
    """State in the JSON Schema what a function checks."""
    return {**schema, "metadata": {**schema.get("metadata", {}), "pydantic_js_updates": bounds}}


NUMBER: Schema = {"type": "float", "strict": True, "allow_inf_nan": False}


def quantity(dimension: Dimension, low: float, high: float) -> Schema:
    """Describe a number of a dimension between two SI values.

    The range is checked in the units of the file (`info.context`); a value that would fit in the
    other system of units is said to look like that.

    Args:
        dimension: One of `units.Dimension`.
        low, high: In the SI unit of the dimension [kg, m, N/m …].

    Returns:
        For pydantic-core, as all schemas here.

    Examples:
        >>> quantity("length", 0, 1)["schema"]["type"]
        'float'
    """

    def check(value: float, info: Any) -> float:
        if value < 0 <= low:
            raise _fault(f"{value:g} is negative", "leave out the minus sign")
        if value == 0 < low:
            raise _fault("is zero", "give its true value", kind="zero")
        units: Units | None = info.context
        if units is None or low <= units.to_si(value, dimension) <= high:
            return value
        label = units.labels[dimension]
        foreign = other(units)
        if dimension != "number" and low <= foreign.to_si(value, dimension) <= high:
            meant = units.from_si(foreign.to_si(value, dimension), dimension)
            raise _fault(
                f"{value:g} {label} is out of reason, {value:g} {foreign.labels[dimension]} is not",
                f'write {_round(meant)}, or units = "{foreign.name}"',
                kind="units",
            )
        least, most = (_round(units.from_si(bound, dimension)) for bound in (low, high))
        unit = f" {label}" if label else ""
        raise _fault(f"{value:g}{unit} is out of reason", f"expected {least} to {most}{unit}")

    # What has a unit is bounded in SI, which a schema of the file can't say.
    bounds = {"minimum": low, "maximum": high} if dimension == "number" else {}
    return _stated({**_after(check, NUMBER), "metadata": {"dimension": dimension}}, bounds)


def _round(value: float) -> str:
    return f"{value:.4g}" if abs(value) < 10_000 else f"{value:.0f}"


def _motion_ratio(value: float, info: Any) -> float:
    if 1.3 < value <= 10:
        raise _fault(
            f"{value:g} looks like wheel travel / spring travel",
            f"here it is spring travel / wheel travel, write {1 / value:.3g}",
        )
    if not 0.1 <= value <= 1.3:
        raise _fault(
            f"{value:g} is out of reason", "expected 0.1 to 1.3, spring travel / wheel travel"
        )
    return value


def _share(value: float, info: Any) -> float:
    if 0 < value < 1:
        raise _fault(f"{value:g} looks like a fraction", f"write {100 * value:g}, in percent")
    if not 1 <= value <= 99:
        raise _fault(f"{value:g} is out of reason", "expected 1 to 99 percent")
    return value


def turns_left(what: str, less: str, more: str) -> Schema:
    """Describe the turns left of an adjuster either way, from where it stands.

    Args:
        what: The adjuster.
        less, more: What turns below and above 0 make it do.

    Examples:
        >>> turns_left("the perch", "down", "up")["schema"]["max_length"]
        2
    """

    def check(value: list[float], info: Any) -> list[float]:
        low, high = value
        if low > high:
            way_out = f"give turns left {less} (≤ 0), then {more} (≥ 0)"
            raise _fault(f"{low:g} is above {high:g}", way_out)
        if not low <= 0 <= high:
            raise _fault(
                f"[{low:g}, {high:g}] leaves out where {what} stands now",
                f"count from there: turns left {less} (≤ 0), then {more} (≥ 0)",
            )
        return value

    return _after(check, several(quantity("number", -200, 200), 2))


def _step(value: float | str, info: Any) -> float:
    if isinstance(value, str):
        found = re.fullmatch(r"\s*(\d{1,3})\s*/\s*(\d{1,3})\s*", value, re.ASCII)
        if re.fullmatch(r"\s*\d{1,3}\.\d{1,6}\s*", value, re.ASCII):
            raise _fault(f"“{value}” is not a number", f"write {value.strip()}, without quotes")
        if not found or not int(found[2]):
            raise _fault(f"“{value[:40]}” is not a fraction of a turn", 'write 0.25 or "1/6"')
        value = int(found[1]) / int(found[2])
    if not 0.01 <= value <= 4:
        raise _fault(f"{value:g} turns is out of reason", "expected 0.01 to 4 turns")
    return value


def _name(value: str, info: Any) -> str:
    if not value.strip():
        raise _fault("is blank", "give it a name")
    if spelled(value) != value:
        raise _fault(f"“{value[:40]}” has a control character in it", "leave that out")
    return value


def _date(value: Any, info: Any) -> Any:
    if isinstance(value, str):
        if len(value) > _LONGEST:
            raise _fault(f"has {len(value)} characters", f"{_LONGEST} at most")
        return _name(value, info)
    # datetime itself would only be imported to be named here.
    if not hasattr(value, "isoformat"):
        raise _fault("is not a date", "write one like 2026-05-09, or text in quotes")
    return value


def _nested(value: Any) -> Any:
    if not isinstance(value, list) or any(isinstance(item, int | float) for item in value):
        found = "is a list of numbers" if isinstance(value, list) else "is no list"
        raise _fault(found, "write a list of lists, [[LF, RF, LR, RR]]")
    return value


def _ordered(value: list[float], info: Any) -> list[float]:
    if value[0] > value[1]:
        raise _fault(f"{value[0]:g} is above {value[1]:g}", "give the lowest first")
    return value


def several(item: Schema, least: int, most: int | None = None) -> Schema:
    """Describe a list.

    Args:
        item: Schema of each of its items.
        least, most: How many items; None: as many as `least`.

    Examples:
        >>> several(NUMBER, 2)["max_length"]
        2
    """
    return {"type": "list", "items_schema": item, "min_length": least, "max_length": most or least}


def _either(number: Schema, kind: type, otherwise: Schema) -> Schema:
    """Take a number or another kind, so that a fault speaks of the one that was meant."""
    return {
        "type": "tagged-union",
        "discriminator": lambda value: "other" if isinstance(value, kind) else "number",
        "choices": {"number": number, "other": otherwise},
    }


def point_or_range(number: Schema) -> Schema:
    """Describe a number, or a list of the lowest and the highest.

    Args:
        number: Schema of each of them.

    Examples:
        >>> sorted(point_or_range(NUMBER)["choices"])
        ['number', 'other']
    """
    return _either(number, list, _after(_ordered, several(number, 2)))


def number_or_rows(
    number: Schema, reach: float, starts: bool, meaning: str, least: float = 0.0
) -> Schema:
    """Describe a number, or a table of rows [length, number] whose lengths grow.

    Args:
        number: Schema of the second of each row, and of a lone number.
        reach: The lengths are no farther from 0 [m].
        starts: Whether the first row is at 0; else 0 is within the rows.
        meaning: Of a row, for the way out.
        least: From the first row to the last it is no less, or the lengths are in other units
            [m].

    Examples:
        >>> rate = quantity("rate", 1e3, 1e6)
        >>> rows = number_or_rows(rate, 0.1, True, "[compression, rate]")
        >>> rows["choices"]["other"]["type"]
        'function-after'
    """
    length = quantity("length", -reach, reach)["function"]["function"]
    second = number["function"]["function"]

    def nested(value: Any) -> Any:
        if not value:
            raise _fault("is empty", f"write a number, or a list of rows {meaning}")
        if not any(isinstance(row, list) for row in value):
            shown = str(value) if len(value) <= 10 else "a long list"
            raise _fault(f"{shown} is not a number", f"write a number, or a list of rows {meaning}")
        return value

    def counted(row: Any) -> Any:
        if not isinstance(row, list):
            words = str(row).lower() if isinstance(row, bool) else str(row)[:40]
            found = f"“{words}”" if isinstance(row, str) else words
            found = "a table" if isinstance(row, dict) else found
            raise _fault(f"{found} is no row", f"a row is {meaning}")
        if len(row) != 2:
            count = f"has {len(row)} value{'' if len(row) == 1 else 's'}"
            comma = " (a decimal takes a point, not a comma)" if len(row) > 2 else ""
            raise _fault(count, f"a row has two, {meaning}{comma}")
        return row

    def within(row: list[float], info: Any) -> list[float]:
        length(row[0], info)
        second(row[1], info)
        return row

    def check(rows: list[list[float]], info: Any) -> list[list[float]]:
        lengths = [row[0] for row in rows]
        for before, after in pairwise(lengths):
            if after <= before:
                found = f"its rows do not grow, {after:g} comes after {before:g}"
                raise _fault(found, f"order them by their first number: {meaning}")
        if starts and lengths[0] != 0:
            raise _fault(f"its first row is at {lengths[0]:g}", f"begin at 0: rows are {meaning}")
        if not starts and not lengths[0] <= 0 <= lengths[-1]:
            way_out = f"count from where it stands as weighed, which is 0: rows are {meaning}"
            raise _fault("its rows leave out 0", way_out)
        units: Units | None = info.context
        if units is not None and len(rows) > 1:
            _wide(lengths[-1] - lengths[0], least, units)
        return rows

    def first(function: Callable[[Any], Any], schema: Schema) -> Schema:
        before = {"type": "no-info", "function": function}
        return {"type": "function-before", "function": before, "schema": schema}

    row = _after(within, first(counted, several(NUMBER, 2)))
    return _either(number, list, _after(check, first(nested, several(row, 1, 100))))


def _wide(width: float, least: float, units: Units) -> None:
    """Refuse rows that lie too close together to be in the units of the file."""
    if units.to_si(width, "length") >= least:
        return
    label, foreign = units.labels["length"], other(units)
    found = f"rows over {width:g} {label} are out of reason"
    if foreign.to_si(width, "length") >= least:
        way_out = f'write lengths in {label}, or units = "{foreign.name}"'
        raise _fault(f"{found}, {width:g} {foreign.labels['length']} is not", way_out, "units")
    raise _fault(found, "give one number, or rows over all of the travel")


def table(fields: Mapping[str, Field]) -> Schema:
    """Describe a table whose keys are these and no others.

    Examples:
        >>> table({"up": Field(quantity("length", 0, 1), "height")})["extra_behavior"]
        'forbid'
    """
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
NAME = _after(_name, TEXT)
DATE = _stated(_after(_date, {"type": "any"}), {"maxLength": _LONGEST})
FLAG: Schema = {"type": "bool", "strict": True}
COUNT: Schema = {"type": "int", "ge": 0, "le": 1000, "strict": True}
UNITS: Schema = {"type": "literal", "expected": ["metric", "us"]}
MOMENT: Schema = {"type": "literal", "expected": ["before", "after"]}
AXLE: Schema = {"type": "literal", "expected": ["front", "rear"]}
SHARE = _stated(_after(_share, NUMBER), {"minimum": 1, "maximum": 99})
MOTION_RATIO = _stated(_after(_motion_ratio, NUMBER), {"minimum": 0.1, "maximum": 1.3})
STEP = _after(_step, _either(NUMBER, str, TEXT))
TRAVEL = turns_left("the perch", "down", "up")
FOUR_LOADS = several(quantity("load", -inf, inf), 4)
REPEATS: Schema = {
    "type": "function-before",
    "function": {"type": "no-info", "function": _nested},
    "schema": several(FOUR_LOADS, 1, 100),
}
