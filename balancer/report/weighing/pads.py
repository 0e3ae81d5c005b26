"""The car and its pads apart, told."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.files.pads import PadsFile
from balancer.report.weighing.trim import load_rows
from balancer.report.words import numbers as words
from balancer.report.words.json_parts import by_corner, heading_json, loads_json, shares_json
from balancer.report.words.numbers import (
    amount,
    amounts,
    lines_of,
    number,
    paragraphs,
    percent,
    wrapped,
)
from balancer.report.words.tables import cut, table
from balancer.units import Units
from balancer.weighing.comparison import REAL
from balancer.weighing.pad_errors import (
    DETERMINED,
    DETERMINED_LENGTH,
    TOLD_LEAN,
    NextWeighing,
    PadErrors,
    Told,
)

_SHORT = 5
"""So much of a pad's name is shown beside what it reads."""


def pads_json(file: CarFile, read: PadsFile, found: PadErrors) -> dict[str, Any]:
    """Give car and pads as the dict that `balancer pads --json` prints.

    Returns:
        Keys as documented in README.md, in the car file's units.
    """
    units = file.units
    pads = {
        name: {
            "gain_pct": 100 * float(found.gains[number]),
            "uncertainty": 100 * float(found.gain_uncertainties[number]),
            "told": bool(found.told[number]),
            "beyond_chance": bool(found.beyond_chance[number]),
            "thickness": _length(found.thickness, number, units),
        }
        for number, name in enumerate(found.pads)
    }
    floor = _length(found.floor, 0, units)
    return {
        **heading_json(file),
        "status": found.status,
        **loads_json(found.loads, found.shares, units),
        "uncertainty": loads_json(np.sqrt(np.diag(found.covariance)), found.uncertainties, units),
        "as_read": {
            "total": units.from_si(found.as_read.total, "load"),
            **shares_json(found.as_read),
        },
        "pads": pads,
        "pairs": [
            {
                "pads": [found.pads[pair.one], found.pads[pair.other]],
                "reads_more_pct": 100 * pair.more,
                "uncertainty": 100 * pair.uncertainty,
            }
            for pair in found.pairs
        ],
        "lean": found.lean
        and {"aft": _length(found.lean, 0, units), "left": _length(found.lean, 1, units)},
        "floor": floor and {**floor, "cross_pct": 100 * found.floor_cross},
        "level": found.level,
        "settled": found.equilibrium,
        "chi_square": found.chi_square,
        "degrees": found.degrees,
        "chance_pct": 100 * found.chance,
        "residuals": [by_corner(row, "load", units) for row in found.residuals],
        "next": found.next
        and {"pads": dict(zip(CORNERS, found.next.pads, strict=True)), "told": found.next.told,
             "turned": read.weighings[-1].turned},
    }  # fmt: skip


def pads_text(file: CarFile, read: PadsFile, found: PadErrors) -> str:
    """Tell car and pads apart in at most 80 columns."""
    units = file.units
    count = len(read.weighings)
    times = "once" if count == 1 else f"{count} times"
    first = read.weighings[0].repeats.mean(axis=0)
    states = [("as read at first", first, found.as_read)]
    states.append(("without the pads", found.loads, found.shares))
    cells = load_rows(states, units, change=False)
    masses = [*np.sqrt(np.diag(found.covariance)), found.uncertainties.total]
    points = (found.uncertainties.front, found.uncertainties.left, found.uncertainties.cross)
    uncertainties = ["±", *amounts(masses, "load", units)]
    cells.append([*uncertainties, *(f"{_sure(100 * one, 2)} " for one in points)])
    return paragraphs(
        wrapped(f"{file.car.name}, weighed {times} on pads {', '.join(found.pads)}"),
        _weighings(read, found, units),
        table(cells, indent=""),
        _pads(found, units),
        lines_of(_verdicts(file, read, found)),
    )


def _weighings(read: PadsFile, found: PadErrors, units: Units) -> str:
    """Show which pad stood where, what it read, and the reading that the fit explains least."""
    rows = [["weighing", *CORNERS, f"off by, {units.labels['load']}"]]
    for which, (one, off) in enumerate(zip(read.weighings, found.residuals, strict=True), 1):
        loads = amounts(one.repeats.mean(axis=0), "load", units)
        worst = int(np.abs(off).argmax())
        rows.append(
            [
                f"{which}{' turned' if one.turned else ''}",
                *(f"{cut(pad, _SHORT)} {load}" for pad, load in zip(one.pads, loads, strict=True)),
                f"{CORNERS[worst]} {amount(off[worst], 'load', units, sign=True)}",
            ]
        )
    return table(rows, indent="")


def _pads(found: PadErrors, units: Units) -> str:
    """Show what each pad reads too much, and how much thicker it is."""
    thick = found.thickness
    shown = thick is not None and bool((thick.uncertainties <= DETERMINED_LENGTH).any())
    label = units.labels["length"]
    rows = [["pad", "reads, %", "±", ""]]
    if shown:
        rows[0] += [f"thicker, {label}", "±"]
    for which, name in enumerate(found.pads):
        gain, uncertainty = 100 * found.gains[which], 100 * found.gain_uncertainties[which]
        said = "within chance"
        if not found.told[which]:
            said = "not told"
        elif found.beyond_chance[which]:
            said = "high" if gain > 0 else "low"
        rows.append([cut(name, 30), number(gain, 2, sign=True), _sure(uncertainty, 2), said])
        if not found.told[which]:
            rows[-1][1:3] = ["–", "–"]
        if thick is not None and shown:
            told = thick.uncertainties[which] <= DETERMINED_LENGTH
            more = amount(thick.values[which], "length", units, sign=True)
            sure = _sure_length(thick.uncertainties[which], units)
            rows[-1] += [more, sure] if told else ["–", "–"]
    return table(rows, indent="")


def _verdicts(file: CarFile, read: PadsFile, found: PadErrors) -> Iterator[str]:
    yield _of_the_pads(found)
    yield _of_the_car(found)
    yield _of_the_floor(file, found)
    yield _of_the_scatter(found, file.units)
    if found.next is not None:
        yield _of_the_next(read, found.next, found.thickness is not None)


def _of_the_pads(found: PadErrors) -> str:
    real = [
        f"{found.pads[which]} reads {number(100 * abs(gain), 2)} % {'high' if gain > 0 else 'low'}"
        for which, gain in enumerate(found.gains)
        if found.beyond_chance[which]
    ]
    if real:
        return f"Beyond chance: {', '.join(real)}, against the mean of the four."
    if found.told.all():
        return "No pad is off the mean of the four by more than chance."
    if found.pairs:
        pairs = [
            f"{found.pads[pair.one if pair.more > 0 else pair.other]} reads"
            f" {number(100 * abs(pair.more), 2)} % ± {_sure(100 * pair.uncertainty, 2)} more than"
            f" {found.pads[pair.other if pair.more > 0 else pair.one]}"
            for pair in found.pairs
        ]
        return f"Told of pairs alone: {'; '.join(pairs)}."
    return "These weighings don't tell which pad reads high."


def _of_the_car(found: PadErrors) -> str:
    lost = [
        name
        for name, uncertainty in (
            ("front share", found.uncertainties.front),
            ("left share", found.uncertainties.left),
            ("cross weight", found.uncertainties.cross),
        )
        if uncertainty > DETERMINED
    ]
    if "cross weight" in lost:
        return f"Not told from the pads: {', '.join(lost)}."
    added = 100 * (found.as_read.cross - found.shares.cross)
    text = (
        f"Cross weight without the pads: {percent(found.shares.cross, 2)}"
        f" ± {_sure(100 * found.uncertainties.cross, 2)}; as they stood at first they added"
        f" {number(added, 2, sign=True)} points."
    )
    return text + (f" Not told from the pads: {', '.join(lost)}." if lost else "")


def _of_the_floor(file: CarFile, found: PadErrors) -> str:
    lean, floor = found.lean, found.floor
    if lean is None and floor is None and not found.level:
        return (
            "What the floor does is in these loads. The car turned round tells how it leans; how it"
            " is warped only a level or a laser tells (pad_heights), never an exchange of pads."
        )
    if lean is None:
        leaning = "A floor that leans is in these loads: the car turned round would tell."
    elif (lean.uncertainties > TOLD_LEAN).any():
        leaning = "How the floor leans is not told from the pads."
    elif (np.abs(lean.values) <= REAL * lean.uncertainties).all():
        leaning = "The floor leans by no more than chance; what it does is taken off."
    else:
        leaning = _leaning(file, lean)
    if floor is None and found.level:
        return leaning
    if floor is None:
        return (
            f"{leaning} Its warp is in these loads: only a level or a laser tells it (pad_heights)."
        )
    if floor.uncertainties[0] > DETERMINED_LENGTH:
        return f"{leaning} Its warp is not told from the pads."
    added = number(100 * found.floor_cross, 2, sign=True)
    return (
        f"{leaning} Its warp adds {added} points of cross weight where no heights were measured;"
        " that is taken off."
    )


def _leaning(file: CarFile, lean: Told) -> str:
    units, height = file.units, file.car.cg_up
    label = units.labels["length"]
    ways = (("aft", "forward"), ("left", "right"))
    moves = [
        f"{amount(abs(value), 'length', units)} ± {_sure_length(uncertainty, units)} {label}"
        f" {way[0] if value > 0 else way[1]}"
        for value, uncertainty, way in zip(lean.values, lean.uncertainties, ways, strict=True)
    ]
    text = f"The floor leans and moves the center of gravity {' and '.join(moves)}"
    if height:
        slopes = [f"{number(100 * abs(value) / height, 1)} %" for value in lean.values]
        text += f", about what slopes of {' and '.join(slopes)} that way do"
    return f"{text} (the car not turned); that is taken off."


def _of_the_scatter(found: PadErrors, units: Units) -> str:
    if not found.degrees:
        return (
            "There are no more readings than it takes, so nothing says whether the car settles the"
            " same each time."
        )
    size = f"chi-square {number(found.chi_square, 1)}, {found.degrees} expected"
    if found.equilibrium:
        return f"The car settled the same each time, within the scatter in [scales] ({size})."
    which, corner = np.unravel_index(np.abs(found.residuals).argmax(), found.residuals.shape)
    off = amount(found.residuals[which, corner], "load", units, sign=True, unit=True)
    grown = number(float(np.sqrt(found.chi_square / found.degrees)), 1)
    return (
        f"More than scatter ({size}): did the car settle, did anything move on board? Farthest off:"
        f" {CORNERS[corner]} of weighing {which + 1}, {off}. Every ± is made {grown} times as"
        " large."
    )


def _of_the_next(read: PadsFile, best: NextWeighing, thickness_open: bool) -> str:
    last = read.weighings[-1]
    under = ", ".join(
        f"{cut(pad, _SHORT)} under {corner}" for corner, pad in zip(CORNERS, best.pads, strict=True)
    )
    told = {4: "all four pads", 0: "more"}.get(best.told, f"{best.told} of the pads")
    point = ", still turned round," if last.turned else ""
    measure = ""
    if thickness_open:
        measure = " Pads measured with a caliper (thickness under [[pad]]) take fewer weighings."
    return f"Next put {under} and weigh again{point}: that would tell {told}.{measure}"


def _sure(uncertainty: float, decimals: int) -> str:
    """Write a uncertainty without its sign, with a decimal more where it would vanish."""
    return words.uncertainty(uncertainty, decimals).removeprefix("± ")


def _sure_length(uncertainty: float, units: Units) -> str:
    return _sure(units.from_si(uncertainty, "length"), 1 if units.name == "metric" else 2)


def _length(told: Told | None, which: int, units: Units) -> dict[str, Any] | None:
    if told is None:
        return None
    uncertainty = float(told.uncertainties[which])
    return {
        "value": units.from_si(float(told.values[which]), "length"),
        "uncertainty": units.from_si(uncertainty, "length"),
        "told": uncertainty <= DETERMINED_LENGTH,
    }
