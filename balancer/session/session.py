"""A session at the pads: weigh, turn, weigh again, and know when to stop.

Plain values in, plain values out: a `Session` is what has been read and turned so far, and every
function gives a new one. Whoever talks to the user, or keeps the log, does so around it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Literal, NamedTuple

import numpy as np

from balancer.car.adjusters import adjuster_travel, with_travel_spent
from balancer.car.conventions import Floats
from balancer.car.linear import free_pattern
from balancer.car.model import Car
from balancer.perches.goal import PerchGoal
from balancer.perches.plan import PerchPlan, one_turn, plan_perches
from balancer.session.aim import fine_plan, surest
from balancer.session.learning import (
    Belief,
    Learned,
    believed,
    diagonal_load,
    gain,
    gain_uncertainty,
    learn,
    scatter_of,
)
from balancer.session.turns_made import as_turned, came_to, taken_linear
from balancer.weighing.weigh import WeighIn

Stop = Literal["", "in_tolerance", "below_a_step", "below_the_scales", "out_of_reach"]


CONFIDENT = 0.9
"""Chance of being within tolerance from which on a session says stop."""


ODD = 5.0
"""Standard deviations between turns and their answer from which on the pads are believed alone."""


class Taught(NamedTuple):
    """What a session has taught up to one of its weigh-ins.

    Attributes:
        level, scatter: `learning.diagonal_load` and `learning.scatter_of` this weigh-in [N·m].
        counted: (4,), turns made before it, by what they come to where the car is not linear;
            none before the first.
        since: The weigh-in from which on all is learned from together.
        before: At that one.
        disbelieved: Whether it is so unlike the turns before it that those can't be what was
            made.
    """

    level: float
    scatter: float
    counted: Floats
    learned: Learned
    since: int
    before: Belief
    disbelieved: bool


@dataclass(frozen=True, eq=False)
class Session:
    """What has been weighed and turned so far.

    Attributes:
        car: As the file has it, with the perch travel left at the start of the session.
        belief: Before the session.
        made: tuple of array (4,), turns made after each weigh-in but the last, or after it too
            once they are said.
        taught: By the first weigh-ins, as `remembering` carries it along: what is known need
            not be learned again. Leave it out in a session with another car or belief.
    """

    car: Car
    belief: Belief
    goal: PerchGoal
    weigh_ins: tuple[WeighIn, ...] = ()
    made: tuple[Floats, ...] = ()
    taught: tuple[Taught, ...] = ()


@dataclass(frozen=True, eq=False)
class Step:
    """What a weigh-in comes to.

    Attributes:
        cross, cross_uncertainty: Cross weight now, as readings and turns together have it, and
            its standard uncertainty with the accuracy of the pads, as fractions.
        confidence: Chance that the cross weight is within tolerance, as a fraction.
        in_tolerance: Whether the best estimate is.
        plan: For the car as it is now believed to be.
        taught: By each weigh-in.
        stop: Why to stop: `in_tolerance`, with `CONFIDENT` confidence; the change wanted is
            `below_a_step` or `below_the_scales`; the target is `out_of_reach`. Empty: turn as
            planned and weigh again.
    """

    learned: Learned
    cross: float
    cross_uncertainty: float
    confidence: float
    in_tolerance: bool
    plan: PerchPlan
    taught: tuple[Taught, ...]
    stop: Stop

    @property
    def disbelieved(self) -> tuple[int, ...]:
        """Weigh-ins, counted from 0, that the turns before them can't have led to."""
        return tuple(number for number, one in enumerate(self.taught) if one.disbelieved)


def weighed(session: Session, weigh_in: WeighIn, planned: Floats | None = None) -> Session:
    """Add a weigh-in.

    Args:
        planned: (4,) or None, the turns last planned, which count as made unless others were
            said; None: nothing was turned.
    """
    made = session.made
    if session.weigh_ins and len(made) < len(session.weigh_ins):
        made = (*made, np.zeros(4) if planned is None else planned)
    return replace(session, weigh_ins=(*session.weigh_ins, weigh_in), made=made)


def turned(session: Session, turns: Floats) -> Session:
    """Say what was really turned since the last weigh-in.

    Args:
        turns: (4,)

    Raises:
        ValueError: When nothing has been weighed yet.
    """
    if not session.weigh_ins:
        raise ValueError("nothing has been weighed yet")
    before = session.made[: len(session.weigh_ins) - 1]
    return replace(session, made=(*before, np.asarray(turns, dtype=float)))


def unsaid(session: Session) -> Session:
    """Take back what was said to be turned since the last weigh-in."""
    return replace(session, made=session.made[: max(len(session.weigh_ins) - 1, 0)])


def travel_left(session: Session) -> Floats:
    """Compute how far each perch can still be turned from where the last weigh-in found it.

    Returns:
        (4, 2), turns down, negative, and up.
    """
    made = session.made[: max(len(session.weigh_ins) - 1, 0)]
    return adjuster_travel(_with_travel(session.car, made))


def until(session: Session, count: int) -> Session:
    """Take weigh-ins back but for the first, and the turns that led to those taken back.

    Args:
        count: How many stay.
    """
    return replace(
        session,
        weigh_ins=session.weigh_ins[:count],
        made=session.made[: max(count - 1, 0)],
        taught=session.taught[:count],
    )


def undone(session: Session) -> Session:
    """Take the last weigh-in back, with the turns that led to it."""
    return until(session, max(len(session.weigh_ins) - 1, 0))


def remembering(session: Session) -> Session:
    """Learn from a session what it has to teach, and carry it along.

    Returns:
        Of which everything comes out the same, sooner: its next step need not begin anew.
    """
    return replace(session, taught=_taught(session))


def step(session: Session) -> Step:
    """Learn from the session so far and plan the next turns.

    Args:
        session: With at least one weigh-in.

    Raises:
        ValueError: When nothing has been weighed yet.

    References:
        Derived here; see tests/benchmarks/test_convergence.py for what it is worth.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.session.learning import Sigmas, prior
        >>> from balancer.weighing.weigh import Readings, weigh
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
    taught = _taught(session)
    learned = taught[-1].learned
    loads = _believed_loads(car, last, learned)
    cross = float((loads[1] + loads[2]) / loads.sum())
    uncertainty = _cross_uncertainty(car, last, learned)
    off, tolerance = abs(cross - session.goal.cross), session.goal.tolerance
    spread = NormalDist(cross, max(uncertainty, 1e-12))
    confidence = spread.cdf(session.goal.cross + tolerance) - spread.cdf(
        session.goal.cross - tolerance
    )
    now = _as_believed(session, learned)
    inside = off <= tolerance * (1 + 1e-9)
    if inside and confidence >= CONFIDENT:
        plan = plan_perches(now, loads, session.goal, uncertainty, fall_back=False)
    else:
        plan = surest(
            car,
            learned.belief,
            session.goal,
            last.shares.total,
            fine_plan(now, loads, session.goal, uncertainty),
            uncertainty,
        )
    return Step(
        learned=learned,
        cross=cross,
        cross_uncertainty=uncertainty,
        confidence=confidence,
        in_tolerance=inside,
        plan=plan,
        taught=taught,
        stop=_stop(plan, inside and confidence >= CONFIDENT, off, uncertainty),
    )


def expected(session: Session, turns: Floats) -> tuple[float, float]:
    """Say where turns after the last weigh-in will bring the cross weight.

    Args:
        session: With at least one weigh-in.
        turns: (4,)

    Returns:
        As a fraction, and its standard uncertainty from belief, hands and scales.
    """
    last = session.weigh_ins[-1]
    car = _linear(session)
    counted = _counted(turned(session, turns), car, len(session.weigh_ins) - 1)
    learned = _taught(session)[-1].learned
    pattern = free_pattern(car.tracks)
    per_level = float(pattern[1] + pattern[2]) / last.shares.total
    loads = _believed_loads(car, last, learned)
    moved = per_level * gain(car, learned.belief.mean, counted)
    unsure = per_level * gain_uncertainty(car, learned.belief, counted)
    uncertainty = float(np.hypot(_cross_uncertainty(car, last, learned), unsure))
    return float((loads[1] + loads[2]) / loads.sum()) + moved, uncertainty


def expected_loads(session: Session, turns: Floats) -> Floats:
    """Say what the pads are to show after turns.

    Args:
        session: With at least one weigh-in.
        turns: (4,), after the last one.

    Returns:
        (4,) [N], near enough to tell a slip.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.session.learning import Sigmas, prior
        >>> from balancer.weighing.weigh import Readings, weigh
        >>> car = plain_car()
        >>> first = weigh(car, Readings.of(np.array([2900.0, 2700, 2200, 2400])))
        >>> start = weighed(Session(car, prior(car, Sigmas()), PerchGoal.level(0.5)), first)
        >>> expected_loads(start, np.array([1.0, 0, 0, 0])).round(1).tolist()
        [2917.0, 2683.0, 2183.0, 2417.0]
    """
    last, learned = session.weigh_ins[-1], _taught(session)[-1].learned
    loads = _believed_loads(_linear(session), last, learned)
    per_turn = one_turn(_as_believed(session, learned), loads).loads
    return last.loads + np.nan_to_num(per_turn).T @ turns


def surprise(session: Session, weigh_in: WeighIn, planned: Floats | None = None) -> float:
    """Say how unlike the turns made the change since the last weigh-in is.

    Args:
        session: With at least one weigh-in.
        weigh_in: The next.
        planned: (4,) or None, as in `weighed`.

    Returns:
        In standard deviations of belief, hands and scales together; 0 where nothing was turned.
    """
    after = weighed(session, weigh_in, planned)
    turns = after.made[-1]
    if not np.any(turns):
        return 0.0
    car = _linear(session)
    learned = _taught(session)[-1].learned
    made = _counted(after, car, len(session.weigh_ins) - 1)
    return _surprise(car, learned, weigh_in, made)


def _linear(session: Session) -> Car:
    """Give the car that the belief is about."""
    return taken_linear(session.car, session.weigh_ins[0].loads)


def _as_believed(session: Session, learned: Learned) -> Car:
    """Give the car as it is believed to stand at the last weigh-in."""
    made = session.made[: len(session.weigh_ins) - 1]
    now = _with_travel(believed(session.car, learned.belief), made)
    return as_turned(now, session.weigh_ins[0].loads, made)


def _counted(session: Session, linear: Car, after: int) -> Floats:
    """Give the turns made after a weigh-in by what they come to where the car is not linear."""
    read, made = session.weigh_ins, session.made
    before = as_turned(session.car, read[0].loads, made[:after])
    return came_to(session.car, linear, before, read[after].loads, made[after])


def _surprise(car: Car, learned: Learned, weigh_in: WeighIn, turns: Floats) -> float:
    moved = diagonal_load(car, weigh_in.loads) - learned.level
    spread = np.hypot(
        gain_uncertainty(car, learned.belief, turns),
        np.hypot(learned.level_uncertainty, scatter_of(car, car.scales, weigh_in.repeats)),
    )
    return float(abs(moved - gain(car, learned.belief.mean, turns)) / max(spread, 1e-12))


def _taught(session: Session) -> tuple[Taught, ...]:
    """Learn from the weigh-ins that nothing was learned from yet."""
    car, taught = _linear(session), session.taught
    for index in range(len(taught), len(session.weigh_ins)):
        taught = (*taught, _teach(session, car, taught, index))
    return taught


def _teach(session: Session, car: Car, taught: tuple[Taught, ...], index: int) -> Taught:
    """Learn from a weigh-in, or begin anew where the turns before it can't have led to it.

    Such a weigh-in is there only because somebody has said that it was read right. That it begins
    anew follows from the readings alone, so a session taken up again comes to the same.
    """
    one = session.weigh_ins[index]
    level = diagonal_load(car, one.loads)
    scatter = max(scatter_of(car, car.scales, one.repeats), 1e-6)
    if not taught:
        anew = Learned(session.belief, level, scatter)
        return Taught(level, scatter, np.zeros(4), anew, 0, session.belief, disbelieved=False)
    last = taught[-1]
    turns = _counted(session, car, index - 1)
    if _surprise(car, last.learned, one, turns) > ODD:
        belief = last.learned.belief
        anew = Learned(belief, level, scatter)
        return Taught(level, scatter, turns, anew, index, belief, disbelieved=True)
    span = taught[last.since :]
    learned = learn(
        car,
        last.before,
        [*(each.level for each in span), level],
        [*(each.scatter for each in span), scatter],
        [*(each.counted for each in span[1:]), turns],
    )
    return Taught(level, scatter, turns, learned, last.since, last.before, disbelieved=False)


def _believed_loads(car: Car, last: WeighIn, learned: Learned) -> Floats:
    """Take the free pattern's amount from all of the session, the rest from the last readings."""
    moved = learned.level - diagonal_load(car, last.loads)
    return last.loads + moved * free_pattern(car.tracks)


def _cross_uncertainty(car: Car, last: WeighIn, learned: Learned) -> float:
    pattern = free_pattern(car.tracks)
    per_level = (pattern[1] + pattern[2]) / last.shares.total
    accuracy = np.sqrt(np.sum((car.scales.accuracy * last.loads / 2) ** 2)) / last.shares.total
    return float(np.hypot(per_level * learned.level_uncertainty, accuracy))


def _with_travel(car: Car, made: Sequence[Floats]) -> Car:
    """Take what has been turned off the travel that is left."""
    return with_travel_spent(car, np.sum(made, axis=0) if made else np.zeros(4))


def _stop(plan: PerchPlan, sure: bool, off: float, uncertainty: float) -> Stop:
    if sure:
        return "in_tolerance"
    if off < 2 * uncertainty:
        return "below_the_scales"
    if not plan.best.corners:
        return "below_a_step" if plan.status == "reached" else "out_of_reach"
    return ""
