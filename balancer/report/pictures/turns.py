"""What one turn at each corner does, as a picture: four small ones, set out as the corners are."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.meaning import Meaning
from balancer.files.car_file import CarFile
from balancer.files.units import Dimension
from balancer.report.perches.moves import one_up
from balancer.report.pictures.page import MARGIN, ROOM, SMALL, Page
from balancer.report.pictures.svg import BLUE, HATCH, LINE, SOFT, VERMILLION, Look
from balancer.report.words.numbers import amounts, number
from balancer.report.words.prose import by_corner_words

_WIDE = (ROOM - 14) / 2
_NAMES = 20.0
_ROW = 15.0
_COLUMN = (_WIDE - _NAMES - 6) / 2
_BAR = _COLUMN - 36
_BLOCK = 33 + 4 * _ROW + 16

_RAISED = Look(BLUE, 0.8, fill=BLUE)
_LOWERED = Look(VERMILLION, 0.8, fill=HATCH)
_ZERO = Look(LINE, 0.8)


def turns_picture(file: CarFile, meaning: Meaning) -> str:
    """Draw what one turn up at each corner does to loads, cross weight and heights."""
    one, size = one_up(file)
    meaning = replace(meaning, per_turn=meaning.per_turn.of(size))
    page = Page()
    page.head(file.car.name, f"{one} at each corner, and what it does at all four")
    top = page.top
    for index in range(4):
        page.top = top + (index // 2) * _BLOCK
        _corner(page, file, meaning, index, MARGIN + (index % 2) * (_WIDE + 14))
    page.top = top + 2 * _BLOCK - 4
    page.key([("more load, or higher", _RAISED), ("less load, or lower", _LOWERED)])
    page.top += 4
    page.prose("Cross weight (RF+LR) in points. One the other way does the opposite.", SMALL)
    told = " ".join(_told(file, meaning, index, one) for index in range(4))
    return page.finish(f"{file.car.name}: what one turn does", told)


def _corner(page: Page, file: CarFile, meaning: Meaning, index: int, left: float) -> None:
    corner, per_turn = CORNERS[index], meaning.per_turn
    if not file.car.adjustable[index]:
        page.words(f"{corner}: no threaded perch", left, size=SMALL, color=SOFT, room=_WIDE)
        return
    cross = number(100 * float(per_turn.cross[index]), 2, sign=True)
    page.words(f"at {corner}: cross {cross}", left, bold=True, room=_WIDE + 10)
    start = page.top + 33
    for column, effect in enumerate(_effects(file, meaning)):
        x = left + _NAMES + column * (_COLUMN + 6)
        label = f"{effect.name}, {effect.unit}"
        page.words(label, x + _COLUMN, page.top + 18, SMALL, SOFT, anchor="right")
        _bars(page, x, start, effect, index)
    for row, name in enumerate(CORNERS):
        page.words(name, left, start + row * _ROW + 2, SMALL, bold=row == index)


class _Effect(NamedTuple):
    """What one turn does to all four corners: values by the corner turned, and in words."""

    name: str
    unit: str
    values: Floats
    words: list[list[str]]


def _effects(file: CarFile, meaning: Meaning) -> list[_Effect]:
    units, per_turn = file.units, meaning.per_turn

    def effect(name: str, kind: Dimension, values: Floats) -> _Effect:
        words = [amounts(row, kind, units, sign=True) for row in values]
        return _Effect(name, units.labels[kind], values, words)

    loads, heights = per_turn.loads, per_turn.heights
    return [effect("load", "load", loads), effect("height", "length", heights)]


def _bars(page: Page, left: float, top: float, effect: _Effect, index: int) -> None:
    """Draw four bars from a middle line, all pictures in one scale, and write each value."""
    middle = left + _BAR / 2
    scale = _BAR / 2 / (float(np.nanmax(np.abs(effect.values))) or 1.0)
    for row, value in enumerate(effect.values[index]):
        y = top + row * _ROW + 2
        look = _RAISED if value > 0 else _LOWERED
        page.box((middle, y), (middle + float(value) * scale, y + 9), look)
        page.words(effect.words[index][row], left + _COLUMN, y, SMALL, anchor="right")
    page.line([(middle, top), (middle, top + 4 * _ROW - 2)], _ZERO)


def _told(file: CarFile, meaning: Meaning, index: int, one: str) -> str:
    corner = CORNERS[index]
    if not file.car.adjustable[index]:
        return f"{corner} has no threaded perch."
    parts = [
        f"{effect.name}s, {effect.unit}: {by_corner_words(effect.words[index])}"
        for effect in _effects(file, meaning)
    ]
    cross = number(100 * float(meaning.per_turn.cross[index]), 2, sign=True)
    return f"{one} at {corner}: cross weight {cross} points; {'; '.join(parts)}."
