"""Which perches to turn, which way and how far: the plan and what it promises."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from balancer.car import Car, Floats
from balancer.grid import Found, StepProblem, best_steps, first_to_meet
from balancer.perch_limits import Limit, limits_of
from balancer.targets import PerchGoal
from balancer.turns import PerchMoves, PerTurn, moves_of, per_turn, problem_of

Status = Literal["reached", "closest", "gave_up"]


@dataclass(frozen=True, eq=False)
class PerchPlan:
    """The recommended moves, the others beside them, and why it can't be better.

    Attributes
    ----------
    status : str
        `reached`; `closest`: proved that no allowed plan reaches the goal; `gave_up`: the solver
        stopped without a proof.
    best : PerchMoves
        The fewest corners that meet both tolerances, or the closest.
    alternatives : tuple of PerchMoves
        The best for every other number of corners.
    per_turn : PerTurn
    goal : PerchGoal
    limits : tuple of Limit
        Empty when reached.
    turns_doubt : float
        Standard uncertainty of the turns at one corner, from that of the cross weight alone
        [turn]; NaN when no perch can turn.
    """

    status: Status
    best: PerchMoves
    alternatives: tuple[PerchMoves, ...]
    per_turn: PerTurn
    goal: PerchGoal
    limits: tuple[Limit, ...]
    turns_doubt: float


def plan_perches(car: Car, loads: Floats, goal: PerchGoal, cross_doubt: float = 0.0) -> PerchPlan:
    """Find the exact best whole-step perch moves for a goal.

    Parameters
    ----------
    car : Car
    loads : array (4,)
        The loads now, on level pads [N].
    goal : PerchGoal
    cross_doubt : float
        Standard uncertainty of the cross weight, as a fraction.

    Returns
    -------
    PerchPlan
        For each number of corners the best by: both tolerances met, fewest turns, closest cross
        weight, smallest worst height. Recommended is the fewest corners that meet both. The
        linear model is right near the operating point: no damper at full droop, no bump stop.

    References
    ----------
    Exact search in `grid`; held against the whole grid in tests/oracles.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> loads = np.array([2950.0, 2850.0, 2350.0, 2350.0])
    >>> goal = PerchGoal(0.5, 0.002, np.zeros(4), 1.5e-3)
    >>> plan = plan_perches(plain_car(), loads, goal)
    >>> plan.status, plan.best.turns.tolist()
    ('reached', [0.0, 0.0, 0.5, -0.5])
    """
    turned = per_turn(car, loads)
    problem = problem_of(car, loads, goal, turned)
    found = _by_corners(problem)
    best = _recommended(found)
    limits: tuple[Limit, ...] = ()
    met = best.cross_met and best.heights_met
    if not met:
        limits = limits_of(car, loads, turned, problem, goal)
    proved = all(one.proved for one in found)
    status: Status = "reached" if met else "closest" if proved else "gave_up"
    others = tuple(one for one in found if one is not best and np.any(one.steps))
    largest = np.nanmax(np.abs(turned.cross)) if car.adjustable.any() else np.nan
    return PerchPlan(
        status=status,
        best=moves_of(car, loads, turned, best),
        alternatives=tuple(moves_of(car, loads, turned, one) for one in others),
        per_turn=turned,
        goal=goal,
        limits=limits,
        turns_doubt=float(cross_doubt / largest),
    )


def can_reach(car: Car, loads: Floats, goal: PerchGoal) -> bool:
    """Say whether any allowed turns meet a goal, without working out what binds.

    Parameters
    ----------
    car : Car
    loads : array (4,)
        [N].
    goal : PerchGoal

    Returns
    -------
    bool

    References
    ----------
    See `grid.first_to_meet`.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> can_reach(plain_car(), np.full(4, 2500.0), PerchGoal.level(0.5))
    True
    """
    return first_to_meet(problem_of(car, loads, goal, per_turn(car, loads))) is not None


def _by_corners(problem: StepProblem) -> list[Found]:
    """Give the best for every number of corners that can be touched, 0 to 4."""
    found = (best_steps(problem, corners) for corners in range(5))
    return [one for one in found if one is not None]


def _recommended(found: list[Found]) -> Found:
    """Pick the fewest corners that meet both tolerances, else the closest of all."""

    def rank(one: Found) -> tuple[int, float, int, float]:
        corners = int(np.count_nonzero(one.steps))
        # Rounded to what no scale can see, so that the last bit does not decide between ties.
        cross, height = round(one.cross_miss, 9), round(one.height_miss, 9)
        if one.cross_met and one.heights_met:
            return (0, 0.0, corners, 0.0)
        if one.heights_met:
            return (1, cross, corners, height)
        if one.cross_met:
            return (2, height, corners, cross)
        return (3, cross, corners, height)

    return min(found, key=rank)
