"""What can be wrong with the input: every fault found, raised once."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple


def spelled(text: str, keep: str = "") -> str:
    """Spell out what a terminal would obey instead of showing it.

    Parameters
    ----------
    text : str
    keep : str
        Characters to let through, such as a line break in a text of several lines.

    Returns
    -------
    str

    Examples
    --------
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

    Attributes
    ----------
    where : str
        File, line and key, or the option or argument.
    what : str
        What was found there.
    way_out : str
        What to do about it.
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


class UnstableCarError(BalancerError):
    """A car that would tip over on its springs: a rate is too low, or the weight too high up."""

    def __init__(self) -> None:
        super().__init__(
            "the car would tip over on its springs: check spring rates, motion ratios and cg_up"
        )


class StandingError(BalancerError):
    """Corners that can't stand as the file says under the loads that were read.

    Attributes
    ----------
    reasons : tuple of str
        One for each corner: which, why, and a way out.
    """

    def __init__(self, reasons: Iterable[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("\n".join(self.reasons))


class InputError(BalancerError):
    """The input can't be used as it is.

    Attributes
    ----------
    faults : tuple of Fault
        All that was found, in the order of the input.
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    @classmethod
    def one(cls, where: str, what: str, way_out: str) -> InputError:
        """Make the error for a single fault."""
        return cls([Fault(where, what, way_out)])
