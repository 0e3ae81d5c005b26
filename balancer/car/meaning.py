"""What a car file means, so that a slip in it shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from balancer.car.answers import PerTurn, ShockTravel
from balancer.car.conventions import GRAVITY, Floats
from balancer.car.leaning import leaned_change
from balancer.car.linear import ride_frequency, ride_rate, wheel_rate
from balancer.car.model import Car
from balancer.car.statics import statics_of, taken_for_linear

if TYPE_CHECKING:
    from balancer.car.answers import Contacts
    from balancer.car.operating_point import OperatingPoint


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
        shock: Where the shocks are, likewise.
        twist: (2,) or None, how much higher the left ends of connected bars stand than where they
            carry nothing [m], likewise.
        left_out: Whether stops and tables of the file are left out, since no loads were read.
    """

    loads: Floats
    assumed: bool
    wheel_rate: Floats
    ride_rate: Floats
    frequency: Floats
    per_turn: PerTurn
    pad: Floats
    contacts: Contacts | None = None
    shock: ShockTravel | None = None
    twist: Floats | None = None
    left_out: bool = False


def meaning(car: Car, loads: Floats | None = None) -> Meaning:
    """Work out what a car file means.

    Args:
        loads: (4,) or None [N]; None: the class minimum (or a ton), split as the class wants
            it, even left to right.

    References:
        See `car.statics`.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> meaning(plain_car()).frequency.round(1).tolist()
        [1.9, 1.9, 1.7, 1.7]
    """
    assumed, as_filed = loads is None, car
    if loads is None:
        front = sum(car.rules.front) / 2 if car.rules.front else 0.5
        weight = (car.rules.minimum or 1000.0) * GRAVITY
        loads = weight / 2 * np.array([front, front, 1 - front, 1 - front])
        # Where it would stand under loads that nobody has read, nobody knows.
        car = taken_for_linear(car)
    statics = statics_of(car, loads)
    simple = statics.linear
    wheel = wheel_rate(simple.spring_rate, simple.motion_ratio)
    # A millimeter at a pad is too little to leave the stop that a corner stands on.
    pads = leaned_change(simple, np.eye(4) * 1e-3, loads)
    return Meaning(
        loads=loads,
        assumed=assumed,
        wheel_rate=wheel,
        ride_rate=ride_rate(wheel, car.tire_rate),
        frequency=ride_frequency(simple, loads),
        per_turn=statics.per_turn(),
        pad=(pads[:, 1] + pads[:, 2]) / loads.sum(),
        contacts=statics.contacts,
        shock=statics.shock,
        twist=_twist(statics.point),
        left_out=car is not as_filed,
    )


def _twist(point: OperatingPoint | None) -> Floats | None:
    if point is None or not point.car.links:
        return None
    return point.misfit * [link.ratio for link in point.car.links]
