"""Variants of a car side by side, as a picture: a small one for each load, total and share."""

from collections.abc import Sequence
from typing import NamedTuple

from balancer.car.conventions import CORNERS, Floats
from balancer.files.car_file import CarFile
from balancer.report.pictures.page import MARGIN, ROOM, SMALL, Page
from balancer.report.pictures.svg import BLUE, INK, LINE, PAPER, SOFT, Look
from balancer.report.weighing.parts import side_by_side
from balancer.report.weighing.states import State
from balancer.report.words.numbers import amounts, number
from balancer.weighing.parts import Variant
from balancer.weighing.uncertainty import Shares

_GAP = 16.0
_WIDE = (ROOM - _GAP) / 2
_NAMES = 22.0
_ROW = 15.0
_LOAD, _SHARE, _TOTAL = 4.0, 0.4, 4.0
"""The least that a picture spans [kg or lb, points]: less would make a mountain of a molehill."""

_NOW = Look(INK, 0, shape="diamond", fill=PAPER)
_THEN = Look(BLUE, 2, shape="circle")
_LEVEL = Look(LINE, 0.8)


class _Panel(NamedTuple):
    """What is shown of now and of every variant; those of one group share a scale."""

    label: str
    values: list[float]
    said: list[str]
    group: str
    least: float

    @property
    def spread(self) -> float:
        return max(self.values) - min(self.values)


def parts_picture(file: CarFile, before: tuple[Floats, Shares], variants: Sequence[Variant]) -> str:
    """Draw variants side by side: loads, total and shares, each beside what is now."""
    states = side_by_side(before, variants)
    names = [name for name, *_ in states]
    panels = _panels(file, states)
    page = Page()
    page.head(file.car.name, "Now, and what each variant would make of it")
    _names(page, names)
    top, high = page.top + 10, 16 + _ROW * len(names) + 12
    for index, panel in enumerate(panels):
        left = MARGIN + (index % 2) * (_WIDE + _GAP)
        wide = max(max(one.spread for one in panels if one.group == panel.group), panel.least)
        _draw(page, panel, left, top + (index // 2) * high, wide)
    page.top = top + (len(panels) + 1) // 2 * high
    scales = "Loads are all drawn to one scale, shares to another."
    page.prose(f"{scales} The line is where it is now.", SMALL)
    told = "; ".join(
        f"{name}: " + ", ".join(f"{panel.label} {panel.said[index]}" for panel in panels)
        for index, name in enumerate(names)
    )
    return page.finish(f"{file.car.name}: variants side by side", told)


def _names(page: Page, names: Sequence[str]) -> None:
    for index, name in enumerate(names):
        page.words(_short(index), MARGIN + 16, size=SMALL, bold=True, anchor="right", room=20)
        page.mark((MARGIN + 27, page.top + 4.5), _THEN if index else _NOW)
        page.words(name, MARGIN + 38, size=SMALL)
        page.top += 14


def _short(index: int) -> str:
    return str(index) if index else ""


def _panels(file: CarFile, states: Sequence[State]) -> list[_Panel]:
    units = file.units
    unit = units.labels["load"]

    def loads(label: str, forces: list[float], group: str, least: float) -> _Panel:
        values = [units.from_si(force, "load") for force in forces]
        return _Panel(f"{label}, {unit}", values, amounts(forces, "load", units), group, least)

    def shares(label: str, fractions: list[float]) -> _Panel:
        values = [100 * fraction for fraction in fractions]
        said = [number(value, 2) for value in values]
        return _Panel(f"{label}, %", values, said, "shares", _SHARE)

    return [
        *(
            loads(corner, [float(state.loads[pad]) for state in states], "loads", _LOAD)
            for pad, corner in enumerate(CORNERS)
        ),
        loads("total", [state.shares.total for state in states], "total", _TOTAL),
        shares("front share", [state.shares.front for state in states]),
        shares("left share", [state.shares.left for state in states]),
        shares("cross weight (RF+LR)", [state.shares.cross for state in states]),
    ]


def _draw(page: Page, panel: _Panel, left: float, top: float, wide: float) -> None:
    page.words(panel.label, left, top, SMALL, SOFT, room=_WIDE)
    begin, end = left + _NAMES + 6, left + _WIDE - 52
    middle = (max(panel.values) + min(panel.values)) / 2

    def at(value: float) -> float:
        return (begin + end) / 2 + (value - middle) / wide * (end - begin)

    now, top = at(panel.values[0]), top + 16
    page.line([(now, top + _ROW / 2), (now, top + _ROW * len(panel.values) - 2)], _LEVEL)
    for index, value in enumerate(panel.values):
        y = top + (index + 0.5) * _ROW
        if index:
            page.line([(now, y), (at(value), y)], _THEN)
            page.label(_short(index), left + _NAMES - 8, y, bold=True, anchor="right")
        page.mark((at(value), y), _THEN if index else _NOW)
        page.label(panel.said[index], left + _WIDE, y, anchor="right")
