"""What a session says after a weigh-in: where the car is, what to turn next, whether to stop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Literal

import numpy as np

from balancer.car.adjusters import all_turns, with_travel_spent
from balancer.car.conventions import Floats
from balancer.car.linear import free_pattern
from balancer.car.model import Car, Item
from balancer.car.statics import statics_of
from balancer.perches.aim import CONFIDENT, chance_within
from balancer.perches.plan import PerchPlan
from balancer.session.belief import believed
from balancer.session.learning import (
    Learned,
    answer_uncertainty,
    cross_per_diagonal,
    diagonal_load,
    gain,
    gain_uncertainty,
)
from balancer.session.lessons import counted_turns, lessons
from balancer.session.plan import believed_plan
from balancer.session.session import Session, Taught, with_made
from balancer.weighing.load_states import carry
from balancer.weighing.uncertainty import share_uncertainties
from balancer.weighing.weigh import WeighIn

WORTH = 0.05
"""Chance of landing in tolerance that one more weigh-in, with all on board, is worth."""

Stop = Literal["", "in_tolerance", "below_a_step", "below_the_scales", "out_of_reach"]


@dataclass(frozen=True, eq=False)
class Step:
    """What a weigh-in comes to.

    Attributes:
        cross, cross_uncertainty: Cross weight now, as readings and turns together have it, and
            its standard uncertainty with accuracy and heights of the pads, as fractions.
        carried_uncertainty: What of that is from carrying readings to another state [1].
        repeatable: The same without what the pads do every time alike: on these pads [1].
        confidence: Chance that the cross weight is within tolerance on these pads, as a fraction.
        confidence_elsewhere: The same on level ground and true pads, as a fraction.
        in_tolerance: Whether the best estimate is.
        plan: For the car as it is now believed to be.
        aboard_first: What to have on board for a weigh-in before anything is turned, where that
            makes it likelier by `WORTH` to land in tolerance; empty: nothing.
        taught: By each weigh-in.
        stop: Why to stop: `in_tolerance`, with `CONFIDENT` confidence; the change wanted is
            `below_a_step` or `below_the_scales`; the target is `out_of_reach`. Empty: turn as
            planned and weigh again.
    """

    learned: Learned
    cross: float
    cross_uncertainty: float
    carried_uncertainty: float
    repeatable: float
    confidence: float
    confidence_elsewhere: float
    in_tolerance: bool
    plan: PerchPlan
    aboard_first: tuple[Item, ...]
    taught: tuple[Taught, ...]
    stop: Stop

    @property
    def disbelieved(self) -> tuple[int, ...]:
        """Weigh-ins, counted from 0, that the turns before them can't have led to."""
        return tuple(number for number, each in enumerate(self.taught) if each.disbelieved)


def step(session: Session) -> Step:
    """Learn from the session so far and plan the next turns.

    Args:
        session: With at least one weigh-in.

    Raises:
        ValueError: When nothing has been weighed yet.

    References:
        Derived here; see tests/benchmarks/test_convergence.py for what it is worth.
    """
    if not session.weigh_ins:
        raise ValueError("nothing has been weighed yet")
    car, goal, last = session.linear_car, session.goal, session.weigh_ins[-1]
    taught = lessons(session)
    learned = taught[-1].learned
    loads = _believed_loads(car, last, learned)
    cross = float((loads[1] + loads[2]) / loads.sum())
    # Before any turns the readings alone tell.
    alone = share_uncertainties(car, last.loads, last.scatter).cross
    read = _cross_uncertainty(car, last, learned.read_uncertainty) if len(taught) > 1 else alone
    carried = _carried_uncertainty(car, last, learned)
    uncertainty = float(np.hypot(read, carried))
    known = float(np.hypot(uncertainty, _of_the_pads(car, last)))
    off, confidence = abs(cross - goal.cross), chance_within(cross, uncertainty, goal)
    inside = off <= goal.tolerance * (1 + 1e-9)
    sure = inside and confidence >= CONFIDENT
    now = _believed_car(session, learned)
    covariance = learned.belief.covariance
    plan = believed_plan(now, loads, goal, uncertainty, covariance, fall_back=False)
    unsure = answer_uncertainty(now, loads, covariance)(plan.best.turns)
    # In the middle: what turns and readings let expect, with and without how masses bear.
    vague, sure_of_it = (
        chance_within(goal.cross, hypot(each, unsure), goal) for each in (uncertainty, read)
    )
    worth = sure_of_it - vague
    return Step(
        learned=learned,
        cross=cross,
        cross_uncertainty=known,
        carried_uncertainty=carried,
        repeatable=uncertainty,
        confidence=confidence,
        confidence_elsewhere=chance_within(cross, known, goal),
        in_tolerance=inside,
        plan=plan,
        aboard_first=session.missing if worth >= WORTH else (),
        taught=taught,
        stop=_stop(plan, sure, off, read),
    )


def expected(session: Session, turns: Floats) -> tuple[float, float]:
    """Say where turns after the last weigh-in will bring the cross weight.

    Args:
        session: With at least one weigh-in.
        turns: (4,)

    Returns:
        As a fraction, and its standard uncertainty on these pads from belief, hands and scales.
    """
    car, last = session.linear_car, session.weigh_ins[-1]
    counted = counted_turns(with_made(session, turns), car, len(session.weigh_ins) - 1)
    learned = lessons(session)[-1].learned
    per_diagonal = cross_per_diagonal(car, last.shares.total)
    loads = _believed_loads(car, last, learned)
    moved = per_diagonal * gain(car, learned.belief.mean, counted)
    unsure = per_diagonal * gain_uncertainty(car, learned.belief, counted)
    read = _cross_uncertainty(car, last, learned.diagonal_uncertainty)
    uncertainty = float(np.hypot(read, unsure))
    return float((loads[1] + loads[2]) / loads.sum()) + moved, uncertainty


def expected_loads(
    session: Session, turns: Floats | None, was: Sequence[Item] | None = None
) -> Floats:
    """Say what the pads are to show after turns, near enough to tell a slip.

    Args:
        session: With at least one weigh-in.
        turns: (4,) or None, after the last one.
        was: What is on board then; None: what the session plans for.

    Returns:
        (4,) [N].
    """
    last, learned = session.weigh_ins[-1], lessons(session)[-1].learned
    car, expected = _believed_car(session, learned), last.loads
    if turns is not None and np.any(turns):
        loads = _believed_loads(session.linear_car, last, learned)
        per_turn = statics_of(car, loads).per_turn().loads
        expected = expected + np.nan_to_num(per_turn).T @ turns
    if was is None or session.state is None or set(was) == set(session.state):
        return expected
    return carry(car, expected, session.state, was).loads


def _believed_car(session: Session, learned: Learned) -> Car:
    """Give the car as it is believed to stand at the last weigh-in."""
    made = all_turns(session.made_before)
    now = with_travel_spent(believed(session.car, learned.belief), made)
    return session.at_first(now).after(made)


def _believed_loads(car: Car, last: WeighIn, learned: Learned) -> Floats:
    """Take the free pattern's amount from all of the session, the rest from the last readings."""
    moved = learned.diagonal - diagonal_load(car, last.loads)
    return last.loads + moved * free_pattern(car.tracks)


def _cross_uncertainty(car: Car, last: WeighIn, diagonal_uncertainty: float) -> float:
    return cross_per_diagonal(car, last.shares.total) * diagonal_uncertainty


def _carried_uncertainty(car: Car, last: WeighIn, learned: Learned) -> float:
    """Give what of the cross weight is not sure because of how masses bear."""
    more = learned.diagonal_uncertainty**2 - learned.read_uncertainty**2
    return abs(cross_per_diagonal(car, last.shares.total)) * float(np.sqrt(max(more, 0.0)))


def _of_the_pads(car: Car, last: WeighIn) -> float:
    """Give what accuracy and heights of the pads leave open of the cross weight [1]."""
    return share_uncertainties(car, last.loads, last.pads.T @ last.pads).cross


def _stop(plan: PerchPlan, sure: bool, off: float, uncertainty: float) -> Stop:
    if sure:
        return "in_tolerance"
    if off < 2 * uncertainty:
        return "below_the_scales"
    if not plan.best.corners:
        return "below_a_step" if plan.status == "reached" else "out_of_reach"
    return ""
