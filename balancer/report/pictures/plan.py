"""The car from above on its own page: as weighed, or with the perches turned."""

from collections.abc import Sequence

from balancer.car.conventions import CORNERS, Floats
from balancer.files.car_file import CarFile
from balancer.planning.perches.plan import PerchPlan
from balancer.report.perches.limits import limit_texts
from balancer.report.perches.moves import corner_words, counts_of
from balancer.report.pictures.page import LARGE, NORMAL, ROOM, SMALL, WIDTH, Page
from balancer.report.pictures.plan_view import Turned, plan_view, view_size
from balancer.report.pictures.svg import BLUE, INK, LINE, SOFT, VERMILLION
from balancer.report.words.cautions import turning_care
from balancer.report.words.numbers import (
    amount,
    amounts,
    percent,
    sure_percent,
    three,
    uncertainty,
    wanted,
)
from balancer.report.words.prose import by_corner_words, times
from balancer.report.words.turns import turned_corners
from balancer.weighing.uncertainty import Shares
from balancer.weighing.weigh import WeighIn

_COLUMNS = (188.0, 251.0, 314.0, 376.0)
"""Where the numbers of the four corners end."""

_LOOK = f"""
.plan * {{ fill: none; stroke: {LINE}; }} .plan text {{ fill: {INK}; stroke: none; }}
.plan .corner {{ font-size: 16px; }} .plan .load {{ font-size: 25px; font-weight: bold; }}
.plan .much {{ font-weight: bold; }} .plan .way {{ font-size: 14px; font-weight: bold; }}
.plan .share {{ font-size: 16px; font-weight: bold; }} .plan .key {{ font-size: 14px; }}
.plan .body {{ fill: #f2f2f2; stroke-width: 1.5; }} .plan .axle {{ stroke-width: 3; }}
.plan .wheel {{ fill: {INK}; stroke: none; }}
.plan .cross {{ stroke: {BLUE}; stroke-width: 3.5; stroke-dasharray: 11 6; }}
.plan .center {{ stroke: {BLUE}; stroke-width: 2.5; }}
.plan .place {{ stroke: {SOFT}; stroke-width: 1.2; stroke-dasharray: 2 3; }}
.plan .ballast {{ fill: {VERMILLION}; stroke: {INK}; }} .plan .lead {{ stroke: {VERMILLION}; }}
"""

Row = tuple[str, list[str], float, bool]


def weigh_picture(file: CarFile, weighed: WeighIn) -> str:
    """Draw the car from above as it was weighed."""
    units, shares, uncertainties = file.units, weighed.shares, weighed.uncertainties
    total = amount(shares.total, "load", units, unit=True)
    sure = uncertainty(units.from_si(uncertainties.total, "load"), 1)
    names = ("front share", "left share", "cross weight (RF+LR)")
    each = zip(names, map(sure_percent, three(shares), three(uncertainties)), strict=True)
    lines = [f"total {total} {sure}", *(f"{name} {share}" for name, share in each)]
    page = Page()
    _head(page, file, _about(weighed))
    page.prose(f"Loads in {units.labels['load']}", SMALL, SOFT)
    page.top += 4
    _put(page, file, weighed.loads, shares)
    for line in lines:
        page.prose(line)
    page.top += 4
    page.prose("± is one standard uncertainty.", SMALL, SOFT)
    loads = by_corner_words(amount(load, "load", units, unit=True) for load in weighed.loads)
    told = "; ".join([*_about(weighed), loads, *lines])
    return page.finish(f"{file.car.name}: as weighed", f"{told}.", _LOOK)


def perches_picture(file: CarFile, weighed: WeighIn, plan: PerchPlan) -> str:
    """Draw the car from above as it stands once the perches are turned, and what to turn."""
    best, goal = plan.best, plan.goal
    now, then = percent(weighed.shares.cross), percent(best.shares.cross)
    aim = f"wanted {wanted(goal.cross, goal.tolerance)}"
    limits = [f"{text}." for text in limit_texts(plan, file)]
    if limits:
        limits.insert(0, "Not all that was asked can be reached:")
    page = Page()
    _head(page, file, _about(weighed))
    todo = f"Once turned: cross weight (RF+LR) {then}, now {now}"
    if not best.corners:
        todo = f"Nothing to turn: cross weight (RF+LR) {now}"
    page.prose(f"{todo}; {aim}. {_said_at_corners(file, plan)}")
    page.top += 4
    told_at = [corner_words(file, best, index) for index in range(4)] if best.corners else []
    turns = [Turned(each["much"], each["way"]) for each in told_at]
    _put(page, file, best.loads, best.shares, turns)
    page.top += 4
    rows = _rows(file, weighed, plan)
    for row in [("", list(CORNERS), NORMAL, True), *rows]:
        _row(page, *row)
    page.top += 4
    for line in limits:
        page.prose(line)
    if best.corners:
        page.top += 4
        page.prose(" ".join(turning_care(file.car).split()), SMALL, SOFT)
    each = [f"{name}: {by_corner_words(cells)}" for name, cells, *_ in rows]
    said = f"turn {turned_corners(best.turns, counts_of(best, file)) or 'nothing'}"
    told = "; ".join([f"Cross weight (RF+LR) now {now}, then {then}, {aim}", said, *each])
    return page.finish(f"{file.car.name}: perch turns", " ".join([f"{told}.", *limits]), _LOOK)


def _said_at_corners(file: CarFile, plan: PerchPlan) -> str:
    load, best = file.units.labels["load"], plan.best
    if not best.corners:
        return f"Loads in {load}"
    counts = dict.fromkeys(
        count.many for count, turn in zip(counts_of(best, file), best.turns, strict=True) if turn
    )
    return f"Large: {' and '.join(counts)} to make; small: loads once turned, {load}"


def _rows(file: CarFile, weighed: WeighIn, plan: PerchPlan) -> list[Row]:
    units, best = file.units, plan.best
    load, length = units.labels["load"], units.labels["length"]
    heights = amounts(best.height_change, "length", units, sign=True)
    return [
        (f"now, {load}", amounts(weighed.loads, "load", units), NORMAL, False),
        (f"then, {load}", amounts(best.loads, "load", units), NORMAL, False),
        (f"height, {length}", heights, NORMAL, False),
    ]


def _put(
    page: Page, file: CarFile, loads: Floats, shares: Shares, turns: Sequence[Turned] = ()
) -> None:
    """Put the car from above in the middle, no larger than it is."""
    wide, high = view_size(file.car, bool(turns))
    scale = min(ROOM / wide, 1.0)
    place = ((WIDTH - scale * wide) / 2, page.top, scale * wide, scale * high)
    page.put(plan_view(file.car, file.units, loads, shares, turns=turns, place=place))
    page.top += scale * high + 8


def _row(page: Page, name: str, cells: Sequence[str], size: float, bold: bool) -> None:
    page.words(name, size=size, bold=bold)
    for x, cell in zip(_COLUMNS, cells, strict=True):
        page.words(cell, x, size=size, bold=bold, anchor="right")
    page.top += 1.5 * size


def _head(page: Page, file: CarFile, about: Sequence[str]) -> None:
    page.words(file.car.name, size=LARGE, bold=True)
    page.top += 1.45 * LARGE
    for line in about:
        page.words(line, color=SOFT)
        page.top += 1.35 * NORMAL
    page.top += 4


def _about(weighed: WeighIn) -> list[str]:
    """Say how often, when and with what on board it was weighed, and the note."""
    readings = weighed.readings
    on_board = "" if readings.on_board is None else ", ".join(readings.on_board) or "nothing"
    parts = [
        f"weighed {times(weighed.repeats)}",
        readings.date,
        f"on board: {on_board}" if on_board else "",
    ]
    return ["; ".join(part for part in parts if part), *([readings.note] if readings.note else [])]
