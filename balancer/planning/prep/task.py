"""What is to be done to a car before an event, and what ballast with turns comes to."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Car, Item
from balancer.car.statics import Statics, statics_of
from balancer.planning.ballast.goal import BallastGoal, RuleCheck, met_rules, with_class_cross
from balancer.planning.ballast.outcome import BallastPlan, judged_by
from balancer.planning.ballast.plan import plan_ballast
from balancer.planning.ballast.turns import Turns
from balancer.planning.perches.aim import FINE_TOLERANCES
from balancer.planning.perches.goal import OtherTrim, PerchGoal
from balancer.planning.perches.plan import PerchPlan, held_to, with_moves
from balancer.planning.perches.question import PerchMoves, questions_of
from balancer.planning.prep.legal import legal_goals
from balancer.planning.session.belief import carry_uncertainty
from balancer.planning.session.plan import believed_plan
from balancer.weighing.uncertainty import shares

Status = Literal["met", "closest", "gave_up"]


class Done(NamedTuple):
    """Ballast, and the turns with it on board.

    Attributes:
        ballast: With its rules held against the car with the turns made.
        status: `met`; `closest`: proved that no ballast and turns reach all of it; `gave_up`: it
            is not.
        straight: (4,), what the ballast would do to the loads in proportion to it [N].
        left_open: What rates not quite known leave open of the cross weight in the first race trim,
            as a fraction: how all that has come and gone since the weigh-in leans on the car.
        ruled: The rules that turns on to the target would break, where they end before it.
    """

    ballast: BallastPlan
    perches: PerchPlan
    status: Status
    straight: Floats
    left_open: float
    ruled: tuple[RuleCheck, ...] = ()

    @property
    def met(self) -> bool:
        """Whether it is legal and in tolerance, proved to be the lightest or not."""
        return self.legal and self.perches.status == "reached"

    @property
    def legal(self) -> bool:
        """Whether every rule is met."""
        return is_legal(self.ballast)

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
        learned: (6, 6) or None, covariance of what is believed of the car.
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
    def off(self) -> list[float]:
        """How far the cross weights are from the wanted ones before anything is done [1]."""
        each = zip(self.trims, self.crosses, strict=True)
        return [float(loads[1:3].sum() / loads.sum()) - cross for loads, cross in each]

    @property
    def all_rules(self) -> BallastGoal:
        """The rules, with that of the class for the cross weight, for ballast with turns."""
        return with_class_cross(self.car, self.rules)

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
        ballast = judged_by(ballast, self.rules)
        straight, ballast = ballast.change, self._at_rest(ballast)
        stands = zip(ballast.others, self.crosses[1:], strict=True)
        aimed = replace(
            self.target, others=tuple(OtherTrim(one.loads, cross) for one, cross in stands)
        )
        left_open = self._left_open(ballast)
        turned = self._turned(ballast, aimed, left_open)
        held = self._held(ballast, turned)
        missed: tuple[RuleCheck, ...] = ()
        if self.turned_rules and not is_legal(held):
            missed = tuple(rule for rule in held.all_rules if not rule.met)
            turned, held = self._within_rules(ballast, turned, held, left_open)
        statuses = (held.status, turned.status)
        status: Status = "met"
        if "gave_up" in statuses:
            status = "gave_up"
        elif "closest" in statuses:
            status = "closest"
        ruled = missed if is_legal(held) and turned.status != "reached" else ()
        return Done(held, turned, status, straight, left_open, ruled)

    def _at_rest(self, ballast: BallastPlan) -> BallastPlan:
        """Let a car come to rest with ballast, which its program took to do in proportion to it."""
        if not ballast.items:
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

    def _turned(self, ballast: BallastPlan, goal: PerchGoal, left_open: float) -> PerchPlan:
        unsure = float(np.hypot(self.cross_uncertainty, left_open))
        return believed_plan(self.car, ballast.loads, goal, unsure, self.learned)

    def _left_open(self, ballast: BallastPlan) -> float:
        on_board = (*self.race, *_items(ballast))
        moved = carry_uncertainty(self.statics.linear, on_board, self.was, self.learned)
        return float(moved / ballast.loads.sum())

    def _held(self, ballast: BallastPlan, turned: PerchPlan) -> BallastPlan:
        return with_turns_made(self.car, replace(ballast, goal=self.rules), turned.best)

    def _within_rules(
        self, ballast: BallastPlan, turned: PerchPlan, held: BallastPlan, left_open: float
    ) -> tuple[PerchPlan, BallastPlan]:
        """Turn only as far as the rules allow, where turns to the target would break one."""
        rules = self.all_rules.narrowed(turned.best.every_loads)
        each = np.nan_to_num(turned.per_turn.loads)
        pattern = each[np.abs(each).sum(axis=1).argmax()]
        for goal in legal_goals(turned.goal, ballast.loads, rules, pattern) if rules else ():
            nearer = self._turned(ballast, goal, left_open)
            legal = self._held(ballast, nearer)
            if is_legal(legal):
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


def _either(turned: RuleCheck, before: tuple[RuleCheck, ...]) -> RuleCheck:
    kinds = {rule.kind: rule for rule in before}
    by_turns = turned.share in ("left", "cross") or turned.kind.startswith("wheel")
    return turned if by_turns else kinds.get(turned.kind, turned)


def _items(ballast: BallastPlan) -> tuple[Item, ...]:
    return tuple(Item(*item[:5]) for item in ballast.items)


def is_legal(ballast: BallastPlan) -> bool:
    """Say whether every rule is met in every race trim."""
    return all(rule.met for rule in ballast.all_rules)


def with_turns_made(car: Car, plan: BallastPlan, moves: PerchMoves) -> BallastPlan:
    """Hold the rules against the car with ballast and turns, that of the class for the cross too.

    Args:
        plan: Ballast, with its rules held against the car before the turns.
        moves: The turns, made with it on board.
    """
    goal = with_class_cross(car, plan.goal)
    # What other rules are for turns hardly move: those stay as ballast was planned by them.
    first, *rest = (
        tuple(_either(rule, stand.rules) for rule in met_rules(goal, loads))
        for stand, loads in zip((plan.first, *plan.others), moves.every_loads, strict=True)
    )
    others = tuple(
        stand._replace(rules=rules) for stand, rules in zip(plan.others, rest, strict=True)
    )
    held = replace(plan, rules=first, others=others, goal=goal)
    if not is_legal(held):
        return replace(held, status="closest") if plan.status == "met" else held
    # Legal by the turns, where it is not without: that nothing lighter is was not asked.
    return replace(held, status="gave_up", bindings=()) if plan.status == "closest" else held
