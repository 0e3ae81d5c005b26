"""The cars of a folder as a picture: the cross weight of each, a line a car."""

from collections.abc import Sequence

from balancer.car.errors import InputError
from balancer.files.units import Units
from balancer.log.garage import Standing
from balancer.report.pictures.chart import span
from balancer.report.pictures.page import MARGIN, ROOM, SMALL, Page
from balancer.report.pictures.svg import BLUE, INK, LINE, PAPER, SOFT, Look
from balancer.report.words.numbers import amount, percent

_ROW, _NAMES = 17.0, 118.0
_MOST = 200
"""A picture of more cars is longer than anybody scrolls."""

_LAST, _BEFORE = Look(BLUE, 2, shape="circle"), Look(INK, 1, shape="diamond", fill=PAPER)
_EVEN = Look(LINE, 0.8)


def garage_picture(cars: Sequence[Standing], units: Units, state: str | None) -> str:
    """Draw the cross weight of each car, and that of the weigh-in before.

    Raises:
        InputError: When there is nothing to draw, or too much.
    """
    if not cars:
        raise InputError.one("--svg", "no car to draw", "weigh one first: balancer session CAR")
    if len(cars) > _MOST:
        raise InputError.one("--svg", f"{len(cars)} cars", f"{_MOST} at most: --name or --since")
    page = Page()
    how = "as last weighed" if state is None else f"carried to {state} on board"
    page.head("Cross weight, car by car", f"{how[:1].upper()}{how[1:]}; the line is at 50 %")
    page.key([("last", _LAST), ("the weigh-in before", _BEFORE)])
    page.top += 6
    _draw(page, cars)
    told = "; ".join(
        f"{one.file.car.name}: {amount(one.shares.total, 'load', units, unit=True)},"
        f" cross weight {percent(one.shares.cross)}"
        for one in cars
    )
    return page.finish("The cross weight of every car", told)


def _draw(page: Page, cars: Sequence[Standing]) -> None:
    shares = [each.cross for one in cars for each in (one.shares, one.before) if each]
    low, high = span([0.5, *shares], 0.1, 0.01)
    begin, end = MARGIN + _NAMES, MARGIN + ROOM - 44

    def at(share: float) -> float:
        return begin + (share - low) / (high - low) * (end - begin)

    bottom = page.top + _ROW * len(cars)
    page.line([(at(0.5), page.top), (at(0.5), bottom)], _EVEN)
    for one in cars:
        y = page.top + _ROW / 2
        page.words(one.file.car.name, MARGIN, y - 0.44 * SMALL, SMALL, room=_NAMES - 8)
        if one.before:
            page.line([(at(one.before.cross), y), (at(one.shares.cross), y)], _EVEN)
            page.mark((at(one.before.cross), y), _BEFORE)
        page.mark((at(one.shares.cross), y), _LAST)
        page.label(percent(one.shares.cross), MARGIN + ROOM, y, SOFT, anchor="right")
        page.top += _ROW
    page.top += 6
