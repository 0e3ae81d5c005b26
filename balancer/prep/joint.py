"""Ballast and turns as one problem: first one after the other, and together where that won't do.

Ballast is planned first, then the turns with it on board. Where both reach what they are for, and
no rule depends on the turns, nothing can be lighter. Else ballast and turns go into one program;
what it finds is planned and held against the rules anew, exactly, before it counts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from math import inf
from typing import Literal, NamedTuple

import numpy as np

from balancer.ballast.goal import BallastGoal, RuleCheck, class_cross, met_rules
from balancer.ballast.joint import ballast_with_turns, bindings_with_turns, least_with_turns
from balancer.ballast.outcome import BallastPlan
from balancer.ballast.plan import A_GRAM, plan_ballast
from balancer.ballast.turns import Turns
from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Car, Item
from balancer.car.statics import Statics, statics_of
from balancer.errors import UnstableCarError
from balancer.perches.aim import FINE_TOLERANCES
from balancer.perches.goal import OtherTrim, PerchGoal
from balancer.perches.plan import PerchPlan, held_to, with_moves
from balancer.perches.question import PerchMoves, questions_of
from balancer.prep.legal import legal_goals
from balancer.session.belief import carry_uncertainty
from balancer.session.plan import believed_plan
from balancer.weighing.uncertainty import shares

Status = Literal["met", "closest", "gave_up"]

_ROUNDS = 3
"""Programs after which what the last one took for the car's answer, and for how sure the pads are,
is what its plan came to."""

_SANE = 0.3
"""Of the car's mass: more ballast than that is not looked for where the rules ask for less."""


_NEAREST = 2
"""Of the plans for a chassis that twists so many are tried where nothing reaches the target."""


class Done(NamedTuple):
    """Ballast, and the turns with it on board.

    Attributes:
        ballast: With its rules held against the car with the turns made.
        status: `met`; `closest`: proved that no ballast and turns reach all of it; `gave_up`: it
            is not.
        straight: (4,), what the ballast would do to the loads in proportion to it [N].
        ruled: The rules that turns on to the target would break, where they end before it.
    """

    ballast: BallastPlan
    perches: PerchPlan
    status: Status
    straight: Floats
    ruled: tuple[RuleCheck, ...] = ()

    @property
    def met(self) -> bool:
        """Whether it is legal and in tolerance, proved to be the lightest or not."""
        return self.legal and self.perches.status == "reached"

    @property
    def legal(self) -> bool:
        """Whether every rule is met."""
        return _legal(self.ballast)

    @property
    def rank(self) -> tuple[bool, bool, float, float, bool]:
        """What is best first: legal, in tolerance, lightest, nearest, proved."""
        goal, best = self.perches.goal, self.perches.best
        crosses = [goal.cross, *(other.cross for other in goal.others)]
        there = [best.shares, *(other.shares for other in best.others)]
        off = max(abs(one.cross - cross) for one, cross in zip(there, crosses, strict=True))
        mass = round(self.ballast.added, 3)
        off = 0.0 if self.met else round(off, 6)
        return not self.legal, not self.met, mass, off, self.status != "met"


@dataclass(frozen=True, eq=False)
class Task:
    """What is to be done to a car.

    Attributes:
        trims: (4,) each, in the race trims, with neither ballast nor turns [N].
        rules: What the ballast is to reach.
        target: What the turns are to reach, in the first race trim and in the others.
        cross_uncertainty: Standard uncertainty of the cross weight as weighed, as a fraction.
        learned: (3, 3) or None, covariance of what is believed of the car.
        was, race: What was on board when weighed, and is in the first race trim.
    """

    car: Car
    trims: tuple[Floats, ...]
    rules: BallastGoal
    target: PerchGoal
    cross_uncertainty: float
    learned: Floats | None
    was: tuple[Item, ...] = ()
    race: tuple[Item, ...] = ()

    @cached_property
    def statics(self) -> Statics:
        """The car in the first race trim."""
        return statics_of(self.car, self.trims[0])

    @property
    def crosses(self) -> tuple[float, ...]:
        """The cross weights wanted in the race trims, as fractions."""
        others = [other.cross for other in self.target.others]
        return (self.target.cross, *(others or [self.target.cross] * (len(self.trims) - 1)))

    @property
    def all_rules(self) -> BallastGoal:
        """The rules, with that of the class for the cross weight, for ballast with turns."""
        band = class_cross(self.car, self.rules)
        if band is None:
            return self.rules
        return replace(self.rules, cross=band.cross, near=(*self.rules.near, *band.near))

    @property
    def turned_rules(self) -> bool:
        """Whether there are rules that turns can meet or miss."""
        rules = self.all_rules
        return bool(rules.wheel_minimum > 0 or rules.left_band or rules.cross)

    def one_after_the_other(self) -> Done:
        """Plan the ballast, and then the turns with it on board."""
        first, *others = self.trims
        return self.with_ballast(plan_ballast(self.car, first, self.rules, others))

    def with_ballast(self, ballast: BallastPlan) -> Done:
        """Plan the turns for ballast, and hold the car with both against the rules."""
        straight, ballast = ballast.change, self._at_rest(ballast)
        stands = zip(ballast.others, self.crosses[1:], strict=True)
        aimed = replace(
            self.target, others=tuple(OtherTrim(one.loads, cross) for one, cross in stands)
        )
        turned = self._turned(ballast, aimed)
        held = self._held(ballast, turned)
        missed: tuple[RuleCheck, ...] = ()
        if self.turned_rules and not _legal(held):
            missed = tuple(rule for rule in held.all_rules if not rule.met)
            turned, held = self._within_rules(ballast, turned, held)
        statuses = (held.status, turned.status)
        status: Status = "met"
        if "gave_up" in statuses:
            status = "gave_up"
        elif "closest" in statuses:
            status = "closest"
        ruled = missed if _legal(held) and turned.status != "reached" else ()
        return Done(held, turned, status, straight, ruled)

    def _at_rest(self, ballast: BallastPlan) -> BallastPlan:
        """Let a car come to rest with ballast, where that is more than in proportion to it."""
        if not (ballast.items and (self.car.corners or self.car.cg_up)):
            return ballast
        put = _items(ballast)
        first, *others = (statics_of(self.car, loads).carried(put, ()) for loads in self.trims)
        stands = tuple(
            stand._replace(loads=loads, shares=shares(self.car, loads))
            for stand, loads in zip(ballast.others, others, strict=True)
        )
        change = first - self.trims[0]
        there = shares(self.car, first)
        return replace(ballast, loads=first, change=change, shares=there, others=stands)

    def _turned(self, ballast: BallastPlan, goal: PerchGoal) -> PerchPlan:
        unsure = float(np.hypot(self.cross_uncertainty, self.left_open(ballast)))
        return believed_plan(self.car, ballast.loads, goal, unsure, self.learned)

    def left_open(self, ballast: BallastPlan) -> float:
        """Say what rates not quite known leave open of the cross weight with ballast in race trim.

        As a fraction, of how all that has come and gone since the weigh-in leans on the car.
        """
        on_board = (*self.race, *_items(ballast))
        moved = carry_uncertainty(self.statics.linear, on_board, self.was)
        return float(moved / ballast.loads.sum())

    def _held(self, ballast: BallastPlan, turned: PerchPlan) -> BallastPlan:
        return with_turns_made(self.car, replace(ballast, goal=self.rules), turned.best)

    def _within_rules(
        self, ballast: BallastPlan, turned: PerchPlan, held: BallastPlan
    ) -> tuple[PerchPlan, BallastPlan]:
        """Turn only as far as the rules allow, where turns to the target would break one."""
        rules = self.all_rules.narrowed(turned.best.every_loads)
        each = np.nan_to_num(turned.per_turn.loads)
        pattern = each[np.abs(each).sum(axis=1).argmax()]
        for goal in legal_goals(turned.goal, ballast.loads, rules, pattern) if rules else ():
            nearer = self._turned(ballast, goal)
            legal = self._held(ballast, nearer)
            if _legal(legal):
                return held_to(nearer, turned.goal), legal
        return turned, held

    def turns_at(self, done: Done) -> tuple[list[Floats], Turns]:
        """Say what steps do where a plan has brought the car, and the loads (4,) each to add it to.

        On a car that is linear these are those of the race trims. Where another is brought to
        equilibrium, they are those from where it would get to that plan in a straight line.
        """
        best = done.perches.best
        asked = next(questions_of(statics_of(self.car, done.ballast.loads), self.target))
        step = np.where(asked.adjusters.usable, asked.adjusters.step, 0.0)[:4]
        each = asked.per_turn
        if asked.statics.point is not None:
            there = statics_of(with_moves(self.car, best), best.loads)
            each = there.per_turn(asked.adjusters)
        wheels = np.nan_to_num(each.loads.T) * step
        heights = np.nan_to_num(each.heights.T) * step
        steps = np.divide(best.turns, step, out=np.zeros(4), where=step > 0)
        wanted = self.target.rise - best.height_change + heights @ steps
        tolerance = self.target.height_tolerance
        least, most = asked.limits
        turns = Turns(
            wheels=wheels / GRAVITY,
            least=least[:4],
            most=most[:4],
            heights=heights,
            low=wanted - tolerance,
            high=wanted + tolerance,
            crosses=self.crosses,
            tolerance=self.target.tolerance,
            near=min(FINE_TOLERANCES[0], self.target.tolerance),
        )
        landed = best.every_loads
        return [loads - done.straight - wheels @ steps for loads in landed], turns

    def together(self, first: Done) -> Done:
        """Plan ballast and turns as one problem, where one after the other won't do.

        Args:
            first: That.
        """
        if not self.car.places:
            return first
        if first.status == "met" and not (self.turned_rules and first.ballast.items):
            return first
        if first.ballast.status == "closest" and not self.turned_rules:
            return first
        best = last = first
        # Where rules don't depend on turns, nothing lighter than for them alone is legal.
        alone = first.ballast.status == "met" and not self.turned_rules
        floor = first.ballast.added if alone else -inf
        for _ in range(_ROUNDS):
            goal = self.all_rules.narrowed(last.perches.best.every_loads)
            if goal is None:
                break
            search = _Search(self, last, goal)
            if search.bound == inf:
                return search.nearest(best)
            found = search.found(floor)
            if found is None:
                break
            best, last = min(best, found, key=lambda one: one.rank), found
            if best.status == "met" or (best.met and not search.proved):
                return best
        return best if best.met else best._replace(status="gave_up")


class _Search:
    """One program for ballast and turns."""

    def __init__(self, task: Task, at: Done, goal: BallastGoal) -> None:
        self.task = task
        self.linear = task.statics.linear
        self.exact = task.statics.point is None
        self.trims, self.turns = task.turns_at(at)
        mass = float(task.trims[0].sum()) / GRAVITY
        self.sane = max(_SANE * mass, 2 * at.ballast.added)
        self.rules, self.goal = goal, replace(goal, most=min(goal.most, self.sane))
        roomier = self._roomier() if self.exact else None
        self.bound, proved = least_with_turns(
            self.linear, self.trims, self.goal, roomier or self.turns
        )
        self.proved = proved and roomier is not None

    def _roomier(self) -> Turns | None:
        """Widen the heights by what the weight of ballast can change of what turns do to them.

        Weight above the ground softens the car. So what turns do to heights with ballast is what
        they do without, times a matrix near one: the difference, twice for good measure. None
        where the car would not stand with all the ballast that there may be.
        """
        task, loads = self.task, self.task.trims[0]
        room = min(self.goal.most, sum(place.most for place in task.car.places)) * GRAVITY
        onto = ([0.25] * 4, [0.5, 0.5, 0, 0], [0, 0, 0.5, 0.5])
        try:
            now = _heights(task.car, loads)
            each = [_heights(task.car, loads + room * np.array(part)) - now for part in onto]
        except UnstableCarError:
            return None
        apart = max(float(np.abs(one @ np.linalg.pinv(now)).sum(axis=1).max()) for one in each)
        size = float(np.abs(task.target.rise).max()) + task.target.height_tolerance
        widened = 2 * apart * size
        return self.turns._replace(low=self.turns.low - widened, high=self.turns.high + widened)

    def found(self, floor: float) -> Done | None:
        """Find the lightest that holds, all planned anew.

        Args:
            floor: Mass below which nothing is known to be legal [kg].
        """
        every, floor = [], max(floor, self.bound) if self.proved else floor
        for plan in ballast_with_turns(self.linear, self.trims, self.goal, self.turns):
            done = self.task.with_ballast(plan)
            if done.met and plan.added > floor + A_GRAM:
                done = done._replace(status="gave_up")
            every.append(done)
            if done.status == "met":
                break
        return min(every, key=lambda one: one.rank, default=None)

    def nearest(self, best: Done) -> Done:
        """Find the lightest legal ballast with which turns come nearest, where nothing reaches."""
        ways = ballast_with_turns(self.linear, self.trims, self.goal, self.turns, landing=False)
        for plan in islice(ways, _NEAREST):
            best = min(best, self.task.with_ballast(plan), key=lambda one: one.rank)
        status: Status = "closest" if self.proved else "gave_up"
        if best.legal:
            lifted = bindings_with_turns(self.linear, self.trims, self.rules, self.turns)
            sane = tuple(way for way in lifted if way.needed <= self.sane)
            best = best._replace(ballast=replace(best.ballast, bindings=sane))
        return best._replace(status=status)


def _heights(car: Car, loads: Floats) -> Floats:
    """Give what a turn at each corner does to each height, a column a corner (4, 4) [m]."""
    return np.nan_to_num(statics_of(car, loads).per_turn().heights.T)


def _items(ballast: BallastPlan) -> tuple[Item, ...]:
    return tuple(Item(*item[:5]) for item in ballast.items)


def _legal(ballast: BallastPlan) -> bool:
    return all(rule.met for rule in ballast.all_rules)


def with_turns_made(car: Car, plan: BallastPlan, moves: PerchMoves) -> BallastPlan:
    """Hold the rules against the car with ballast and turns, that of the class for the cross too.

    Args:
        plan: Ballast, with its rules held against the car before the turns.
        moves: The turns, made with it on board.
    """
    goal = plan.goal
    if band := class_cross(car, goal):
        goal = replace(goal, cross=band.cross, near=(*goal.near, *band.near))
    first, *rest = (met_rules(goal, loads) for loads in moves.every_loads)
    others = tuple(
        stand._replace(rules=rules) for stand, rules in zip(plan.others, rest, strict=True)
    )
    held = replace(plan, rules=first, others=others)
    if not _legal(held):
        return replace(held, status="closest") if plan.status == "met" else held
    # Legal by the turns, where it is not without: that nothing lighter is was not asked.
    return replace(held, status="gave_up", bindings=()) if plan.status == "closest" else held
