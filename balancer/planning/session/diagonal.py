"""The free pattern's amount in four loads: how it is read, and how far turns move it."""

from collections.abc import Callable

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.linear import free_pattern, lift, warp_compliance
from balancer.car.model import Car, Scales
from balancer.car.statics import statics_of
from balancer.planning.session.belief import Belief, Sigmas, answer_prior

TURN_SD = 0.02
"""Standard deviation of a turn made by hand [turn]; common practice, no published source."""


def diagonal_load(car: Car, loads: Floats) -> float:
    """Measure the free pattern's amount in four loads: nᵀN / nᵀn.

    Args:
        loads: (4,) [N].

    Returns:
        [N·m]. All four pads speak, which makes it surer than the cross weight alone when they
        scatter alike.
    """
    pattern = free_pattern(car.tracks)
    return float(pattern @ loads / (pattern @ pattern))


def cross_per_diagonal(car: Car, total: float) -> float:
    """Give the cross weight [1] that a unit of the free pattern's amount is worth.

    Args:
        total: Of the loads [N].
    """
    pattern = free_pattern(car.tracks)
    return float(pattern[1] + pattern[2]) / total


def scatter_of(car: Car, scales: Scales, repeats: int) -> float:
    """Compute how much the measured amount of the free pattern scatters from weighing to weighing.

    Args:
        repeats: Readings that were averaged.

    Returns:
        Standard deviation [N·m] from resolution and repeatability; what the pads get wrong
        every time alike drops out of a difference.

    References:
        JCGM 100:2008, F.2.2.1 and 4.2.3.
    """
    pattern = free_pattern(car.tracks)
    each = scales.resolution**2 / 12 + scales.repeatability**2 / repeats
    return float(np.sqrt(each / (pattern @ pattern)))


def gain(car: Car, theta: Floats, turns: Floats) -> float:
    """Compute how far turns move the free pattern's amount.

    Args:
        car: As the file has it.
        theta: (n,), logarithms of true over file, as in `Belief`; the first three count.
        turns: (4,)

    Returns:
        λ = nᵀd / (nᵀ C n + 1/K) [N·m]: by `linear.load_change` its loads are λ·n.
    """
    return float(_parts(car, theta, turns).sum())


def gain_slopes(car: Car, theta: Floats, turns: Floats) -> Floats:
    """Compute how `gain` changes with each of the first three logarithms.

    Args:
        theta, turns: (n,) and (4,), as in `gain`.

    Returns:
        (3,) [N·m].
    """
    return answer_slopes(_parts(car, theta, turns))


def _parts(car: Car, theta: Floats, turns: Floats) -> Floats:
    """Split the gain into what front and rear give."""
    return axle_answers(axle_lifts(car, turns), theta, warp_compliance(car))


def axle_lifts(car: Car, turns: Floats) -> Floats:
    """Give what turns lift of the free pattern at front and rear, if the file is right.

    Args:
        turns: (4,)

    Returns:
        (2,), nᵀd of each axle [1].
    """
    lead = np.nan_to_num(car.perch_lead)
    lifts = free_pattern(car.tracks) * lift(car, lead * turns)
    return np.array([lifts[:2].sum(), lifts[2:].sum()])


def axle_answers(lifts: Floats, theta: Floats, warp: float) -> Floats:
    """Give how far front and rear each move the free pattern's amount.

    Args:
        lifts: (2,), as `axle_lifts` has them.
        theta: (n,), as in `gain`.
        warp: `linear.warp_compliance` of the car as its file has it [1/(N·m)].

    Returns:
        (2,) [N·m].
    """
    return np.asarray(lifts * np.exp(-theta[1:3] - theta[0]) / warp)


def answer_slopes(parts: Floats) -> Floats:
    """Give how the gain changes with each of the first three logarithms.

    Args:
        parts: (2,), as `axle_answers` has them [N·m].

    Returns:
        (3,) [N·m].
    """
    front, rear = parts
    return np.array([-front - rear, -front, -rear])


def gain_uncertainty(car: Car, belief: Belief, turns: Floats, turn_sd: float = TURN_SD) -> float:
    """Compute how unsure the answer to turns is.

    Args:
        car: As the file has it.
        turns: (4,)
        turn_sd: Standard deviation of the turns at each corner that is turned [turn].

    Returns:
        Standard uncertainty of `gain` [N·m], from belief and hands.

    References:
        JCGM 100:2008, 5.1.2 and 5.2.2.
    """
    slopes = gain_slopes(car, belief.mean, turns)
    unsure = np.sqrt(slopes @ belief.covariance[:3, :3] @ slopes)
    return float(np.hypot(unsure, hands_uncertainty(car, belief, turns, turn_sd)))


def answer_uncertainty(
    car: Car, loads: Floats, covariance: Floats | None = None
) -> Callable[[Floats], float]:
    """Say how unsure turns make the cross weight, for `planning.perches.aim.aimed_plan`.

    Args:
        car: As it is believed to be.
        loads: (4,), before the turns [N].
        covariance: (n, n), of the belief; None: that of a car of which nothing was learned yet.

    Returns:
        From turns (4,) to a standard uncertainty [1].
    """
    simple, belief = as_believed(car, loads, covariance)
    # Cross weight falls as the free pattern grows, or rises: an uncertainty has no sign.
    per_diagonal = abs(cross_per_diagonal(simple, float(loads.sum())))
    return lambda turns: per_diagonal * gain_uncertainty(simple, belief, turns)


def as_believed(car: Car, loads: Floats, covariance: Floats | None) -> tuple[Car, Belief]:
    """Give a car as turns find it, linear and free of stops, and how unsure its answer is.

    Args:
        loads: (4,), before the turns [N].
        covariance: (n, n) or None, as in `answer_uncertainty`.
    """
    unsure = answer_prior(car, Sigmas()) if covariance is None else covariance[:3, :3]
    return statics_of(car, loads).unstopped, Belief(np.zeros(3), unsure)


def hands_uncertainty(car: Car, belief: Belief, turns: Floats, turn_sd: float) -> float:
    """Give what the turns may come out wrong by.

    Args:
        turns: (4,)
        turn_sd: As in `gain_uncertainty` [turn].

    Returns:
        Standard deviation of `gain` [N·m].
    """
    each = [gain(car, belief.mean, unit) for unit in np.diag(np.where(turns != 0, turn_sd, 0.0))]
    return float(np.linalg.norm(each))
