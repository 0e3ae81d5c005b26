"""Numbers as people type them: finite, with or without a unit, and said what is wrong if not."""

from __future__ import annotations

import math
from typing import Any

import click

from balancer.car.conventions import CORNERS
from balancer.cli.options.param import ParamType
from balancer.errors import Fault
from balancer.files.format.numbers import Amount, parse


class Number(ParamType[Amount]):
    """An option's number. Faults add up in the context, to be told all together."""

    name = "number"

    def __init__(self, low: float, high: float, suffixes: tuple[str, ...] = ()) -> None:
        self.low, self.high, self.suffixes = low, high, suffixes

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Amount:
        """Read the number, or note the fault and go on."""
        if isinstance(value, Amount):
            return value
        where = _where(param, ctx)
        text, span = str(value), f"{self.low:g} to {self.high:g}"
        if text.startswith("--"):
            return keep_fault(Fault(where, "has no value after it", f"give one, {span}"), ctx)
        found = parse(text, where, self.suffixes, f"a number, {span}")
        if isinstance(found, Amount) and not self.low <= found.value <= self.high:
            found = Fault(where, *_outside(text, found.value, self.suffixes, span))
        return keep_fault(found, ctx)


class Band(ParamType[tuple[float, float]]):
    """An option's share, or the lowest and highest of a band of shares, in percent."""

    name = "PCT[:PCT]"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        """Read one or two shares as fractions, or note the faults and go on."""
        where, text = _where(param, ctx), str(value)
        expected = "one number, 20 to 80, or two: 48:52"
        found = [parse(part, where, ("%",), expected) for part in text.split(":")]
        faults = [part for part in found if isinstance(part, Fault)]
        shares = [part.value / 100 for part in found if isinstance(part, Amount)]
        if not faults and (len(shares) > 2 or not all(0.2 <= share <= 0.8 for share in shares)):
            faults = [Fault(where, *_outside(text, 100 * shares[0], ("%",), expected))]
        elif not faults and shares[0] > shares[-1]:
            faults = [Fault(where, f"{text} runs backward", "give the lower number first")]
        faults_of(ctx).extend(dict.fromkeys(faults))
        return (0.5, 0.5) if faults else (shares[0], shares[-1])


class Names(ParamType[str]):
    """An option's state: names of what is on board, held against the car by `inputs_of`."""

    name = "NAMES"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Take the names, or note the fault and go on."""
        text = str(value)
        if text.startswith("--"):
            fault = Fault(_where(param, ctx), "has no value after it", "give names, or none")
        elif text.rstrip().endswith(","):
            way_out = "write the names without blanks, or in quotes"
            fault = Fault(_where(param, ctx), f"“{text}” ends in a comma", way_out)
            astray(ctx)
        else:
            return text
        faults_of(ctx).append(fault)
        return "none"


def _outside(text: str, value: float, suffixes: tuple[str, ...], span: str) -> tuple[str, str]:
    if "%" in suffixes and 0 < value < 1:
        return f"{text} looks like a fraction", "give it in percent"
    return f"{text} is out of range", f"expected {span}"


def _where(param: click.Parameter | None, ctx: click.Context | None) -> str:
    """Name an option, and the corner if it takes four numbers."""
    if param is None:
        return "number"
    if param.nargs != len(CORNERS) or ctx is None:
        return param.opts[0]
    # click converts the four one after the other without saying which one it is at.
    nth = ctx.meta.get(f"balancer.nth.{param.name}", 0)
    ctx.meta[f"balancer.nth.{param.name}"] = nth + 1
    return f"{param.opts[0]} {CORNERS[nth % len(CORNERS)]}"


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
    found: list[Fault] = ctx.meta.setdefault("balancer.files.format.faults", [])
    return found


def astray(ctx: click.Context | None) -> None:
    """Note that words meant for an option may stand among the readings."""
    if ctx is not None:
        ctx.meta["balancer.astray"] = True


def is_astray(ctx: click.Context) -> bool:
    """Say whether words meant for an option may stand among the readings."""
    return bool(ctx.meta.get("balancer.astray"))


class ByCorner(ParamType[tuple[str, Amount]]):
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
            if group is not None:
                astray(ctx)
            way_out = "write LF=3, or RF, LR, RR, front, rear or all"
            return "all", keep_fault(Fault(where, f"“{value}” is not CORNER=NUMBER", way_out), ctx)
        return group, keep_fault(
            parse(text, f"{where} {group}", ("mm", "in"), "a number like 3"), ctx
        )


def _group(name: str) -> str | None:
    known = {one.lower(): one for one in (*CORNERS, "front", "rear", "all")}
    return known.get(name.strip().lower())


class Corner(ParamType[str]):
    """An option's corner: LF, RF, LR or RR."""

    name = "CORNER"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Read the corner in either case, or note the fault and go on."""
        corner = str(value).strip().upper()
        if corner not in CORNERS:
            where = param.opts[0] if param else "corner"
            way_out = f"write LF, RF, LR or RR, each after its own {where}"
            faults_of(ctx).append(Fault(where, f"“{value}” is no corner", way_out))
            return CORNERS[0]
        return corner
