"""What is believed of a car: how far what its file says is from the truth.

Spring rates, motion ratios and tire rates in the file are never quite right. Three numbers carry
all of it that matters to a perch plan: the compliance of the free pattern, and the motion ratios of
front and rear; each as the logarithm of true over file. How masses bear on the car goes with them.
The belief is Gaussian.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.linear import free_pattern, warp_compliance, wheel_rate
from balancer.car.model import Car, Item
from balancer.car.rates import with_rates
from balancer.car.resting import added_loads
from balancer.planning.session.bearing import arms, bearing, bearing_slopes
from balancer.planning.session.scatter import USUAL

INERT = 1e-6
"""Relative standard uncertainty of a motion ratio that is 1 because there is no spring: none, but
for rounding."""


_NEARER = 4
"""Steps that bring how masses bear to what is believed of it, to far below what anybody knows."""


class Sigmas(NamedTuple):
    """Relative standard uncertainties of what the file says of springs, ratios and tires.

    Springs and tires differ corner by corner, motion ratios axle by axle. The usual values are
    those of a file filled in with some care (common practice, no published source). The twist of
    the frame counts on a car with an unsprung axle, where it is much of what gives way.
    """

    spring: float = 0.08
    motion_ratio: float = 0.05
    tire: float = 0.15
    frame: float = 0.3


class Belief(NamedTuple):
    """What is believed of a car.

    Attributes:
        mean: (6,), logarithm of true over file value: compliance of the free pattern, front and
            rear motion ratio; then how far `bearing` is off what the file says. (3,) where
            nothing is carried from state to state.
        covariance: (6, 6) or (3, 3)
        file: (6, 6), covariance before anything was learned, if the file is as sure as was said;
            None where that is not asked.
        wrong: How many times as far off it turned out to be.
        settling: (k,), weights of `scatter.SETTLING`: how it comes to rest.
    """

    mean: Floats
    covariance: Floats
    file: Floats | None = None
    wrong: float = 1.0
    settling: Floats = USUAL


def prior(car: Car, sigmas: Sigmas) -> Belief:
    """Carry the uncertainties of the file values to the numbers believed in, to first order.

    A stiffer spring makes the pattern less compliant in proportion to its share, a larger motion
    ratio twice so.

    References:
        JCGM 100:2008, 5.1.2; derived here, see tests/properties/test_learning.py.
    """
    slopes = np.vstack([_answer_slopes(car), bearing_slopes(car)])
    covariance = (slopes * _spread(car, sigmas) ** 2) @ slopes.T
    # A car on few rates has less to be unsure of than there are numbers.
    covariance[range(3, 6), range(3, 6)] += INERT**2
    return Belief(np.zeros(6), covariance, covariance)


def answer_prior(car: Car, sigmas: Sigmas) -> Floats:
    """Give the covariance (3, 3) of the first three numbers of the `prior`, without the rest."""
    slopes = _answer_slopes(car)
    return np.asarray((slopes * _spread(car, sigmas) ** 2) @ slopes.T)


def _answer_slopes(car: Car) -> Floats:
    pattern2 = free_pattern(car.tracks) ** 2
    warp = warp_compliance(car)
    springs = pattern2 / wheel_rate(car.spring_rate, car.motion_ratio) / warp
    tires = pattern2 / car.tire_rate / warp
    axles = np.array([springs[:2].sum(), springs[2:].sum()])
    frame = 1 / car.torsional_stiffness / warp
    slopes = np.zeros((3, 11))
    slopes[0] = np.concatenate([-springs, -tires, -2 * axles, [-frame]])
    slopes[1, 8] = slopes[2, 9] = 1.0
    return slopes


def _spread(car: Car, sigmas: Sigmas) -> Floats:
    spread = np.repeat([sigmas.spring, sigmas.tire, sigmas.motion_ratio], [4, 4, 2])
    if car.solid.any():
        spread[8:] = np.where(car.solid[[0, 2]], INERT, spread[8:])
    return np.append(spread, sigmas.frame if car.solid.any() else 0.0)


def believed(car: Car, belief: Belief) -> Car:
    """Give the car as it is believed to be.

    Args:
        car: As the file has it.

    Returns:
        With motion ratios of the belief, and every rate scaled alike so that the compliance of
        the free pattern is the believed one; springs shifted among themselves by as little as has
        masses bear on it as is believed.
    """
    now = _scaled(car, belief)
    if belief.file is None or not belief.mean.any():
        return now
    wanted, warp = bearing(car) + belief.mean[3:], warp_compliance(now)
    size = np.sqrt(np.diag(belief.file)[3:])
    slopes = np.where(car.solid, 0.0, bearing_slopes(now)[:, :4]) / size[:, None]
    inverse = np.linalg.pinv(slopes, rcond=1e-6)
    for _ in range(_NEARER):
        shift = inverse @ ((wanted - bearing(now)) / size)
        now = with_rates(now, now.spring_rate * np.exp(shift), now.motion_ratio)
        # Scaled all alike, rates bear as before.
        stiffer = warp_compliance(now) / warp
        now = with_rates(now, stiffer * now.spring_rate, now.motion_ratio, stiffer)
    return now


def _scaled(car: Car, belief: Belief) -> Car:
    stiffer = np.exp(-belief.mean[0])
    ratio = np.where(car.solid, 1.0, car.motion_ratio * np.exp(belief.mean[[1, 1, 2, 2]]))
    springs = stiffer * wheel_rate(car.spring_rate, car.motion_ratio) / ratio**2
    return with_rates(car, springs, ratio, stiffer)


def carry_uncertainty(
    car: Car, now: Sequence[Item], was: Sequence[Item], learned: Floats | None = None
) -> float:
    """Compute how unsure rates not quite known leave the diagonal in another state.

    They share out between front and rear what a mass beside the middle bears on the car.

    Args:
        car: A linear one.
        now, was: What is on board.
        learned: (6, 6) or None, covariance of what is believed of the car.

    Returns:
        Standard uncertainty of what RF and LR carry together [N].

    References:
        JCGM 100:2008, 5.1.2; slopes by differences.
    """
    if learned is not None and len(learned) > 3:
        moved, pattern = arms(now, was), free_pattern(car.tracks)
        variance = max(float(moved @ learned[3:, 3:] @ moved), 0.0)
        return float(abs(pattern[1] + pattern[2]) * np.sqrt(variance))

    masses = np.array([item[1:4] for item in (*now, *was)], dtype=np.float64).reshape(-1, 3)

    def diagonal(springs: Floats, ratios: Floats, tires: Floats) -> float:
        other = replace(
            car,
            spring_rate=car.spring_rate * springs,
            motion_ratio=car.motion_ratio * ratios,
            tire_rate=car.tire_rate * tires,
        )
        put = added_loads(other, *masses.T)
        moved = put[: len(now)].sum(axis=0) - put[len(now) :].sum(axis=0)
        return float(moved[1] + moved[2])

    one, sigmas = np.ones(4), Sigmas()
    corners, axles = np.eye(4), np.repeat(np.eye(2), 2, axis=1)
    rates = [(one + sigmas.spring * each, one, one) for each in corners]
    rates += [(one, one + sigmas.motion_ratio * each, one) for each in axles]
    rates += [(one, one, one + sigmas.tire * each) for each in corners]
    middle = diagonal(one, one, one)
    return float(np.linalg.norm([diagonal(*each) - middle for each in rates]))
