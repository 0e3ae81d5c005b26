"""A session at the pads: weigh, turn, weigh again, and know when to stop.

Plain values in, plain values out: a `Session` is what has been read and turned so far, and every
function gives a new one. Whoever talks to the user, or keeps the log, does so around it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Literal

import numpy as np

from balancer.aiming import fine_plan, surest
from balancer.car import Car, Floats
from balancer.corner import adjuster_travel, with_travel_spent
from balancer.learning import (
    Belief,
    Learned,
    believed,
    gain,
    gain_doubt,
    learn,
    level_of,
    scatter_of,
)
from balancer.perches import PerchPlan, plan_perches
from balancer.settled_session import as_turned, effective, taken_linear
from balancer.statics import free_pattern
from balancer.targets import PerchGoal
from balancer.weighing import WeighIn

Stop = Literal["", "in_tolerance", "below_a_step", "below_the_scales", "out_of_reach"]


CONFIDENT = 0.9
"""Chance of being within tolerance from which on a session says stop."""


ODD = 5.0
"""Standard deviations between turns and their answer from which on the pads are believed alone."""


@dataclass(frozen=True, eq=False)
class Session:
    """What has been weighed and turned so far.

    Attributes
    ----------
    car : Car
        As the file has it, with the perch travel left at the start of the session.
    belief : Belief
        Before the session.
    goal : PerchGoal
    weigh_ins : tuple of WeighIn
    made : tuple of array (4,)
        Turns made after each weigh-in but the last, or after it too once they are said.
    """

    car: Car
    belief: Belief
    goal: PerchGoal
    weigh_ins: tuple[WeighIn, ...] = ()
    made: tuple[Floats, ...] = ()


@dataclass(frozen=True, eq=False)
class Step:
    """What a weigh-in comes to.

    Attributes
    ----------
    learned : Learned
    cross, cross_doubt : float
        Cross weight now, as readings and turns together have it, and its standard uncertainty
        with the accuracy of the pads.
    confidence : float
        Chance that the cross weight is within tolerance.
    in_tolerance : bool
        Whether the best estimate is.
    plan : PerchPlan
        For the car as it is now believed to be.
    disbelieved : tuple of int
        Weigh-ins, counted from 0, so unlike the turns before them that those can't be what was
        made: nothing is learned from them.
    stop : str
        Why to stop: `in_tolerance`, with `CONFIDENT` confidence; the change wanted is
        `below_a_step` or `below_the_scales`; the target is `out_of_reach`. Empty: turn as planned
        and weigh again.
    """

    learned: Learned
    cross: float
    cross_doubt: float
    confidence: float
    in_tolerance: bool
    plan: PerchPlan
    disbelieved: tuple[int, ...]
    stop: Stop


def weighed(session: Session, weigh_in: WeighIn, planned: Floats | None = None) -> Session:
    """Add a weigh-in.

    Parameters
    ----------
    session : Session
    weigh_in : WeighIn
    planned : array (4,) or None
        The turns last planned, which count as made unless others were said; None: nothing was
        turned.

    Returns
    -------
    Session

    Examples
    --------
    See `step`.
    """
    made = session.made
    if session.weigh_ins and len(made) < len(session.weigh_ins):
        made = (*made, np.zeros(4) if planned is None else planned)
    return replace(session, weigh_ins=(*session.weigh_ins, weigh_in), made=made)


def turned(session: Session, turns: Floats) -> Session:
    """Say what was really turned since the last weigh-in.

    Parameters
    ----------
    session : Session
    turns : array (4,)

    Returns
    -------
    Session

    Raises
    ------
    ValueError
        When nothing has been weighed yet.

    Examples
    --------
    See `step`.
    """
    if not session.weigh_ins:
        raise ValueError("nothing has been weighed yet")
    before = session.made[: len(session.weigh_ins) - 1]
    return replace(session, made=(*before, np.asarray(turns, dtype=float)))


def unsaid(session: Session) -> Session:
    """Take back what was said to be turned since the last weigh-in.

    Parameters
    ----------
    session : Session

    Returns
    -------
    Session

    Examples
    --------
    See `step`.
    """
    return replace(session, made=session.made[: max(len(session.weigh_ins) - 1, 0)])


def travel_left(session: Session) -> Floats:
    """Compute how far each perch can still be turned from where the last weigh-in found it.

    Parameters
    ----------
    session : Session

    Returns
    -------
    array (4, 2)
        Turns down, negative, and up.

    Examples
    --------
    See `step`.
    """
    made = session.made[: max(len(session.weigh_ins) - 1, 0)]
    return adjuster_travel(_with_travel(session.car, made))


def undone(session: Session) -> Session:
    """Take the last weigh-in back, with the turns that led to it.

    Parameters
    ----------
    session : Session

    Returns
    -------
    Session

    Examples
    --------
    See `step`.
    """
    left = max(len(session.weigh_ins) - 1, 0)
    return replace(
        session, weigh_ins=session.weigh_ins[:left], made=session.made[: max(left - 1, 0)]
    )


def step(session: Session) -> Step:
    """Learn from the session so far and plan the next turns.

    Parameters
    ----------
    session : Session
        With at least one weigh-in.

    Returns
    -------
    Step

    Raises
    ------
    ValueError
        When nothing has been weighed yet.

    References
    ----------
    Derived here; see tests/benchmarks/test_convergence.py for what it is worth.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.learning import Sigmas, prior
    >>> from balancer.weighing import Readings, weigh
    >>> car = plain_car()
    >>> start = Session(car, prior(car, Sigmas()), PerchGoal.level(0.5))
    >>> begun = weighed(start, weigh(car, Readings.of(np.array([2900.0, 2700, 2200, 2400]))))
    >>> found = step(begun)
    >>> found.stop, found.in_tolerance, found.plan.status
    ('', False, 'reached')
    """
    if not session.weigh_ins:
        raise ValueError("nothing has been weighed yet")
    car, last = _linear(session), session.weigh_ins[-1]
    learned, disbelieved = _learned(session)
    loads = _believed_loads(car, last, learned)
    cross = float((loads[1] + loads[2]) / loads.sum())
    doubt = _cross_doubt(car, last, learned)
    off, tolerance = abs(cross - session.goal.cross), session.goal.tolerance
    spread = NormalDist(cross, max(doubt, 1e-12))
    confidence = spread.cdf(session.goal.cross + tolerance) - spread.cdf(
        session.goal.cross - tolerance
    )
    made = session.made[: len(session.weigh_ins) - 1]
    now = _with_travel(believed(session.car, learned.belief), made)
    now = as_turned(now, session.weigh_ins[0].loads, made)
    inside = off <= tolerance * (1 + 1e-9)
    if inside and confidence >= CONFIDENT:
        plan = plan_perches(now, loads, session.goal, doubt, fall_back=False)
    else:
        plan = surest(
            car,
            learned.belief,
            session.goal,
            last.shares.total,
            fine_plan(now, loads, session.goal, doubt),
            doubt,
        )
    return Step(
        learned=learned,
        cross=cross,
        cross_doubt=doubt,
        confidence=confidence,
        in_tolerance=inside,
        plan=plan,
        disbelieved=disbelieved,
        stop=_stop(plan, inside and confidence >= CONFIDENT, off, doubt),
    )


def expected(session: Session, turns: Floats) -> tuple[float, float]:
    """Say where turns after the last weigh-in will bring the cross weight.

    Parameters
    ----------
    session : Session
        With at least one weigh-in.
    turns : array (4,)

    Returns
    -------
    tuple of float
        As a fraction, and its standard uncertainty from belief, hands and scales.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.learning import Sigmas, prior
    >>> from balancer.weighing import Readings, weigh
    >>> car = plain_car()
    >>> first = weigh(car, Readings.of(np.array([2900.0, 2700, 2200, 2400])))
    >>> start = weighed(Session(car, prior(car, Sigmas()), PerchGoal.level(0.5)), first)
    >>> round(expected(start, np.zeros(4))[0], 9) == round(first.shares.cross, 9)
    True
    """
    last = session.weigh_ins[-1]
    after = turned(session, turns)
    counted = _counted(after)[-1]
    car = _linear(session)
    learned = _learned(session)[0]
    pattern = free_pattern(car.tracks)
    per_level = float(pattern[1] + pattern[2]) / last.shares.total
    loads = _believed_loads(car, last, learned)
    moved = per_level * gain(car, learned.belief.mean, counted)
    unsure = per_level * gain_doubt(car, learned.belief, counted)
    doubt = float(np.hypot(_cross_doubt(car, last, learned), unsure))
    return float((loads[1] + loads[2]) / loads.sum()) + moved, doubt


def surprise(session: Session, weigh_in: WeighIn, planned: Floats | None = None) -> float:
    """Say how unlike the turns made the change since the last weigh-in is.

    Parameters
    ----------
    session : Session
        With at least one weigh-in.
    weigh_in : WeighIn
        The next.
    planned : array (4,) or None
        As in `weighed`.

    Returns
    -------
    float
        In standard deviations of belief, hands and scales together; 0 where nothing was turned.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.learning import Sigmas, prior
    >>> from balancer.weighing import Readings, weigh
    >>> car = plain_car()
    >>> first = weigh(car, Readings.of(np.array([2900.0, 2700, 2200, 2400])))
    >>> start = weighed(Session(car, prior(car, Sigmas()), PerchGoal.level(0.5)), first)
    >>> surprise(start, first, np.array([-3.0, 3.0, 3.0, -3.0])) > 5
    True
    """
    after = weighed(session, weigh_in, planned)
    turns = after.made[-1]
    if not np.any(turns):
        return 0.0
    made = _counted(after)[-1]
    return _surprise(_linear(session), _learned(session)[0], weigh_in, made)


def _linear(session: Session) -> Car:
    """Give the car that the belief is about."""
    return taken_linear(session.car, session.weigh_ins[0].loads)


def _counted(session: Session) -> Sequence[Floats]:
    """Give the turns made, by what they come to where the car is not linear."""
    made = session.made[: len(session.weigh_ins)]
    return effective(session.car, [one.loads for one in session.weigh_ins], made)


def _surprise(car: Car, learned: Learned, weigh_in: WeighIn, turns: Floats) -> float:
    moved = level_of(car, weigh_in.loads) - learned.level
    spread = np.hypot(
        gain_doubt(car, learned.belief, turns),
        np.hypot(learned.level_doubt, scatter_of(car, car.scales, weigh_in.repeats)),
    )
    return float(abs(moved - gain(car, learned.belief.mean, turns)) / max(spread, 1e-12))


def _learned(session: Session) -> tuple[Learned, tuple[int, ...]]:
    """Learn, and begin anew at each weigh-in that the turns before it can't have led to.

    Such a weigh-in is there only because somebody has said that it was read right. That it begins
    anew follows from the readings alone, so a session taken up again comes to the same.
    """
    car, belief, since = _linear(session), session.belief, 0
    counted = _counted(session)
    levels = [level_of(car, one.loads) for one in session.weigh_ins]
    scatters = [max(scatter_of(car, car.scales, one.repeats), 1e-6) for one in session.weigh_ins]
    learned = Learned(belief, levels[0], scatters[0])
    disbelieved: list[int] = []
    for index in range(1, len(levels)):
        turns = counted[index - 1]
        if _surprise(car, learned, session.weigh_ins[index], turns) > ODD:
            since, belief = index, learned.belief
            learned = Learned(belief, levels[index], scatters[index])
            disbelieved.append(index)
            continue
        span = slice(since, index + 1)
        learned = learn(car, belief, levels[span], scatters[span], counted[since:index])
    return learned, tuple(disbelieved)


def _believed_loads(car: Car, last: WeighIn, learned: Learned) -> Floats:
    """Take the free pattern's amount from all of the session, the rest from the last readings."""
    moved = learned.level - level_of(car, last.loads)
    return last.loads + moved * free_pattern(car.tracks)


def _cross_doubt(car: Car, last: WeighIn, learned: Learned) -> float:
    pattern = free_pattern(car.tracks)
    per_level = (pattern[1] + pattern[2]) / last.shares.total
    accuracy = np.sqrt(np.sum((car.scales.accuracy * last.loads / 2) ** 2)) / last.shares.total
    return float(np.hypot(per_level * learned.level_doubt, accuracy))


def _with_travel(car: Car, made: Sequence[Floats]) -> Car:
    """Take what has been turned off the travel that is left."""
    return with_travel_spent(car, np.sum(made, axis=0) if made else np.zeros(4))


def _stop(plan: PerchPlan, sure: bool, off: float, doubt: float) -> Stop:
    if sure:
        return "in_tolerance"
    if off < 2 * doubt:
        return "below_the_scales"
    if not plan.best.corners:
        return "below_a_step" if plan.status == "reached" else "out_of_reach"
    return ""
