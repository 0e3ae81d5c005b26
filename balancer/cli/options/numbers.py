"""Words of the command line as values, their faults, and the options that several commands take."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

from balancer.car.conventions import CORNERS
from balancer.car.errors import Fault
from balancer.files.format.numbers import Amount, parse, system_of
from balancer.files.units import METRIC, SYSTEMS, Units

if TYPE_CHECKING:
    from click import ParamType as ParamType
else:

    class ParamType(click.ParamType):
        """A click.ParamType that says of what: click's own has taken that since 8.4."""

        def __class_getitem__(cls, of: object) -> type[ParamType]:
            """Give the kind itself: what it is of is for the type checker."""
            return cls


Value = TypeVar("Value")


class Word(ParamType[Value]):
    """An option's value. Its faults go to the context, to be told all together."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Value:
        """Read the value of an option that was typed."""
        return self._read(str(value), _where(param, ctx), ctx)

    def _read(self, text: str, where: str, ctx: click.Context | None) -> Value:
        """Read it, or note the fault and go on with something else."""
        raise NotImplementedError


class Number(Word[Amount]):
    """A finite number, with or without a unit."""

    name = "number"

    def __init__(self, low: float, high: float, suffixes: tuple[str, ...] = ()) -> None:
        self.low, self.high, self.suffixes = low, high, suffixes

    def _read(self, text: str, where: str, ctx: click.Context | None) -> Amount:
        span = f"{self.low:g} to {self.high:g}"
        if text.startswith("--"):
            return keep_fault(Fault(where, "has no value after it", f"give one, {span}"), ctx)
        number = parse(text, where, self.suffixes, f"a number, {span}")
        if isinstance(number, Amount) and not self.low <= number.value <= self.high:
            number = Fault(where, *_outside(text, number.value, self.suffixes, span))
        return keep_fault(number, ctx)


class Band(Word[tuple[float, float]]):
    """A share, or the lowest and highest of a band of shares, in percent."""

    name = "PCT[:PCT]"

    def _read(self, text: str, where: str, ctx: click.Context | None) -> tuple[float, float]:
        expected = "one number, 20 to 80, or two: 48:52"
        parts = [parse(part, where, ("%",), expected) for part in text.split(":")]
        faults = [part for part in parts if isinstance(part, Fault)]
        shares = [part.value / 100 for part in parts if isinstance(part, Amount)]
        if not faults and (len(shares) > 2 or not all(0.2 <= share <= 0.8 for share in shares)):
            faults = [Fault(where, *_outside(text, 100 * shares[0], ("%",), expected))]
        elif not faults and shares[0] > shares[-1]:
            faults = [Fault(where, f"{text} runs backward", "give the lower number first")]
        faults_of(ctx).extend(dict.fromkeys(faults))
        return (0.5, 0.5) if faults else (shares[0], shares[-1])


class Names(Word[str]):
    """A state: names of what is on board, held against the car by `inputs_of`."""

    name = "NAMES"

    def _read(self, text: str, where: str, ctx: click.Context | None) -> str:
        if text.startswith("--"):
            faults_of(ctx).append(Fault(where, "has no value after it", "give names, or none"))
        elif text.rstrip().endswith(","):
            way_out = "write the names without blanks, or in quotes"
            faults_of(ctx).append(Fault(where, f"“{text}” ends in a comma", way_out))
            astray(ctx)
        else:
            return text
        return "none"


class Text(Word[str]):
    """A text that is read by its command, which knows the car."""

    def __init__(self, name: str, way_out: str, instead: str) -> None:
        self.name, self.way_out, self.instead = name, way_out, instead

    def _read(self, text: str, where: str, ctx: click.Context | None) -> str:
        if not text.startswith("--"):
            return text
        faults_of(ctx).append(Fault(where, "has no value after it", self.way_out))
        return self.instead


class ByCorner(Word[tuple[str, Amount]]):
    """CORNER=NUMBER, where CORNER may be front, rear or all as well."""

    name = "CORNER=NUMBER"

    def _read(self, text: str, where: str, ctx: click.Context | None) -> tuple[str, Amount]:
        name, sign, number = text.partition("=")
        group = _group(name)
        if sign and group is not None:
            amount = parse(number, f"{where} {group}", ("mm", "in"), "a number like 3")
            return group, keep_fault(amount, ctx)
        if group is not None:
            astray(ctx)
        way_out = "write LF=3, or RF, LR, RR, front, rear or all"
        return "all", keep_fault(Fault(where, f"“{text}” is not CORNER=NUMBER", way_out), ctx)


class Corner(Word[str]):
    """A corner: LF, RF, LR or RR, in either case."""

    name = "CORNER"

    def _read(self, text: str, where: str, ctx: click.Context | None) -> str:
        corner = text.strip().upper()
        if corner in CORNERS:
            return corner
        way_out = f"write LF, RF, LR or RR, each after its own {where}"
        faults_of(ctx).append(Fault(where, f"“{text}” is no corner", way_out))
        return CORNERS[0]


class System(Word[Units]):
    """A system of units: by its name, or by a unit that only it has."""

    name = "metric|us"

    def _read(self, text: str, where: str, ctx: click.Context | None) -> Units:
        word = text.strip().lower()
        if found := SYSTEMS.get(word) or system_of(word):
            return found
        way_out = "say metric (kg, mm) or us (lb, in)"
        faults_of(ctx).append(Fault(where, f"“{text}” names no units", way_out))
        return METRIC


def _group(name: str) -> str | None:
    known = {group.lower(): group for group in (*CORNERS, "front", "rear", "all")}
    return known.get(name.strip().lower())


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


def keep_fault(read: Amount | Fault, ctx: click.Context | None) -> Amount:
    """Put a fault aside for the end of reading and give a number to go on with."""
    if isinstance(read, Amount):
        return read
    faults_of(ctx).append(read)
    return Amount(math.nan, "")


def fraction(percent: Amount | None) -> float | None:
    """Give what was asked for in percent, if it was."""
    return None if percent is None else percent.value / 100


def faults_of(ctx: click.Context | None) -> list[Fault]:
    """Give the list of faults found so far in this call."""
    faults: list[Fault] = [] if ctx is None else ctx.meta.setdefault("balancer.faults", [])
    return faults


def astray(ctx: click.Context | None) -> None:
    """Note that words meant for an option may stand among the readings."""
    if ctx is not None:
        ctx.meta["balancer.astray"] = True


def is_astray(ctx: click.Context) -> bool:
    """Say whether words meant for an option may stand among the readings."""
    return bool(ctx.meta.get("balancer.astray"))


def four(name: str, kind: Number, said: str, *dest: str) -> Callable[[Any], Any]:
    """Make an option of four numbers, one a corner."""
    return click.option(name, *dest, nargs=4, type=kind, metavar="LF RF LR RR", help=said)


MASS, LENGTH, PERCENT = ("kg", "lb", "lbs"), ("mm", "in"), ("%",)
"""Units that may follow a number."""

CAR = click.argument("car", metavar="CAR")
CROSS = click.option(
    "--cross", type=Number(20, 80, PERCENT), help="Cross weight wanted, %.  [target]"
)
TOLERANCE = click.option("--tolerance", type=Number(0.01, 10), help="Points of it.  [target]")
WEIGHED_WITH = click.option(
    "--weighed-with", type=Names(), help="On board when weighed.  [race trim]"
)
TO = click.option(
    "--to",
    multiple=True,
    type=Names(),
    help="What is to be on board, or the name of a race trim; may be repeated.  [race trim]",
)
