"""Which perches to turn, which way and how far: the plan and what it promises."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from balancer.car.adjusters import moved, moves_of
from balancer.car.answers import Contacts, PerTurn
from balancer.car.conventions import Floats
from balancer.car.ground import off_the_ground
from balancer.car.linear import free_pattern
from balancer.car.model import Car
from balancer.car.statics import Statics, statics_of
from balancer.planning.perches.goal import OtherTrim, PerchGoal
from balancer.planning.perches.limits import Limit, limits_of
from balancer.planning.perches.question import PerchMoves, Question, questions_of
from balancer.planning.perches.steps import SLACK, Solution

Status = Literal["reached", "closest", "gave_up"]


@dataclass(frozen=True, eq=False)
class PerchPlan:
    """The recommended moves, the others beside them, and why it can't be better.

    Attributes:
        status: `reached`; `closest`: proved that no allowed plan reaches the goal; `gave_up`:
            the search stopped without a proof of that.
        best: The moves to make, or the closest: of the search the fewest corners that meet both
            tolerances, of `aim` those that land near the middle.
        alternatives: The best for every other number of corners; of `aim` the fewest turns too.
        limits: Empty when reached.
        turns_uncertainty: Standard uncertainty of the turns at one corner, from that of the
            cross weight alone [turn]; NaN when no perch can turn.
        contacts: What the corners of a car that is not linear stand on now.
        linear: What a plan that takes such a car for linear would come to.
        nothing_closer: Whether it is proved that no allowed turns come nearer, on any corners.
        as_near: Of `aim`, the fewest corners that land as near the middle of both tolerances as the
            moves to make, which are on more where those are surer; 0 of any other plan.
        tells_more: Whether the moves to make were taken, of several as good, for what they tell.
    """

    status: Status
    best: PerchMoves
    alternatives: tuple[PerchMoves, ...]
    per_turn: PerTurn
    goal: PerchGoal
    limits: tuple[Limit, ...]
    turns_uncertainty: float
    contacts: Contacts | None = None
    linear: PerchMoves | None = None
    nothing_closer: bool = True
    as_near: int = 0
    tells_more: bool = False

    @property
    def fewer_corners(self) -> PerchMoves | None:
        """Other moves that meet both tolerances on the fewest corners; None where none has fewer.

        None too where `as_near` is not known.
        """
        fewer = (way for way in self.alternatives if way.met and way.corners < self.best.corners)
        return min(fewer, key=lambda way: way.corners, default=None) if self.as_near else None

    @property
    def fewest_turns(self) -> PerchMoves | None:
        """Other moves that meet both tolerances with the fewest turns; None where none is fewer."""
        fewer = (
            one
            for one in self.alternatives
            if one.met and one.turns_in_all < self.best.turns_in_all - SLACK
        )
        return min(fewer, key=lambda one: one.turns_in_all, default=None)


def plan_perches(
    car: Car,
    loads: Floats,
    goal: PerchGoal,
    cross_uncertainty: float = 0.0,
    links: bool = False,
    fall_back: bool = True,
) -> PerchPlan:
    """Find the exact best whole-step perch moves for a goal.

    Args:
        loads: (4,), the loads now, on level pads [N].
        cross_uncertainty: Standard uncertainty of the cross weight, as a fraction.
        links: Whether the drop links of anti-roll bars that are connected may be used too.
        fall_back: Whether a perch may be turned where there is a lower mount, if mounts alone
            won't do.

    Returns:
        For each number of corners the best by: both tolerances met, fewest turns, closest cross
        weight, smallest worst height. Recommended is the fewest corners that meet both. A car
        with `corners` is settled anew for every candidate; any other is taken as linear, which
        is right near the operating point: no damper at full droop, no bump stop, and no wheel
        in the air. What would pull on a pad is not planned.

    Raises:
        OperatingPointError: Where a corner can't carry its load as the file says.

    References:
        Exact, see `search`; held against the whole grid in tests/oracles.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> loads = np.array([2950.0, 2850.0, 2350.0, 2350.0])
        >>> goal = PerchGoal(0.5, 0.002, np.zeros(4), 1.5e-3)
        >>> plan = plan_perches(plain_car(), loads, goal)
        >>> plan.status, plan.best.turns.tolist()
        ('reached', [0.0, 0.0, 0.5, -0.5])
    """
    return asked_and_planned(car, loads, goal, cross_uncertainty, links, fall_back)[1]


def asked_and_planned(
    car: Car,
    loads: Floats,
    goal: PerchGoal,
    cross_uncertainty: float = 0.0,
    links: bool = False,
    fall_back: bool = True,
) -> tuple[Question, PerchPlan]:
    """Plan as `plan_perches` does, and give the question that was answered too.

    Args:
        loads: (4,) [N].
        cross_uncertainty: As there [1].
        links, fall_back: As there.
    """
    statics = statics_of(car, loads)
    questions = questions_of(statics, goal, links)
    question = next(questions)
    plan = _answer(question, goal, cross_uncertainty)
    if plan.best.airborne:
        return question, _grounded(statics, plan, cross_uncertainty)
    if plan.status != "reached" and fall_back:
        other = next((one for one in questions if one.first_to_meet() is not None), None)
        if other is not None:
            return other, _answer(other, goal, cross_uncertainty)
    if plan.status != "reached":
        plan = replace(plan, limits=limits_of(question, bool(goal.keep)))
    return question, plan


def _answer(question: Question, goal: PerchGoal, cross_uncertainty: float) -> PerchPlan:
    """Plan, but for what stands in the way."""
    solutions = question.best_of_each()
    best = _recommended(solutions)
    met = best.cross_met and best.heights_met
    proved = all(one.sure for one in solutions)
    status: Status = "reached" if met else "closest" if proved else "gave_up"
    others = (one for one in solutions if one is not best and np.any(one.steps))
    crossed = np.abs(question.per_turn.cross)
    # No turn does anything where all shocks are topped out.
    largest = crossed[crossed > 0].max(initial=0.0) or np.nan
    return PerchPlan(
        status=status,
        best=question.moves(best),
        alternatives=tuple(question.grounded(others)),
        per_turn=question.per_turn,
        goal=goal,
        limits=(),
        turns_uncertainty=float(cross_uncertainty / largest),
        contacts=question.statics.contacts,
        linear=question.taken_for_linear(goal),
        nothing_closer=all(one.proved for one in solutions),
    )


def _grounded(statics: Statics, plan: PerchPlan, cross_uncertainty: float) -> PerchPlan:
    """Plan as near to the goal of a plan that would lift a wheel as all four stay down."""
    goal = plan.goal
    lifted = next(filter(off_the_ground, plan.best.every_loads))
    limits = (Limit(("lift",), off_the_ground(lifted), (), None),)
    nearer = _on_four_wheels(statics.car, statics.loads, goal)
    if nearer is None:
        return replace(plan, status="closest", best=_held_to(plan.best, goal), limits=limits)
    held = _answer(next(questions_of(statics, nearer)), nearer, cross_uncertainty)
    status: Status = "gave_up" if "gave_up" in (plan.status, held.status) else "closest"
    return replace(held_to(held, goal), status=status, limits=limits)


def held_to(plan: PerchPlan, goal: PerchGoal) -> PerchPlan:
    """Judge a plan that was made for another goal by this one."""
    best = _held_to(plan.best, goal)
    status: Status = "gave_up" if plan.status == "gave_up" else "closest"
    return replace(
        plan,
        status="reached" if best.met else status,
        best=best,
        alternatives=tuple(_held_to(one, goal) for one in plan.alternatives),
        goal=goal,
    )


def _held_to(moves: PerchMoves, goal: PerchGoal) -> PerchMoves:
    wanted = (goal.cross, *(other.cross for other in goal.others))
    reached = (moves.shares, *(other.shares for other in moves.others))
    off = max(abs(one.cross - cross) for one, cross in zip(reached, wanted, strict=True))
    return moves._replace(cross_met=off <= goal.tolerance * (1 + SLACK) + 1e-12)


def _on_four_wheels(car: Car, loads: Floats, goal: PerchGoal) -> PerchGoal | None:
    """Move a goal to where no wheel is in the air; None where that is nowhere, or here.

    Perches change the loads by the free pattern alone, so their cross weight says all of them.
    """
    pattern = free_pattern(car.tracks)
    tolerance, moved = goal.tolerance, []
    for trim in (OtherTrim(loads, goal.cross), *goal.others):
        span = _span_on_four_wheels(pattern, trim.loads)
        if span is None:
            return None
        room = min(goal.tolerance, (span[1] - span[0]) / 2)
        moved.append(min(max(trim.cross, span[0] + room), span[1] - room))
        tolerance = min(tolerance, room)
    cross, *rest = moved
    if cross == goal.cross and all(
        there == trim.cross for there, trim in zip(rest, goal.others, strict=True)
    ):
        return None
    others = tuple(
        trim._replace(cross=there) for there, trim in zip(rest, goal.others, strict=True)
    )
    return replace(goal, cross=cross, tolerance=tolerance, others=others)


def _span_on_four_wheels(pattern: Floats, loads: Floats) -> tuple[float, float] | None:
    """Give the lowest and highest cross weight with no wheel in the air."""
    ends = -loads / pattern
    low, high = ends[pattern > 0].max(), ends[pattern < 0].min()
    if low > high:
        return None
    now, total = loads[1] + loads[2], loads.sum()
    each = pattern[1] + pattern[2]
    least, most = sorted((float(now + each * end) / float(total)) for end in (low, high))
    return least, most


def made(car: Car, loads: Floats, goal: PerchGoal, turns: Floats) -> PerchMoves:
    """Say what turns that somebody else has chosen come to.

    Args:
        loads: (4,), before them [N].
        goal: What they are measured against.
        turns: (4,), at the right adjuster of each corner, or (6,) with those of both links.

    Returns:
        Of which nothing is proved.
    """
    return next(questions_of(statics_of(car, loads), goal, len(turns) > 4)).made(turns)


def with_moves(car: Car, moves: PerchMoves) -> Car:
    """Give a car after moves were made: one that is not linear has other preloads then.

    Returns:
        The same one where it is linear.
    """
    if moves.mounts is None:
        return car
    longer = moves_of(car, moves.every_turn).link[0]
    return moved(car, moves.perch * ~moves.mounts, moves.perch * moves.mounts, longer)


def _recommended(solutions: list[Solution]) -> Solution:
    """Pick the fewest corners that meet both tolerances, else the closest of all."""

    def rank(one: Solution) -> tuple[int, float, int, float]:
        corners = int(np.count_nonzero(one.steps))
        # Rounded to what no scale can see, so that the last bit does not decide between ties.
        cross, height = round(one.cross_miss, 9), round(one.height_miss, 7)
        if one.cross_met and one.heights_met:
            return (0, one.stops, corners, 0.0)
        if one.heights_met:
            return (1, cross, corners, height)
        if one.cross_met:
            return (2, height, corners, cross)
        return (3, cross, corners, height)

    return min(solutions, key=rank)
