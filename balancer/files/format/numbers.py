"""Numbers as people type them: with or without a unit, and what is wrong if they are not."""

import math
import re
from typing import NamedTuple

from balancer.car.errors import Fault
from balancer.files.units import METRIC, US, Dimension, Units

_NUMBER = r"([+\-−]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-zA-Z%]*)"
_COMMA = r"([+\-−]?\d+),(\d+)\s*([a-zA-Z%]*)"
_SUFFIXES = {
    "kg": METRIC, "mm": METRIC, "l": METRIC, "lb": US, "lbs": US, "in": US, "gal": US,
}  # fmt: skip


def system_of(suffix: str) -> Units | None:
    """Give the system that a typed unit is of; None for one of both, such as %."""
    return _SUFFIXES.get(suffix)


class Amount(NamedTuple):
    """A number with the unit it was typed with, if any."""

    value: float
    suffix: str

    def in_units(self, units: Units, dimension: Dimension) -> float:
        """Give it in the units of the car file.

        >>> Amount(100, "lb").in_units(METRIC, "mass")
        45.359237
        """
        if not self.suffix or self.suffix == "%":
            return self.value
        typed = _SUFFIXES[self.suffix]
        return units.from_si(typed.to_si(self.value, dimension), dimension)

    def to_si(self, units: Units, dimension: Dimension) -> float:
        """Give it in SI, taking the car file's units where none was typed."""
        return units.to_si(self.in_units(units, dimension), dimension)


def parse(
    text: str, where: str, suffixes: tuple[str, ...], expected: str = "a number like 310.5"
) -> Amount | Fault:
    """Read a typed number.

    Args:
        where: What to call it in a fault.
        suffixes: Units that may stand behind it, in small letters.
        expected: What to write, for the way out of a fault.

    Examples:
        >>> parse("310.5kg", "LF", ("kg", "lb"))
        Amount(value=310.5, suffix='kg')
        >>> print(parse("310,5", "LF", ("kg", "lb")))
        LF: 310,5 has a decimal comma: write 310.5
    """
    bare = text.strip()
    shown = bare if len(bare) <= 40 else f"{bare[:37]}…"
    comma = re.fullmatch(_COMMA, bare)
    if comma and comma[3].lower() in ("", *suffixes):
        return Fault(where, *_with_comma(shown, *comma.groups()))
    number = re.fullmatch(_NUMBER, bare.replace(",", ".") if comma else bare)
    if not number and (fraction := _with_fraction(bare, suffixes)):
        return fraction
    if not number:
        no_number = bare.lower().lstrip("+-") in ("nan", "inf", "infinity")
        said = shown if no_number else f"“{shown}”"
        write = expected if no_number else _meant(bare, suffixes) or expected
        return Fault(where, f"{said} is not a number", f"write {write}")
    suffix = number[2].lower()
    if suffix and suffix not in suffixes:
        plurals = {f"{name}s" for name in suffixes}
        known = ", ".join(name for name in suffixes if name not in plurals)
        way_out = f"known here: {known}" if known else "leave it out"
        return Fault(where, f"“{number[2]}” is not a unit for this", way_out)
    value = float(number[1].replace("−", "-"))
    if not math.isfinite(value):
        return Fault(where, f"{shown} is too large", f"write {expected}")
    return Amount(value, suffix)


def _with_fraction(text: str, suffixes: tuple[str, ...]) -> Amount | None:
    """Read 671½ or 101 1/4, with a unit or without; a comma is asked about."""
    if "," in text or not re.search("[/⁄¼-¾⅐-⅞]", text):
        return None
    # Few numbers have one, and fractions take their time to import.
    from balancer.files.format.written import read_number

    said = read_number(text)
    unit = said.unit.lower() if said else ""
    if said is None or (unit and unit not in suffixes):
        return None
    return Amount(float(said.value), unit)


def _with_comma(shown: str, whole: str, decimals: str, unit: str) -> tuple[str, str]:
    """Say what is wrong with a comma in a number, which some write for thousands."""
    if len(decimals) == 3 and whole.lstrip("+-−0"):
        way_out = f"write {whole}{decimals}{unit}, or {whole}.{decimals}{unit} with a point"
        return f"{shown} has a comma", way_out
    return f"{shown} has a decimal comma", f"write {whole}.{decimals}{unit}"


def _meant(text: str, suffixes: tuple[str, ...]) -> str | None:
    """Give what to type for a text that is to be a number, if its value is certain."""
    # Only for a fault: fractions take longer to import than all the rest of this.
    from balancer.files.format.written import digits, read_number

    bare = re.sub(r"^[^\W\d]\w*\s*=\s*|[,;]$", "", text)
    said = read_number(bare)
    if said is None or (said.unit and said.unit.lower() not in suffixes):
        return None
    return digits(said.value) + said.unit
