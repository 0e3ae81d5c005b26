"""What a car file means, so that a slip in it shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from balancer.car import GRAVITY, Car, Floats
from balancer.statics import load_change, ride_frequency, ride_rate, wheel_rate
from balancer.turns import PerTurn, per_turn


@dataclass(frozen=True, eq=False)
class Meaning:
    """What follows from a car file for given loads.

    Attributes
    ----------
    loads : array (4,)
        [N].
    assumed : bool
        Whether the loads are made up from the class rules, since none were read.
    wheel_rate, ride_rate : array (4,)
        [N/m].
    frequency : array (4,)
        [Hz].
    per_turn : PerTurn
    pad : array (4,)
        Change of cross weight when a pad stands 1 mm high [1].
    """

    loads: Floats
    assumed: bool
    wheel_rate: Floats
    ride_rate: Floats
    frequency: Floats
    per_turn: PerTurn
    pad: Floats


def meaning(car: Car, loads: Floats | None = None) -> Meaning:
    """Work out what a car file means.

    Parameters
    ----------
    car : Car
    loads : array (4,) or None
        [N]; None: the class minimum (or a ton), split as the class wants it, even left to right.

    Returns
    -------
    Meaning

    References
    ----------
    See `statics`.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> meaning(plain_car()).frequency.round(1).tolist()
    [1.9, 1.9, 1.7, 1.7]
    """
    assumed = loads is None
    if loads is None:
        front = sum(car.rules.front) / 2 if car.rules.front else 0.5
        weight = (car.rules.minimum or 1000.0) * GRAVITY
        loads = weight / 2 * np.array([front, front, 1 - front, 1 - front])
    wheel = wheel_rate(car.spring_rate, car.motion_ratio)
    pads = load_change(car, np.eye(4) * 1e-3)
    return Meaning(
        loads=loads,
        assumed=assumed,
        wheel_rate=wheel,
        ride_rate=ride_rate(wheel, car.tire_rate),
        frequency=ride_frequency(car, loads),
        per_turn=per_turn(car, loads),
        pad=(pads[:, 1] + pads[:, 2]) / loads.sum(),
    )
