"""The cars of a folder told: a line each, rows for a spreadsheet, JSON."""

from collections.abc import Callable, Sequence
from string import ascii_uppercase
from typing import Any

from balancer.files.units import METRIC, Units
from balancer.log.garage import Garage, Standing
from balancer.report.words.json_parts import shares_json
from balancer.report.words.numbers import amount, number, percent, three
from balancer.report.words.prose import lines_of, paragraphs
from balancer.report.words.tables import cut, table

COLUMNS = (
    "car", "file", "date", "entry", "on_board", "units", "total", "front_pct", "left_pct",
    "cross_pct", "total_change", "cross_pct_change",
)  # fmt: skip
SORTS: dict[str, Callable[[Standing], Any]] = {
    "name": lambda one: one.file.car.name.lower(),
    "date": lambda one: one.day,
    "total": lambda one: one.shares.total,
    "front": lambda one: one.shares.front,
    "left": lambda one: one.shares.left,
    "cross": lambda one: one.shares.cross,
}
_NAME, _MOST_STATES = 20, 26
"""Of a name in the table [column]; states that have a letter each."""


def garage_text(garage: Garage, cars: Sequence[Standing], units: Units, state: str | None) -> str:
    """Tell the cars of a folder in at most 80 columns.

    Args:
        state: All are carried there; None: each as it was weighed.
    """
    states = list(dict.fromkeys(one.on_board for one in cars))
    letters = (
        {}
        if state is not None or len(states) > _MOST_STATES
        else dict(zip(states, ascii_uppercase, strict=False))
    )
    rows = [["car", "weighed", "with", f"{units.labels['load']} in all", "front", "left", "cross"]]
    rows[0].append("change")
    rows += [_row(one, units, letters.get(one.on_board, "")) for one in cars]
    if not letters:
        rows = [[*row[:2], *row[3:]] for row in rows]
    without = ", ".join(file.car.name for file in garage.unweighed)
    return paragraphs(
        _heading(cars, state),
        table(rows, indent="") if cars else "",
        lines_of((f"{letter}: {said}." for said, letter in letters.items()), "   "),
        lines_of([f"Not weighed yet: {without}."] if without else []),
    )


def _heading(cars: Sequence[Standing], state: str | None) -> str:
    if not cars:
        return "No weighed car."
    count = "1 car" if len(cars) == 1 else f"{len(cars)} cars"
    how = "as last weighed" if state is None else f"with {state} on board, carried there"
    return lines_of([f"{count}, {how}.", "Change: of the cross weight since the weigh-in before."])


def _row(one: Standing, units: Units, letter: str) -> list[str]:
    change = ""
    if one.before:
        change = number(100 * (one.shares.cross - one.before.cross), 1, sign=True)
    total = amount(one.shares.total, "load", units)
    shares = map(percent, three(one.shares))
    return [cut(one.file.car.name, _NAME), one.day, letter, total, *shares, change]


def garage_json(garage: Garage, cars: Sequence[Standing]) -> dict[str, Any]:
    """Give the cars of a folder, each in the units of its own file."""
    return {
        "cars": [_car_json(one) for one in cars],
        "not_weighed": [file.car.name for file in garage.unweighed],
        "notes": list(garage.remarks),
    }


def _car_json(one: Standing) -> dict[str, Any]:
    units, before = one.file.units, one.before
    return {
        "car": one.file.car.name,
        "file": one.file.path,
        "units": units.name,
        "date": one.entry.at,
        "entry": one.entry.number,
        "state": one.on_board,
        "total": units.from_si(one.shares.total, "load"),
        **shares_json(one.shares),
        "change": before
        and {
            "total": units.from_si(one.shares.total - before.total, "load"),
            "front_pct": 100 * (one.shares.front - before.front),
            "left_pct": 100 * (one.shares.left - before.left),
            "cross_pct": 100 * (one.shares.cross - before.cross),
        },
    }


def garage_rows(cars: Sequence[Standing]) -> list[list[str]]:
    """Give a row of `COLUMNS` for each car."""
    rows = []
    for told in map(_car_json, cars):
        change = told["change"] or {}
        numbers = [told[key] for key in ("total", "front_pct", "left_pct", "cross_pct")]
        numbers += [change.get("total"), change.get("cross_pct")]
        words = [told[key] for key in ("car", "file", "date", "entry", "state", "units")]
        figures = ["" if value is None else f"{value:.10g}" for value in numbers]
        rows.append([*map(str, words), *figures])
    return rows


def common_units(cars: Sequence[Standing]) -> Units:
    """Give the units that all cars share, and metric where they differ."""
    units = {one.file.units.name: one.file.units for one in cars}
    return next(iter(units.values())) if len(units) == 1 else METRIC
