"""How numbers are said: turns in fractions, signs that can be seen, masses and lengths."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.car.linear import off_the_ground
from balancer.report.words.tables import WIDTH, showable
from balancer.units import Dimension, Units

_FRACTIONS = {
    "1/2": "½",
    "1/4": "¼",
    "3/4": "¾",
    "1/3": "⅓",
    "2/3": "⅔",
    "1/5": "⅕",
    "2/5": "⅖",
    "3/5": "⅗",
    "4/5": "⅘",
    "1/6": "⅙",
    "5/6": "⅚",
    "1/8": "⅛",
    "3/8": "⅜",
    "5/8": "⅝",
    "7/8": "⅞",
}
_DECIMALS = {
    ("mass", "metric"): 1,
    ("mass", "us"): 1,
    ("length", "metric"): 1,
    ("length", "us"): 2,
    ("rate", "metric"): 1,
    ("rate", "us"): 0,
}


def wrapped(text: str, later: str = "") -> str:
    """Break prose into lines of 80 columns, the later ones behind an indent.

    A number stays with its unit, and a first indent stays.

    >>> print(wrapped("- " + "word " * 17, "  "))
    - word word word word word word word word word word word word word word word
      word word
    """
    text = showable(text)
    if len(text) <= WIDTH:
        return text
    import re
    import textwrap

    tied = re.sub(r"(?<=\d) (?=%|kg\b|lb\b|mm\b|in\b|Hz\b)", "\N{NO-BREAK SPACE}", text)
    filled = textwrap.fill(tied, WIDTH, subsequent_indent=later, break_on_hyphens=False)
    return filled.replace("\N{NO-BREAK SPACE}", " ")


def lines_of(texts: Iterable[str], later: str = "") -> str:
    """Set each text on lines of its own.

    >>> print(lines_of(["one", "two"]))
    one
    two
    """
    return "\n".join(wrapped(text, later) for text in texts)


def paragraphs(*parts: str) -> str:
    """Set parts apart by an empty line, but for those with nothing in them.

    >>> paragraphs("one", "", "two")
    'one\\n\\ntwo'
    """
    return "\n\n".join(part for part in parts if part)


def number(value: float, decimals: int, sign: bool = False) -> str:
    """Write a number with a minus that can be told from a dash, and no minus zero.

    >>> number(-0.04, 1), number(-2.25, 2), number(3, 0, sign=True)
    ('0.0', '−2.25', '+3')
    """
    text = f"{value:.{decimals}f}"
    if not float(text):
        return text.lstrip("-")
    return text.replace("-", "−") if value < 0 else f"+{text}" if sign else text


def amount(
    value: float, dimension: Dimension, units: Units, sign: bool = False, unit: bool = False
) -> str:
    """Write an SI value in the car file's units, in the decimals that hands and eyes can use.

    >>> from balancer.units import US
    >>> amount(0.0254, "length", US, unit=True)
    '1.00 in'
    """
    kind: Dimension = "mass" if dimension == "load" else dimension
    text = number(units.from_si(value, dimension), _DECIMALS[kind, units.name], sign)
    return f"{text} {units.labels[dimension]}" if unit else text


def amounts(
    values: Iterable[float], dimension: Dimension, units: Units, sign: bool = False
) -> list[str]:
    """Write SI values as cells of a table.

    >>> from balancer.units import METRIC
    >>> amounts([0.001, -0.0025], "length", METRIC, sign=True)
    ['+1.0', '−2.5']
    """
    return [amount(value, dimension, units, sign) for value in values]


def percent(share: float, decimals: int = 1) -> str:
    """Write a share as percent.

    >>> percent(0.5)
    '50.0 %'
    """
    return f"{number(100 * share, decimals)} %"


def side(left: float) -> str:
    """Say on which side something is; what is in the middle but for a last bit is left of it.

    >>> side(0.02), side(-1e-17), side(-0.02)
    ('left', 'left', 'right')
    """
    return "left" if left > -1e-9 else "right"


def chance(value: float) -> str:
    """Write a chance as percent; nothing that rests on the stated scatter of pads is sure.

    >>> chance(0.9312), chance(0.99996)
    ('93 %', 'over 99 %')
    """
    return "over 99 %" if value > 0.99 else f"{100 * value:.0f} %"


def uncertainty(standard: float, decimals: int) -> str:
    """Write a standard uncertainty, with one decimal more than asked when it would vanish.

    >>> uncertainty(0.04, 1), uncertainty(0.3, 1)
    ('± 0.04', '± 0.3')
    """
    if 0 < standard < 10**-decimals:
        decimals += 1
    return f"± {number(standard, decimals)}"


def lifted(loads: Iterable[float], units: Units, state: str = "") -> list[str]:
    """Say of loads that pull at the ground that they can't be; nothing of others.

    >>> from balancer.units import METRIC
    >>> lifted([2500.0, -130.0, 2400.0, 2600.0], METRIC, "race trim")[0][:45]
    'race trim: RF is off the ground there (−13.3 '
    """
    four = np.array(list(loads))
    corners = off_the_ground(four)
    if not corners:
        return []
    pulls = (amount(float(four[CORNERS.index(one)]), "load", units, unit=True) for one in corners)
    named = f"{state}: {' and '.join(corners)}" if state else " and ".join(corners)
    are = "is" if len(corners) == 1 else "are"
    return [
        f"{named} {are} off the ground there ({', '.join(pulls)}): linear numbers end where a"
        " wheel lifts, so these are not what the pads will show"
    ]


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
    part = _FRACTIONS.get(str(rest), str(rest))
    joint = " " if "/" in part else ""
    return f"{whole}{joint}{part}" if whole else part


def signed_turns(value: float) -> str:
    """Write turns with a sign, and a dot for none.

    >>> signed_turns(-1.5), signed_turns(0)
    ('−1½', '·')
    """
    return "·" if not value else ("+" if value > 0 else "−") + turns(value)


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
