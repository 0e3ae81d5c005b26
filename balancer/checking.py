"""What a car file means, so that a slip in it shows."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.equilibrium import Contacts, Moves, contacts, solve_equilibrium
from balancer.car.linear import load_change, ride_frequency, ride_rate, wheel_rate
from balancer.car.linearization import linear
from balancer.car.model import Car
from balancer.car.operating_point import operating_point
from balancer.perches.plan import one_turn
from balancer.perches.turns import PerTurn


@dataclass(frozen=True, eq=False)
class Meaning:
    """What follows from a car file for given loads.

    Attributes:
        loads: (4,) [N].
        assumed: Whether the loads are made up from the class rules, since none were read.
        wheel_rate, ride_rate: (4,) [N/m].
        frequency: (4,) [Hz].
        pad: (4,), change of cross weight when a pad stands 1 mm high [1].
        contacts: What the corners stand on, where the car is not linear and was weighed.
        shock: (4,) or None, how far the shocks are closed from fully extended [m], likewise.
    """

    loads: Floats
    assumed: bool
    wheel_rate: Floats
    ride_rate: Floats
    frequency: Floats
    per_turn: PerTurn
    pad: Floats
    contacts: Contacts | None = None
    shock: Floats | None = None


def meaning(car: Car, loads: Floats | None = None) -> Meaning:
    """Work out what a car file means.

    Args:
        loads: (4,) or None [N]; None: the class minimum (or a ton), split as the class wants
            it, even left to right.

    References:
        See `statics`.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> meaning(plain_car()).frequency.round(1).tolist()
        [1.9, 1.9, 1.7, 1.7]
    """
    assumed = loads is None
    if loads is None:
        front = sum(car.rules.front) / 2 if car.rules.front else 0.5
        weight = (car.rules.minimum or 1000.0) * GRAVITY
        loads = weight / 2 * np.array([front, front, 1 - front, 1 - front])
        # Where it would stand under loads that nobody has read, nobody knows.
        car = replace(car, corners=(), links=())
    point = operating_point(car, loads) if car.corners else None
    simple = linear(point) if point else car
    wheel = wheel_rate(simple.spring_rate, simple.motion_ratio)
    # A millimeter at a pad is too little to leave the stop that a corner stands on.
    pads = load_change(simple, np.eye(4) * 1e-3)
    return Meaning(
        loads=loads,
        assumed=assumed,
        wheel_rate=wheel,
        ride_rate=ride_rate(wheel, car.tire_rate),
        frequency=ride_frequency(simple, loads),
        per_turn=one_turn(car, loads),
        pad=(pads[:, 1] + pads[:, 2]) / loads.sum(),
        contacts=contacts(point, solve_equilibrium(point, Moves.none())).row(0) if point else None,
        shock=point.shock if point else None,
    )
