"""Cars with corners, and moves of them, as plain as they can be."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from balancer.car.adjusters import Moves
from balancer.car.conventions import Floats
from balancer.car.corner import Corner
from balancer.car.curves import ForceCurve, RatioCurve
from balancer.car.model import Car
from balancer.car.statics import statics_of
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.question import questions_of


def cornered(car: Car) -> Car:
    """Describe the corners of a linear car, each of which tops out where its spring goes loose."""
    corners = (
        Corner(
            ForceCurve(np.zeros(1), np.array([rate])), RatioCurve(np.zeros(1), np.array([ratio]))
        )
        for rate, ratio in zip(car.spring_rate.tolist(), car.motion_ratio.tolist(), strict=True)
    )
    return replace(car, corners=tuple(corners))


def constant(rate: float) -> ForceCurve:
    """Make the curve of a plain spring [N/m]."""
    return ForceCurve(np.zeros(1), np.array([rate]))


def of_perches(perch: Floats) -> Moves:
    """Move the spring perches alone, (m, 4) [m]."""
    perch = np.atleast_2d(perch)
    return Moves(perch, np.zeros_like(perch), np.zeros((len(perch), 2)))


def energy(curve: ForceCurve, compression: Floats) -> Floats:
    """Compute the work done [J] up to compressions [m] of any shape."""
    beyond = np.maximum(np.subtract.outer(compression, curve.at), 0.0)
    grown = np.broadcast_to(curve.ramp, curve.at.shape)
    jumps = np.diff(curve.rate, prepend=0.0)
    jumps[1:] -= grown[:-1] * np.diff(curve.at)
    bends = np.diff(grown, prepend=0.0)
    return np.asarray(beyond**2 / 2 @ jumps + beyond**3 / 6 @ bends)


def can_reach(car: Car, loads: Floats, goal: PerchGoal) -> bool:
    """Say whether any turns of the right adjusters meet a goal, without working out what binds."""
    question = next(questions_of(statics_of(car, loads), goal))
    solution = question.first_to_meet()
    return solution is not None and not question.moves(solution).airborne
