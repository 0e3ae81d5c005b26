"""SVG by hand: an element, and the looks that lines, points and areas have.

A coordinate has two decimals, so the same input gives the same bytes on every machine.
"""

from collections.abc import Iterable, Sequence
from html import escape
from typing import NamedTuple

Point = tuple[float, float]

INK, SOFT, LINE, FILL, PAPER = "#000000", "#595959", "#808080", "#e6e6e6", "#ffffff"

BLUE, VERMILLION, GREEN = "#0072B2", "#D55E00", "#009E73"
"""Of the palette of M. Okabe and K. Ito, *Color Universal Design (CUD): How to make figures and
presentations that are friendly to colorblind people*, 2002, modified 2008, section 10
(jfly.uni-koeln.de/color; values from memory): those three that stand out from white paper best."""

HATCH = "hatch"
"""As a fill: lines in the color of the edge."""

DASHED, DOTTED = "5 3", "1.4 2.4"

PLAN_STYLE = """\
svg text { fill: var(--ink); font-family: inherit; }
svg .corner { font-size: 16px; } svg .load { font-size: 25px; font-weight: bold; }
svg .share { font-size: 16px; font-weight: bold; } svg .key { font-size: 14px; }
svg .body { fill: var(--fill); stroke: var(--line); stroke-width: 1.5; }
svg .axle { stroke: var(--line); stroke-width: 3; } svg .wheel { fill: var(--ink); }
svg .cross { stroke: var(--mark); stroke-width: 3.5; stroke-dasharray: 11 6; }
svg .center { stroke: var(--mark); stroke-width: 2.5; fill: none; }
svg .place { fill: none; stroke: var(--ink); stroke-width: 1.2; stroke-dasharray: 2 3; }
svg .ballast { fill: var(--loud); stroke: var(--paper); } svg .lead { fill: none; stroke: var(--loud); }"""  # noqa: E501
"""What is in `plan_view.plan_view`, for the style sheet of a page that has its colors."""


class Look(NamedTuple):
    """How a thing looks in a picture, and in its key: line [pt], shape and size of points, fill.

    A width of 0 is for points without a line; a point without a fill is filled with its color.
    """

    color: str = INK
    width: float = 1.0
    dash: str = ""
    shape: str = ""
    size: float = 6.0
    fill: str = ""


def element(tag: str, inside: str = "", **attributes: str | float) -> str:
    """Write an element; attributes that are empty are left out.

    >>> element("text", "a &lt; b", class_="soft", text_anchor="", x=1 / 3)
    '<text class="soft" x="0.33">a &lt; b</text>'
    """
    words = "".join(
        f' {name.rstrip("_").replace("_", "-")}="{written(value)}"'
        for name, value in attributes.items()
        if value != ""
    )
    return f"<{tag}{words}>{inside}</{tag}>" if inside else f"<{tag}{words}/>"


def written(value: str | float) -> str:
    """Write the value of an attribute: a number to 0.01, without a minus before zero.

    >>> written(-0.001), written(2.50)
    ('0', '2.5')
    """
    return escape(value) if isinstance(value, str) else f"{round(value, 2) + 0.0:.8g}"


def points_of(points: Iterable[Point]) -> str:
    """Write points as lines and polygons have them."""
    return " ".join(f"{written(x)},{written(y)}" for x, y in points)


def line(points: Sequence[Point], look: Look) -> str:
    """Draw a line through points."""
    return element(
        "polyline", points=points_of(points), fill="none", stroke=look.color,
        stroke_width=look.width, stroke_dasharray=look.dash,
    )  # fmt: skip


def area(points: Sequence[Point], look: Look) -> str:
    """Fill an area, and draw its edge where that has a width."""
    fill = f"url(#{hatch_id(look.color)})" if look.fill == HATCH else look.fill
    return element(
        "polygon", points=points_of(points), fill=fill, stroke=look.color if look.width else "",
        stroke_width=look.width or "", stroke_dasharray=look.dash,
    )  # fmt: skip


def mark(center: Point, look: Look) -> str:
    """Draw a point in its shape; one that is open, or of two colors, has the thicker edge."""
    (x, y), half = center, look.size / 2
    fill, edge = look.fill or look.color, 1.5 if look.fill else 0.8
    if look.shape == "circle":
        return element(
            "circle", cx=x, cy=y, r=half, fill=fill, stroke=look.color, stroke_width=edge
        )
    around = [(x + half * right, y + half * down) for right, down in _SHAPES[look.shape]]
    return area(around, look._replace(fill=fill, width=edge, dash=""))


_SHAPES = {
    "diamond": ((0.0, -1.35), (1.35, 0.0), (0.0, 1.35), (-1.35, 0.0)),
    "square": ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)),
    "triangle": ((0.0, -1.1), (1.1, 0.9), (-1.1, 0.9)),
}


def hatch_id(color: str) -> str:
    """Name the hatching in a color."""
    return f"hatch-{color.removeprefix('#')}"


def hatching(color: str) -> str:
    """Define slanted lines in a color."""
    stroke = element("line", x1=1.9, x2=1.9, y2=3.8, stroke=color, stroke_width=0.9)
    return element(
        "pattern", stroke, id=hatch_id(color), width=3.8, height=3.8,
        patternUnits="userSpaceOnUse", patternTransform="rotate(45)",
    )  # fmt: skip
