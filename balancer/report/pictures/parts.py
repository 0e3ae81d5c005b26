"""Variants of a car side by side, as a picture: a small one for each load, total and share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from balancer.car.conventions import CORNERS, Floats
from balancer.files.car_file import CarFile
from balancer.report.parts import side_by_side
from balancer.report.pictures.page import (
    BLUE,
    INK,
    LINE,
    MARGIN,
    ROOM,
    SMALL,
    SOFT,
    Paper,
    drawn,
)
from balancer.report.pictures.words import broken
from balancer.report.words import amount, number
from balancer.weighing.parts import Variant
from balancer.weighing.uncertainty import Shares

_GAP = 16.0
_WIDE = (ROOM - _GAP) / 2
_NAMES = 22.0
_ROW = 15.0
_LOAD, _SHARE, _TOTAL = 4.0, 0.4, 4.0
"""The least that a picture spans [kg or lb, points]: less would make a mountain of a molehill."""

_NOW: dict[str, Any] = {
    "color": INK,
    "marker": "D",
    "markersize": 6,
    "markerfacecolor": "white",
    "markeredgewidth": 1.4,
}
_THEN: dict[str, Any] = {"color": BLUE, "marker": "o", "markersize": 6}


class _Panel(NamedTuple):
    """What is shown of now and of every variant; those of one group share a scale."""

    label: str
    values: list[float]
    said: list[str]
    group: str
    least: float


def parts_picture(file: CarFile, before: tuple[Floats, Shares], variants: Sequence[Variant]) -> str:
    """Draw variants side by side: loads, total and shares, each beside what is now.

    Parameters
    ----------
    before : tuple of array (4,) and Shares
    Returns
    -------
    str
        SVG.
    """
    states = side_by_side(before, variants)
    names = [name for name, *_ in states]
    panels = _panels(file, states)
    spans = {
        group: max(max(_wide(one) for one in panels if one.group == group), least)
        for group, least in {one.group: one.least for one in panels}.items()
    }

    def draw(paper: Paper) -> None:
        paper.head(file.car.name, "Now, and what each variant would make of it")
        for index, name in enumerate(names):
            paper.words(_short(index), MARGIN + 16, size=SMALL, bold=True, anchor="right", room=20)
            axes = paper.bare(12, MARGIN + 20, 14, paper.top)
            axes.plot([7], [6], linestyle="none", **(_NOW if index == 0 else _THEN))
            paper.words(name, MARGIN + 38, size=SMALL)
            paper.top += 14
        paper.top += 10
        top, high = paper.top, 16 + _ROW * len(names) + 12
        for index, panel in enumerate(panels):
            left = MARGIN + (index % 2) * (_WIDE + _GAP)
            _draw(paper, panel, left, top + (index // 2) * high, spans[panel.group])
        paper.top = top + (len(panels) + 1) // 2 * high
        for line in broken(
            "Loads are all drawn to one scale, shares to another. The line is where it is now.",
            ROOM,
            SMALL,
        ):
            paper.words(line, size=SMALL)
            paper.top += 14

    told = "; ".join(
        f"{name}: " + ", ".join(f"{panel.label} {panel.said[index]}" for panel in panels)
        for index, name in enumerate(names)
    )
    return drawn(f"{file.car.name}: variants side by side", told, draw)


def _short(index: int) -> str:
    return str(index) if index else ""


def _panels(file: CarFile, states: Sequence[tuple[str, Floats, Shares]]) -> list[_Panel]:
    units = file.units
    unit = units.labels["load"]
    panels = []
    for pad, name in enumerate(CORNERS):
        loads = [float(loads[pad]) for _, loads, _ in states]
        panels.append(
            _Panel(
                f"{name}, {unit}",
                [units.from_si(load, "load") for load in loads],
                [amount(load, "load", units) for load in loads],
                "loads",
                _LOAD,
            )
        )
    totals = [found.total for *_, found in states]
    total = [units.from_si(one, "load") for one in totals]
    said = [amount(one, "load", units) for one in totals]
    panels.append(_Panel(f"total, {unit}", total, said, "total", _TOTAL))
    for label in ("front", "left", "cross"):
        shares = [100 * getattr(found, label) for *_, found in states]
        title = f"{label} share, %" if label != "cross" else "cross weight (RF+LR), %"
        panels.append(_Panel(title, shares, [number(one, 2) for one in shares], "shares", _SHARE))
    return panels


def _wide(panel: _Panel) -> float:
    return max(panel.values) - min(panel.values)


def _draw(paper: Paper, panel: _Panel, left: float, top: float, wide: float) -> None:
    paper.words(panel.label, left, top, SMALL, SOFT, room=_WIDE)
    high = _ROW * len(panel.values)
    axes = paper.bare(high, left, _WIDE, top + 16)
    room = 46.0
    begin, end = _NAMES + 6, _WIDE - room - 6
    middle = (max(panel.values) + min(panel.values)) / 2

    def at(value: float) -> float:
        return (begin + end) / 2 + (value - middle) / wide * (end - begin)

    now = at(panel.values[0])
    axes.plot([now, now], [0, high - 2], color=LINE, linewidth=0.8)
    for index, value in enumerate(panel.values):
        y = (index + 0.5) * _ROW
        if index:
            axes.plot([now, at(value)], [y, y], color=BLUE, linewidth=2)
            axes.text(_NAMES - 8, y, _short(index), fontsize=SMALL, fontweight="bold",
                      horizontalalignment="right", verticalalignment="center_baseline")  # fmt: skip
        axes.plot([at(value)], [y], linestyle="none", **(_THEN if index else _NOW))
        axes.text(_WIDE, y, panel.said[index], fontsize=SMALL, horizontalalignment="right",
                  verticalalignment="center_baseline")  # fmt: skip
