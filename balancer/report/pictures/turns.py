"""What one turn at each corner does, as a picture: four small ones, set out as the corners are."""

from __future__ import annotations

from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.checking import Meaning
from balancer.files.car_file import CarFile
from balancer.report.perches.plan import one_up
from balancer.report.pictures.page import MARGIN, ROOM, SMALL, Page
from balancer.report.pictures.svg import BLUE, HATCH, LINE, SOFT, VERMILLION, Look
from balancer.report.words.numbers import amount, number
from balancer.units import Units

_WIDE = (ROOM - 14) / 2
_NAMES = 20.0
_ROW = 15.0
_COLUMN = (_WIDE - _NAMES - 6) / 2
_BAR = _COLUMN - 36
_BLOCK = 33 + 4 * _ROW + 16

_RAISED = Look(BLUE, 0.8, fill=BLUE)
_LOWERED = Look(VERMILLION, 0.8, fill=HATCH)
_ZERO = Look(LINE, 0.8)


def turns_picture(file: CarFile, found: Meaning) -> str:
    """Draw what one turn up at each corner does to loads, cross weight and heights.

    Returns:
        SVG.
    """
    one = one_up(file.car)
    page = Page()
    page.head(file.car.name, f"{one} at each corner, and what it does at all four")
    top = page.top
    for index in range(4):
        page.top = top + (index // 2) * _BLOCK
        _corner(page, file, found, index, MARGIN + (index % 2) * (_WIDE + 14))
    page.top = top + 2 * _BLOCK - 4
    page.key([("more load, or higher", _RAISED), ("less load, or lower", _LOWERED)])
    page.top += 4
    back = "One out" if file.car.solid[file.car.adjustable].all() else "A turn down"
    page.prose(f"Cross weight (RF+LR) in points. {back} does the opposite.", SMALL)
    told = " ".join(_told(file, found, index, one) for index in range(4))
    return page.finish(f"{file.car.name}: what one turn does", told)


def _corner(page: Page, file: CarFile, found: Meaning, index: int, left: float) -> None:
    corner, units, per_turn = CORNERS[index], file.units, found.per_turn
    if not file.car.adjustable[index]:
        page.words(f"{corner}: no threaded perch", left, size=SMALL, color=SOFT, room=_WIDE)
        return
    cross = number(100 * float(per_turn.cross[index]), 2, sign=True)
    page.words(f"at {corner}: cross {cross}", left, bold=True, room=_WIDE + 10)
    columns = (
        (per_turn.loads, f"load, {units.labels['load']}"),
        (per_turn.heights, f"height, {units.labels['length']}"),
    )
    start = page.top + 33
    for column, (values, label) in enumerate(columns):
        x = left + _NAMES + column * (_COLUMN + 6)
        page.words(label, x + _COLUMN, page.top + 18, SMALL, SOFT, anchor="right")
        _bars(page, x, start, values, index, _said(values[index], column, units))
    for row, name in enumerate(CORNERS):
        page.words(name, left, start + row * _ROW + 2, SMALL, bold=row == index)


def _said(values: Any, column: int, units: Units) -> list[str]:
    return [
        amount(float(value), "load" if column == 0 else "length", units, sign=True)
        for value in values
    ]


def _bars(page: Page, left: float, top: float, values: Any, index: int, said: list[str]) -> None:
    """Draw four bars from a middle line, all pictures in one scale, and write each value."""
    middle = left + _BAR / 2
    scale = _BAR / 2 / (float(np.nanmax(np.abs(values))) or 1.0)
    for row, value in enumerate(values[index]):
        y = top + row * _ROW + 2
        look = _RAISED if value > 0 else _LOWERED
        page.box((middle, y), (middle + float(value) * scale, y + 9), look)
        page.words(said[row], left + _COLUMN, y, SMALL, anchor="right")
    page.line([(middle, top), (middle, top + 4 * _ROW - 2)], _ZERO)


def _told(file: CarFile, found: Meaning, index: int, one: str) -> str:
    corner, turned, units = CORNERS[index], found.per_turn, file.units
    if not file.car.adjustable[index]:
        return f"{corner} has no threaded perch."
    parts = []
    for name, values, column in (("loads", turned.loads, 0), ("heights", turned.heights, 1)):
        unit = units.labels["load" if column == 0 else "length"]
        pairs = zip(CORNERS, _said(values[index], column, units), strict=True)
        parts.append(f"{name}, {unit}: " + ", ".join(f"{pad} {value}" for pad, value in pairs))
    cross = number(100 * float(turned.cross[index]), 2, sign=True)
    return f"{one} at {corner}: cross weight {cross} points; {'; '.join(parts)}."
