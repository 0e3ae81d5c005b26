"""What weighings on exchanged pads say of pads, car and floor, in sentences."""

from collections.abc import Iterator

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.files.pads import PadsFile
from balancer.files.units import Units
from balancer.report.words.numbers import amount, number, sure_percent, three, uncertainty
from balancer.report.words.tables import cut
from balancer.weighing.comparison import REAL
from balancer.weighing.pad_errors import (
    DETERMINED,
    DETERMINED_LEAN,
    DETERMINED_LENGTH,
    Lengths,
    NextWeighing,
    PadErrors,
)

SHORT = 5
"""So much of a pad's name is shown beside what it reads."""


def findings(file: CarFile, read: PadsFile, errors: PadErrors) -> Iterator[str]:
    """Say what the weighings tell of pads, car, floor and scatter, and what to weigh next."""
    yield _of_the_pads(errors)
    yield _of_the_car(errors)
    yield _of_the_floor(file, errors)
    yield _of_the_scatter(errors, file.units)
    if errors.next is not None:
        yield _of_the_next(read, errors.next, errors.thickness is not None)


def _of_the_pads(errors: PadErrors) -> str:
    real = [
        f"{errors.pads[pad]} reads {number(100 * abs(gain), 2)} % {'high' if gain > 0 else 'low'}"
        for pad, gain in enumerate(errors.gains)
        if errors.beyond_chance[pad]
    ]
    if real:
        return f"Beyond chance: {', '.join(real)}, against the mean of the four."
    if errors.determined.all():
        return "No pad is off the mean of the four by more than chance."
    pairs = []
    for pair in errors.pairs:
        high, low = (pair.first, pair.second) if pair.more > 0 else (pair.second, pair.first)
        more = f"{number(100 * abs(pair.more), 2)} % {uncertainty(100 * pair.uncertainty, 2)}"
        pairs.append(f"{errors.pads[high]} reads {more} more than {errors.pads[low]}")
    if pairs:
        return f"Told of pairs alone: {'; '.join(pairs)}."
    return "These weighings don't tell which pad reads high."


def _of_the_car(errors: PadErrors) -> str:
    names = ("front share", "left share", "cross weight")
    each = zip(names, three(errors.uncertainties), strict=True)
    lost = ", ".join(name for name, standard in each if standard > DETERMINED)
    unknown = f"Not told from the pads: {lost}." if lost else ""
    if errors.uncertainties.cross > DETERMINED:
        return unknown
    added = number(100 * (errors.as_read.cross - errors.shares.cross), 2, sign=True)
    cross = sure_percent(errors.shares.cross, errors.uncertainties.cross)
    return (
        f"Cross weight without the pads: {cross}; as they stood at first they added"
        f" {added} points. {unknown}"
    ).rstrip()


def _of_the_floor(file: CarFile, errors: PadErrors) -> str:
    if errors.lean is None and errors.floor is None and not errors.level:
        return (
            "What the floor does is in these loads. The car turned round tells how it leans; how it"
            " is warped only a level or a laser tells (pad_heights), never an exchange of pads."
        )
    leaning = _leaning(file, errors.lean)
    if errors.floor is None and errors.level:
        return leaning
    if errors.floor is None:
        warp = "is in these loads: only a level or a laser tells it (pad_heights)."
    elif errors.floor.uncertainties[0] > DETERMINED_LENGTH:
        warp = "is not told from the pads."
    else:
        added = number(100 * errors.floor_cross, 2, sign=True)
        warp = (
            f"adds {added} points of cross weight where no heights were measured;"
            " that is taken off."
        )
    return f"{leaning} Its warp {warp}"


def _leaning(file: CarFile, lean: Lengths | None) -> str:
    if lean is None:
        return "A floor that leans is in these loads: the car turned round would tell."
    if (lean.uncertainties > DETERMINED_LEAN).any():
        return "How the floor leans is not told from the pads."
    if (np.abs(lean.values) <= REAL * lean.uncertainties).all():
        return "The floor leans by no more than chance; what it does is taken off."
    units, height = file.units, file.car.cg_up
    each = zip(
        lean.values, lean.uncertainties, (("aft", "forward"), ("left", "right")), strict=True
    )
    moves = [
        f"{amount(abs(value), 'length', units)} {sure_length(standard, units)}"
        f" {units.labels['length']} {ways[0] if value > 0 else ways[1]}"
        for value, standard, ways in each
    ]
    text = f"The floor leans and moves the center of gravity {' and '.join(moves)}"
    if height:
        slopes = [f"{number(100 * abs(value) / height, 1)} %" for value in lean.values]
        text += f", about what slopes of {' and '.join(slopes)} that way do"
    return f"{text} (the car not turned); that is taken off."


def _of_the_scatter(errors: PadErrors, units: Units) -> str:
    if not errors.degrees:
        return (
            "There are no more readings than it takes, so nothing says whether the car settles the"
            " same each time."
        )
    size = f"chi-square {number(errors.chi_square, 1)}, {errors.degrees} expected"
    if errors.consistent:
        return f"The car settled the same each time, within the scatter in [scales] ({size})."
    which, corner = np.unravel_index(np.abs(errors.residuals).argmax(), errors.residuals.shape)
    off = amount(errors.residuals[which, corner], "load", units, sign=True, unit=True)
    grown = number(float(np.sqrt(errors.chi_square / errors.degrees)), 1)
    return (
        f"More than scatter ({size}): did the car settle, did anything move on board? Farthest off:"
        f" {CORNERS[corner]} of weighing {which + 1}, {off}. Every ± is made {grown} times as"
        " large."
    )


def _of_the_next(read: PadsFile, best: NextWeighing, thickness_open: bool) -> str:
    each = zip(CORNERS, best.pads, strict=True)
    under = ", ".join(f"{cut(pad, SHORT)} under {corner}" for corner, pad in each)
    gains = {4: "all four pads", 0: "more"}.get(best.determined, f"{best.determined} of the pads")
    point = ", still turned round," if read.weighings[-1].reversed else ""
    text = f"Next put {under} and weigh again{point}: that would tell {gains}."
    if thickness_open:
        text += " Pads measured with a caliper (thickness under [[pad]]) take fewer weighings."
    return text


def sure_length(standard: float, units: Units) -> str:
    """Write the standard uncertainty of a short length."""
    return uncertainty(units.from_si(standard, "length"), 1 if units.name == "metric" else 2)
