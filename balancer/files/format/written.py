"""Numbers as people write them: fractions, a comma for a point, a unit behind."""

import re
import unicodedata
from fractions import Fraction
from typing import NamedTuple

_VULGAR = "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
_NUMBER = re.compile(
    rf"""(?P<sign>[+\-−]?)\s*(?:
    (?P<whole>\d{{1,9}})\s*(?P<vulgar>[{_VULGAR}]) | (?P<lone>[{_VULGAR}])
    | (?:(?P<units>\d{{1,9}})(?:\s+|\s*-\s*))?(?P<over>\d{{1,4}})\s*[/⁄]\s*(?P<under>\d{{1,4}})
    | (?P<decimal>\d{{1,15}}(?:[.,]\d{{0,15}})?|[.,]\d{{1,15}})(?:[eE](?P<power>[+-]?\d{{1,2}}))?
    )\s*(?P<unit>[^\d\s.,+\-−{_VULGAR}][^\d,{_VULGAR}]*)?""",
    re.VERBOSE | re.ASCII,
)


class Said(NamedTuple):
    """A number as it was written, exactly, and the unit behind it."""

    value: Fraction
    unit: str


def read_number(text: str) -> Said | None:
    """Read a number in any of the ways that people write one.

    Returns:
        None for what is no number, or could be two: 2,405 is 2405 to some and 2.405 to others.

    Examples:
        >>> read_number("101 1/4"), read_number("2mm"), read_number("2,405")
        (Said(value=Fraction(405, 4), unit=''), Said(value=Fraction(2, 1), unit='mm'), None)
    """
    parts = _NUMBER.fullmatch(text.strip())
    if not parts or (parts["under"] and not int(parts["under"])):
        return None
    if parts["decimal"]:
        value = _decimal(parts["decimal"], parts["power"])
    elif parts["over"]:
        value = int(parts["units"] or 0) + Fraction(int(parts["over"]), int(parts["under"]))
    else:
        part = unicodedata.numeric(parts["vulgar"] or parts["lone"])
        value = int(parts["whole"] or 0) + Fraction(part).limit_denominator(10)
    if value is None:
        return None
    return Said(-value if parts["sign"] in ("-", "−") else value, (parts["unit"] or "").strip())


def _decimal(text: str, power: str | None) -> Fraction | None:
    whole, comma, decimals = text.partition(",")
    if comma and len(decimals) == 3 and whole.strip("0"):
        return None
    value = Fraction((text.replace(",", ".") + "0") if text[-1] in ".," else text.replace(",", "."))
    return value * Fraction(10) ** int(power or 0)


def digits(value: Fraction) -> str:
    """Write a number in as many decimals as it takes, or to six digits where that never ends.

    Examples:
        >>> digits(Fraction(405, 4)), digits(Fraction(1, 3)), digits(Fraction(2405))
        ('101.25', '0.333333', '2405')
    """
    for decimals in range(10):
        if value * 10**decimals == round(value * 10**decimals):
            return f"{float(value):.{decimals}f}"
    short = f"{float(value):.6g}"
    return short if "e" not in short else f"{float(value):.12f}".rstrip("0")
