"""The paper that charts are drawn on: one look, one size, and an SVG that says what it shows.

Everything is placed in points from the top left on a page as wide as a phone, and flows downward.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import matplotlib.style
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from balancer.report.pictures.words import broken, fit, headed
from balancer.report.words import number

WIDTH, MARGIN = 390.0, 14.0
"""Of the page [pt]; a phone shows a point as a pixel, paper shows it larger."""

ROOM = WIDTH - 2 * MARGIN

LARGE, NORMAL, SMALL = 15.0, 11.5, 10.0

INK, SOFT, LINE, FILL = "#000000", "#595959", "#808080", "#e6e6e6"

BLUE, VERMILLION, GREEN = "#0072B2", "#D55E00", "#009E73"
"""Of the palette of M. Okabe and K. Ito, *Color Universal Design (CUD): How to make figures and
presentations that are friendly to colorblind people*, 2002, modified 2008, section 10
(jfly.uni-koeln.de/color; values from memory): those three that stand out from white paper best."""

NINETY = 1.645
"""Standard uncertainties to either side that hold 90 % of a normal distribution (NIST/SEMATECH,
*e-Handbook of Statistical Methods*, 1.3.6.7.1; value from memory)."""

_STYLE: dict[str, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "balancer",
    "text.parse_math": False,
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Verdana", "Arial"],
    "font.size": SMALL,
    "axes.unicode_minus": True,
    "axes.edgecolor": SOFT,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "hatch.linewidth": 0.7,
    "text.color": INK,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "figure.facecolor": "white",
}


class Paper:
    """A page that grows downward as things are put on it.

    Attributes
    ----------
    top : float
        How far down it is filled [pt].
    """

    def __init__(self) -> None:
        self.figure = Figure(figsize=(WIDTH / 72, 1), dpi=72)
        self.top = MARGIN
        self._axes: list[tuple[Axes, tuple[float, float, float, float]]] = []
        self._words: list[tuple[Any, float]] = []

    def words(
        self,
        text: str,
        x: float = MARGIN,
        top: float | None = None,
        size: float = NORMAL,
        color: str = INK,
        bold: bool = False,
        anchor: str = "left",
        room: float | None = None,
    ) -> None:
        """Write one line, cut where it is longer than its room."""
        top = self.top if top is None else top
        if room is None:
            room = WIDTH - MARGIN - x if anchor == "left" else ROOM
        written = self.figure.text(
            x / WIDTH,
            0.5,
            fit(text, room, size, bold),
            fontsize=size,
            color=color,
            fontweight="bold" if bold else "normal",
            horizontalalignment=anchor,
            verticalalignment="baseline",
        )
        self._words.append((written, top + 0.8 * size))

    def prose(self, text: str, size: float = NORMAL, color: str = INK) -> None:
        """Write text in as many lines as it takes."""
        for line in broken(text, ROOM, size):
            self.words(line, size=size, color=color)
            self.top += 1.3 * size

    def head(self, name: str, *lines: str) -> None:
        """Write the name of a car large, and what is shown under it."""
        self.words(name, size=LARGE, bold=True)
        self.top += 1.45 * LARGE
        for line in lines:
            self.prose(line, color=SOFT)
        self.top += 6

    def axes(
        self, height: float, left: float = MARGIN, width: float = ROOM, top: float | None = None
    ) -> Axes:
        """Open a place to draw in; without `top`, at the end of what is there, which it moves."""
        axes = self.figure.add_axes((0, 0, 1, 1))
        self._axes.append((axes, (left, self.top if top is None else top, width, height)))
        if top is None:
            self.top += height
        axes.tick_params(length=3, width=0.8, pad=2)
        axes.patch.set_visible(False)
        return axes

    def bare(
        self, height: float, left: float = MARGIN, width: float = ROOM, top: float | None = None
    ) -> Axes:
        """Open a place to draw in that measures in points, downward, and has no frame."""
        axes = self.axes(height, left, width, top)
        axes.set_xlim(0, width)
        axes.set_ylim(height, 0)
        axes.set_axis_off()
        return axes

    def key(self, entries: Iterable[tuple[str, dict[str, Any]]]) -> None:
        """Say what the marks mean, a line each: a sample drawn, and words."""
        for text, style in entries:
            axes = self.bare(12, MARGIN, 30, self.top)
            if "hatch" in style or "facecolor" in style:
                axes.fill_between([1, 29], [1, 1], [11, 11], **style)
            elif style.get("marker") and style.get("linestyle") == "none":
                axes.plot([15], [6], **style)
            else:
                axes.plot([1, 15, 29], [6, 6, 6], markevery=[1], **style)
            for line in broken(text, ROOM - 38, SMALL):
                self.words(line, MARGIN + 38, self.top + 1, SMALL)
                self.top += 14

    def finish(self) -> Figure:
        """Cut the page where its content ends, and put everything in its place."""
        height = self.top + MARGIN
        self.figure.set_size_inches(WIDTH / 72, height / 72)
        for axes, (left, top, wide, high) in self._axes:
            place = (left / WIDTH, 1 - (top + high) / height, wide / WIDTH, high / height)
            axes.set_position(place)
        for written, down in self._words:
            written.set_y(1 - down / height)
        return self.figure


def drawn(title: str, told: str, draw: Callable[[Paper], None]) -> str:
    """Draw on a new page and give it as SVG.

    Parameters
    ----------
    title, told : str
        What it is, and all that it shows, for those who can't see it.
    draw : callable

    Returns
    -------
    str
        The same for the same input, whatever the settings of matplotlib on this machine.
    """
    with matplotlib.style.context(_STYLE, after_reset=True), warnings.catch_warnings():
        # Of letters that its own font lacks, but the viewer's has.
        warnings.simplefilter("ignore")
        paper = Paper()
        draw(paper)
        written = io.StringIO()
        nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        paper.finish().savefig(written, format="svg", metadata=nothing)
    return headed(
        written.getvalue().partition("<svg")[2].partition(">")[2], title, told, _box(paper)
    )


def _box(paper: Paper) -> str:
    return f"0 0 {WIDTH:g} {paper.top + MARGIN:g}"


def marks(low: float, high: float, most: int) -> list[tuple[float, str]]:
    """Give round numbers from low to high, at most so many, as they are written on an axis.

    >>> marks(49.5, 50.5, 3)
    [(49.5, '49.5'), (50.0, '50.0'), (50.5, '50.5')]
    """
    locator = MaxNLocator(nbins=most, steps=[1, 2, 2.5, 5, 10])
    places = [float(place) for place in locator.tick_values(low, high)]
    step = places[1] - places[0]
    decimals = next((n for n in range(6) if abs(round(step, n) - step) < 1e-9 * step), 6)
    slack = 1e-9 * step
    inside = [one for one in places if low - slack <= one <= high + slack]
    return [(one, number(one, decimals)) for one in inside[: most + 1]]


def mark(axes: Axes, which: str, places: Sequence[tuple[float, str]]) -> None:
    """Put numbers on an axis."""
    axis = axes.xaxis if which == "x" else axes.yaxis
    axis.set_ticks([place for place, _ in places], labels=[text for _, text in places])


def span(values: Iterable[float], least: float, margin: float = 0.08) -> tuple[float, float]:
    """Give limits around values, never narrower than `least`.

    >>> span([1.0, 3.0], 1.0, 0.5)
    (0.0, 4.0)
    """
    values = list(values)
    low, high = min(values), max(values)
    wide = max(high - low, least)
    middle = (low + high) / 2
    return middle - wide * (0.5 + margin), middle + wide * (0.5 + margin)
