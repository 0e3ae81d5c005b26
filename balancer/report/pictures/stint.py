"""A stint as a picture: cross weight from the full tank to reserve."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes

from balancer.files.car_file import CarFile
from balancer.files.states import in_words
from balancer.perches.goal import TOLERANCE
from balancer.report.pictures.page import (
    BLUE,
    FILL,
    INK,
    LINE,
    MARGIN,
    ROOM,
    SMALL,
    SOFT,
    Paper,
    drawn,
    mark,
    marks,
    span,
)
from balancer.report.trim import volumes_left
from balancer.report.words import number, percent
from balancer.weighing.load_states import Stint


def stint_picture(file: CarFile, found: Stint, fluid: str, cross: float) -> str:
    """Draw the cross weight along a stint.

    Parameters
    ----------
    fluid : str
    cross : float
        Cross weight wanted, as a fraction.

    Returns
    -------
    str
        SVG.
    """
    units = file.units
    label = units.labels["volume"]
    left = volumes_left(file, found, fluid)
    points = [100 * trim.shares.cross for trim in found.trims]
    low, high = 100 * (cross - TOLERANCE), 100 * (cross + TOLERANCE)

    def draw(paper: Paper) -> None:
        start = in_words(found.trims[0].on_board, units)
        paper.head(file.car.name, f"Cross weight (RF+LR) as {fluid} is used, from {start}")
        paper.words("cross weight, %", size=SMALL, color=SOFT)
        paper.top += 16
        axes = paper.axes(210, MARGIN + 32, ROOM - 40)
        paper.top += 18
        paper.words(f"{fluid} left, {label}", MARGIN + 32, size=SMALL, color=SOFT)
        paper.top += 22
        axes.set_xlim(left[0], left[-1])
        bottom, top = span([*points, low, high], 0.8, 0.12)
        axes.set_ylim(bottom, top)
        mark(axes, "x", marks(left[-1], left[0], 6))
        mark(axes, "y", marks(bottom, top, 6))
        axes.axhspan(low, high, facecolor=FILL, edgecolor="none")
        for edge in (low, high):
            axes.axhline(edge, color=LINE, linewidth=0.8, linestyle=(0, (4, 3)))
        axes.axhline(100 * cross, color=INK, linewidth=1.0)
        line: dict[str, Any] = {"color": BLUE, "linewidth": 2.2, "marker": "o", "markersize": 5}
        axes.plot(left, points, clip_on=False, **line)
        _label(axes, left, points, found.worst)
        paper.key(
            [
                ("cross weight", line),
                (f"wanted, {percent(cross)}", {"color": INK, "linewidth": 1.0}),
                (
                    f"± {100 * TOLERANCE:g}, what perches are usually set to",
                    {"facecolor": FILL, "edgecolor": LINE, "linestyle": (0, (4, 3))},
                ),
            ]
        )
        paper.top += 4
        worst = f"{number(left[found.worst], 1)} {label}"
        paper.prose(
            f"Farthest from {percent(cross)}: {number(points[found.worst], 2)} % at {worst}."
        )

    told = "; ".join(
        f"{number(volume, 1)} {label} left: {number(point, 2)} %"
        for volume, point in zip(left, points, strict=True)
    )
    told = f"Cross weight (RF+LR), wanted {percent(cross)}. {told}."
    return drawn(f"{file.car.name}: cross weight along a stint", told, draw)


def _label(axes: Axes, left: list[float], points: list[float], worst: int) -> None:
    """Write values at both ends, on the side that the line leaves free, and at the worst."""
    rises = points[-1] >= points[0]
    ends = [(0, "left", not rises), (len(points) - 1, "right", rises)]
    if worst not in (0, len(points) - 1):
        ends.append((worst, "center", points[worst] >= points[0]))
    for index, anchor, above in ends:
        axes.annotate(
            f"{number(points[index], 2)} %",
            (left[index], points[index]),
            xytext=(4 if anchor == "left" else 0, 7 if above else -7),
            textcoords="offset points",
            horizontalalignment=anchor,
            verticalalignment="bottom" if above else "top",
            fontsize=SMALL,
        )
