"""What a car teaches at each re-weigh: how far it really answers to a turn.

Spring rates, motion ratios and tire rates in the file are never quite right. Three numbers carry
all of it that matters to a perch plan: the compliance of the free pattern, and the motion ratios of
front and rear; each as the logarithm of true over file. The belief in them is Gaussian. A prior
comes from the uncertainties of the file values; each re-weigh, with the turns made before it,
sharpens it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from balancer.car.adjusters import scaled
from balancer.car.conventions import Floats
from balancer.car.linear import free_pattern, lift, warp_compliance, wheel_rate
from balancer.car.model import Car, Scales

INERT = 1e-6
"""Relative standard uncertainty of a motion ratio that is 1 because there is no spring: none, but
for rounding."""

TURN_SD = 0.02
"""Standard deviation of a turn made by hand [turn]; common practice, no published source."""


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
        mean: (3,), logarithm of true over file value: compliance of the free pattern, front and
            rear motion ratio.
        covariance: (3, 3)
    """

    mean: Floats
    covariance: Floats


class Learned(NamedTuple):
    """What a session has taught so far.

    Attributes:
        level: The free pattern's amount in the loads now [N·m], as readings and turns together
            have it.
        level_uncertainty: Standard uncertainty of that [N·m], from scatter and turns; the pads'
            accuracy is not in it.
    """

    belief: Belief
    level: float
    level_uncertainty: float


def prior(car: Car, sigmas: Sigmas) -> Belief:
    """Carry the uncertainties of the file values to the three numbers.

    Returns:
        First order: a stiffer spring makes the pattern less compliant in proportion to its
        share, a larger motion ratio twice so.

    References:
        JCGM 100:2008, 5.1.2; derived here, see tests/properties/test_learning.py.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> np.sqrt(np.diag(prior(plain_car(), Sigmas()).covariance)).round(3).tolist()
        [0.081, 0.05, 0.05]
    """
    pattern2 = free_pattern(car.tracks) ** 2
    warp = warp_compliance(car)
    springs = pattern2 / wheel_rate(car.spring_rate, car.motion_ratio) / warp
    tires = pattern2 / car.tire_rate / warp
    axles = np.array([springs[:2].sum(), springs[2:].sum()])
    slopes = np.zeros((3, 10))
    slopes[0] = np.concatenate([-springs, -tires, -2 * axles])
    slopes[1, 8] = slopes[2, 9] = 1.0
    spread = np.repeat([sigmas.spring, sigmas.tire, sigmas.motion_ratio], [4, 4, 2])
    if not car.solid.any():
        return Belief(np.zeros(3), (slopes * spread**2) @ slopes.T)
    spread[8:] = np.where(car.solid[[0, 2]], INERT, spread[8:])
    covariance = (slopes * spread**2) @ slopes.T
    covariance[0, 0] += (sigmas.frame / car.torsional_stiffness / warp) ** 2
    return Belief(np.zeros(3), covariance)


def believed(car: Car, belief: Belief) -> Car:
    """Give the car as it is believed to be.

    Args:
        car: As the file has it.

    Returns:
        With motion ratios of the belief, and every rate scaled alike so that the compliance of
        the free pattern is the believed one.

    References:
        Derived here.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> softer = believed(plain_car(), Belief(np.array([0.1, 0.0, 0.0]), np.zeros((3, 3))))
        >>> round(float(np.log(warp_compliance(softer) / warp_compliance(plain_car()))), 9)
        0.1
    """
    stiffer = np.exp(-belief.mean[0])
    ratio = np.where(car.solid, 1.0, car.motion_ratio * np.exp(belief.mean[[1, 1, 2, 2]]))
    springs = stiffer * wheel_rate(car.spring_rate, car.motion_ratio) / ratio**2
    corners = car.corners
    if corners:
        corners = scaled(car, springs / car.spring_rate, ratio / car.motion_ratio)
    return replace(
        car,
        motion_ratio=ratio,
        spring_rate=springs,
        corners=corners,
        links=tuple(link._replace(rate=stiffer * link.rate) for link in car.links),
        tire_rate=stiffer * car.tire_rate,
        bar_rate=stiffer * car.bar_rate,
        torsional_stiffness=stiffer * car.torsional_stiffness,
    )


def diagonal_load(car: Car, loads: Floats) -> float:
    """Measure the free pattern's amount in four loads: nᵀN / nᵀn.

    Args:
        loads: (4,) [N].

    Returns:
        [N·m]. All four pads speak, which makes it surer than the cross weight alone when they
        scatter alike.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> car = plain_car(tracks=(1.5, 1.5))
        >>> round(diagonal_load(car, np.array([10.0, -10.0, -10.0, 10.0])), 9)
        15.0
    """
    pattern = free_pattern(car.tracks)
    return float(pattern @ loads / (pattern @ pattern))


def scatter_of(car: Car, scales: Scales, repeats: int) -> float:
    """Compute how much the measured amount of the free pattern scatters from weighing to weighing.

    Args:
        repeats: Readings that were averaged.

    Returns:
        Standard deviation [N·m] from resolution and repeatability; what the pads get wrong
        every time alike drops out of a difference.

    References:
        JCGM 100:2008, F.2.2.1 and 4.2.3.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> pads = Scales(accuracy=0.01, common_accuracy=0, resolution=0, repeatability=2)
        >>> round(scatter_of(plain_car(tracks=(1.5, 1.5)), pads, 1), 9)
        1.5
    """
    pattern = free_pattern(car.tracks)
    each = scales.resolution**2 / 12 + scales.repeatability**2 / repeats
    return float(np.sqrt(each / (pattern @ pattern)))


def learn(
    car: Car,
    belief: Belief,
    levels: Sequence[float],
    scatters: Sequence[float],
    turns: Sequence[Floats],
    turn_sd: float = TURN_SD,
) -> Learned:
    """Learn from a session: what was weighed, and what was turned in between.

    The unknowns are the three logarithms, the level at the start, and what each set of turns came
    out wrong by. Gauss-Newton on their posterior, with readings, turns and prior weighted by their
    uncertainties.

    Args:
        car: As the file has it.
        belief: Before this session.
        levels, scatters: `diagonal_load` and `scatter_of` each weigh-in [N·m].
        turns: sequence of array (4,), made before each weigh-in but the first; so one fewer.
        turn_sd: Standard deviation of the turns at each corner that was turned [turn].

    References:
        Derived here; held against a Monte Carlo in tests/properties/test_learning.py.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> car, file = plain_car(), prior(plain_car(), Sigmas())
        >>> answer = gain(car, np.zeros(3), np.array([1.0, -1.0, -1.0, 1.0]))
        >>> taught = learn(car, file, [0.0, 0.8 * answer], [0.1, 0.1], [np.array([1.0, -1, -1, 1])])
        >>> bool(taught.belief.mean[0] > 0.05)
        True
    """
    count = len(turns)
    unknowns = np.zeros(4 + count)
    unknowns[:3], unknowns[3] = belief.mean, levels[0]
    precision = np.linalg.inv(belief.covariance)
    # Where nothing was turned nothing came out wrong, but for rounding.
    turn_sds = np.array([max(_hands(car, belief, each, turn_sd), 1e-9) for each in turns])
    weight = 1 / np.array(scatters) ** 2
    moved_by, warp = [_axles(car, each) for each in turns], warp_compliance(car)
    for _ in range(60):
        theta, wrong = unknowns[:3], unknowns[4:]
        parts = [_answers(axles, theta, warp) for axles in moved_by]
        steps, slopes = [float(each.sum()) for each in parts], [_slopes(each) for each in parts]
        rows = np.zeros((count + 1, 4 + count))
        rows[:, 3] = 1.0
        expected = np.full(count + 1, unknowns[3])
        for number in range(count):
            rows[number + 1 :, :3] += slopes[number]
            rows[number + 1 :, 4 + number] = 1.0
            expected[number + 1 :] += steps[number] + wrong[number]
        information = (rows.T * weight) @ rows
        information[:3, :3] += precision
        push = rows.T @ (weight * (np.array(levels) - expected))
        push[:3] -= precision @ (theta - belief.mean)
        information[range(4, 4 + count), range(4, 4 + count)] += 1 / turn_sds**2
        push[4:] -= wrong / turn_sds**2
        moved = np.linalg.solve(information, push)
        # An answer that no turn explains would make whole steps leap to and fro for ever.
        moved *= min(1.0, 0.2 / max(float(np.abs(moved[:3]).max()), 1e-12))
        unknowns += moved
        if np.abs(moved[:3]).max() < 1e-12:
            break
    covariance: Floats = np.asarray(np.linalg.inv(information), dtype=np.float64)
    now = expected[-1] + float(rows[-1] @ moved)
    uncertainty = float(np.sqrt(rows[-1] @ covariance @ rows[-1]))
    return Learned(Belief(unknowns[:3].copy(), covariance[:3, :3]), float(now), uncertainty)


def gain_uncertainty(car: Car, belief: Belief, turns: Floats, turn_sd: float = TURN_SD) -> float:
    """Compute how unsure the answer to turns is.

    Args:
        car: As the file has it.
        turns: (4,)
        turn_sd: Standard deviation of the turns at each corner that is turned [turn].

    Returns:
        Standard uncertainty of `gain` [N·m], from belief and slop.

    References:
        JCGM 100:2008, 5.1.2 and 5.2.2.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> even = np.array([1.0, -1.0, -1.0, 1.0])
        >>> told = gain_uncertainty(plain_car(), prior(plain_car(), Sigmas()), even)
        >>> round(told / gain(plain_car(), np.zeros(3), even), 3)
        0.055
    """
    slopes = _slopes(_parts(car, belief.mean, turns))
    return float(
        np.hypot(np.sqrt(slopes @ belief.covariance @ slopes), _hands(car, belief, turns, turn_sd))
    )


def gain(car: Car, theta: Floats, turns: Floats) -> float:
    """Compute how far turns move the free pattern's amount.

    Args:
        car: As the file has it.
        theta: (3,), logarithms of true over file, as in `Belief`.
        turns: (4,)

    Returns:
        λ = nᵀd / (nᵀ C n + 1/K) [N·m].

    References:
        `linear.load_change`, by which its loads are λ·n.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> round(gain(plain_car(), np.zeros(3), np.array([1.0, 0, 0, 0])), 2)
        24.59
    """
    return float(_parts(car, theta, turns).sum())


def _parts(car: Car, theta: Floats, turns: Floats) -> Floats:
    """Split the gain into what front and rear give."""
    return _answers(_axles(car, turns), theta, warp_compliance(car))


def _axles(car: Car, turns: Floats) -> Floats:
    """Give what turns lift of the free pattern at front and rear, if the file is right."""
    lead = np.nan_to_num(car.perch_lead)
    lifts = free_pattern(car.tracks) * lift(car, lead * turns)
    return np.array([lifts[:2].sum(), lifts[2:].sum()])


def _answers(axles: Floats, theta: Floats, warp: float) -> Floats:
    return np.asarray(axles * np.exp(-theta[1:] - theta[0]) / warp)


def _slopes(parts: Floats) -> Floats:
    """Give how the gain changes with each logarithm."""
    front, rear = parts
    return np.array([-front - rear, -front, -rear])


def _hands(car: Car, belief: Belief, turns: Floats, turn_sd: float) -> float:
    """Give what the turns may come out wrong by [N·m]."""
    each = [gain(car, belief.mean, unit) for unit in np.diag(np.where(turns != 0, turn_sd, 0.0))]
    return float(np.linalg.norm(each))
