"""How turns are said: in fractions, up or down, in or out."""

from __future__ import annotations

from collections.abc import Iterable

from balancer.car.conventions import CORNERS
from balancer.report.words.tables import FRACTIONS

_SIGNS = {plain: sign for sign, plain in FRACTIONS.items() if sign not in "⅐⅑⅒"}
"""Those that most fonts have."""


def turns(value: float) -> str:
    """Write turns without a sign, as a whole and a fraction where that is what hands do.

    >>> turns(-1.5), turns(0.25), turns(2), turns(0.1), turns(5 / 12)
    ('1½', '¼', '2', '0.1', '5/12')
    """
    from fractions import Fraction

    value = abs(value)
    exact = Fraction(value).limit_denominator(24)
    if abs(float(exact) - value) > 1e-9 or exact.denominator in (10, 20):
        return f"{value:.2f}".rstrip("0").rstrip(".")
    whole, rest = divmod(exact, 1)
    if not rest:
        return str(whole)
    part = _SIGNS.get(str(rest), str(rest))
    joint = " " if "/" in part else ""
    return f"{whole}{joint}{part}" if whole else part


def signed_turns(value: float) -> str:
    """Write turns with a sign, and a dot for none.

    >>> signed_turns(-1.5), signed_turns(0)
    ('−1½', '·')
    """
    return "·" if not value else ("+" if value > 0 else "−") + turns(value)


def turned_corners(values: Iterable[float]) -> str:
    """Name the corners that were turned, and how far; empty when none was.

    >>> turned_corners([-1.5, 0, 0, 0.25])
    'LF −1½, RR +¼'
    """
    each = zip(CORNERS, values, strict=True)
    return ", ".join(f"{corner} {signed_turns(float(turn))}" for corner, turn in each if turn)


def turning(value: float) -> str:
    """Say how far to turn and which way.

    >>> turning(1.5), turning(-1)
    ('1½ turns up', '1 turn down')
    """
    plural = "turn" if abs(value) <= 1 else "turns"
    return f"{turns(value)} {plural} {'up' if value > 0 else 'down'}"


def spacing(value: float) -> str:
    """Say how many spacers go in or come out, on an axle without springs.

    >>> spacing(2), spacing(-1)
    ('2 spacers in', '1 spacer out')
    """
    plural = "spacer" if abs(value) <= 1 else "spacers"
    return f"{turns(value)} {plural} {'in' if value > 0 else 'out'}"
