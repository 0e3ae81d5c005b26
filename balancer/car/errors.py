"""What can be wrong with the input: every fault found, raised once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import NamedTuple

_MOST_TOLD = 120
"""Lines of faults of all files together; each file alone tells fewer."""


def spelled(text: str, keep: str = "") -> str:
    """Spell out what a terminal would obey instead of showing it.

    Args:
        keep: Characters to let through, such as a line break in a text of several lines.

    Examples:
        >>> print(spelled("red \\x1b[31m"))
        red \\x1b[31m
    """
    if text.isprintable():
        return text
    keep += "\u00a0"
    return "".join(
        one if one.isprintable() or one in keep else one.encode("unicode_escape").decode()
        for one in text
    )


class Fault(NamedTuple):
    """One thing that is wrong with the input.

    Attributes:
        where: File, line and key, or the option or argument.
        what: What was found there.
        way_out: What to do about it.
    """

    where: str
    what: str
    way_out: str

    def __str__(self) -> str:
        """Give the fault as one line."""
        return spelled(f"{self.where}: {self.what}: {self.way_out}")


class BalancerError(Exception):
    """Base of every error that this package raises on purpose."""

    exit_status = 2


class Unfit(NamedTuple):
    """Why a corner can't stand as the file says.

    Attributes:
        what, way_out: With {0}, {1} … where a length is named.
        lengths: [m].
    """

    what: str
    way_out: str
    lengths: tuple[float, ...] = ()
    corner: str = ""

    def fault(self, name: str, spell: Callable[[float], str]) -> Fault:
        """Tell it as a fault of the car file of this name, in the words for lengths given.

        >>> print(Unfit("pressed {0}", "check it", (0.02,), "LF").fault("a.toml", "{} m".format))
        a.toml: LF: pressed 0.02 m: check it
        """
        lengths = [spell(one) for one in self.lengths]
        where = f"{name}: {self.corner}" if name else self.corner
        return Fault(where, self.what.format(*lengths), self.way_out.format(*lengths))


class OperatingPointError(BalancerError):
    """Corners that can't stand as the file says under the loads that were read.

    Attributes:
        reasons: One for each corner.
    """

    def __init__(self, reasons: Iterable[Unfit]) -> None:
        self.reasons = tuple(reasons)
        told = [one.fault("", lambda length: f"{1e3 * length:.1f} mm") for one in self.reasons]
        super().__init__("\n".join(str(fault) for fault in told))


class InputError(BalancerError):
    """The input can't be used as it is.

    Attributes:
        faults: All that was found, in the order of the input.
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        told = [str(fault) for fault in self.faults[:_MOST_TOLD]]
        if len(self.faults) > _MOST_TOLD:
            left = len(self.faults) - _MOST_TOLD
            told.append(f"input: and {left} more faults: mend these first")
        super().__init__("\n".join(told))

    @classmethod
    def one(cls, where: str, what: str, way_out: str) -> InputError:
        """Make the error for a single fault."""
        return cls([Fault(where, what, way_out)])


def refuse(faults: Iterable[Fault]) -> None:
    """Raise what was found, all of it.

    Raises:
        InputError: When there is anything.

    Examples:
        >>> refuse([Fault("a.toml:1: name", "is missing", "give one")])
        Traceback (most recent call last):
        balancer.car.errors.InputError: a.toml:1: name: is missing: give one
    """
    if found := tuple(faults):
        raise InputError(found)


@contextmanager
def gathering(faults: list[Fault]) -> Iterator[None]:
    """Put the faults of what is done within to others, for one error at the end."""
    try:
        yield
    except InputError as error:
        faults += error.faults


class StandingError(InputError):
    """A car that would not stand up.

    Args:
        what: Why.
        way_out: What to check.
    """

    def __init__(self, what: str, way_out: str) -> None:
        super().__init__([Fault("the car", what, way_out)])

    def named(self, file: str) -> InputError:
        """Tell it of the car in a file.

        >>> print(UnstableCarError().named("a.toml"))
        a.toml: would tip over on its springs: check spring rates, motion ratios and cg_up
        """
        return InputError(fault._replace(where=file) for fault in self.faults)


class UnstableCarError(StandingError):
    """A car that would tip over on its springs: a rate is too low, or the weight too high up."""

    def __init__(self) -> None:
        way_out = "check spring rates, motion ratios and cg_up"
        super().__init__("would tip over on its springs", way_out)


class TippedOverError(StandingError):
    """A car that does not stand on any three of its wheels with what is put on it."""

    def __init__(self) -> None:
        what = "would tip over, a wheel is off the ground and the other three can't carry it"
        super().__init__(what, "check masses, where they are, and readings")
