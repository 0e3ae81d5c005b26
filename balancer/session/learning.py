"""What a car teaches at each re-weigh: how far it really answers to a turn.

A belief from before, and each weigh-in with the turns made before it, give one that is sharper.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.linear import free_pattern, lift, warp_compliance
from balancer.car.model import Car, Scales
from balancer.car.statics import statics_of
from balancer.session.belief import Belief, Sigmas, prior

TURN_SD = 0.02
"""Standard deviation of a turn made by hand [turn]; common practice, no published source."""


class Learned(NamedTuple):
    """What a session has taught so far.

    Attributes:
        diagonal: `diagonal_load` now [N·m], as readings and turns together have it.
        diagonal_uncertainty: Standard uncertainty of that [N·m], from scatter and turns; the pads'
            accuracy is not in it.
    """

    belief: Belief
    diagonal: float
    diagonal_uncertainty: float


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


def learn(
    car: Car,
    belief: Belief,
    diagonals: Sequence[float],
    scatters: Sequence[float],
    turns: Sequence[Floats],
    turn_sd: float = TURN_SD,
) -> Learned:
    """Learn from a session: what was weighed, and what was turned in between.

    The unknowns are the three logarithms, the diagonal load at the start, and what each set of
    turns came out wrong by. Gauss-Newton on their posterior, with readings, turns and prior
    weighted by their uncertainties.

    Args:
        car: As the file has it.
        belief: Before this session.
        diagonals, scatters: `diagonal_load` and `scatter_of` each weigh-in [N·m].
        turns: sequence of array (4,), made before each weigh-in but the first; so one fewer.
        turn_sd: Standard deviation of the turns at each corner that was turned [turn].

    References:
        Derived here; held against a Monte Carlo in tests/properties/test_learning.py.
    """
    count = len(turns)
    unknowns = np.zeros(4 + count)
    unknowns[:3], unknowns[3] = belief.mean, diagonals[0]
    precision = np.linalg.inv(belief.covariance)
    # Where nothing was turned nothing came out wrong, but for rounding.
    turn_sds = np.array([max(_hands(car, belief, each, turn_sd), 1e-9) for each in turns])
    weight = 1 / np.array(scatters) ** 2
    moved_by, warp = [_axles(car, each) for each in turns], warp_compliance(car)
    for _ in range(60):
        theta, wrong = unknowns[:3], unknowns[4:]
        expected, rows = _expected(unknowns, moved_by, warp)
        information = (rows.T * weight) @ rows
        information[:3, :3] += precision
        push = rows.T @ (weight * (np.array(diagonals) - expected))
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


def _expected(unknowns: Floats, moved_by: list[Floats], warp: float) -> tuple[Floats, Floats]:
    """Give the diagonal load expected at each weigh-in, and its change with each unknown."""
    count = len(moved_by)
    rows = np.zeros((count + 1, 4 + count))
    rows[:, 3] = 1.0
    expected = np.full(count + 1, unknowns[3])
    for number, axles in enumerate(moved_by):
        answers = _answers(axles, unknowns[:3], warp)
        rows[number + 1 :, :3] += _slopes(answers)
        rows[number + 1 :, 4 + number] = 1.0
        expected[number + 1 :] += float(answers.sum()) + unknowns[4 + number]
    return expected, rows


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
    slopes = _slopes(_parts(car, belief.mean, turns))
    return float(
        np.hypot(np.sqrt(slopes @ belief.covariance @ slopes), _hands(car, belief, turns, turn_sd))
    )


def answer_uncertainty(
    car: Car, loads: Floats, covariance: Floats | None = None
) -> Callable[[Floats], float]:
    """Say how unsure turns make the cross weight, for `perches.aim.aimed_plan`.

    Args:
        car: As it is believed to be.
        loads: (4,), before the turns [N].
        covariance: (3, 3), of the belief; None: that of a car of which nothing was learned yet.

    Returns:
        From turns (4,) to a standard uncertainty [1].
    """
    simple = statics_of(car, loads).unstopped
    unsure = prior(car, Sigmas()).covariance if covariance is None else covariance
    per_diagonal, belief = (
        cross_per_diagonal(simple, float(loads.sum())),
        Belief(np.zeros(3), unsure),
    )
    return lambda turns: per_diagonal * gain_uncertainty(simple, belief, turns)


def gain(car: Car, theta: Floats, turns: Floats) -> float:
    """Compute how far turns move the free pattern's amount.

    Args:
        car: As the file has it.
        theta: (3,), logarithms of true over file, as in `Belief`.
        turns: (4,)

    Returns:
        λ = nᵀd / (nᵀ C n + 1/K) [N·m]: by `linear.load_change` its loads are λ·n.
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
