"""A car in another state, and along a stint, told."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import FUEL_DENSITY
from balancer.files.car_file import CarFile
from balancer.files.states import in_words, words_of
from balancer.report.words.json_parts import center_json, heading_json, loads_json
from balancer.report.words.numbers import amount, amounts, lifted, number, percent, side, wrapped
from balancer.report.words.tables import table
from balancer.units import Units
from balancer.weighing.load_states import Stint, Trim
from balancer.weighing.uncertainty import Shares


def trim_json(trim: Trim, units: Units) -> dict[str, Any]:
    """Give a car in a state under the names of the contract."""
    return {
        "on_board": [item.name for item in trim.on_board],
        "state": ",".join(words_of(trim.on_board, units)) or "none",
        **loads_json(trim.loads, trim.shares, units),
        "cg": center_json(trim.shares, units),
        "warnings": lifted(trim.loads, units),
    }


def load_rows(
    rows: Sequence[tuple[str, Floats, Shares]], units: Units, change: bool = True
) -> list[list[str]]:
    """Set states of a car under each other: loads, total and shares.

    Args:
        rows: sequence of (str, array (4,), Shares)
        change: Whether a last row tells the last less the first.

    Returns:
        For `tables.table`.
    """
    cells = [["", *CORNERS, f"{units.labels['load']} in all", "front", "left", "cross"]]
    for name, loads, found in rows:
        masses = [*loads, found.total]
        shares = [percent(one) for one in (found.front, found.left, found.cross)]
        cells.append([name, *amounts(masses, "load", units), *shares])
    if change and len(rows) > 1:
        (_, before, was), (_, after, now) = rows[0], rows[-1]
        masses = [*(after - before), now.total - was.total]
        points = [
            number(100 * (b - a), 1, sign=True) + "  "
            for a, b in ((was.front, now.front), (was.left, now.left), (was.cross, now.cross))
        ]
        cells.append(["change", *amounts(masses, "load", units, sign=True), *points])
    return cells


def lift_lines(rows: Sequence[tuple[str, Floats, Shares]], units: Units) -> list[str]:
    """Say before a table of states in which of them a wheel would be off the ground.

    Args:
        rows: sequence of (str, array (4,), Shares), as for `load_rows`.

    Returns:
        Often empty.
    """
    found = [text for name, loads, _ in rows for text in lifted(loads, units, name)]
    return [wrapped(f"Care: {text}.") for text in found]


def trim_text(file: CarFile, was: Trim, now: Trim) -> str:
    """Tell what a car weighs in another state, in at most 80 columns.

    Args:
        was, now: As weighed, and carried.
    """
    units = file.units
    center = now.shares
    aft = number(units.from_si(center.aft, "length"), 0 if units.name == "metric" else 1)
    lines = [
        wrapped(f"{file.car.name}, weighed with {in_words(was.on_board, units)}"),
        wrapped(f"now with {in_words(now.on_board, units)}"),
        *lift_lines([("now", now.loads, now.shares)], units),
        "",
        table(
            load_rows([("was", was.loads, was.shares), ("now", now.loads, now.shares)], units),
            indent="",
        ),
        "",
        wrapped(
            f"Center of gravity {aft} {units.labels['length']} behind the front axle,"
            f" {amount(abs(center.left_offset), 'length', units, unit=True)}"
            f" {side(center.left_offset)} of the centerline."
        ),
        *fluid_remarks(file),
    ]
    return "\n".join(lines)


def fluid_remarks(file: CarFile) -> list[str]:
    """State the density that each fluid on board is taken at.

    References:
        EN 228 for the density of gasoline, from memory.
    """
    units = file.units
    return [
        wrapped(
            f"{item.name}: {units.from_si(item.density, 'density'):.3g} {units.labels['density']}"
            + (
                ", the middle of what EN 228 allows gasoline at 15 °C"
                if item.density == FUEL_DENSITY
                else ""
            )
            + "."
        )
        for item in file.car.on_board
        if item.density
    ]


def volumes_left(file: CarFile, found: Stint, fluid: str) -> list[float]:
    """Give what is left of a fluid along a stint, in the units of the car file."""
    density = next(item.density for item in file.car.on_board if item.name == fluid)
    return [file.units.from_si(mass / density, "volume") for mass in found.masses.tolist()]


def stint_json(file: CarFile, found: Stint, fluid: str) -> dict[str, Any]:
    """Give a stint as the dict that `balancer stint --json` prints."""
    units = file.units
    return {
        **heading_json(file),
        "fluid": fluid,
        "stint": [
            {"volume": volume, **trim_json(trim, units)}
            for volume, trim in zip(volumes_left(file, found, fluid), found.trims, strict=True)
        ],
        "worst": found.worst,
    }


def stint_text(file: CarFile, found: Stint, fluid: str, cross: float) -> str:
    """Tell a stint in at most 80 columns.

    Args:
        cross: Cross weight wanted, as a fraction.
    """
    units = file.units
    rows = [
        (f"{volume:.1f} {units.labels['volume']}", trim.loads, trim.shares)
        for volume, trim in zip(volumes_left(file, found, fluid), found.trims, strict=True)
    ]
    worst = found.trims[found.worst].shares.cross
    return "\n".join(
        [
            wrapped(f"{file.car.name}, from {in_words(found.trims[0].on_board, units)}"),
            *lift_lines(rows, units),
            "",
            table(load_rows(rows, units), indent=""),
            "",
            f"Farthest from {percent(cross)}: {percent(worst, 2)} at {rows[found.worst][0]}.",
            *fluid_remarks(file),
        ]
    )
