"""What a car teaches at each re-weigh: how far it really answers to a turn.

A belief from before, and each weigh-in with the turns made before it, give one that is sharper.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import hypot
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.linear import free_pattern, lift, warp_compliance
from balancer.car.model import Car, Scales
from balancer.car.statics import statics_of
from balancer.planning.session.belief import Belief, Sigmas, answer_prior

FILES = 1.0
"""How much it counts that files are as sure as `Sigmas` says, in numbers that agree with them; our
choice: cars known well are not made less sure by it, and half of what a guess hides is seen."""

REAL_CORNERS_SD = 0.03
"""Standard deviation of how a car on real corners answers from what a scaled file says, over the
answer: stops, tables and ratios that change are not wrong all alike. Of cars of
tests/oracles/stopped_random.py whose rates and ratios are 5 % wrong; some are off by 0.15."""

TURN_SD = 0.02
"""Standard deviation of a turn made by hand [turn]; common practice, no published source."""


class Learned(NamedTuple):
    """What a session has taught so far.

    Attributes:
        diagonal: `diagonal_load` now [N·m], as readings and turns together have it.
        diagonal_uncertainty: Standard uncertainty of that [N·m], from scatter, turns and what was
            carried; the pads' accuracy is not in it.
        read_uncertainty: What it would be if how masses bear were known [N·m].
        with_bearing: (3,), its covariance with how masses bear, in N·m and units of that; (0,)
            where nothing is believed of it.
    """

    belief: Belief
    diagonal: float
    diagonal_uncertainty: float
    read_uncertainty: float
    with_bearing: Floats

    def shown(self, carried: Floats) -> tuple[float, float]:
        """Say what pads would show now, once that is carried by the file.

        Args:
            carried: (3,), as in `learn`.

        Returns:
            `diagonal_load` and its standard uncertainty without that of the pads [N·m].
        """
        arms = carried[: len(self.with_bearing)]
        bearing, unsure = self.belief.mean[3:], self.belief.covariance[3:, 3:]
        more = float(arms @ unsure @ arms - 2 * arms @ self.with_bearing)
        variance = max(self.diagonal_uncertainty**2 + more, 0.0)
        return self.diagonal - float(arms @ bearing), float(np.sqrt(variance))


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
    carried: Sequence[Floats] = (),
    answer_sd: float = 0.0,
) -> Learned:
    """Learn from a session: what was weighed, and what was turned in between.

    The unknowns are those of the belief, the diagonal load at the start, and what each set of
    turns came out wrong by. Gauss-Newton on their posterior, with readings, turns and prior
    weighted by their uncertainties. A car that turns out further from its file than those have it
    has a file that is worse than usual in all that turns don't tell, too.

    Args:
        car: As the file has it.
        belief: Before this session.
        diagonals, scatters: `diagonal_load` and `scatter_of` each weigh-in [N·m].
        turns: sequence of array (4,), made before each weigh-in but the first; so one fewer.
        turn_sd: Standard deviation of the turns at each corner that was turned [turn].
        carried: sequence of array (3,), `bearing.arms` of what each weigh-in was carried by;
            left out: all are as read.
        answer_sd: Standard deviation of an answer from what three numbers make of it, over the
            answer [1].

    References:
        Derived here; held against a Monte Carlo in tests/properties/test_learning.py.
    """
    count, size = len(turns), len(belief.mean)
    unknowns = np.zeros(size + 1 + count)
    unknowns[:size], unknowns[size] = belief.mean, diagonals[0]
    known = _Known.of(belief)

    def off(made: Floats) -> float:
        answer = gain(car, belief.mean, made)
        return hypot(_hands(car, belief, made, turn_sd), answer_sd * answer)

    # Where nothing was turned nothing came out wrong, but for rounding.
    turn_sds = np.array([max(off(each), 1e-9) for each in turns])
    weight = 1 / np.array(scatters) ** 2
    moved_by, warp = [_axles(car, each) for each in turns], warp_compliance(car)
    # What masses bear more than the file has it is missing in what was carried.
    borne = -np.array(carried) if len(carried) else np.zeros((count + 1, 3))
    for _ in range(60):
        theta, wrong = unknowns[:size], unknowns[size + 1 :]
        levels, rows = _levels(unknowns, size, moved_by, warp)
        shown = rows.copy()
        shown[:, 3:size] = borne[:, : size - 3]
        information = (shown.T * weight) @ shown
        information[:size, :size] += known.precision
        expected = levels + shown[:, 3:size] @ theta[3:]
        push = shown.T @ (weight * (np.array(diagonals) - expected))
        push[:size] += known.pull - known.precision @ theta
        information[range(size + 1, len(push)), range(size + 1, len(push))] += 1 / turn_sds**2
        push[size + 1 :] -= wrong / turn_sds**2
        covariance = _inverse(information)
        moved = covariance @ push
        # An answer that no turn explains would make whole steps leap to and fro for ever.
        moved *= min(1.0, 0.2 / max(float(np.abs(moved[:3]).max()), 1e-12))
        unknowns += moved
        before, known = known, known.in_view_of(unknowns[:size], covariance[:size, :size])
        if np.abs(moved[:3]).max() < 1e-12 and abs(known.wrong - before.wrong) < 1e-9:
            break
    now, row = float(levels[-1] + rows[-1] @ moved), rows[-1]
    settled = np.delete(np.arange(len(unknowns)), range(3, size))
    read = _inverse(information[np.ix_(settled, settled)])
    return Learned(
        belief._replace(
            mean=unknowns[:size].copy(), covariance=covariance[:size, :size], wrong=known.wrong
        ),
        now,
        float(np.sqrt(row @ covariance @ row)),
        float(np.sqrt(row[settled] @ read @ row[settled])),
        (row @ covariance)[3:size],
    )


class _Known(NamedTuple):
    """What is known before a session: from the file, and from turns.

    Attributes:
        told: (n, n), what turns have told, as a precision.
        pull: (n,), the precision times the mean.
        file: (n, n), what the file tells, as a precision, if it is as good as usual; None: not
            known.
        wrong: How many times as far off it is [1].
    """

    told: Floats
    pull: Floats
    file: Floats | None
    wrong: float

    @classmethod
    def of(cls, belief: Belief) -> _Known:
        precision = _inverse(belief.covariance)
        pull = precision @ belief.mean
        if belief.file is None:
            return cls(precision, pull, None, 1.0)
        file = _inverse(belief.file)
        return cls(precision - file / belief.wrong**2, pull, file, belief.wrong)

    @property
    def precision(self) -> Floats:
        return self.told if self.file is None else self.told + self.file / self.wrong**2

    def in_view_of(self, mean: Floats, covariance: Floats) -> _Known:
        """Judge the file by how far what was learned is from it, as numbers told allow.

        The most likely scale, if one that was seen `FILES` times before was as usual; a file is
        never taken for better than usual.
        """
        if self.file is None:
            return self
        told = len(mean) - float(np.sum(covariance * self.file)) / self.wrong**2
        off = float(mean @ self.file @ mean)
        return self._replace(wrong=max(1.0, float(np.sqrt((FILES + off) / (FILES + told)))))


def _inverse(matrix: Floats) -> Floats:
    """Invert a precision or covariance, whose numbers may be of any size."""
    scale = 1 / np.sqrt(np.diag(matrix))
    return np.asarray(np.linalg.inv(matrix * np.outer(scale, scale)) * np.outer(scale, scale))


def _levels(
    unknowns: Floats, size: int, moved_by: list[Floats], warp: float
) -> tuple[Floats, Floats]:
    """Give the diagonal load at each weigh-in, and its change with each unknown."""
    count = len(moved_by)
    rows = np.zeros((count + 1, len(unknowns)))
    rows[:, size] = 1.0
    levels = np.full(count + 1, unknowns[size])
    for number, axles in enumerate(moved_by):
        answers = _answers(axles, unknowns[:3], warp)
        rows[number + 1 :, :3] += _slopes(answers)
        rows[number + 1 :, size + 1 + number] = 1.0
        levels[number + 1 :] += float(answers.sum()) + unknowns[size + 1 + number]
    return levels, rows


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
    return float(np.hypot(unsure, _hands(car, belief, turns, turn_sd)))


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
    return _slopes(_parts(car, theta, turns))


def _parts(car: Car, theta: Floats, turns: Floats) -> Floats:
    """Split the gain into what front and rear give."""
    return _answers(_axles(car, turns), theta, warp_compliance(car))


def _axles(car: Car, turns: Floats) -> Floats:
    """Give what turns lift of the free pattern at front and rear, if the file is right."""
    lead = np.nan_to_num(car.perch_lead)
    lifts = free_pattern(car.tracks) * lift(car, lead * turns)
    return np.array([lifts[:2].sum(), lifts[2:].sum()])


def _answers(axles: Floats, theta: Floats, warp: float) -> Floats:
    return np.asarray(axles * np.exp(-theta[1:3] - theta[0]) / warp)


def _slopes(parts: Floats) -> Floats:
    """Give how the gain changes with each logarithm."""
    front, rear = parts
    return np.array([-front - rear, -front, -rear])


def _hands(car: Car, belief: Belief, turns: Floats, turn_sd: float) -> float:
    """Give what the turns may come out wrong by [N·m]."""
    each = [gain(car, belief.mean, unit) for unit in np.diag(np.where(turns != 0, turn_sd, 0.0))]
    return float(np.linalg.norm(each))
