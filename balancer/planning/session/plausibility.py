"""Suspect readings: a new one seen against what the last one and the turns let expect.

A total that jumps, two pads typed for each other, a digit lost: each is possible and each is asked
about before it is believed. Common practice, no published source.
"""

from collections.abc import Sequence
from itertools import combinations
from typing import Literal, NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, Floats

FAR = 0.04
"""Of a pad's expected load: nothing turned at the pads explains more."""

JUMP = 0.02
"""Of the total: a jump that no refueling between two weigh-ins explains."""


class Suspect(NamedTuple):
    """What a reading looks like instead.

    Attributes:
        kind: `swapped` (two pads), `sides` (left and right), `rows` (front and rear), `digit` or
            `total`; `turns` where it is them that look unlike what was made, `unturned` where it
            reads as before them.
        pads: Where.
        meant: (4,), the loads that may have been meant [N]; the expected ones where only the
            total jumped.
    """

    kind: Literal["swapped", "sides", "rows", "digit", "total", "turns", "unturned"]
    pads: tuple[str, ...]
    meant: Floats


def suspect_reading(loads: Floats, expected: Floats) -> Suspect | None:
    """Find the likeliest mistake in a reading.

    Args:
        loads, expected: (4,), as typed, and as expected from before [N].

    Returns:
        None when the reading is near enough to what was expected.
    """
    if _near(loads, expected):
        return None
    candidates = []
    for first, second in combinations(range(4), 2):
        swapped = loads.copy()
        swapped[[first, second]] = loads[[second, first]]
        candidates.append(Suspect("swapped", (CORNERS[first], CORNERS[second]), swapped))
    for pad in range(4):
        for factor in (10.0, 0.1):
            scaled = loads.copy()
            scaled[pad] *= factor
            candidates.append(Suspect("digit", (CORNERS[pad],), scaled))
        mended = loads.copy()
        mended[pad] = expected[pad]
        if abs(loads[pad] - expected[pad]) > 2 * FAR * expected[pad]:
            candidates.append(Suspect("digit", (CORNERS[pad],), mended))
    likely = [suspect for suspect in candidates if _near(suspect.meant, expected)]
    if likely:
        return min(likely, key=lambda suspect: float(np.abs(suspect.meant - expected).max()))
    if abs(loads.sum() - expected.sum()) > JUMP * expected.sum():
        return Suspect("total", (), expected)
    return None


ORDER = 0.006
"""Of the total: masses on the wrong side or row beyond what a season moves."""

_ORDERS: tuple[tuple[Literal["swapped", "sides", "rows"], tuple[str, ...], list[int]], ...] = (
    ("swapped", ("LF", "RF"), [1, 0, 2, 3]),
    ("swapped", ("LR", "RR"), [0, 1, 3, 2]),
    ("sides", CORNERS, [1, 0, 3, 2]),
    ("rows", CORNERS, [2, 3, 0, 1]),
)


def other_order(loads: Floats, before: Sequence[Floats], pattern: Floats) -> Suspect | None:
    """Find pads typed in another order than all weigh-ins before were.

    Perches move loads along the free pattern only; what else has moved is mass, or the order.

    Args:
        loads: (4,) [N].
        before: Of weigh-ins in the same state [N].
        pattern: The free pattern of the car, (4,).
    """
    if not before:
        return None
    along = np.outer(pattern, pattern) / (pattern @ pattern)

    def off(four: Floats) -> float:
        """Give the least that four loads are from any before, but for what perches do."""
        moved = (four / four.sum() - one / one.sum() for one in before)
        return min(float(np.linalg.norm(each - along @ each)) for each in moved)

    typed = off(loads)
    found = [(off(loads[order]), kind, pads, order) for kind, pads, order in _ORDERS]
    nearest, kind, pads, order = min(found, key=lambda each: each[0])
    if typed < ORDER or nearest > typed / 3:
        return None
    return Suspect(kind, pads, loads[order])


def odd_pad(loads: Floats) -> Suspect | None:
    """Find a pad that no car would have, where nothing is known from before.

    Args:
        loads: (4,) [N].
    """
    for pad in range(4):
        # The median: a mean would let one wrong pad put the blame on a light one.
        others = float(np.median(np.delete(loads, pad)))
        for factor in (10.0, 0.1):
            if not 0.25 < loads[pad] / others < 4 and 0.25 < factor * loads[pad] / others < 4:
                meant = loads.copy()
                meant[pad] *= factor
                return Suspect("digit", (CORNERS[pad],), meant)
    return None


def _near(loads: Floats, expected: Floats) -> bool:
    close = np.abs(loads - expected) <= FAR * expected
    return bool(close.all() and abs(loads.sum() - expected.sum()) <= JUMP * expected.sum())
