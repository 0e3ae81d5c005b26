"""Where a car stands whose bars were measured with one end of a link undone.

Undone, a bar carries nothing, and the car settles without it: the gap that is seen then is more
than the twist that the bar had. So the twist is looked for that would leave that gap.
"""

from dataclasses import replace
from math import isnan, nan

import numpy as np

from balancer.car.adjusters import Moves
from balancer.car.conventions import Floats
from balancer.car.corner import LINKS
from balancer.car.equilibrium import solve_equilibrium
from balancer.car.errors import OperatingPointError, Unfit
from balancer.car.model import Car
from balancer.car.operating_point import OperatingPoint, operating_point

_LITTLE = 1e-6
"""Of twist, by which its effect is measured [m]."""

_CLOSE = 1e-9
"""Of a gap, what nobody misses [m]; the next step would leave far less."""


def standing(car: Car, loads: Floats) -> OperatingPoint:
    """Work out where each corner stands, and how far each bar is twisted.

    Args:
        loads: (4,), as in `operating_point.operating_point` [N].

    Raises:
        OperatingPointError: As there.

    References:
        Newton's method on the gap that a twist leaves; derived here. Held against cvxpy and mujoco
        in tests/oracles.
    """
    seen = np.array([0.0 if isnan(link.misfit) else link.way * link.misfit for link in car.links])
    undone = [axle for axle, link in enumerate(car.links) if link.on and not isnan(link.misfit)]
    twist = np.where(
        [isnan(one.misfit) for one in car.links], [one.twist for one in car.links], seen
    )
    if not undone:
        return operating_point(_twisted(car, twist), loads)
    twist[undone] = 0.0
    return _searched(car, loads, twist, seen, undone)


def _searched(
    car: Car, loads: Floats, twist: Floats, seen: Floats, undone: list[int]
) -> OperatingPoint:
    """Look for the twists (2,) [m] that leave the gaps that were seen (2,) [m]."""

    def missed(there: Floats) -> tuple[OperatingPoint, Floats]:
        point = operating_point(_twisted(car, there), loads)
        return point, np.array([_gap(point, axle) - seen[axle] for axle in undone])

    def nearer(step: Floats) -> tuple[OperatingPoint, Floats]:
        for part in 0.5 ** np.arange(20.0):
            try:
                found = missed(twist + part * step)
            except OperatingPointError:
                continue
            if np.abs(found[1]).max() < np.abs(miss).max():
                twist[:] += part * step
                return found
        raise OperatingPointError([_unfit(axle, seen) for axle in undone])

    point, miss = missed(twist)
    while np.abs(miss).max() > _CLOSE:
        ways = [_LITTLE * np.eye(2)[axle] for axle in undone]
        slope = np.column_stack([missed(twist + way)[1] - miss for way in ways]) / _LITTLE
        step = np.zeros(2)
        step[undone] = -np.linalg.solve(slope, miss)
        point, miss = nearer(step)
    return point


def _unfit(axle: int, seen: Floats) -> Unfit:
    return Unfit(
        "no twist of its bar comes to a gap of {0} with one end of its link undone",
        "check link_misfit, link_ratio and anti_roll_bar",
        (abs(float(seen[axle])),),
        LINKS[axle],
    )


def _gap(point: OperatingPoint, axle: int) -> float:
    """Give how far the left end of a bar comes to be from its link with one end of that undone."""
    rates = point.bar_rate.copy()
    rates[axle] = 0.0
    travel = solve_equilibrium(replace(point, bar_rate=rates), Moves.none()).travel[0, 2 * axle :]
    return float(point.car.links[axle].ratio * (point.misfit[axle] + travel[0] - travel[1]))


def _twisted(car: Car, twist: Floats) -> Car:
    links = zip(car.links, twist.tolist(), strict=True)
    return replace(car, links=tuple(link._replace(twist=one, misfit=nan) for link, one in links))
