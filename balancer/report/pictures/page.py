"""The page that pictures are drawn on: as wide as a phone, growing downward as things are put on.

Everything is placed in points from the top left, so the place of each word is known before it is
drawn.
"""

from collections.abc import Iterable, Sequence
from html import escape

from balancer.car.errors import spelled
from balancer.report.pictures import svg
from balancer.report.pictures.svg import HATCH, INK, PAPER, SOFT, Look, Point, element, written
from balancer.report.words.lettering import broken, fit

WIDTH, MARGIN = 390.0, 14.0
"""Of the page [pt]; a phone shows a point as a pixel, paper shows it larger."""

ROOM = WIDTH - 2 * MARGIN

LARGE, NORMAL, SMALL = 15.0, 11.5, 10.0

_ANCHORS = {"left": "", "center": "middle", "right": "end"}


class Page:
    """A page to put things on; `top` is how far down it is filled [pt]."""

    def __init__(self) -> None:
        self.top = MARGIN
        self._parts: list[str] = []
        self._hatched: dict[str, None] = {}

    def put(self, *elements: str) -> None:
        """Put elements on it, over those that are there."""
        self._parts += elements

    def words(
        self, text: str, x: float = MARGIN, top: float | None = None, size: float = NORMAL,
        color: str = INK, bold: bool = False, anchor: str = "left", room: float | None = None,
    ) -> None:  # fmt: skip
        """Write one line, cut where it is longer than its room."""
        top = self.top if top is None else top
        if room is None:
            room = WIDTH - MARGIN - x if anchor == "left" else ROOM
        words = escape(fit(text, room, size, bold))
        look = {"font_weight": "bold" if bold else "", "fill": "" if color == INK else color}
        place = {"x": x, "y": top + 0.8 * size, "font_size": size}
        self.put(element("text", words, **place, **look, text_anchor=_ANCHORS[anchor]))

    def label(
        self, text: str, x: float, y: float, color: str = INK, bold: bool = False,
        anchor: str = "left",
    ) -> None:  # fmt: skip
        """Write a small line whose capitals have their middle at y."""
        self.words(text, x, y - 0.44 * SMALL, SMALL, color, bold, anchor)

    def prose(self, text: str, size: float = NORMAL, color: str = INK) -> None:
        """Write text in as many lines as it takes."""
        for row in broken(text, ROOM, size):
            self.words(row, size=size, color=color)
            self.top += 1.35 * size

    def head(self, name: str, *lines: str) -> None:
        """Write the name of a car large, and what is shown under it."""
        self.words(name, size=LARGE, bold=True)
        self.top += 1.45 * LARGE
        for text in lines:
            self.prose(text, color=SOFT)
        self.top += 6

    def line(self, points: Sequence[Point], look: Look) -> None:
        """Draw a line through points."""
        self.put(svg.line(points, look))

    def mark(self, center: Point, look: Look) -> None:
        """Draw a point in its shape."""
        self.put(svg.mark(center, look))

    def area(self, points: Sequence[Point], look: Look) -> None:
        """Fill an area."""
        if look.fill == HATCH:
            self._hatched[look.color] = None
        self.put(svg.area(points, look))

    def box(self, corner: Point, other: Point, look: Look) -> None:
        """Fill a rectangle between two corners."""
        (x1, y1), (x2, y2) = corner, other
        self.area([(x1, y1), (x2, y1), (x2, y2), (x1, y2)], look)

    def key(self, entries: Iterable[tuple[str, Look]]) -> None:
        """Say what the marks mean, a line each: a sample drawn, and words."""
        for text, look in entries:
            self._sample(look, self.top + 6)
            for row in broken(text, ROOM - 38, SMALL):
                self.words(row, MARGIN + 38, self.top + 1, SMALL)
                self.top += 14

    def _sample(self, look: Look, y: float) -> None:
        left, right = MARGIN + 1, MARGIN + 29
        if look.fill and not look.shape:
            self.box((left, y - 5), (right, y + 5), look)
        elif look.width:
            self.line([(left, y), (right, y)], look)
        if look.shape:
            self.mark((MARGIN + 15, y), look)

    def finish(self, title: str, told: str, style: str = "") -> str:
        """Cut the page where its content ends, and say what it shows to those who can't see it."""
        height = self.top + MARGIN
        head = [
            element("title", escape(spelled(title)), id="picture-title"),
            element("desc", escape(spelled(told)), id="picture-words"),
            element("style", style) if style else "",
            element("defs", "".join(map(svg.hatching, self._hatched))) if self._hatched else "",
            element("rect", width=WIDTH, height=height, fill=PAPER),
        ]
        content = "\n".join(part for part in [*head, *self._parts] if part)
        return element(
            "svg", f"\n{content}\n", xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {written(WIDTH)} {written(height)}", role="img",
            aria_labelledby="picture-title picture-words",
            font_family="DejaVu Sans, Verdana, Arial, sans-serif",
        ) + "\n"  # fmt: skip
