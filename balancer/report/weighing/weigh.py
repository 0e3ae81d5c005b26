"""A weigh-in told: as text, and as the JSON contract."""

from collections.abc import Iterator
from math import isfinite
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.files.units import Units
from balancer.report.words.floor import ELSEWHERE, HERE, floor_lines
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
        _shares(weighed, file.units),
        wrapped(off_target(file.car, weighed.loads)),
        _sampled(drawn, file.units) if drawn else "",
        "\n".join(_remarks(file, weighed)),
    )


def _shares(weighed: WeighIn, units: Units) -> str:
    """Set total, shares and center in a table, each with what is known here, and elsewhere."""
    shares, known = weighed.shares, (weighed.repeatable, weighed.uncertainties)
    total = amount(shares.total, "load", units, unit=True)
    sure = [uncertainty(units.from_si(one.total, "load"), 1) for one in known]
    rows = [["", "", HERE, ELSEWHERE], ["total", total, *sure]]
    names = ("front share", "left share", "cross weight")
    for name, share, *points in zip(names, three(shares), *map(three, known), strict=True):
        rows.append([name, percent(share), *(uncertainty(100 * one, 2) for one in points)])
    if not isfinite(weighed.cross_per_pad):
        rows[-1][-1] = "not known"
    diagonal = weighed.loads[1] + weighed.loads[2]
    both, other = amounts((diagonal, shares.total - diagonal), "load", units)
    carry = f"  cross weight: RF+LR {both}, LF+RR {other} {units.labels['load']}"
    return f"{table([*rows, *_center(weighed, units)])}\n{carry}"


def _center(weighed: WeighIn, units: Units) -> Iterator[list[str]]:
    """Say where the center of gravity is, as far as wheelbase and tracks are known."""
    where, known = weighed.shares, (weighed.repeatable, weighed.uncertainties)
    parts = (
        ("behind front axle", 0, where.aft, [one.aft for one in known]),
        (f"{side(where.left_offset)} of middle", 1, where.left_offset,
         [one.left_offset for one in known]),
    )  # fmt: skip
    decimals = place_decimals(units) + 1
    for name, finer, value, off in parts:
        if isfinite(value):
            sure = [uncertainty(units.from_si(one, "length"), decimals) for one in off]
            at = f"{place(abs(value), units, finer)} {units.labels['length']}"
            yield [f"center {name}", at, *sure]


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
