"""What one set of turns that is made only to learn would bring.

Turns to the middle go in one proportion, and so tell one number. An axle turned alone tells how
that axle answers; the difference is what the other does.
"""

from dataclasses import replace
from math import hypot
from typing import NamedTuple

import numpy as np

from balancer.car.adjusters import adjusters_of
from balancer.car.conventions import Floats
from balancer.car.linear import free_pattern
from balancer.car.model import Car
from balancer.planning.perches.aim import chance_within
from balancer.planning.session.belief import Belief
from balancer.planning.session.diagonal import (
    cross_per_diagonal,
    diagonal_load,
    gain,
    gain_uncertainty,
)
from balancer.planning.session.lessons import counted_turns, lessons
from balancer.planning.session.session import Session, travel_left, with_made
from balancer.planning.session.step import Step

MOST = 2.0
"""Turns at each of two corners: enough to be seen, and few to make."""


class Before(NamedTuple):
    """A number now, and as it would be."""

    now: float
    then: float


class Lesson(NamedTuple):
    """What a set of turns would teach, weighed once and answered as is believed.

    Attributes:
        turns: (4,)
        front, rear: Relative standard uncertainty of how the axle answers to turns [1].
        landing: Chance that what is turned next lands in tolerance, if to the middle.
    """

    turns: Floats
    front: Before
    rear: Before
    landing: Before


def lessons_to_be_had(session: Session, step: Step) -> tuple[Lesson, ...]:
    """Say what each axle turned alone would teach, towards the target.

    Args:
        session: With at least one weigh-in.
        step: Of it.

    Returns:
        None of an axle that has nothing to turn by on both sides.
    """
    sets = (_alone(session, step, axle) for axle in (0, 1))
    return tuple(_lesson(session, step, turns) for turns in sets if turns.any())


def _alone(session: Session, step: Step, axle: int) -> Floats:
    """Turn one side of an axle up and the other down, by whole steps and what travel is left."""
    car, sides, adjusters = (
        session.linear_car,
        slice(2 * axle, 2 * axle + 2),
        adjusters_of(session.car),
    )
    if not np.isfinite(adjusters.lead[sides]).all():
        return np.zeros(4)
    unit = np.zeros(4)
    unit[sides] = [1.0, -1.0]
    car = session.linear_car
    per_diagonal = cross_per_diagonal(car, session.weigh_ins[-1].shares.total)
    moves_by = per_diagonal * gain(car, step.learned.belief.mean, unit)
    if moves_by * (session.goal.cross - step.cross) < 0:
        unit = -unit
    left = travel_left(session)[sides]
    room = float(np.where(unit[sides] > 0, left[:, 1], -left[:, 0]).min())
    pace = float(adjusters.step[sides].max())
    amount = pace * float(np.floor(min(MOST, room) / pace + 1e-9))
    return np.asarray(unit * max(amount, 0.0))


def _lesson(session: Session, step: Step, turns: Floats) -> Lesson:
    car, learned, last = session.linear_car, step.learned, session.weigh_ins[-1]

    def counted(made: Floats) -> Floats:
        return counted_turns(with_made(session, made), car, len(session.weigh_ins) - 1)

    made = counted(turns)
    taught = lessons(_expected(session, step, turns, gain(car, learned.belief.mean, made)))[
        -1
    ].learned
    per_diagonal = cross_per_diagonal(car, last.shares.total)

    def landing(belief: Belief, level: float, to_do: Floats) -> float:
        off = abs(per_diagonal) * hypot(level, gain_uncertainty(car, belief, to_do))
        return chance_within(session.goal.cross, off, session.goal)

    best = counted(step.plan.best.every_turn)
    now, then = learned.belief, taught.belief
    return Lesson(
        turns,
        front=Before(_answer(car, now, 0), _answer(car, then, 0)),
        rear=Before(_answer(car, now, 1), _answer(car, then, 1)),
        landing=Before(
            landing(now, learned.diagonal_uncertainty, best),
            landing(then, taught.diagonal_uncertainty, best - made),
        ),
    )


def _expected(session: Session, step: Step, turns: Floats, gained: float) -> Session:
    """Add the weigh-in that is expected after turns, in the state of the last."""
    last, car = session.weigh_ins[-1], session.linear_car
    moved = step.learned.diagonal + gained - diagonal_load(car, last.loads)
    shown = replace(last, loads=last.loads + moved * free_pattern(car.tracks), repeats=1)
    return replace(
        with_made(session, turns),
        weigh_ins=(*session.weigh_ins, shown),
        pads=(*session.pads, shown),
        aboard=(*session.aboard, *session.aboard[-1:]),
    )


def _answer(car: Car, belief: Belief, axle: int) -> float:
    """Give how unsure the answer to turns of an axle is, over what it is."""
    only = np.where(np.arange(4) // 2 == axle, np.array([1.0, -1.0, -1.0, 1.0]), 0.0)
    whole = gain(car, belief.mean, only)
    return abs(gain_uncertainty(car, belief, only, turn_sd=0.0) / whole) if whole else 0.0
