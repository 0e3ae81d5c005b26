"""The car from above as SVG: wheels, loads, the diagonal, and ballast, drawn to scale."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

from balancer.ballast import Put
from balancer.car import CORNERS, Car, Floats
from balancer.doubt import Shares
from balancer.report.words import amount, percent
from balancer.units import Units

_SCALE = 110.0
"""Of the drawing, in its units for each meter."""

_SIDE, _END = 118.0, 58.0
"""Room for labels beside and beyond the wheels."""


def plan_view(
    car: Car, units: Units, loads: Floats, found: Shares, puts: Sequence[Put] = ()
) -> str:
    """Draw a car from above, the front at the top, left on the left.

    Parameters
    ----------
    car : Car
    units : Units
    loads : array (4,)
        [N].
    found : Shares
    puts : sequence of Put
        Ballast to show.

    Returns
    -------
    str
        An `svg` element with a title and a description for those who can't see it; the same input
        gives the same bytes.

    Examples
    --------
    >>> import numpy as np
    >>> from balancer.car import plain_car
    >>> from balancer.doubt import shares
    >>> from balancer.units import METRIC
    >>> car, loads = plain_car(), np.full(4, 2500.0)
    >>> plan_view(car, METRIC, loads, shares(car, loads)).startswith("<svg")
    True
    """
    width = 2 * _SIDE + _SCALE * float(car.tracks.max())
    height = 2 * _END + _SCALE * car.wheelbase
    told = ", ".join(
        f"{corner} {amount(load, 'load', units, unit=True)}"
        for corner, load in zip(CORNERS, loads, strict=True)
    )
    described = (
        f"{told}; front {percent(found.front)}, left {percent(found.left)},"
        f" cross weight {percent(found.cross)}"
    )
    lines = [
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" role="img" class="plan" '
        'xmlns="http://www.w3.org/2000/svg" aria-labelledby="plan-title plan-words">',
        '<title id="plan-title">The car from above</title>',
        f'<desc id="plan-words">{escape(described)}</desc>',
        *_lines(car, units, loads, found, puts, width),
        "</svg>",
    ]
    return "\n".join(lines)


def _lines(
    car: Car, units: Units, loads: Floats, found: Shares, puts: Sequence[Put], width: float
) -> Iterator[str]:
    def at(aft: float, left: float) -> tuple[float, float]:
        return width / 2 - _SCALE * left, _END + _SCALE * aft

    wheels = [at(aft, left) for aft, left in zip(car.aft, car.left, strict=True)]
    body = 0.36 * _SCALE * float(car.tracks.min())
    top, bottom = at(-0.28, 0)[1], at(car.wheelbase + 0.28, 0)[1]
    yield (
        f'<rect class="body" x="{width / 2 - body:.1f}" y="{top:.1f}" width="{2 * body:.1f}"'
        f' height="{bottom - top:.1f}" rx="26"/>'
    )
    for (x1, y1), (x2, y2) in ((wheels[0], wheels[1]), (wheels[2], wheels[3])):
        yield f'<line class="axle" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'
    (x1, y1), (x2, y2) = wheels[1], wheels[2]
    yield f'<line class="cross" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'
    x, y = at(found.aft, found.left_offset)
    yield f'<path class="center" d="M{x - 9:.1f} {y:.1f}h18M{x:.1f} {y - 9:.1f}v18"/>'
    for put in puts:
        x, y = at(put.aft, put.left)
        side = 5.0 + 1.6 * put.mass**0.5
        yield (
            f'<rect class="ballast" x="{x - side / 2:.1f}" y="{y - side / 2:.1f}"'
            f' width="{side:.1f}" height="{side:.1f}"/>'
        )
        mass = amount(put.mass, "mass", units, unit=True)
        yield _text("small", "middle", x, y + side / 2 + 13, mass)
    for (x, y), corner, load in zip(wheels, CORNERS, loads, strict=True):
        yield (
            f'<rect class="wheel" x="{x - 11:.1f}" y="{y - 31:.1f}" width="22" height="62" rx="7"/>'
        )
        left = corner[0] == "L"
        label, anchor = (x - 18, "end") if left else (x + 18, "start")
        yield _text("corner", anchor, label, y - 8, corner)
        yield _text("load", anchor, label, y + 16, amount(load, "load", units))
    middle, low = at(car.wheelbase / 2, 0)[1], at(0.72 * car.wheelbase, 0)[1]
    yield _text("share", "middle", width / 2, low, f"cross {percent(found.cross)}")
    yield _text("small", "middle", width / 2, _END - 40, f"front {percent(found.front)}")
    yield _text("small", "start", 6, middle, f"left {percent(found.left)}")


def _text(kind: str, anchor: str, x: float, y: float, words: str) -> str:
    place = f'text-anchor="{anchor}" x="{x:.1f}" y="{y:.1f}"'
    return f'<text class="{kind}" {place}>{escape(words)}</text>'
