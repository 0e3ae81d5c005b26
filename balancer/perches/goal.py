"""What the perches are to reach: a cross weight, asked for in one of several ways."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.finite import LARGEST, refuse, unusable
from balancer.car.linear import load_change
from balancer.car.model import Car
from balancer.errors import Fault
from balancer.weighing.uncertainty import shares

TOLERANCE = 0.002
"""Of the cross weight, unless another is asked for [1]."""

HEIGHT_TOLERANCE = 1.5e-3
"""Of the ride heights, unless another is asked for [m]."""

EXACT = 1e-9
"""What a tolerance of 0 comes to [1], [m]: nothing that a pad or a gauge could tell from it, and
room for the last bits of the sums that are held against it."""


@dataclass(frozen=True, eq=False)
class PerchGoal:
    """What the perches are to reach.

    A number that is not one, or that no car could mean, raises an InputError.

    Attributes:
        cross: Cross weight (RF+LR)/total wanted, as a fraction.
        tolerance: Of the cross weight, as a fraction; 0 asks for it exactly.
        rise: (4,), wanted change of ride height at the wheel stations [m].
        height_tolerance: [m]; 0 asks for them exactly.
        keep: Corners that may not be touched.
    """

    cross: float
    tolerance: float
    rise: Floats
    height_tolerance: float
    keep: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        """Refuse what no car could mean, all of it."""
        refuse(self._unusable())

    def _unusable(self) -> Iterator[Fault]:
        share, length = "give a fraction, 0.5 for 50 %", "give meters, 0.0015 for 1.5 mm"
        points = "give a fraction, 0.002 for 0.2 points, or 0 for exactly"
        yield from unusable("cross", self.cross, 0, 1, share)
        yield from unusable("tolerance", self.tolerance, 0, 1, points)
        for corner, rise in zip(CORNERS, self.rise, strict=False):
            yield from unusable(f"rise {corner}", float(rise), -LARGEST, LARGEST, length)
        if len(self.rise) != len(CORNERS):
            yield Fault("rise", f"has {len(self.rise)} values", "give four: LF RF LR RR")
        yield from unusable(
            "height_tolerance", self.height_tolerance, 0, LARGEST, f"{length}, or 0 for exactly"
        )
        for name in sorted(self.keep - set(CORNERS)):
            yield Fault("keep", f"“{name}” is no corner", "give LF, RF, LR or RR")

    @classmethod
    def level(cls, cross: float) -> PerchGoal:
        """Want a cross weight, and the heights as they are, with the usual tolerances."""
        return cls(cross, TOLERANCE, np.zeros(4), HEIGHT_TOLERANCE)


def cross_for_equal_pair(car: Car, loads: Floats, axle: Literal["front", "rear"]) -> float:
    """Compute the cross weight at which the two wheels of an axle carry the same.

    Args:
        loads: (4,) [N].
        axle: `front` or `rear`.

    Returns:
        As a fraction. Perches move the difference of an axle by the free pattern only.

    References:
        Derived here from Bᵀn = 0.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> cross_for_equal_pair(plain_car(), np.array([320.0, 280.0, 200.0, 200.0]), "front")
        0.52
    """
    left, right = (0, 1) if axle == "front" else (2, 3)
    wanted = loads.copy()
    difference = (loads[left] - loads[right]) / 2
    moment = difference * (car.tracks[0] if axle == "front" else -car.tracks[1])
    front, rear = moment / car.tracks
    wanted += np.array([-front, front, rear, -rear])
    return shares(car, wanted).cross


def cross_for_loads(car: Car, loads: Floats, wanted: Floats) -> float:
    """Compute the cross weight of the closest loads to four wanted ones that perches can reach.

    Args:
        loads, wanted: (4,) [N].

    Returns:
        As a fraction; closest by least squares along the free pattern.

    References:
        Derived here.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> loads = np.array([320.0, 280.0, 200.0, 200.0])
        >>> cross_for_loads(plain_car(), loads, np.array([310.0, 290.0, 210.0, 190.0]))
        0.5
    """
    pattern = load_change(car, np.array([1.0, 0.0, 0.0, 0.0]))
    along = pattern @ (wanted - loads) / (pattern @ pattern)
    return shares(car, loads + along * pattern).cross
