"""What a text that is no number of a file says all the same: for advice that keeps its value.

Advice is obeyed by people in a hurry: a number in it is worth what was written, in the units of the
file, or there is none.
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from balancer.car.conventions import GRAVITY
from balancer.files.format.schema_paths import named, nested
from balancer.files.format.value_types import Schema
from balancer.units import GALLON, INCH, POUND, SYSTEMS, Dimension, Units

_VULGAR = "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
_NUMBER = re.compile(
    rf"""(?P<sign>[+\-−]?)\s*(?:
    (?P<whole>\d{{1,9}})\s*(?P<vulgar>[{_VULGAR}]) | (?P<lone>[{_VULGAR}])
    | (?:(?P<units>\d{{1,9}})(?:\s+|\s*-\s*))?(?P<over>\d{{1,4}})\s*[/⁄]\s*(?P<under>\d{{1,4}})
    | (?P<decimal>\d{{1,15}}(?:[.,]\d{{0,15}})?|[.,]\d{{1,15}})(?:[eE](?P<power>[+-]?\d{{1,2}}))?
    )\s*(?P<unit>[^\d\s.,+\-−{_VULGAR}][^\d,{_VULGAR}]*)?""",
    re.VERBOSE | re.ASCII,
)
_LENGTHS = {"cm": 1e-2, "m": 1.0, "inch": INCH, "inches": INCH, '"': INCH, "ft": 0.3048}
_MASSES = {"lbs": POUND, "g": 1e-3, "kgs": 1.0}
_OTHERS: dict[tuple[str, str], float] = {
    ("kg/mm", "rate"): GRAVITY * 1e3,
    ("n/m", "rate"): 1.0,
    ("lbs/in", "rate"): SYSTEMS["us"].factors["rate"],
    ("liter", "volume"): 1e-3,
    ("liters", "volume"): 1e-3,
    ("gallon", "volume"): GALLON,
    ("gallons", "volume"): GALLON,
    ("w", "power"): 1.0,
}


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


def advised(text: str, key: str, units: Units | None) -> str | None:
    """Give the number to write for a key in the place of a text, worth the same.

    Args:
        key: The last part of its name, which says what it is measured in.
        units: Of the file; None where they are not known.

    Returns:
        As many digits as it takes, or six; None where its value is not certain.

    Examples:
        >>> from balancer.units import METRIC, US
        >>> advised("101 1/4", "wheelbase", US), advised("2mm", "wheelbase", US)
        ('101.25', '0.0787402')
        >>> advised("8kg/mm", "spring_rate", METRIC), advised("8 stone", "mass", METRIC)
        ('78.4532', None)
    """
    said = read_number(text)
    if said is None:
        return None
    value = _in_units(said, key, units) if said.unit else said.value
    return None if value is None else digits(value)


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


def _in_units(said: Said, key: str, units: Units | None) -> Fraction | None:
    unit, dimension = said.unit.lower().rstrip("."), dimension_of(key)
    if unit in ("%", "percent") and key.endswith("_pct"):
        return said.value
    if units is None or dimension is None:
        return None
    label = units.labels[dimension].lower()
    if unit == label:
        return said.value
    size = _sizes().get((unit, dimension))
    if size is None:
        return None
    # Sizes of units have few digits; as decimals they are exact.
    own = _sizes()[label, dimension]
    return said.value * Fraction(repr(size)) / Fraction(repr(own))


@cache
def _sizes() -> dict[tuple[str, str], float]:
    """Give what units are in SI, by their name and what they measure."""
    sizes: dict[tuple[str, str], float] = {**_OTHERS}
    for system in SYSTEMS.values():
        for dimension, label in system.labels.items():
            sizes[label.lower(), dimension] = system.factors[dimension]
    sizes |= {(unit, "length"): size for unit, size in _LENGTHS.items()}
    sizes |= {(unit, "mass"): size for unit, size in _MASSES.items()}
    sizes |= {(unit, "load"): size * GRAVITY for unit, size in _MASSES.items()}
    return sizes


@cache
def dimension_of(key: str) -> Dimension | None:
    """Say what a key of any of the files is measured in.

    Args:
        key: The last part of its name.

    Returns:
        None where it is not known, or not the same everywhere.

    Examples:
        >>> dimension_of("wheelbase"), dimension_of("tare"), dimension_of("name")
        ('length', 'load', None)
    """
    parts = [part for schema in _named(key) for part in nested(schema)]
    dimensions = {part.get("metadata", {}).get("dimension") for part in parts} - {None}
    return dimensions.pop() if len(dimensions) == 1 else None


@cache
def takes_list(key: str) -> bool:
    """Say whether a key of that name, in any of the files, may hold a list; so may one unknown.

    Args:
        key: The last part of its name.

    Examples:
        >>> takes_list("perch_travel"), takes_list("wheelbase")
        (True, False)
    """
    schemas = _named(key)
    return not schemas or any(
        part["type"] == "list" for schema in schemas for part in nested(schema)
    )


def _named(key: str) -> list[Schema]:
    from balancer.files.format.keys import CAR_SCHEMA, READINGS_SCHEMA

    return [*named(CAR_SCHEMA, key), *named(READINGS_SCHEMA, key)]
