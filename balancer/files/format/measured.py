"""What a number in quotes is worth: fractions, and units other than those of the file.

The units are those of Pint, a library that is only loaded where one of another system is written.
A spring of 8 kg/mm and a pad that shows kg mean the force that weighs so much: there kg and lb are
forces.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Any

from balancer.files.format.written import read_number
from balancer.files.units import Dimension, Units

if TYPE_CHECKING:
    from pint import UnitRegistry

_FORCES = ("load", "rate", "torsion")
_OTHER_WORDS = {
    '"': "inch", "'": "foot", "lbs": "lb", "kgs": "kg", "inches": "inch", "feet": "foot",
    "ltr": "liter", "litre": "liter", "litres": "liter", "ps": "metric_horsepower",
}  # fmt: skip
_THREADS = ("tpi", "threadsperinch", "threads/in", "threads/inch")
_WORD = re.compile(r"[a-z_]+|[\"']")


def measured(text: str, dimension: Dimension, units: Units | None) -> Fraction | None:
    """Give what a number in quotes is worth in the units of a file, exactly.

    Args:
        units: None where they are not known: then its unit is left aside.

    Returns:
        None for what is no number, could be two, or has a unit of something else.

    Examples:
        >>> from balancer.files.units import METRIC, US
        >>> measured("101 1/4", "length", US), measured("16 tpi", "length", US)
        (Fraction(405, 4), Fraction(1, 16))
        >>> round(float(measured("450 lb/in", "rate", METRIC)), 6)
        78.807076
        >>> measured("8 stones", "rate", METRIC) is None
        True
    """
    said = read_number(text)
    if said is None or not said.unit or units is None:
        return None if said is None else said.value
    unit = re.sub(r"\s+", "", said.unit.lower().rstrip("."))
    if unit == units.labels[dimension].lower().replace(" ", ""):
        return said.value
    if unit in _THREADS:
        if dimension != "length" or said.value <= 0:
            return None
        return _converted(1 / said.value, "inch", dimension, units)
    return _converted(said.value, unit, dimension, units)


def _converted(value: Fraction, unit: str, dimension: Dimension, units: Units) -> Fraction | None:
    own = units.labels[dimension]
    # Pint takes a turn for a number without a unit.
    turned = dimension != "torsion" and re.search("turn|rev|rad|deg|cycle", unit)
    if not own or turned:
        return None
    # Pint raises what its parser raises, of many kinds, for a text that names no unit.
    try:
        registry = _registry()
        given, wanted = (
            registry.Quantity(Fraction(1), _spelled(each, dimension)) for each in (unit, own)
        )
        ratio: Any = (given / wanted).to_base_units()
        if not ratio.dimensionless:
            return None
        return value * Fraction(ratio.magnitude)
    except Exception:
        return None


@cache
def _registry() -> UnitRegistry[Any]:
    """Make the registry of units, which takes a third of a second, once."""
    from pint import UnitRegistry

    return UnitRegistry(non_int_type=Fraction, cache_folder=None)


def _spelled(unit: str, dimension: Dimension) -> str:
    def word(match: re.Match[str]) -> str:
        name = _OTHER_WORDS.get(match[0], match[0])
        if name == "nm":
            # Nobody measures a car in nanometers.
            return "newton*meter"
        if name in ("kg", "lb", "g") and dimension in _FORCES:
            return f"{name}f"
        return {"n": "newton", "l": "liter", "kn": "kilonewton", "kw": "kilowatt", "w": "watt"}.get(
            name, name
        )

    return _WORD.sub(word, unit.lower().replace("·", "*").replace("⋅", "*"))
