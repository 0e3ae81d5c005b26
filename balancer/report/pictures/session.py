"""A session as a picture: the way to the target, from one weigh-in down to the next."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from matplotlib.axes import Axes

from balancer.car.conventions import CORNERS, Floats
from balancer.files.car_file import CarFile
from balancer.report.pictures.page import (
    BLUE,
    FILL,
    INK,
    LINE,
    MARGIN,
    NINETY,
    ROOM,
    SMALL,
    SOFT,
    VERMILLION,
    Paper,
    drawn,
    mark,
    marks,
    span,
)
from balancer.report.pictures.way import Stage, Way
from balancer.report.pictures.words import width
from balancer.report.words import number, percent, signed_turns

_TURNED, _EXPECTED, _READ, _END = 15.0, 32.0, 52.0, 66.0
"""Where the lines of a leg stand [pt]."""

_LEFT = MARGIN + 62
_WIDE = ROOM - 62

_EDGE = (0, (4, 3))
_READ_STYLE: dict[str, Any] = {"color": BLUE, "marker": "o", "markersize": 6}
_EXPECTED_STYLE: dict[str, Any] = {
    "color": VERMILLION,
    "marker": "s",
    "markersize": 6,
    "markerfacecolor": "white",
    "markeredgewidth": 1.6,
}


def session_picture(file: CarFile, way: Way) -> str:
    """Draw the way of a session to its target.

    Returns
    -------
    str
        SVG.
    """
    target = 100 * way.target
    low, high = target - 100 * way.tolerance, target + 100 * way.tolerance
    first = datetime.fromisoformat(way.legs[0].entry.at)

    def draw(paper: Paper) -> None:
        paper.head(file.car.name, f"Cross weight (RF+LR), %, in the session of {first:%Y-%m-%d}")
        values = [low, high, *(value for leg in way.legs for value in _reach(leg))]
        heights = [_END if leg.turns is not None else 44.0 for leg in way.legs]
        axes = paper.axes(sum(heights), _LEFT, _WIDE)
        axes.set_xlim(*span(values, 1.0))
        axes.set_ylim(sum(heights), 0)
        axes.spines.left.set_visible(False)
        mark(axes, "x", marks(*axes.get_xlim(), 5))
        axes.yaxis.set_ticks([])
        axes.axvspan(low, high, facecolor=FILL, edgecolor="none")
        for edge in (low, high):
            axes.axvline(edge, color=LINE, linewidth=0.8, linestyle=_EDGE)
        axes.axvline(target, color=INK, linewidth=1.0)
        down, top = 0.0, paper.top - sum(heights)
        for count, (leg, height) in enumerate(zip(way.legs, heights, strict=True), 1):
            _leg(paper, axes, leg, count, down, top)
            down += height
        paper.top += 26
        paper.key(_key(way, target))
        paper.top += 4
        paper.prose("Thick bar: one standard uncertainty to either side; thin bar: 90 %.", SMALL)

    told = " ".join(_told(leg, count) for count, leg in enumerate(way.legs, 1))
    wanted = f"Wanted: {percent(way.target)} ± {100 * way.tolerance:g}."
    return drawn(f"{file.car.name}: the way of a session", f"{wanted} {told}", draw)


def _key(way: Way, target: float) -> list[tuple[str, dict[str, Any]]]:
    key = [("weighed", {**_READ_STYLE, "linewidth": 3.2})]
    if any(leg.expected for leg in way.legs):
        key.append(("expected from the turns", {**_EXPECTED_STYLE, "linewidth": 3.2}))
    band = f"± {100 * way.tolerance:g}"
    return [
        *key,
        (f"wanted, {number(target, 1)} %", {"color": INK, "linewidth": 1.0}),
        (band, {"facecolor": FILL, "edgecolor": LINE, "linestyle": _EDGE}),
    ]


def _reach(leg: Stage) -> list[float]:
    read, uncertainty = (
        100 * leg.weighed.shares.cross,
        100 * NINETY * leg.weighed.uncertainties.cross,
    )
    found = [read - uncertainty, read + uncertainty]
    if leg.expected:
        cross, sure = leg.expected
        found += [100 * (cross - NINETY * sure), 100 * (cross + NINETY * sure)]
    return found


def _leg(paper: Paper, axes: Axes, leg: Stage, count: int, down: float, top: float) -> None:
    read = _READ
    if leg.turns is None:
        read = 26.0
    else:
        said = "turned" if not leg.assumed else "turned as planned"
        text = f"{said}: {turns_words(leg.turns)}"
        axes.fill_between(
            [0, 1], down + 3, down + 21, facecolor="white", edgecolor="none",
            transform=axes.get_yaxis_transform(), zorder=2.5,
        )  # fmt: skip
        paper.words(text, MARGIN, top + down + _TURNED - 8, SMALL)
    if leg.expected:
        cross, sure = leg.expected
        _point(axes, 100 * cross, 100 * sure, down + _EXPECTED, _EXPECTED_STYLE)
    weighed = leg.weighed
    uncertainty = 100 * weighed.uncertainties.cross
    _point(axes, 100 * weighed.shares.cross, uncertainty, down + read, _READ_STYLE)
    when = datetime.fromisoformat(leg.entry.at)
    paper.words(f"{count}", MARGIN, top + down + read - 5, SMALL, bold=True)
    paper.words(f"{when:%H:%M}", MARGIN + 22, top + down + read - 5, SMALL, SOFT)


def _point(
    axes: Axes, value: float, uncertainty: float, down: float, style: dict[str, Any]
) -> None:
    """Draw a value, its uncertainty and 90 % of it, and write it where there is room."""
    color = style["color"]
    wide = NINETY * uncertainty
    axes.plot([value - wide, value + wide], [down, down], color=color, linewidth=1.2, zorder=3)
    for end in (value - wide, value + wide):
        axes.plot([end, end], [down - 4, down + 4], color=color, linewidth=1.2, zorder=3)
    axes.plot(
        [value - uncertainty, value + uncertainty], [down, down],
        color=color, linewidth=4.6, zorder=3,
        solid_capstyle="butt",
    )  # fmt: skip
    axes.plot([value], [down], linestyle="none", zorder=4, **style)
    text = f"{number(value, 2)} ± {number(uncertainty, 2)}"
    low, high = axes.get_xlim()
    per_point = (high - low) / _WIDE
    room = (width(text, SMALL) + 10) * per_point
    clear = max(wide, 4 * per_point)
    right = value + clear + room < high
    axes.annotate(
        text,
        (value + clear if right else value - clear, down),
        xytext=(5 if right else -5, 0),
        textcoords="offset points",
        horizontalalignment="left" if right else "right",
        verticalalignment="center_baseline",
        fontsize=SMALL,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
        zorder=2.6,
    )


def turns_words(turns: Floats) -> str:
    """Name the corners that were turned, and how far.

    >>> import numpy as np
    >>> turns_words(np.array([-1.5, 0, 0, 0.25]))
    'LF −1½, RR +¼'
    """
    said = [
        f"{corner} {signed_turns(float(one))}"
        for corner, one in zip(CORNERS, turns, strict=True)
        if one
    ]
    return ", ".join(said) or "nothing"


def _told(leg: Stage, count: int) -> str:
    said = [] if leg.turns is None else [f"Turned {turns_words(leg.turns)}."]
    if leg.expected:
        cross, sure = leg.expected
        said.append(f"Expected {percent(cross, 2)} ± {number(100 * sure, 2)}.")
    read, uncertainty = leg.weighed.shares.cross, leg.weighed.uncertainties.cross
    return " ".join(
        [*said, f"Weigh-in {count}: {percent(read, 2)} ± {number(100 * uncertainty, 2)}."]
    )
