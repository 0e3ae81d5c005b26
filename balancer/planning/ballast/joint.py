"""Ballast planned together with the turns of the perches: one program for both.

The order stays that of ballast alone: legal, then lightest. Of ballast as light as that, the one
is taken with which turns come nearest to the cross weight, and then the one that is best spread.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import inf

from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.planning.ballast.closest import HELD
from balancer.planning.ballast.constraints import aims_of, demands_in, rules_of
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.limits import Binding, bindings_of
from balancer.planning.ballast.outcome import BallastPlan, held_against, items_of
from balancer.planning.ballast.program import Aim, Program, Solution, build_for, lexicographic
from balancer.planning.ballast.turns import Turns, grounded, nearest
from balancer.planning.ballast.twisting import at_stations, inexact_places, spread
from balancer.planning.solver import LinearConstraint


def least_with_turns(
    car: Car, trims: Sequence[Floats], goal: BallastGoal, turns: Turns
) -> tuple[float, bool]:
    """Give a mass below which no ballast is legal and lets turns land in tolerance.

    Args:
        trims: (4,) each, in the race trims, without the ballast [N].

    Returns:
        [kg], infinite where nothing does; and whether that is proved, for a car that is linear.
    """
    program = turns.joined(
        spread(car, build_for(car, goal.most, trims[0]), inexact_places(car), trims[0])
    )
    solution = _lightest(program, trims, goal, turns.landing(program, trims))
    if solution is None:
        return inf, True
    return float(program.mass.sum(axis=0) @ solution.values), solution.proved


def ballast_with_turns(
    car: Car, trims: Sequence[Floats], goal: BallastGoal, turns: Turns, landing: bool = True
) -> Iterator[BallastPlan]:
    """Find the lightest ballast that is legal with turns, where these come nearest to their goal.

    Args:
        trims: (4,) each, in the race trims, without the ballast [N].
        landing: Whether turns must be able to land in tolerance.

    Returns:
        One plan after the other until one is found to hold: the first is exact where no place is
        a rectangle on a chassis that twists. None at all where nothing does.
    """
    first = _planned(car, trims, goal, turns, landing)
    if first:
        yield first
    inexact = inexact_places(car)
    for there in at_stations(car, first.items if first else (), inexact) if inexact else ():
        if plan := _planned(there, trims, goal, turns, landing):
            yield plan


def _lightest(
    program: Program,
    trims: Sequence[Floats],
    goal: BallastGoal,
    landing: Sequence[LinearConstraint],
) -> Solution | None:
    legal = rules_of(demands_in(program, trims, goal))
    aim = Aim(program.mass.sum(axis=0))
    return lexicographic(program, [aim], [*legal, *grounded(program, trims), *landing])


def _planned(
    car: Car, trims: Sequence[Floats], goal: BallastGoal, turns: Turns, landing: bool
) -> BallastPlan | None:
    program = turns.joined(build_for(car, goal.most, trims[0]))
    lands = turns.landing(program, trims) if landing else []
    lightest = _lightest(program, trims, goal, lands)
    if lightest is None:
        return None
    total = program.mass.sum(axis=0)
    mass = float(total @ lightest.values)
    rules = [
        *rules_of(demands_in(program, trims, goal)),
        *grounded(program, trims),
        *lands,
        *turns.missing(program, trims, mass),
        LinearConstraint(total, -inf, mass + HELD),
    ]
    _, *well_spread = aims_of(car, program, trims[0], goal)
    best = lexicographic(program, [nearest(program), *well_spread], rules) or lightest
    proved = lightest.proved and best.proved
    plan = held_against(car, trims, goal, items_of(car, program, best.values), proved)
    return replace(plan, status="met" if proved else "gave_up")


def bindings_with_turns(
    car: Car, trims: Sequence[Floats], goal: BallastGoal, turns: Turns
) -> tuple[Binding, ...]:
    """Lift each limit on the ballast to see whether turns could then land with what is legal.

    Args:
        trims: (4,) each, in the race trims, without the ballast [N].

    Returns:
        Empty where no ballast at these places would help.
    """

    def least(program: Program) -> float:
        joined = turns.joined(program)
        solution = _lightest(joined, trims, goal, turns.landing(joined, trims))
        return inf if solution is None else float(joined.mass.sum(axis=0) @ solution.values)

    return tuple(way for way in bindings_of(car, goal, trims[0], least) if way.bounds)
