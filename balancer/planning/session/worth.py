"""What is worth most after a weigh-in: to turn, to let the car settle again, or to stop."""

from typing import Literal, NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.session.scatter import Mixed, _normal

TURN, SETTLE = 0.1, 0.05
"""Chance of being in tolerance that turning, or settling again, and weighing is to bring (common
practice, no published source)."""

_NODES, _SHARES = np.polynomial.hermite_e.hermegauss(21)

What = Literal["stop", "settle", "turn"]


class Turning(NamedTuple):
    """What the turns that are planned do to the cross weight.

    Attributes:
        by: (k,), as each value of the settling has it [1].
        sds: (k,), how unsure that is [1].
        miss: How far from the target they leave it [1].
    """

    by: Floats
    sds: Floats
    miss: float


def worth_most(
    now: Mixed, noise: Floats, always: float, turning: Turning | None, goal: PerchGoal
) -> What:
    """Say what to do, looking one weigh-in ahead.

    Args:
        now: The cross weight, but for what is off at each weigh-in alike.
        noise: (k,), standard deviation of a weigh-in [1].
        always: Standard uncertainty that no weigh-in lowers [1].
        turning: None where there is nothing to turn.
    """
    low, high = goal.cross - goal.tolerance, goal.cross + goal.tolerance
    stop = within(now, always, goal)
    worth: dict[What, float] = {"stop": stop}
    worth["settle"] = _ahead(now, noise, always, turning, (low, high)) - SETTLE
    if turning:
        there = now._replace(means=now.means + turning.by, sds=np.hypot(now.sds, turning.sds))
        after = turning._replace(sds=0 * turning.sds)
        worth["turn"] = _ahead(there, noise, always, after, (low, high)) - TURN
    return max(worth, key=lambda what: worth[what])


def _ahead(
    now: Mixed, noise: Floats, always: float, turning: Turning | None, within: tuple[float, float]
) -> float:
    """Give the chance of being in tolerance after one more weigh-in and what is best then."""
    held = now.weights > 0
    now, noise = Mixed(*(each[held] for each in now)), noise[held]
    shown = np.hypot(now.sds, noise)
    readings = (now.means + shown * _NODES[:, None]).ravel()
    often = (now.weights * _SHARES[:, None]).ravel() / _SHARES.sum()
    off = readings[:, None] - now.means
    weights = now.weights * _normal(off, shown)
    weights /= weights.sum(axis=1, keepdims=True)
    part = now.sds**2 / shown**2
    left = np.hypot(now.sds * np.sqrt(1 - part), always)
    then = Mixed(weights, now.means + part * off, np.broadcast_to(left, weights.shape))
    chance = then.chance(*within)
    if turning:
        middle = sum(within) / 2
        unsure = np.hypot(then.sds, turning.sds[held])
        turned = Mixed(weights, np.full_like(weights, middle + turning.miss), unsure)
        chance = np.maximum(chance, turned.chance(*within) - TURN)
    return float(often @ chance)


def within(now: Mixed, always: float, goal: PerchGoal) -> float:
    """Give the chance that a cross weight is within tolerance.

    Args:
        now: As in `worth_most`.
        always: As in `worth_most` [1].
    """
    low, high = goal.cross - goal.tolerance, goal.cross + goal.tolerance
    return float(now._replace(sds=np.hypot(now.sds, always)).chance(low, high))
