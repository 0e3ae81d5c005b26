"""Numbers handed over by a program: what no car could mean is refused before it is compared.

A comparison with NaN is false and nothing else happens: a rule would vanish without a word.
"""

import sys
from collections.abc import Iterator, Sequence

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import Fault, refuse

LARGEST = sys.float_info.max
"""The end of a range that leaves out infinity."""


def unusable(where: str, value: float, low: float, high: float, way_out: str) -> list[Fault]:
    """Find a number that is not one, or lies outside a range.

    Args:
        where: What to call it.
        value: A number, of any unit.
        low, high: Both within, in the unit of `value`; no bound for an infinite one.
        way_out: What is expected.

    Returns:
        Of one, or empty.

    Examples:
        >>> print(*unusable("left", 50.0, 0, 1, "give a fraction, 0.5 for 50 %"))
        left: is 50: give a fraction, 0.5 for 50 %
    """
    return [] if low <= value <= high else [Fault(where, f"is {value:g}", way_out)]


def refuse_uncertainty(where: str, value: float) -> None:
    """Raise when a standard uncertainty is negative or not finite.

    Args:
        where: What to call it.
        value: A number, of any unit.

    Raises:
        InputError: One fault, at `where`.

    Examples:
        >>> refuse_uncertainty("total_uncertainty", 0.0)
    """
    refuse(unusable(where, value, 0.0, LARGEST, "an uncertainty is 0 or more, and finite"))


Loads = Sequence[float] | Floats


def checked(loads: Loads, where: str = "loads") -> Floats:
    """Take four loads as they are handed over by a program.

    Args:
        loads: four numbers, LF RF LR RR [N].
        where: What to call them in a fault.

    Raises:
        InputError: With a fault for each that no pad shows.

    Examples:
        >>> checked([2500, 2500, 2500])
        Traceback (most recent call last):
        balancer.car.errors.InputError: loads: has 3 values: give four in newtons: LF RF LR RR
    """
    values = np.asarray(loads, dtype=float)
    refuse(_faults(values, where))
    return values


def _faults(values: Floats, where: str) -> Iterator[Fault]:
    if values.shape != (len(CORNERS),):
        yield Fault(where, f"has {values.size} values", "give four in newtons: LF RF LR RR")
        return
    for corner, value in zip(CORNERS, values.tolist(), strict=True):
        yield from unusable(f"{where} {corner}", value, 0, LARGEST, "give newtons, 0 or more")
