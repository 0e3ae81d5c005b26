"""A weigh-in told: as text, and as the JSON contract."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.report.words.floor import cross_apart, floor_lines
from balancer.report.words.json_parts import (
    by_corner,
    center_json,
    finite,
    heading_json,
    loads_json,
    shares_json,
)
from balancer.report.words.numbers import (
    amount,
    amounts,
    number,
    percent,
    place,
    place_decimals,
    side,
    three,
    uncertainty,
)
from balancer.report.words.opening import off_target
from balancer.report.words.prose import lines_of, paragraphs, times, wrapped
from balancer.report.words.tables import table
from balancer.units import Units
from balancer.weighing.uncertainty import Shares
from balancer.weighing.weigh import WeighIn


def _uncertainties_json(uncertainties: Shares, units: Units) -> dict[str, Any]:
    return {
        "total": units.from_si(uncertainties.total, "load"),
        **shares_json(uncertainties),
        "cg": center_json(uncertainties, units),
    }


def weigh_json(file: CarFile, weighed: WeighIn, drawn: Shares | None = None) -> dict[str, Any]:
    """Give a weigh-in, and uncertainties drawn, as the dict that `balancer weigh --json` prints."""
    units = file.units
    return {
        **heading_json(file),
        **loads_json(weighed.loads, weighed.shares, units),
        "cg": center_json(weighed.shares, units),
        "uncertainty": _uncertainties_json(weighed.uncertainties, units),
        "repeatable": _uncertainties_json(weighed.repeatable, units),
        "cross_pct_per_mm_of_pad": finite(0.1 * weighed.cross_per_pad),
        "level": units.from_si(file.car.scales.level, "length"),
        "level_assumed": not file.car.scales.level_stated,
        **({"sampled": _uncertainties_json(drawn, units)} if drawn else {}),
        "pad_effect": by_corner(weighed.pad_effect, "load", units),
        "readings": weighed.repeats,
        "strays": [{"reading": which, "pad": corner} for which, corner in weighed.outliers],
        "date": weighed.readings.date,
        "note": weighed.readings.note,
    }


def weigh_text(file: CarFile, weighed: WeighIn, drawn: Shares | None = None) -> str:
    """Tell a weigh-in, with uncertainties found by Monte Carlo or not, in at most 80 columns."""
    return paragraphs(
        _heading(weighed),
        _grid(weighed, file.units),
        "\n".join([*_share_lines(weighed, file.units), _center_line(weighed, file.units)]).rstrip(),
        wrapped(off_target(file.car, weighed.loads)),
        _sampled(drawn, file.units) if drawn else "",
        "\n".join(_remarks(file, weighed)),
    )


def _share_lines(weighed: WeighIn, units: Units) -> list[str]:
    shares, standard = weighed.shares, weighed.uncertainties
    total = amount(shares.total, "load", units, unit=True)
    rows = [("total", total, units.from_si(standard.total, "load"))]
    for name, share, points in zip(
        ("front share", "left share", "cross weight"), three(shares), three(standard), strict=True
    ):
        rows.append((name, percent(share), 100 * points))
    wide = max(len(value) for _, value, _ in rows)
    *others, cross = [(f"  {name:<14}{value:>{wide}}  ", sure) for name, value, sure in rows]
    lines = [f"{start}{uncertainty(sure, 1)}" for start, sure in others]
    diagonal = weighed.loads[1] + weighed.loads[2]
    both, other = amounts((diagonal, shares.total - diagonal), "load", units)
    carry = f"{'':<14}  {'':>{wide}}  RF+LR {both}, LF+RR {other} {units.labels['load']}"
    return [*lines, f"{cross[0]}{cross_apart(weighed)}", carry]


def _center_line(weighed: WeighIn, units: Units) -> str:
    """Say where the center of gravity is, as far as wheelbase and tracks are known."""
    where, sure = weighed.shares, weighed.uncertainties
    parts = (
        (where.aft, sure.aft, 0, "behind the front axle"),
        (where.left_offset, sure.left_offset, 1, side(where.left_offset)),
    )
    told = [
        _at(value, off, finer, units) + f" {way}"
        for value, off, finer, way in parts
        if isfinite(value)
    ]
    return f"  {'center':<14}{', '.join(told)}" if told else ""


def _at(value: float, off: float, finer: int, units: Units) -> str:
    sure = uncertainty(units.from_si(off, "length"), place_decimals(units) + finer)
    return f"{place(abs(value), units, finer)} {sure} {units.labels['length']}"


def _sampled(drawn: Shares, units: Units) -> str:
    total = number(units.from_si(drawn.total, "load"), 2)
    front, left, cross = (number(100 * share, 3) for share in three(drawn))
    return f"By draws: total ± {total}, front ± {front}, left ± {left}, cross ± {cross}."


def _heading(weighed: WeighIn) -> str:
    parts, readings = [f"Weighed {times(weighed.repeats)}"], weighed.readings
    parts += [readings.date] if readings.date else []
    note = readings.note.split("\n") if readings.note else []
    return lines_of([f"{', '.join(parts)}.", *note])


def _grid(weighed: WeighIn, units: Units) -> str:
    loads = weighed.loads
    rows = [["", "left", "right", f"both {units.labels['load']}", "left is"]]
    sides = {"front": loads[:2], "rear": loads[2:], "both": loads[:2] + loads[2:]}
    for name, (left, right) in sides.items():
        cells = amounts((left, right, left + right), "load", units)
        rows.append([name, *cells, _heavier(left - right, units)])
    return table(rows)


def _heavier(difference: float, units: Units) -> str:
    text = amount(abs(difference), "load", units)
    if not float(text):
        return "the same"
    return f"{text} {'heavier' if difference > 0 else 'lighter'}"


def _remarks(file: CarFile, weighed: WeighIn) -> Iterator[str]:
    """Say what to know before believing the numbers."""
    units = file.units
    for which, corner in weighed.outliers:
        value = weighed.readings.repeats[which - 1][CORNERS.index(corner)]
        yield (
            f"Reading {which} of {corner} ({amount(value, 'load', units)}) disagrees with the"
            " others: settle the car and read again."
        )
    if weighed.pad_effect.any():
        largest = amount(np.abs(weighed.pad_effect).max(), "load", units, unit=True)
        yield f"Pads that are not level had moved up to {largest}: taken off."
    yield from map(wrapped, floor_lines(file.car.scales, weighed, units))
    yield _basis(file, units)


def _basis(file: CarFile, units: Units) -> str:
    """Say what the uncertainties rest on."""
    scales = file.car.scales
    if scales.stated:
        return "± is one standard uncertainty, from [scales] in the car file."
    steps, scatter = (
        amount(value, "load", units, unit=True)
        for value in (scales.resolution, scales.repeatability)
    )
    silent = "The file says nothing of the scales" if file.path else "Nothing is said of the scales"
    return (
        f"± is one standard uncertainty. {silent}:"
        f" {100 * scales.accuracy:g} %,\n{steps} steps and {scatter} scatter are assumed."
    )
