"""What stands between a car and its target: found by lifting each limit and looking again."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from balancer.car import CORNERS, Car, Floats
from balancer.grid import SLACK, StepProblem, first_to_meet, least_height
from balancer.targets import PerchGoal
from balancer.turns import PerchMoves, PerTurn, moves_of, step_limits

LimitKind = Literal["grid", "keep", "travel", "heights"]

_FINER = 8

_FAR_TURNS = 60.0


class Limit(NamedTuple):
    """What stands between the car and the goal: lift it, and the goal can be met.

    Attributes
    ----------
    kinds : tuple of str
        `grid` (the steps are too coarse), `keep` (corners not to be touched), `travel` (turns
        left), `heights` (their tolerance). Several when only lifting them together helps; none
        when nothing does.
    corners : tuple of str
        Where `travel` binds.
    turns_left : tuple of float
        At those corners in the direction that is needed [turn].
    would : PerchMoves or None
        The moves that would then meet the goal; with `heights` lifted, those that keep the worst
        height as near to what is wanted as can be.
    """

    kinds: tuple[LimitKind, ...]
    corners: tuple[str, ...]
    turns_left: tuple[float, ...]
    would: PerchMoves | None


def limits_of(
    car: Car, loads: Floats, turned: PerTurn, problem: StepProblem, goal: PerchGoal
) -> tuple[Limit, ...]:
    """Lift each limit alone and see whether the goal can then be met; if none will do, together.

    Parameters
    ----------
    car : Car
    loads : array (4,)
        [N].
    turned : PerTurn
    problem : StepProblem
        For which nothing was found.
    goal : PerchGoal

    Returns
    -------
    tuple of Limit
    """

    def limit(kinds: tuple[LimitKind, ...]) -> Limit | None:
        relaxed, finer = problem, 1
        for kind in kinds:
            finer = _FINER if kind == "grid" else finer
            relaxed = _relax(car, relaxed, kind, finer)
        found = least_height(relaxed) if "heights" in kinds else first_to_meet(relaxed)
        if found is None:
            return None
        steps = found.steps / finer
        # A corner that is kept has travel nonetheless.
        room = _relax(car, problem, "keep", 1) if "keep" in kinds else problem
        beyond = (steps > room.most + SLACK) | (steps < room.least - SLACK)
        left = np.where(steps > 0, room.most, room.least) * problem.turns_per_step
        where = np.flatnonzero(beyond).tolist()
        return Limit(
            kinds=kinds,
            corners=tuple(CORNERS[corner] for corner in where),
            turns_left=tuple(abs(float(left[corner])) for corner in where),
            would=moves_of(car, loads, turned, found, finer),
        )

    every: tuple[LimitKind, ...] = ("grid", "keep", "travel", "heights")
    kinds = tuple(kind for kind in every if kind != "keep" or goal.keep)
    alone = [one for kind in kinds if (one := limit((kind,)))]
    if alone:
        return tuple(alone)
    if limit(kinds) is None:
        return (Limit((), (), (), None),)
    for kind in kinds:
        without = tuple(other for other in kinds if other != kind)
        if limit(without):
            kinds = without
    together = limit(kinds)
    return (together,) if together else ()


def _relax(car: Car, problem: StepProblem, kind: LimitKind, finer: int) -> StepProblem:
    """Lift one limit of a problem whose steps are already, or now become, so much finer."""
    if kind == "grid":
        return problem._replace(
            cross_per_step=problem.cross_per_step / _FINER,
            height_per_step=problem.height_per_step / _FINER,
            least=problem.least * _FINER,
            most=problem.most * _FINER,
            turns_per_step=problem.turns_per_step / _FINER,
        )
    if kind == "keep":
        free = step_limits(car, frozenset())
        return problem._replace(least=free[0] * finer, most=free[1] * finer)
    if kind == "travel":
        movable = (problem.least < 0) | (problem.most > 0)
        far = np.where(movable, np.ceil(_FAR_TURNS / car.perch_step) * finer, 0).astype(np.int64)
        return problem._replace(
            least=np.minimum(problem.least, -far), most=np.maximum(problem.most, far)
        )
    return problem
