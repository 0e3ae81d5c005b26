"""Numbers as people type them: finite, with or without a unit, and said what is wrong if not."""

from __future__ import annotations

import math
import re
from typing import Any, NamedTuple

import click

from balancer.car import CORNERS
from balancer.errors import Fault
from balancer.units import METRIC, US, Dimension, Units

_NUMBER = r"([+\-−]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-zA-Z%]*)"
_COMMA = r"([+\-−]?\d+),(\d+)\s*([a-zA-Z%]*)"
_SUFFIXES = {"kg": METRIC, "mm": METRIC, "lb": US, "lbs": US, "in": US}


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


def parse(text: str, where: str, suffixes: tuple[str, ...]) -> Amount | Fault:
    """Read a typed number.

    >>> parse("310.5kg", "LF", ("kg", "lb"))
    Amount(value=310.5, suffix='kg')
    >>> print(parse("310,5", "LF", ("kg", "lb")))
    LF: 310,5 has a decimal comma: write 310.5
    """
    bare = text.strip()
    if comma := re.fullmatch(_COMMA, bare):
        return Fault(where, f"{text} has a decimal comma", f"write {comma[1]}.{comma[2]}{comma[3]}")
    found = re.fullmatch(_NUMBER, bare)
    if not found:
        if bare.lower().lstrip("+-") in ("nan", "inf", "infinity"):
            return Fault(where, f"{text} is not a number", "type what you read")
        return Fault(where, f"“{text[:40]}” is not a number", "write it like 310.5")
    suffix = found[2].lower()
    if suffix and suffix not in suffixes:
        known = " or ".join(suffixes) or "none"
        return Fault(where, f"“{found[2]}” is not a unit for this", f"known here: {known}")
    value = float(found[1].replace("−", "-"))
    if not math.isfinite(value):
        return Fault(where, f"{text} is too large", "type what you read")
    return Amount(value, suffix)


class Number(click.ParamType[Amount]):
    """An option's number. Faults gather in the context, to be told all together."""

    name = "number"

    def __init__(self, low: float, high: float, suffixes: tuple[str, ...] = ()) -> None:
        self.low, self.high, self.suffixes = low, high, suffixes

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Amount:
        """Read the number, or note the fault and go on."""
        if isinstance(value, Amount):
            return value
        where = param.opts[0] if param else "number"
        found = parse(str(value), where, self.suffixes)
        if isinstance(found, Amount) and not self.low <= found.value <= self.high:
            expected = f"expected {self.low:g} to {self.high:g}"
            found = Fault(where, f"{value} is out of range", expected)
        return keep_fault(found, ctx)


def keep_fault(found: Amount | Fault, ctx: click.Context | None) -> Amount:
    """Put a fault aside for the end of reading and give a number to go on with."""
    if isinstance(found, Fault):
        faults_of(ctx).append(found)
        return Amount(math.nan, "")
    return found


def faults_of(ctx: click.Context | None) -> list[Fault]:
    """Give the list of faults found so far in this call."""
    if ctx is None:
        return []
    found: list[Fault] = ctx.meta.setdefault("balancer.faults", [])
    return found


class ByCorner(click.ParamType[tuple[str, Amount]]):
    """An option's CORNER=NUMBER, where CORNER may be front, rear or all as well."""

    name = "CORNER=NUMBER"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, Amount]:
        """Read name and number, or note the fault and go on."""
        name, sign, text = str(value).partition("=")
        where = param.opts[0] if param else "corner"
        group = _group(name)
        if not sign or group is None:
            fault = Fault(
                where, f"“{value}” is not CORNER=NUMBER", "write LF=3, or front, rear or all"
            )
            return "all", keep_fault(fault, ctx)
        return group, keep_fault(parse(text, f"{where} {name}", ("mm", "in")), ctx)


def _group(name: str) -> str | None:
    known = {one.lower(): one for one in (*CORNERS, "front", "rear", "all")}
    return known.get(name.strip().lower())


class Corner(click.ParamType[str]):
    """An option's corner: LF, RF, LR or RR."""

    name = "CORNER"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Read the corner in either case, or note the fault and go on."""
        corner = str(value).strip().upper()
        if corner not in CORNERS:
            where = param.opts[0] if param else "corner"
            faults_of(ctx).append(Fault(where, f"“{value}” is no corner", "LF, RF, LR or RR"))
            return CORNERS[0]
        return corner
