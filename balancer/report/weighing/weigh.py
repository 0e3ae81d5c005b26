"""A weigh-in told: as text, and as the JSON contract."""

from __future__ import annotations

from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.report.words.json_parts import (
    by_corner,
    center_json,
    heading_json,
    loads_json,
    shares_json,
)
from balancer.report.words.numbers import (
    amount,
    amounts,
    lines_of,
    number,
    percent,
    side,
    uncertainty,
)
from balancer.report.words.tables import table
from balancer.units import Units
from balancer.weighing.uncertainty import Shares
from balancer.weighing.weigh import WeighIn


def uncertainties_json(uncertainties: Shares, units: Units) -> dict[str, Any]:
    """Give standard uncertainties of total, shares and center under the names of the contract.

    >>> from balancer.units import METRIC
    >>> known = Shares(9.80665, 0.001, 0.001, 0.001, 0.002, 0.001)
    >>> round(uncertainties_json(known, METRIC)["total"], 9)
    1.0
    """
    return {
        "total": units.from_si(uncertainties.total, "load"),
        **shares_json(uncertainties),
        "cg": center_json(uncertainties, units),
    }


def weigh_json(file: CarFile, weighed: WeighIn, drawn: Shares | None = None) -> dict[str, Any]:
    """Give a weigh-in as the dict that `balancer weigh --json` prints.

    Args:
        drawn: Uncertainties found by Monte Carlo.

    Returns:
        Keys as documented in README.md; car file's units, shares in percent, k = 1.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.conventions import GRAVITY
        >>> from balancer.units import METRIC
        >>> from balancer.weighing.weigh import Readings, weigh
        >>> car = plain_car()
        >>> weighed = weigh(car, Readings.of(np.full(4, 250 * GRAVITY)))
        >>> weigh_json(CarFile("a.toml", car, METRIC, ()), weighed)["total"]
        1000.0
    """
    units = file.units
    return {
        **heading_json(file),
        **loads_json(weighed.loads, weighed.shares, units),
        "cg": center_json(weighed.shares, units),
        "uncertainty": uncertainties_json(weighed.uncertainties, units),
        **({"sampled": uncertainties_json(drawn, units)} if drawn else {}),
        "pad_effect": by_corner(weighed.pad_effect, "load", units),
        "readings": weighed.repeats,
        "strays": [{"reading": which, "pad": corner} for which, corner in weighed.outliers],
        "date": weighed.readings.date,
        "note": weighed.readings.note,
    }


def weigh_text(file: CarFile, weighed: WeighIn, drawn: Shares | None = None) -> str:
    """Tell a weigh-in in at most 80 columns.

    Args:
        drawn: Uncertainties found by Monte Carlo.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.conventions import GRAVITY
        >>> from balancer.units import METRIC
        >>> from balancer.weighing.weigh import Readings, weigh
        >>> car = plain_car()
        >>> weighed = weigh(car, Readings.of(np.full(4, 250 * GRAVITY)))
        >>> print(weigh_text(CarFile("a.toml", car, METRIC, ()), weighed).split("\\n")[0])
        plain car, weighed once
    """
    units, found, uncertainties = file.units, weighed.shares, weighed.uncertainties
    load = units.labels["load"]
    lines = [_heading(file, weighed), "", _grid(weighed, units), ""]
    cross = weighed.loads[1] + weighed.loads[2]
    rows = [
        (
            "total",
            amount(found.total, "load", units, unit=True),
            uncertainty(units.from_si(uncertainties.total, "load"), 1),
        ),
        ("front share", percent(found.front), _points(uncertainties.front)),
        ("left share", percent(found.left), _points(uncertainties.left)),
        ("cross weight", percent(found.cross), _points(uncertainties.cross)),
    ]
    wide = max(len(value) for _, value, _ in rows)
    lines += [f"  {name:<14}{value:>{wide}}  {sure}" for name, value, sure in rows]
    other = amount(found.total - cross, "load", units)
    lines[-1] += f"   RF+LR {amount(cross, 'load', units)}, LF+RR {other} {load}"
    aft, left = (
        f"{number(units.from_si(abs(value), 'length'), decimals)}"
        f" {uncertainty(units.from_si(sure, 'length'), decimals)} {units.labels['length']}"
        for value, sure, decimals in (
            (found.aft, uncertainties.aft, 0 if units.name == "metric" else 1),
            (found.left_offset, uncertainties.left_offset, 1 if units.name == "metric" else 2),
        )
    )
    lines.append(f"  {'center':<14}{aft} behind the front axle, {left} {side(found.left_offset)}")
    if drawn:
        lines += ["", _sampled(drawn, units)]
    lines += ["", *_remarks(file, weighed)]
    return "\n".join(lines).rstrip()


def _sampled(drawn: Shares, units: Units) -> str:
    total = number(units.from_si(drawn.total, "load"), 2)
    points = [number(100 * one, 3) for one in (drawn.front, drawn.left, drawn.cross)]
    return (
        f"By draws: total ± {total}, front ± {points[0]}, left ± {points[1]}, cross ± {points[2]}."
    )


def _heading(file: CarFile, weighed: WeighIn) -> str:
    often = "once" if weighed.repeats == 1 else f"{weighed.repeats} times"
    parts = [f"{file.car.name}, weighed {often}"]
    readings = weighed.readings
    parts += [readings.date] if readings.date else []
    if readings.on_board is not None:
        parts.append(f"on board: {', '.join(readings.on_board) or 'nothing'}")
    note = readings.note.split("\n") if readings.note else []
    return lines_of(["; ".join(parts), *note])


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


def _points(standard: float) -> str:
    return uncertainty(100 * standard, 1)


def _remarks(file: CarFile, weighed: WeighIn) -> list[str]:
    """Say what to know before believing the numbers."""
    units, remarks = file.units, []
    for which, corner in weighed.outliers:
        value = weighed.readings.repeats[which - 1][CORNERS.index(corner)]
        remarks.append(
            f"Reading {which} of {corner} ({amount(value, 'load', units)}) disagrees with the"
            " others: settle the car and read again."
        )
    if weighed.pad_effect.any():
        largest = amount(np.abs(weighed.pad_effect).max(), "load", units, unit=True)
        remarks.append(f"Pads that are not level had moved up to {largest}: taken off.")
    remarks.append(uncertainty_remark(file.car, units))
    return remarks


def uncertainty_remark(car: Car, units: Units) -> str:
    """Say what the uncertainties rest on.

    >>> from balancer.car.model import plain_car
    >>> from balancer.units import METRIC
    >>> print(uncertainty_remark(plain_car(), METRIC))
    ± is one standard uncertainty. The file says nothing of the scales: 0.1 %,
    0.5 kg steps and 0.5 kg scatter are assumed.
    """
    if car.scales.stated:
        return "± is one standard uncertainty, from [scales] in the car file."
    scales = car.scales
    return (
        "± is one standard uncertainty. The file says nothing of the scales:"
        f" {100 * scales.accuracy:g} %,\n"
        f"{amount(scales.resolution, 'load', units, unit=True)} steps and"
        f" {amount(scales.repeatability, 'load', units, unit=True)} scatter are assumed."
    )
