"""A goal posed to a search: whole steps of the adjusters, what they move and how far they go."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from balancer.car.adjusters import Adjusters
from balancer.car.answers import PerTurn
from balancer.car.conventions import CORNERS, Floats, Integers
from balancer.car.statics import Statics
from balancer.planning.perches.goal import EXACT, PerchGoal
from balancer.planning.perches.linear_problem import LinearProblem
from balancer.planning.perches.search import Problem
from balancer.planning.perches.steps import SLACK, Cross
from balancer.weighing.uncertainty import shares

if TYPE_CHECKING:
    from balancer.planning.perches.slant import Planes

UNSTATED_TRAVEL = 10.0
"""Turns up and down that a plan may use at a perch whose travel the file does not state."""

FAR_TURNS = 60.0
"""How far an adjuster goes where its travel is lifted [turn]."""


def problem_of(
    statics: Statics,
    goal: PerchGoal,
    adjusters: Adjusters,
    per_turn: PerTurn,
    others: tuple[Statics, ...],
    planes: Planes,
) -> Problem:
    """Pose a goal for a car as it stands, and in the other states of the goal.

    Args:
        per_turn: One turn up of what is turned at each corner.
        others: The car in those states.
        planes: That were laid for other adjusters of it.
    """
    tolerances = max(goal.tolerance, EXACT), max(goal.height_tolerance, EXACT)
    limits = step_limits(adjusters, goal.keep)
    step = np.where(adjusters.usable, adjusters.step, 0.0)
    if statics.point is None or statics.contacts is None:
        return LinearProblem(
            cross_off=shares(statics.car, statics.loads).cross - goal.cross,
            cross_per_step=np.nan_to_num(per_turn.cross) * step,
            heights_off=-goal.rise,
            height_per_step=np.nan_to_num(per_turn.heights.T) * step,
            tolerance=tolerances[0],
            height_tolerance=tolerances[1],
            least=limits[0],
            most=limits[1],
            turns_per_step=step,
            others=tuple(
                Cross(
                    shares(other.car, other.loads).cross - trim.cross,
                    np.nan_to_num(other.per_turn(adjusters).cross) * step,
                )
                for other, trim in zip(others, goal.others, strict=True)
            ),
        )
    # Not for cars that need no such thing: it would slow their every plan.
    from balancer.planning.perches.nonlinear_problem import NonlinearProblem
    from balancer.planning.perches.nonlinear_steps import Elsewhere, Kept
    from balancer.planning.perches.work import Work

    return NonlinearProblem(
        point=statics.point,
        cross=goal.cross,
        tolerance=tolerances[0],
        rise=goal.rise,
        height_tolerance=tolerances[1],
        per_step=adjusters.moves(np.diag(adjusters.step)),
        least=limits[0],
        most=limits[1],
        turns_per_step=step,
        now=statics.contacts,
        work=Work(),
        kept=Kept(planes, {}, [], [], []),
        others=tuple(
            Elsewhere(other.point, trim.cross, other.contacts)
            for other, trim in zip(others, goal.others, strict=True)
            if other.point is not None and other.contacts is not None
        ),
    )


def step_limits(
    adjusters: Adjusters, keep: frozenset[str] = frozenset()
) -> tuple[Integers, Integers]:
    """Give how many whole steps each adjuster may go down (≤ 0) and up (≥ 0).

    Args:
        keep: Corners that may not be touched.

    Returns:
        tuple of array (n,)
    """
    corners = [corner not in keep for corner in CORNERS]
    free = adjusters.usable & np.append(corners, np.ones(len(adjusters.axles), dtype=bool))
    stated = np.isfinite(adjusters.travel)
    travel = np.where(stated, adjusters.travel, np.array([-UNSTATED_TRAVEL, UNSTATED_TRAVEL]))
    whole = np.trunc(travel / adjusters.step[:, None] * (1 + SLACK)) * free[:, None]
    least, most = whole.astype(np.int64).T
    return least, most


def far_limits(
    least: Integers, most: Integers, step: Floats, finer: int
) -> tuple[Integers, Integers]:
    """Give limits of steps as if whatever can be turned had all the travel that there could be.

    Args:
        least, most: (n,), as they are.
        step: (n,), of each adjuster [turn].
        finer: Into how many parts each is cut.

    Returns:
        tuple of array (n,)
    """
    movable = (least < 0) | (most > 0)
    away = np.where(movable, np.ceil(FAR_TURNS / step) * finer, 0).astype(np.int64)
    return np.minimum(least, -away), np.maximum(most, away)
