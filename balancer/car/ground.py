"""A linear car one of whose wheels is off the ground: pads only push.

A car that is tied to the ground answers in closed form, one thing on top of another, and its wheels
may pull. How it really stands follows from that: the wheel that would have to pull hangs, and the
other three carry the car.
"""

from typing import NamedTuple

import numpy as np

from balancer.car.body import body_basis, twist_stiffness
from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import TippedOverError
from balancer.car.leaning import softening
from balancer.car.linear import compliance
from balancer.car.model import Car
from balancer.car.resting import stands


class Standing(NamedTuple):
    """A car on pads that only push.

    Attributes:
        loads: (4,), 0 at a wheel that is off the ground [N].
        rise: (4,), how far the body stands above each wheel station, over where it would stand if
            all wheels were tied down [m].
    """

    loads: Floats
    rise: Floats


def standing(car: Car, tied: Floats) -> Standing:
    """Find how a car stands that would have to pull on a pad.

    Args:
        car: A linear one.
        tied: (4,), as loads add up to where all wheels are tied to the ground [N].

    Returns:
        These loads where none is below 0. Without droop stops, which a linear car has none of, a
        wheel in the air hangs on its spring.

    Raises:
        TippedOverError: Where it does not stand on any three of its wheels.

    References:
        Springs that only push have one rest, the minimum of a convex energy; derived here, held
        against mujoco in tests/oracles/test_leaning.py.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> stands = standing(plain_car(), np.array([-100.0, 2600.0, 2600.0, 2400.0]))
        >>> stands.loads.round().tolist(), (1e3 * stands.rise).round(1).tolist()
        ([0.0, 2500.0, 2500.0, 2500.0], [9.7, 2.9, 3.4, -3.4])
    """
    if not off_the_ground(tied):
        return Standing(tied, np.zeros(4))
    for wheel in range(4):
        if found := _without(car, tied, wheel):
            return found
    raise TippedOverError


def _without(car: Car, tied: Floats, wheel: int) -> Standing | None:
    """Stand on the other three wheels; None where they won't have it, or it would touch down."""
    others = [one for one in range(4) if one != wheel]
    gives, basis = compliance(car), body_basis(car)
    held = twist_stiffness(car) - np.diag(softening(car, tied))
    # C·ΔN + B·q = 0 at the wheels that stay down, and Bᵀ·ΔN - held·q = 0.
    system = np.block([[gives[np.ix_(others, others)], basis[others]], [basis[others].T, -held]])
    hangs = -tied[wheel]
    pushed = np.concatenate([gives[others, wheel], basis[wheel]]) * -hangs
    found = np.linalg.solve(system, pushed)
    change = np.insert(found[:3], wheel, hangs)
    rise = basis @ found[3:]
    gap = gives[wheel] @ change + rise[wheel]
    loads = tied + change
    loads[wheel] = 0.0
    if gap < 0 or loads.min() < 0 or not stands(system, len(held)):
        return None
    return Standing(loads, rise)


def off_the_ground(loads: Floats) -> tuple[str, ...]:
    """Name the wheels that are off the ground, or would have to pull on it.

    Args:
        loads: (4,) [N].

    Returns:
        Those that pull, or carry nothing at all since `standing` took them off.
    """
    # What is left of a sum that should be nothing is no pull.
    slack = 1e-9 * np.abs(loads).sum()
    each = zip(CORNERS, loads, strict=True)
    return tuple(name for name, load in each if load < -slack or load == 0)
