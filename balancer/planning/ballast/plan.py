"""How much ballast, and where: the lightest that makes the car legal with the split wanted."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from math import inf

from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.car.statics import statics_of
from balancer.planning.ballast.closest import closest
from balancer.planning.ballast.constraints import aims_of, demands_in, lightest, rules_of
from balancer.planning.ballast.goal import BallastGoal, met_rules, with_class_cross
from balancer.planning.ballast.limits import Binding, bindings_of
from balancer.planning.ballast.outcome import (
    A_GRAM,
    BallastPlan,
    Status,
    held_against,
    items_of,
    judged_by,
    standing,
)
from balancer.planning.ballast.program import build_for, lexicographic
from balancer.planning.ballast.settled import settled_plan
from balancer.planning.ballast.twisting import at_stations, inexact_places, spread

_ROUNDS = 4
"""Plans after which the uncertainty of what they make is what was planned for."""

_HALVINGS = 12
"""Of the way to the least chance of missing a rule: to a 4000th."""


def plan_ballast(
    car: Car, loads: Floats, goal: BallastGoal, others: Sequence[Floats] = ()
) -> BallastPlan:
    """Find the lightest ballast that meets the rules, and the best way to spread it.

    Args:
        car: With its places and pieces.
        loads: (4,), the loads in race trim, on level pads [N].
        others: (4,) each, in other race trims that the rules hold in too [N].

    Returns:
        Best by: all rules met, lightest, front share closest to the middle of what is wanted,
        left share closest to its target, lowest, most central. Where the rules can't all be
        met: first the minimum, then axles and wheels, then the shares as near as can be.
        Where they can, but not so that another scale misses them as rarely as is asked: with
        the smallest chance of that. Between whole pieces, differences below 0.001 points of
        front share, 0.01 points of left share and 0.01 % of the car's mass times one meter
        count as ties. Of several race trims the first says what is best spread. A car on real
        corners is planned by its rates as they stand, and held to where it comes to rest.
    """
    statics = statics_of(car, loads)
    if statics.point is None:
        return _by_rates(car, goal, (loads, *others))
    return settled_plan(car, (loads, *others), partial(_by_rates, statics.linear, goal))


def plan_for_class(
    car: Car, loads: Floats, goal: BallastGoal, others: Sequence[Floats] = ()
) -> BallastPlan:
    """Plan as `plan_ballast` does, on pads that only push, and hold the class's cross weight too.

    Where the goal leaves that to the perches, ballast brings it only if that takes no more of it.

    Args:
        loads: (4,), as in `plan_ballast` [N].
        others: (4,) each, as there [N].
    """
    plan = standing(car, plan_ballast(car, loads, goal, others))
    both = with_class_cross(car, goal)
    left = judged_by(plan, both)
    if not left.left_to_turns:
        return left
    no_more = replace(both, most=plan.added + A_GRAM)
    narrower = no_more.narrowed([plan.loads, *(stand.loads for stand in plan.others)])
    if not narrower or not _possible(car, (loads, *others), narrower):
        return left
    brought = standing(car, plan_ballast(car, loads, no_more, others))
    return replace(brought, goal=both) if brought.status == "met" else left


def _by_rates(car: Car, goal: BallastGoal, trims: Sequence[Floats]) -> BallastPlan:
    plan = best = None
    basis = tuple(trims)
    for _ in range(_ROUNDS):
        strict = goal.narrowed(basis)
        if strict is None:
            break
        plan = _planned(car, trims, strict)
        if goal.other_scale is None:
            return plan
        judged = _judged(plan, goal)
        if judged.status == "met" and (best or not _tight(judged)):
            return judged
        if plan.status != "met":
            break
        # An uncertainty changes a little with what is bolted in.
        basis = (plan.loads, *(stand.loads for stand in plan.others))
        best = judged if judged.status == "met" else best
    if best:
        return best
    if plan and plan.status != "closest":
        return _judged(plan, goal)
    return _least_doubtful(car, trims, goal, plan)


def _tight(plan: BallastPlan) -> bool:
    """Say whether a little less uncertainty could spare ballast."""
    allowed = plan.goal.other_scale.chance if plan.goal.other_scale else 0.0
    judged = (rule for rule in plan.all_rules if rule.kind not in ("minimum", "maximum"))
    near = any(rule.chance is not None and rule.chance > allowed / 2 for rule in judged)
    return near and bool(plan.items)


def _least_doubtful(
    car: Car, trims: Sequence[Floats], goal: BallastGoal, strict: BallastPlan | None
) -> BallastPlan:
    """Halve the way to the least chance of missing a rule on another scale that can be had."""
    bindings = strict.bindings if strict else ()
    plan = _planned(car, trims, replace(goal, other_scale=None))
    if plan.status == "closest":
        return _judged(strict or plan, goal)
    low, high = goal.other_scale.chance if goal.other_scale else 0.0, 1.0
    for _ in range(_HALVINGS):
        chance = (low + high) / 2
        narrower = goal.narrowed(trims, chance)
        if narrower and _possible(car, trims, narrower):
            high = chance
        else:
            low = chance
    narrower = goal.narrowed(trims, high)
    best = _planned(car, trims, narrower, explain=False) if narrower else plan
    plan = plan if best.status == "closest" else best
    judged = _judged(plan, goal)
    missed = not all(rule.met for rule in judged.all_rules)
    status: Status = "closest" if missed and plan.status == "met" else "gave_up"
    return replace(judged, status=status, bindings=bindings if missed else ())


def _possible(car: Car, trims: Sequence[Floats], goal: BallastGoal) -> bool:
    """Say whether any ballast meets a goal; on a chassis that twists, to first order."""
    if not car.places:
        return all(rule.met for loads in trims for rule in met_rules(goal, loads))
    linear = statics_of(car, trims[0]).linear
    return lightest(build_for(linear, goal.most, trims[0]), trims, goal)[0] < inf


def _judged(plan: BallastPlan, goal: BallastGoal) -> BallastPlan:
    """Hold a plan for a narrower goal against the one that was asked for."""
    if goal.other_scale is None:
        return plan
    judged = replace(judged_by(plan, goal), goal=goal)
    missed = not all(rule.met for rule in judged.all_rules)
    return replace(judged, status="closest") if missed and plan.status == "met" else judged


def _planned(
    car: Car, trims: Sequence[Floats], goal: BallastGoal, explain: bool = True
) -> BallastPlan:
    """Plan for the loads as they are, as if another scale read the same."""
    if not car.places:
        return _nowhere(car, trims, goal)
    car = statics_of(car, trims[0]).linear
    plan = _plan(car, trims, goal, explain)
    sided = goal.wheel_minimum > 0 or goal.left_band or goal.cross
    inexact = inexact_places(car) if sided else []
    if not inexact:
        return plan
    # A chassis that twists answers a side moment by where along it the mass sits, and the program
    # took that to first order only: its word about wheels is no proof.
    any_wheels = replace(goal, wheel_minimum=0.0, left_band=None, cross=None)
    unmet = plan.status != "met"
    if unmet and _plan(car, trims, any_wheels, explain=False).status == "closest":
        return plan
    bound = _lower_bound(car, trims, goal, inexact)
    if not unmet and plan.added <= bound + A_GRAM:
        return plan
    tried = [plan, *_at_stations(car, trims, goal, inexact, plan)]
    met = [other for other in tried if other.status == "met"]
    if not met:
        # What lifting a limit would take comes of the same inexact rows.
        return replace(plan, status="gave_up", bindings=())
    best = min(met, key=lambda other: other.added)
    return best if best.added <= bound + A_GRAM else replace(best, status="gave_up")


def _lower_bound(car: Car, trims: Sequence[Floats], goal: BallastGoal, inexact: list[int]) -> float:
    """Give a mass below which nothing will do: all that may be put anywhere in a rectangle."""
    program = spread(car, build_for(car, goal.most, trims[0]), inexact, trims[0])
    mass, proved = lightest(program, trims, goal)
    return mass if proved and mass < inf else 0.0


def _at_stations(
    car: Car, trims: Sequence[Floats], goal: BallastGoal, inexact: list[int], plan: BallastPlan
) -> list[BallastPlan]:
    """Plan with each place that matters shrunk to one station: for that the program is exact."""
    return [
        _plan(there, trims, goal, explain=False) for there in at_stations(car, plan.items, inexact)
    ]


def _nowhere(car: Car, trims: Sequence[Floats], goal: BallastGoal) -> BallastPlan:
    """Hold a car that may carry no ballast against the rules."""
    plan = held_against(car, trims, goal, (), proved=True)
    return plan if plan.status == "met" else replace(plan, bindings=(Binding((), inf),))


def _plan(
    car: Car, trims: Sequence[Floats], goal: BallastGoal, explain: bool = True
) -> BallastPlan:
    program = build_for(car, goal.most, trims[0])
    demands = demands_in(program, trims, goal)
    solution = lexicographic(program, aims_of(car, program, trims[0], goal), rules_of(demands))
    explain = explain and solution is None
    solution = solution or closest(car, program, trims, goal, demands)
    plan = held_against(car, trims, goal, items_of(car, program, solution.values), solution.proved)
    if not explain:
        return plan
    ways = bindings_of(car, goal, trims[0], lambda lifted: lightest(lifted, trims, goal)[0])
    return replace(plan, bindings=ways)
