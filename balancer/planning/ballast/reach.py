"""What ballast can reach: every pair of mass added and what of it the front axle carries.

A mass m at x behind the front axle puts m·(1 − x/l) on the front axle, l being the wheelbase: that
follows from moments alone, whatever the springs. So each place gives a triangle of pairs, all of
them together the Minkowski sum of these triangles, and the most ballast allowed cuts it off.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.model import Car


def reach(car: Car, most: float) -> Floats:
    """Give the corners of all that ballast at the places of a car can do.

    Args:
        car: With its places; their rectangles count with every point, their pieces as any mass.
        most: Most ballast in all [kg]; finite where a place takes any mass.

    Returns:
        (n, 2), corners of a convex polygon, counterclockwise from no ballast: mass added, and
        what of it the front axle carries [kg]. The front share with the ballast in is (front +
        what is carried) / (total + mass). Whole pieces reach some points of it.

    Raises:
        ValueError: When there is no end to the mass, or it is negative.

    References:
        Filling the best place first is optimal for one capacity (the continuous knapsack: G. B.
        Dantzig, Discrete-Variable Extremum Problems, Operations Research 5 (1957); value from
        memory). Held against a linear program in tests/oracles/test_ballast_reach.py.
    """
    room = [min(place.most, most) for place in car.places]
    if not all(0 <= each < np.inf for each in room):
        raise ValueError("the ballast has no end: give the most there may be")
    foremost, rearmost = (
        [1 - place.aft[end] / car.wheelbase for place in car.places] for end in (0, 1)
    )
    lowest = _filled(rearmost, room, most)
    ahead = _filled([-share for share in foremost], room, most)
    highest = [(mass, -front) for mass, front in ahead]
    return _corners([*lowest, *highest[:0:-1]])


def _filled(
    per_mass: Sequence[float], room: Sequence[float], most: float
) -> list[tuple[float, float]]:
    """Fill the places, the lowest per mass first, and note each time one is full."""
    corners, mass, front = [(0.0, 0.0)], 0.0, 0.0
    for each, holds in sorted(zip(per_mass, room, strict=True)):
        added = min(holds, most - mass)
        if added > 0:
            mass, front = mass + added, front + added * each
            corners.append((mass, front))
    return corners


def _corners(walked: Sequence[tuple[float, float]]) -> Floats:
    """Leave out corners that are none: where both ways around end in the same point."""
    kept = [walked[0]]
    for before, here in pairwise(walked):
        if not np.allclose(before, here, rtol=1e-12, atol=1e-12):
            kept.append(here)
    if len(kept) > 1 and np.allclose(kept[-1], kept[0], rtol=1e-12, atol=1e-12):
        kept.pop()
    return np.array(kept)
