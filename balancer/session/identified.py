"""What of a belief the turns have told, and what is still the file's word.

Turns in one proportion tell one number: how far the car answers to them. Which axle it is from,
and whether a spring, a ratio or a tire, they leave to what was believed before.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.session.belief import Belief
from balancer.session.learning import Learned, gain, gain_uncertainty, learn

TOLD = 2.0
"""Standard uncertainties that a ratio has to be off the file's before it is told: at so many it is
nearer the truth than the file's five times in six, at one two times in three."""


def told_ratios(belief: Belief) -> NDArray[np.bool_]:
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


def open_after(car: Car, learned: Learned, scatter: float, turns: Floats) -> float:
    """Compute how unsure `answer` is left by turns that are made and weighed as is believed.

    Args:
        scatter: As in `learn` [N·m].
        turns: (4,)
    """
    levels = 0.0, gain(car, learned.belief.mean, turns)
    scatters = max(learned.diagonal_uncertainty, 1e-6), max(scatter, 1e-6)
    return answer(car, learn(car, learned.belief, levels, scatters, [turns]).belief)[1]


def up_and_down(car: Car) -> Floats:
    """Give the same turn up and down at all corners that can be turned."""
    return np.where(car.adjustable, np.array([1.0, -1.0, -1.0, 1.0]), 0.0)
