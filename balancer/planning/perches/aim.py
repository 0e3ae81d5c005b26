"""Where within its tolerances a plan lands, and which of several ways it takes.

Who asks for a cross weight wants that one: the tolerance says when to stop, not where to aim.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from math import erf, hypot, sqrt

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.planning.perches.goal import EXACT, PerchGoal
from balancer.planning.perches.plan import PerchPlan, asked_and_planned
from balancer.planning.perches.question import PerchMoves, Question
from balancer.planning.perches.search import as_few_turns
from balancer.planning.perches.steps import SLACK, Solution
from balancer.planning.perches.work import MIDDLE

FINE_TOLERANCES = (0.0005, 0.001)
"""Tolerances of the cross weight that a plan aims for before it takes the one that was asked [1]:
what is planned to the edge of a tolerance lands outside it half the time."""

HEIGHT_PARTS = (0.3, 0.6, 1.0)
"""Parts of the height tolerance that a plan aims for before it takes all of it."""

MORE = 1.5
"""Times as many turns, and one more, that landing in the middle is worth where corners are not
linear: there it may take getting a shock off its stop."""

NEARLY = 0.02
"""Chance of landing in tolerance that is worth less than jacking up one more corner."""

ALIKE = 0.005
"""Chance of landing in tolerance by which ways are as good as each other."""

TELLS = 0.99
"""Part of what is not known that turns have to leave less than, to be taken for what they tell."""

CONFIDENT = 0.9
"""Chance of being within tolerance from which on nothing is turned for the cross weight."""

Unsure = Callable[[Floats], float]
"""Standard uncertainty of the cross weight [1] from what is not known of the car's answer to turns
(4,), and from the hands that make them."""


def aimed_plan(
    car: Car,
    loads: Floats,
    goal: PerchGoal,
    cross_uncertainty: float,
    unsure: Unsure,
    links: bool = False,
    fall_back: bool = True,
    open_after: Callable[[Floats], float] | None = None,
) -> PerchPlan:
    """Plan the fewest corners that land in the middle of both tolerances, where steps allow it.

    More corners only where they make it likelier to land in tolerance: turns in another proportion
    front to rear than those that taught what the car answers are less sure. Plans to the middle
    also share the work between the axles in the same proportion each time, so that what one set of
    turns has taught holds for the next.

    Args:
        car: As it is believed to be.
        loads: (4,) [N].
        cross_uncertainty: Standard uncertainty of the cross weight now [1].
        links, fall_back: As in `plan_perches`.
        open_after: How unsure turns, made and weighed, leave what is planned next; of ways that
            are as good for the goal that which leaves least is taken. None: that does not count.

    Returns:
        Where the goal is out of reach, or the car is there already and surely so, as
        `plan_perches`; else with its ways beside the one to take: the fewest turns within the
        tolerances, and other numbers of corners.

    Raises:
        OperatingPointError: Where a corner can't carry its load as the file says.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> loads, goal = np.array([2950.0, 2850, 2350, 2350]), PerchGoal.level(0.5)
        >>> plan = aimed_plan(plain_car(), loads, goal, 0.0, lambda turns: 1e-4)
        >>> plan.best.turns.tolist(), plan.fewest_turns.turns.tolist()
        ([-0.25, 0.25, 0.5, -0.5], [0.0, 0.0, 0.5, -0.5])
    """
    question, plan = asked_and_planned(car, loads, goal, cross_uncertainty, links, fall_back)
    there = not plan.best.corners and _chance(plan.best, goal, cross_uncertainty) >= CONFIDENT
    if plan.status != "reached" or there:
        return plan

    def chance(moves: PerchMoves) -> float:
        return _chance(moves, goal, hypot(unsure(moves.turns), cross_uncertainty))

    middle = _to_the_middle(question, plan, cross_uncertainty, chance)
    best, as_near, within = next(middle, (plan.best, plan.best.corners, None))
    tells_more = False
    if within and open_after and best.corners:
        as_good = as_few_turns(question.afresh(MIDDLE).problem.closer(*within), best.corners)
        more = _telling_more(best, question.grounded(as_good), chance, open_after)
        best, tells_more = more or best, more is not None
    others = tuple(_others(plan, best))
    return replace(plan, best=best, alternatives=others, as_near=as_near, tells_more=tells_more)


def chance_within(cross: float, uncertainty: float, goal: PerchGoal) -> float:
    """Compute the chance that a cross weight is within tolerance.

    Args:
        cross, uncertainty: Best estimate and its standard uncertainty [1].
    """
    spread = sqrt(2) * max(uncertainty, 1e-12)
    low, high = (goal.cross + side * goal.tolerance - cross for side in (-1, 1))
    return (erf(high / spread) - erf(low / spread)) / 2


def _crosses(moves: PerchMoves, goal: PerchGoal) -> list[float]:
    """Give the cross weight in each state, as far off the first target as it is off its own."""
    others = zip(goal.others, moves.others, strict=True)
    off = (there.shares.cross - trim.cross for trim, there in others)
    return [moves.shares.cross, *(goal.cross + each for each in off)]


def _chance(moves: PerchMoves, goal: PerchGoal, uncertainty: float) -> float:
    """Give the chance that a cross weight is within tolerance in the state where it is least."""
    return min(chance_within(cross, uncertainty, goal) for cross in _crosses(moves, goal))


def _to_the_middle(
    question: Question, plan: PerchPlan, uncertainty: float, chance: Callable[[PerchMoves], float]
) -> Iterator[tuple[PerchMoves, int, tuple[float, float] | None]]:
    """Give what lands near the middle, nearest in heights first, on how few corners, how near."""
    goal, question = plan.goal, question.afresh(MIDDLE)
    # The best chance that any turns could have.
    enough = chance_within(goal.cross, uncertainty, goal) - NEARLY
    # States that differ can't all be in the middle: the least miss is half of what is between them.
    apart = float(np.ptp(_crosses(plan.best, goal))) / 2
    # Where nothing is known of stops, turns do the same everywhere.
    most = np.inf if plan.contacts is None else MORE * plan.best.turns_in_all + 1
    for part in HEIGHT_PARTS:
        height = max(part * goal.height_tolerance, EXACT)
        for tolerance in FINE_TOLERANCES:
            cross = max(min(apart + tolerance, goal.tolerance), EXACT)
            down = question.grounded(_clear(question.that_meet(cross, height)))
            if (way := next(down, None)) and way.turns_in_all <= most:
                yield _surest(way, down, chance, enough), way.corners, (cross, height)


def _telling_more(
    best: PerchMoves,
    as_good: Iterator[PerchMoves],
    chance: Callable[[PerchMoves], float],
    open_after: Callable[[Floats], float],
) -> PerchMoves | None:
    """Find of ways that are as sure to land in tolerance the one that tells most, if any does."""
    enough, left = chance(best) - ALIKE, open_after(best.turns)
    ways = [(round(open_after(one.turns), 9), one) for one in as_good if chance(one) >= enough]
    least, way = min(ways, key=lambda each: each[0], default=(left, best))
    return way if least < TELLS * left else None


def _clear(met: Iterator[Solution]) -> Iterator[Solution]:
    """Leave out what brings more corners to a stop than another does."""
    first = next(met, None)
    if first is None:
        return
    if first.stops:
        every = [first, *met]
        least = min(one.stops for one in every)
        yield from (one for one in every if one.stops == least)
        return
    yield first
    yield from (one for one in met if not one.stops)


def _surest(
    first: PerchMoves,
    others: Iterator[PerchMoves],
    chance: Callable[[PerchMoves], float],
    enough: float,
) -> PerchMoves:
    """Take more corners than the fewest only where that makes it likelier to land in tolerance.

    Args:
        others: On more corners, not looked for where the first is sure enough.
        enough: Chance beyond which no other can be noticeably likelier.
    """
    if chance(first) > enough:
        return first
    ways = [first, *others]
    chances = [chance(way) for way in ways]
    enough = max(chances) - NEARLY
    return next(way for way, each in zip(ways, chances, strict=True) if each > enough)


def _others(plan: PerchPlan, best: PerchMoves) -> Iterator[PerchMoves]:
    """Give the ways of an exact search that stand beside the one to take."""
    ways = (plan.best, *plan.alternatives)
    fewest = min((way for way in ways if way.met), key=lambda way: way.turns_in_all)
    fewer = fewest.turns_in_all < best.turns_in_all - SLACK
    for way in ways:
        if way.corners != best.corners or (fewer and way is fewest):
            yield way
