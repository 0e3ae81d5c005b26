"""What of a belief the turns have told, and what is still the file's word.

Turns in one proportion tell one number: how far the car answers to them. Which axle it is from,
and whether a spring, a ratio or a tire, they leave to what was believed before.
"""

from collections.abc import Callable

import numpy as np

from balancer.car.conventions import Flags, Floats
from balancer.car.model import Car
from balancer.planning.session.belief import Belief
from balancer.planning.session.diagonal import (
    as_believed,
    gain,
    gain_slopes,
    gain_uncertainty,
    scatter_of,
)

TOLD = 2.0
"""Standard uncertainties that a ratio has to be off the file's before it is told: at so many it is
nearer the truth than the file's five times in six, at one two times in three."""


def told_ratios(belief: Belief) -> Flags:
    """Say which motion ratios, front and rear, are known to be off the file's.

    Returns:
        (2,)

    Examples:
        >>> told_ratios(Belief(np.array([0.0, 0.05, 0.09]), np.diag([0.01, 0.04, 0.04]) ** 2))
        array([False,  True])
    """
    standard = np.sqrt(np.diag(belief.covariance)[1:3])
    return np.asarray(np.abs(belief.mean[1:3]) >= TOLD * standard)


def identified(car: Car, belief: Belief) -> Floats:
    """Put all that was learned where it can be told to be.

    Args:
        car: As the file has it.

    Returns:
        (3,), logarithms as in `Belief`: ratios that are not told are the file's, and the
        compliance makes the car answer to `up_and_down` as it is believed to.
    """
    apart = np.concatenate([[0.0], np.where(told_ratios(belief), belief.mean[1:3], 0.0)])
    turns = up_and_down(car)
    there, whole = gain(car, apart, turns), gain(car, belief.mean, turns)
    if there and whole:
        apart[0] = np.log(there / whole)
    return apart


def answer(car: Car, belief: Belief) -> tuple[float, float]:
    """Compute how the car answers to the same turn at all corners, over what the file says.

    Args:
        car: As the file has it.

    Returns:
        The ratio and its standard uncertainty.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> round(answer(plain_car(), Belief(np.array([0.1, 0.0, 0.0]), np.eye(3)))[0], 3)
        0.905
    """
    turns = up_and_down(car)
    file = gain(car, np.zeros(3), turns)
    if not file:
        return 1.0, 0.0
    unsure = gain_uncertainty(car, belief, turns, turn_sd=0.0)
    return gain(car, belief.mean, turns) / file, unsure / abs(file)


def open_after(
    car: Car, loads: Floats, covariance: Floats | None = None
) -> Callable[[Floats], float]:
    """Say how unsure turns that are made and weighed leave the `answer`, for `aimed_plan`.

    Args:
        car: As it is believed to be.
        loads: (4,), before the turns [N].
        covariance: (n, n) or None, as in `answer_uncertainty`.

    Returns:
        From turns (4,) to a standard uncertainty [1].

    References:
        The linear update of a normal belief by one measurement: what it shares with what is
        measured, over how unsure that is, comes off its variance.
    """
    simple, belief = as_believed(car, loads, covariance)
    same = up_and_down(car)
    wanted, whole = gain_slopes(simple, belief.mean, same), gain(simple, belief.mean, same)
    told = wanted @ belief.covariance
    # Both weigh-ins scatter.
    scatter = 2 * scatter_of(car, car.scales, 1) ** 2

    def left(turns: Floats) -> float:
        shared = float(told @ gain_slopes(simple, belief.mean, turns))
        seen = gain_uncertainty(simple, belief, turns) ** 2 + scatter
        variance = float(told @ wanted) - (shared**2 / seen if seen else 0.0)
        return float(max(variance, 0.0) ** 0.5 / abs(whole)) if whole else 0.0

    return left


def up_and_down(car: Car) -> Floats:
    """Give the same turn up and down at all corners that can be turned."""
    return np.where(car.adjustable, np.array([1.0, -1.0, -1.0, 1.0]), 0.0)
