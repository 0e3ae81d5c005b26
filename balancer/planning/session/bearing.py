"""How masses bear on the free pattern: what carrying a weigh-in to another state depends on.

Four loads, three equations: how a mass beside the middle is shared out between the diagonals, the
springs decide. To a linear car each mass adds in proportion to its weight and to the moments of
it, so three numbers say it all; rates not quite known leave them open.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.linear import free_pattern
from balancer.car.model import Car, Item
from balancer.car.resting import added_loads

NUDGE = 1e-4
"""Relative change of a rate by which slopes are found."""


def arms(now: Sequence[Item], was: Sequence[Item]) -> Floats:
    """Add up what is on board now and was not, less what was and is not.

    Returns:
        (3,), weight [N], and its moments aft and left [N·m].
    """
    rows = [(item.mass, item.mass * item.aft, item.mass * item.left) for item in now]
    rows += [(-item.mass, -item.mass * item.aft, -item.mass * item.left) for item in was]
    return np.asarray(GRAVITY * np.array(rows, dtype=float).reshape(-1, 3).sum(axis=0))


def bearing(car: Car) -> Floats:
    """Compute how masses bear on the free pattern.

    Args:
        car: A linear one.

    Returns:
        (3,), change of `diagonal.diagonal_load` with weight [m], and with its moments aft and left
        [1]. On a chassis that twists the side moment is taken as midway between the axles.
    """
    pattern, aft = free_pattern(car.tracks), car.wheelbase * np.array([0.0, 1.0, 0.5])
    loads = added_loads(car, np.full(3, 1 / GRAVITY), aft, np.array([0.0, 0.0, 1.0]))
    front, rear, beside = loads @ pattern / (pattern @ pattern)
    return np.array([front, (rear - front) / car.wheelbase, beside - (front + rear) / 2])


def bearing_slopes(car: Car) -> Floats:
    """Give how the bearing changes with the logarithm of each rate.

    Returns:
        (3, 11), with four spring rates, four tire rates, motion ratios of front and rear, and the
        torsional stiffness of the chassis.
    """
    each = [bearing(one) for one in _nudged(car)]
    return np.column_stack(each) / NUDGE - bearing(car)[:, None] / NUDGE


def _nudged(car: Car) -> Iterator[Car]:
    for name in ("spring_rate", "tire_rate"):
        for corner in np.eye(4):
            yield replace(car, **{name: getattr(car, name) * np.exp(NUDGE * corner)})
    for axle in np.repeat(np.eye(2), 2, axis=1):
        yield replace(car, motion_ratio=car.motion_ratio * np.exp(NUDGE * axle))
    yield replace(car, torsional_stiffness=car.torsional_stiffness * np.exp(NUDGE))
