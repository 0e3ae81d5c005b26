"""What a session says after a weigh-in: where the car is, what to turn next, whether to stop."""

from dataclasses import dataclass, replace
from math import hypot
from typing import Literal

import numpy as np

from balancer.car.model import Car, Item
from balancer.planning.perches.aim import chance_within
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import PerchPlan, made
from balancer.planning.session.diagonal import (
    answer_uncertainty,
    cross_per_diagonal,
    diagonal_load,
    gain,
    gain_uncertainty,
    scatter_of,
)
from balancer.planning.session.expected import believed_car, believed_loads
from balancer.planning.session.learning import Learned
from balancer.planning.session.lessons import counted_turns, lessons
from balancer.planning.session.plan import believed_plan
from balancer.planning.session.scatter import SETTLING, SUREST, Mixed, suspected
from balancer.planning.session.session import Session, Taught, with_made
from balancer.planning.session.trims import elsewhere, good_in_all
from balancer.planning.session.worth import Turning, What, within, worth_most
from balancer.weighing.uncertainty import cross_of, share_uncertainties
from balancer.weighing.weigh import WeighIn

SETTLINGS = 3
"""Readings in a row, nothing turned, after which what turns and readings say together decides."""

WORTH = 0.05
"""Chance of landing in tolerance that one more weigh-in, with all on board, is worth."""

Stop = Literal[
    "", "in_tolerance", "below_a_step", "below_the_scales", "below_its_settling", "out_of_reach"
]


@dataclass(frozen=True, eq=False)
class Step:
    """What a weigh-in comes to.

    Attributes:
        cross, cross_uncertainty: Cross weight now, as readings and turns together have it, and
            its standard uncertainty with accuracy and heights of the pads, as fractions.
        carried_uncertainty: What of that is from carrying readings to another state [1]; of
            several race trims that where it is most.
        repeatable: The same without what the pads do every time alike: on these pads [1].
        confidence: Chance that the cross weight is within tolerance on these pads, in each race
            trim, as a fraction; of a car suspected to bind, and `SUREST` at most.
        confidence_elsewhere: The same on level ground and true pads, as a fraction.
        in_tolerance: Whether the best estimate is, in each race trim.
        plan: For the car as it is now believed to be.
        aboard_first: What to have on board for a weigh-in before anything is turned, where that
            makes it likelier by `WORTH` to land in tolerance than one without; empty: nothing.
        taught: By each weigh-in.
        stop: Why to stop, where neither turns nor another settling are worth their while:
            `in_tolerance`, likelier than not; the change wanted is `below_a_step`,
            `below_the_scales` or below what the car itself comes to rest within
            (`below_its_settling`); the target is `out_of_reach`. Empty: turn as planned and weigh
            again.
        settle_again: Whether to turn nothing and let the car settle anew: then the plan has no
            turns, and those that it would have come first among its alternatives.
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
    settle_again: bool = False

    @property
    def settling(self) -> float:
        """Standard deviation of the cross weight from one settling to the next, as believed [1]."""
        return float(self.learned.belief.settling @ SETTLING)

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
    car, last = session.linear_car, session.weigh_ins[-1]
    taught = lessons(session)
    learned = taught[-1].learned
    loads = believed_loads(car, last, learned)
    cross, others = cross_of(loads), elsewhere(session, loads, learned)
    goal = good_in_all(session.goal, cross, others)
    settled, own = _settled(car, last, taught[-1]), _carried_uncertainty(car, last, learned)
    carried = max(own, *(there.carried for there in others)) if others else own
    # Before any turns all plan by the readings alone.
    alone = share_uncertainties(car, last.loads, last.scatter).cross
    planned_by = alone if len(taught) == 1 else settled.uncertainty
    read = max(planned_by, settled.uncertainty)
    uncertainty, pads = hypot(read, carried), _of_the_pads(car, last)
    each = replace(session.goal, others=tuple(there.trim for there in others))
    now = believed_car(session, learned)
    covariance = learned.belief.covariance
    known = hypot(planned_by, carried)
    plan = believed_plan(now, loads, each, known, covariance, session.links, fall_back=False)
    unsure = answer_uncertainty(now, loads, covariance)(plan.best.turns)
    # In the middle: what turns let expect after one more weigh-in, as this one or with all aboard.
    noise = hypot(_scales(car, last), float(learned.belief.settling @ SETTLING))
    again, boarded = hypot(_both(read, noise), carried), _both(uncertainty, noise)
    worth = chance_within(goal.cross, hypot(boarded, unsure), goal)
    worth -= chance_within(goal.cross, hypot(again, unsure), goal)
    what, told = _what(session, goal, plan, settled, carried), suspected(settled)
    chance = within(told, carried, goal)
    inside = abs(cross - goal.cross) <= goal.tolerance * (1 + 1e-9)
    stop = _stop(session, plan, learned, inside and chance > 0.5, inside)
    if what == "stop" and stop == "in_tolerance" and _reads_out(session):
        what = "settle"
    if what == "settle" and plan.best.corners:
        still = made(now, loads, each, np.zeros(4))
        plan = replace(plan, best=still, alternatives=(plan.best, *plan.alternatives))
    return Step(
        learned=learned,
        cross=cross,
        cross_uncertainty=hypot(read, own, pads),
        carried_uncertainty=carried,
        repeatable=hypot(read, own),
        confidence=min(chance, SUREST),
        confidence_elsewhere=min(within(told, hypot(carried, pads), goal), SUREST),
        in_tolerance=inside,
        plan=plan,
        aboard_first=session.missing if worth >= WORTH else (),
        taught=taught,
        stop=stop if what == "stop" else "",
        settle_again=what == "settle",
    )


def _both(known: float, read: float) -> float:
    """Give the standard uncertainty of what is known and is read once more."""
    return known * read / hypot(known, read)


def _scales(car: Car, last: WeighIn) -> float:
    """Give how far the cross weight scatters on these pads, from one weigh-in to the next [1]."""
    return abs(cross_per_diagonal(car, last.shares.total)) * scatter_of(car, car.scales, 1)


def _settled(car: Car, last: WeighIn, taught: Taught) -> Mixed:
    """Give the cross weight but for what is wrong alike at each weigh-in."""
    per = cross_per_diagonal(car, last.shares.total)
    off = np.array([each.diagonal for each in taught.each]) - diagonal_load(car, last.loads)
    sds = np.array([each.read_uncertainty for each in taught.each])
    return Mixed(taught.learned.belief.settling, last.shares.cross + per * off, abs(per) * sds)


def _what(session: Session, goal: PerchGoal, plan: PerchPlan, now: Mixed, always: float) -> What:
    """Say what is worth most; what can't be reached is come as near to as can be."""
    car, last = session.linear_car, session.weigh_ins[-1]
    beyond = abs(now.mean - goal.cross) - 2 * hypot(now.uncertainty, always)
    if plan.status != "reached":
        return "turn" if beyond > 0 and plan.best.corners else "stop"
    per = cross_per_diagonal(car, last.shares.total)
    noise = np.hypot(SETTLING, per * scatter_of(car, car.scales, 1))
    turning = _turning(session, plan, per, goal.cross) if plan.best.corners else None
    what = worth_most(now, noise, always, turning, goal)
    # So small a tolerance that nothing makes it likely is no reason to stay surely outside of it.
    return "turn" if what == "stop" and turning and beyond > goal.tolerance else what


def _turning(session: Session, plan: PerchPlan, per: float, cross: float) -> Turning:
    """Say what the turns planned do, as each value of the settling has it.

    Args:
        per: Cross weight that a unit of the diagonal load is worth.
        cross: The one wanted, as a fraction.
    """
    car, turns = session.linear_car, plan.best.every_turn
    counted = counted_turns(with_made(session, turns), car, len(session.weigh_ins) - 1)
    beliefs = [each.belief for each in lessons(session)[-1].each]
    by = np.array([gain(car, each.mean, counted) for each in beliefs])
    sds = np.array([gain_uncertainty(car, each, counted) for each in beliefs])
    return Turning(per * by, abs(per) * sds, plan.best.shares.cross - cross)


def _carried_uncertainty(car: Car, last: WeighIn, learned: Learned) -> float:
    """Give what of the cross weight is not sure because of how masses bear."""
    more = learned.diagonal_uncertainty**2 - learned.read_uncertainty**2
    return abs(cross_per_diagonal(car, last.shares.total)) * float(np.sqrt(max(more, 0.0)))


def _reads_out(session: Session) -> bool:
    """Say whether the pads themselves plainly show a car out of tolerance, and few were read.

    Readings that are carried to another state show nothing plainly: who leans where is believed.
    """
    car, last, goal = session.linear_car, session.weigh_ins[-1], session.goal
    beyond = abs(last.shares.cross - goal.cross) - goal.tolerance
    there = session.aboard[-1] if session.aboard else None
    carried = there is not None and set(there) != set(session.state or ())
    if carried or beyond <= _scales(car, last):
        return False
    read = last.repeats
    for turns, before in zip(session.made_before[::-1], session.weigh_ins[-2::-1], strict=False):
        if np.any(turns):
            break
        read += before.repeats
    return read < SETTLINGS


def _of_the_pads(car: Car, last: WeighIn) -> float:
    """Give what accuracy and heights of the pads leave open of the cross weight [1]."""
    return share_uncertainties(car, last.loads, last.pads.T @ last.pads).cross


def _stop(session: Session, plan: PerchPlan, learned: Learned, inside: bool, near: bool) -> Stop:
    """Say why to stop.

    Args:
        inside: Whether it is in tolerance more likely than not.
        near: Whether the best estimate is.
    """
    if inside:
        return "in_tolerance"
    if not near and plan.status != "reached":
        return "out_of_reach"
    if not near and not plan.best.corners:
        return "below_a_step"
    car, last = session.linear_car, session.weigh_ins[-1]
    settling = float(np.sqrt(learned.belief.settling @ SETTLING**2))
    return "below_its_settling" if settling > _scales(car, last) else "below_the_scales"
