"""Where within its tolerances a session aims, and which of several ways it takes."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from statistics import NormalDist

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.perches.goal import PerchGoal
from balancer.perches.plan import PerchPlan, can_reach, plan_perches
from balancer.perches.question import PerchMoves
from balancer.session.belief import Belief
from balancer.session.learning import cross_per_diagonal, gain_uncertainty

FINE_TOLERANCES = (0.0005, 0.001)
"""Tolerances of the cross weight that a plan aims for before it takes the one that was asked [1]:
what is planned to the edge of a tolerance lands outside it half the time."""

HEIGHT_PARTS = (0.3, 0.6, 1.0)
"""Parts of the height tolerance that a plan aims for before it takes all of it."""

MORE = 1.5
"""Times as many turns, and one more, that landing in the middle is worth where corners are not
linear: there it may take getting a shock off its stop."""

NEARLY = 0.02
"""Chance of landing in tolerance that is worth less than jacking up one more corner."""


def fine_plan(car: Car, loads: Floats, goal: PerchGoal, uncertainty: float) -> PerchPlan:
    """Plan to the middle of both tolerances where the steps allow it.

    Level plans also share the work between the axles in the same proportion each time, so that
    what one set of turns has taught holds for the next.

    Args:
        car: As it is believed to be.
        loads: (4,) [N].
        uncertainty: Standard uncertainty of the cross weight [1].
    """

    @cache
    def plain() -> PerchPlan:
        return plan_perches(car, loads, goal, uncertainty, fall_back=False)

    for part in HEIGHT_PARTS:
        for tolerance in FINE_TOLERANCES:
            finer = replace(
                goal,
                tolerance=min(tolerance, goal.tolerance),
                height_tolerance=part * goal.height_tolerance,
            )
            if can_reach(car, loads, finer):
                plan = plan_perches(car, loads, finer, uncertainty, fall_back=False)
                # Where nothing is known of stops, turns do the same everywhere.
                most = np.inf if plan.contacts is None else MORE * _turns(plain()) + 1
                if _turns(plan) <= most:
                    return plan
    return plain()


def _turns(plan: PerchPlan) -> float:
    return float(np.abs(plan.best.turns).sum())


def surest(
    car: Car, belief: Belief, goal: PerchGoal, total: float, plan: PerchPlan, uncertainty: float
) -> PerchPlan:
    """Take more corners than the fewest only where they make it likelier to land in tolerance.

    Turns in another proportion front to rear than those that taught the belief are less sure.

    Args:
        car: As the file has it.
        total: Of the loads [N].
        uncertainty: Standard uncertainty of the cross weight now [1].

    Returns:
        The same ways, maybe another one first.
    """
    ways = (plan.best, *plan.alternatives)
    good = sorted(
        (way for way in ways if way.cross_met and way.heights_met), key=lambda way: way.corners
    )
    if plan.status != "reached" or len(good) < 2:
        return plan
    chances = [_chance(car, belief, goal, total, way, uncertainty) for way in good]
    enough = max(chances) - NEARLY
    chosen = next(way for way, chance in zip(good, chances, strict=True) if chance > enough)
    others = tuple(way for way in ways if way is not chosen)
    return replace(plan, best=chosen, alternatives=others)


def _chance(
    car: Car, belief: Belief, goal: PerchGoal, total: float, moves: PerchMoves, uncertainty: float
) -> float:
    """Give the chance that moves land the cross weight in tolerance."""
    unsure = cross_per_diagonal(car, total) * gain_uncertainty(car, belief, moves.turns)
    return chance_within(moves.shares.cross, float(np.hypot(unsure, uncertainty)), goal)


def chance_within(cross: float, uncertainty: float, goal: PerchGoal) -> float:
    """Compute the chance that a cross weight is within tolerance.

    Args:
        cross, uncertainty: Best estimate and its standard uncertainty [1].
    """
    spread = NormalDist(cross, max(uncertainty, 1e-12))
    return spread.cdf(goal.cross + goal.tolerance) - spread.cdf(goal.cross - goal.tolerance)
