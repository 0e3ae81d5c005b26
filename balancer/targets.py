"""What the perches are to reach: a cross weight, asked for in one of several ways."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from balancer.car import Car, Floats
from balancer.doubt import shares
from balancer.statics import load_change

TOLERANCE = 0.002
"""Of the cross weight, unless another is asked for [1]."""

HEIGHT_TOLERANCE = 1.5e-3
"""Of the ride heights, unless another is asked for [m]."""


@dataclass(frozen=True, eq=False)
class PerchGoal:
    """What the perches are to reach.

    Attributes
    ----------
    cross : float
        Cross weight (RF+LR)/total wanted, as a fraction.
    tolerance : float
        Of the cross weight, as a fraction.
    rise : array (4,)
        Wanted change of ride height at the wheel stations [m].
    height_tolerance : float
        [m].
    keep : frozenset of str
        Corners that may not be touched.
    """

    cross: float
    tolerance: float
    rise: Floats
    height_tolerance: float
    keep: frozenset[str] = frozenset()

    @classmethod
    def level(cls, cross: float) -> PerchGoal:
        """Want a cross weight, and the heights as they are, with the usual tolerances."""
        return cls(cross, TOLERANCE, np.zeros(4), HEIGHT_TOLERANCE)


def cross_for_equal_pair(car: Car, loads: Floats, axle: Literal["front", "rear"]) -> float:
    """Compute the cross weight at which the two wheels of an axle carry the same.

    Parameters
    ----------
    car : Car
    loads : array (4,)
        [N].
    axle : str
        `front` or `rear`.

    Returns
    -------
    float
        As a fraction. Perches move the difference of an axle by the free pattern only.

    References
    ----------
    Derived here from Bᵀn = 0.

    Examples
    --------
    >>> from balancer.car import plain_car
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

    Parameters
    ----------
    car : Car
    loads, wanted : array (4,)
        [N].

    Returns
    -------
    float
        As a fraction; closest by least squares along the free pattern.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> loads = np.array([320.0, 280.0, 200.0, 200.0])
    >>> cross_for_loads(plain_car(), loads, np.array([310.0, 290.0, 210.0, 190.0]))
    0.5
    """
    pattern = load_change(car, np.array([1.0, 0.0, 0.0, 0.0]))
    along = pattern @ (wanted - loads) / (pattern @ pattern)
    return shares(car, loads + along * pattern).cross
