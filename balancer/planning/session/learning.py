"""What a car teaches at each re-weigh: how far it really answers to a turn.

A belief from before, and each weigh-in with the turns made before it, give one that is sharper.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.linear import warp_compliance
from balancer.car.model import Car
from balancer.planning.session.belief import Belief
from balancer.planning.session.diagonal import (
    TURN_SD,
    answer_slopes,
    axle_answers,
    axle_lifts,
    gain,
    hands_uncertainty,
)

FILES = 1.0
"""How much it counts that files are as sure as `Sigmas` says, in numbers that agree with them; our
choice: cars known well are not made less sure by it, and half of what a guess hides is seen."""

MOST_WRONG = 8.0
"""Times as far off as usual that a file is at most; our choice: answers half or twice as far.
Beyond it something else was wrong, such as what was said to be made or on board, and a scale that
explained it would leave nothing known of the car for good."""

REAL_CORNERS_SD = 0.03
"""Standard deviation of how a car on real corners answers from what a scaled file says, over the
answer: stops, tables and ratios that change are not wrong all alike. Of cars of
tests/oracles/stopped_random.py whose rates and ratios are 5 % wrong; some are off by 0.15."""


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
        return hypot(hands_uncertainty(car, belief, made, turn_sd), answer_sd * answer)

    # Where nothing was turned nothing came out wrong, but for rounding.
    turn_sds = np.array([max(off(each), 1e-9) for each in turns])
    weight = 1 / np.array(scatters) ** 2
    moved_by, warp = [axle_lifts(car, each) for each in turns], warp_compliance(car)
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
        wrong = float(np.sqrt((FILES + off) / (FILES + told)))
        return self._replace(wrong=min(max(1.0, wrong), MOST_WRONG))


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
    for number, lifts in enumerate(moved_by):
        answers = axle_answers(lifts, unknowns[:3], warp)
        rows[number + 1 :, :3] += answer_slopes(answers)
        rows[number + 1 :, size + 1 + number] = 1.0
        levels[number + 1 :] += float(answers.sum()) + unknowns[size + 1 + number]
    return levels, rows
