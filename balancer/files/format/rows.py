"""A number, or a table of rows [length, number]: what springs, stops and ratios do."""

from itertools import pairwise
from typing import Any, NamedTuple

from balancer.files.format.value_types import (
    NUMBER,
    Check,
    Schema,
    after,
    before,
    either,
    quantity,
    several,
    wrong,
)
from balancer.files.units import Units, other


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
    """
    length = quantity("length", -reach, reach)["function"]["function"]
    rules = _Rows(length, number["function"]["function"], starts, meaning, least)
    row = after(rules.within, before(rules.counted, several(NUMBER, 2)))
    rows = before(rules.nested, several(row, 1, 100))
    return either(number, list, after(rules.converted, rows))


def points(number: Schema, reach: float, meaning: str, least: float) -> Schema:
    """Describe points [length, number] from [0, 0] on, of which both grow.

    Args:
        number: Schema of the second of each row.
        reach, meaning, least: As in `number_or_rows`.
    """
    length = quantity("length", -reach, reach)["function"]["function"]
    rules = _Rows(length, number["function"]["function"], True, meaning, least)
    row = after(rules.within, before(rules.counted, several(NUMBER, 2)))
    return after(rules.rising, after(rules.converted, several(row, 1, 100)))


class _Rows(NamedTuple):
    length: Check
    second: Check
    starts: bool
    meaning: str
    least: float

    def nested(self, value: Any) -> Any:
        way_out = f"write a number, or a list of rows {self.meaning}"
        if not value:
            raise wrong("is empty", way_out)
        if not any(isinstance(row, list) for row in value):
            shown = str(value) if len(value) <= 10 else "a long list"
            raise wrong(f"{shown} is not a number", way_out)
        return value

    def counted(self, row: Any) -> Any:
        if not isinstance(row, list):
            raise wrong(f"{_shown(row)} is no row", f"a row is {self.meaning}")
        if len(row) != 2:
            count = f"has {len(row)} value{'' if len(row) == 1 else 's'}"
            comma = " (a decimal takes a point, not a comma)" if len(row) > 2 else ""
            raise wrong(count, f"a row has two, {self.meaning}{comma}")
        return row

    def within(self, row: list[float], info: Any) -> list[float]:
        self._in_si(row, info)
        return row

    def _in_si(self, row: list[float], info: Any) -> list[float]:
        return [self.length(row[0], info), self.second(row[1], info)]

    def converted(self, rows: list[list[float]], info: Any) -> list[list[float]]:
        lengths = [row[0] for row in rows]
        for before_it, length in pairwise(lengths):
            if length <= before_it:
                what = f"its rows do not grow, {length:g} comes after {before_it:g}"
                raise wrong(what, f"order them by their first number: {self.meaning}")
        if self.starts and lengths[0] != 0:
            way_out = f"begin at 0: rows are {self.meaning}"
            raise wrong(f"its first row is at {lengths[0]:g}", way_out)
        if not self.starts and not lengths[0] <= 0 <= lengths[-1]:
            way_out = f"count from where it stands as weighed, which is 0: rows are {self.meaning}"
            raise wrong("its rows leave out 0", way_out)
        if info.context is not None and len(rows) > 1:
            self._wide(lengths[-1] - lengths[0], info.context)
        return [self._in_si(row, info) for row in rows]

    def rising(self, rows: list[list[float]], _: Any) -> list[list[float]]:
        if len(rows) == 1:
            raise wrong("has one point", f"give two or more: {self.meaning}")
        if rows[0][1]:
            raise wrong("its first point has a force", f"begin with [0, 0]: {self.meaning}")
        for number, (less, more) in enumerate(pairwise(rows), start=2):
            if more[1] <= less[1]:
                what = f"its point {number} pushes no harder than the one before"
                raise wrong(what, f"a stop pushes harder the more it is pressed: {self.meaning}")
        return rows

    def _wide(self, width: float, units: Units) -> None:
        """Refuse rows that lie too close together to be in the units of the file."""
        if units.to_si(width, "length") >= self.least:
            return
        label, foreign = units.labels["length"], other(units)
        what = f"rows over {width:g} {label} are out of reason"
        if foreign.to_si(width, "length") >= self.least:
            way_out = f'write lengths in {label}, or units = "{foreign.name}"'
            raise wrong(f"{what}, {width:g} {foreign.labels['length']} is not", way_out, "units")
        raise wrong(what, "give one number, or rows over all of the travel")


def _shown(row: Any) -> str:
    if isinstance(row, dict):
        return "a table"
    words = str(row).lower() if isinstance(row, bool) else str(row)[:40]
    return f"“{words}”" if isinstance(row, str) else words
