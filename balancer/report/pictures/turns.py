"""What one turn at each corner does, as a picture: four small ones, set out as the corners are."""

from __future__ import annotations

from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.checking import Meaning
from balancer.files.car_file import CarFile
from balancer.report.perches import one_up
from balancer.report.pictures.page import (
    BLUE,
    INK,
    LINE,
    MARGIN,
    ROOM,
    SMALL,
    SOFT,
    VERMILLION,
    Paper,
    drawn,
)
from balancer.report.words import amount, number
from balancer.units import Units

_WIDE = (ROOM - 14) / 2
_NAMES = 20.0
_ROW = 15.0
_COLUMN = (_WIDE - _NAMES - 6) / 2
_BAR = _COLUMN - 36
_BLOCK = 33 + 4 * _ROW + 16

_RAISED: dict[str, Any] = {"facecolor": BLUE, "edgecolor": BLUE, "linewidth": 0.8}
_LOWERED: dict[str, Any] = {
    "facecolor": "white", "edgecolor": VERMILLION, "linewidth": 0.8, "hatch": "//////",
}  # fmt: skip


def turns_picture(file: CarFile, found: Meaning) -> str:
    """Draw what one turn up at each corner does to loads, cross weight and heights.

    Returns
    -------
    str
        SVG.
    """
    units, turned = file.units, found.per_turn
    loads = np.array([[units.from_si(float(v), "load") for v in row] for row in turned.loads])
    heights = np.array([[units.from_si(float(v), "length") for v in row] for row in turned.heights])

    one = one_up(file.car)

    def draw(paper: Paper) -> None:
        paper.head(file.car.name, f"{one} at each corner, and what it does at all four")
        top = paper.top
        for index, corner in enumerate(CORNERS):
            left = MARGIN + (index % 2) * (_WIDE + 14)
            paper.top = top + (index // 2) * _BLOCK
            if not file.car.adjustable[index]:
                paper.words(
                    f"{corner}: no threaded perch", left, size=SMALL, color=SOFT, room=_WIDE
                )
                continue
            cross = number(100 * float(turned.cross[index]), 2, sign=True)
            paper.words(f"at {corner}: cross {cross}", left, bold=True, room=_WIDE + 10)
            paper.top += 18
            labels = (f"load, {units.labels['load']}", f"height, {units.labels['length']}")
            for column, label in enumerate(labels):
                x = left + _NAMES + column * (_COLUMN + 6)
                paper.words(label, x + _COLUMN, size=SMALL, color=SOFT, anchor="right")
            paper.top += 15
            start = paper.top
            for row, name in enumerate(CORNERS):
                paper.words(name, left, start + row * _ROW + 2, SMALL, bold=row == index)
            for column, (values, dimension) in enumerate(
                ((loads, turned.loads), (heights, turned.heights))
            ):
                said = _said(dimension[index], column, units)
                _bars(paper, left + _NAMES + column * (_COLUMN + 6), start, values, index, said)
        paper.top = top + 2 * _BLOCK - 4
        paper.key(
            [
                ("more load, or higher", _RAISED),
                ("less load, or lower", _LOWERED),
            ]
        )
        paper.top += 4
        back = "One out" if file.car.solid[file.car.adjustable].all() else "A turn down"
        paper.prose(f"Cross weight (RF+LR) in points. {back} does the opposite.", SMALL)

    told = " ".join(_told(file, found, index, one) for index in range(4))
    return drawn(f"{file.car.name}: what one turn does", told, draw)


def _said(values: Any, column: int, units: Units) -> list[str]:
    return [
        amount(float(value), "load" if column == 0 else "length", units, sign=True)
        for value in values
    ]


def _bars(paper: Paper, left: float, top: float, values: Any, index: int, said: list[str]) -> None:
    """Draw four bars from a middle line, all pictures in one scale, and write each value."""
    axes = paper.bare(4 * _ROW, left, _COLUMN, top)
    middle = _BAR / 2
    scale = middle / (float(np.nanmax(np.abs(values))) or 1.0)
    axes.plot([middle, middle], [0, 4 * _ROW - 2], color=LINE, linewidth=0.8)
    for row, value in enumerate(values[index]):
        y, end = row * _ROW + 2, middle + value * scale
        style = _RAISED if value > 0 else _LOWERED
        axes.fill_between(sorted((middle, end)), [y, y], [y + 9, y + 9], **style)
        axes.text(
            _COLUMN, y + 8, said[row], fontsize=SMALL, color=INK,
            horizontalalignment="right", verticalalignment="baseline",
        )  # fmt: skip


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
