"""The ballast to take when not every rule can be met: what can be, rule by rule."""

from __future__ import annotations

from math import inf

import numpy as np
from scipy.optimize import LinearConstraint

from balancer.ballast.constraints import Demand, aims_of, rules_of
from balancer.ballast.goal import BallastGoal
from balancer.ballast.program import Aim, Program, Solution, lexicographic
from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Car

HELD = 2e-6
"""Slack when what was reached is held fast [kg]: twice the solver's own feasibility tolerance."""


def closest(
    car: Car, program: Program, loads: Floats, goal: BallastGoal, demands: list[Demand]
) -> Solution:
    """Meet what can be met, rule by rule, and come as near as can be to the rest.

    Args:
        loads: (4,), without the ballast [N].

    Returns:
        Proved only where every step to it was.
    """
    held: list[LinearConstraint] = []
    proved = True
    anything = Aim(np.zeros(len(program.whole)))
    for demand in demands:
        if demand.kind.startswith("front"):
            continue
        wanted = LinearConstraint(demand.row, demand.need, inf)
        solution = lexicographic(program, [anything], [*held, wanted])
        if solution is None:
            solution = lexicographic(program, [Aim(-demand.row)], held)
            if solution is None:
                continue
            wanted = LinearConstraint(demand.row, demand.row @ solution.values - HELD, inf)
        proved = proved and solution.proved
        held.append(wanted)
    band = rules_of([demand for demand in demands if demand.kind.startswith("front")])
    if goal.front and lexicographic(program, [anything], [*held, *band]) is None:
        nearest = _nearest_front(program, loads, goal.front, held)
        proved = proved and nearest.proved
        total = program.wheels.sum(axis=0)
        off = program.wheels[:2].sum(axis=0) - _front_share(program, loads, nearest.values) * total
        reached = float(off @ nearest.values)
        band = [LinearConstraint(off, reached - HELD, reached + HELD)]
    held += band
    solution = lexicographic(program, aims_of(car, program, loads, goal), held)
    if solution is None:
        return Solution(np.zeros(len(program.whole)), proved=False)
    return solution._replace(proved=proved and solution.proved)


def _front_share(program: Program, loads: Floats, values: Floats) -> float:
    masses = loads / GRAVITY + program.wheels @ values
    return float(masses[:2].sum() / masses.sum())


def _nearest_front(
    program: Program, loads: Floats, band: tuple[float, float], held: list[LinearConstraint]
) -> Solution:
    """Find the front share nearest to a band, from below and from above.

    A share is a ratio of two linear sums; it is driven to its end by W. Dinkelbach's method (On
    nonlinear fractional programming, Management Science 13, 1967, 492-498; from memory).
    """
    now = loads / GRAVITY
    total, front = program.wheels.sum(axis=0), program.wheels[:2].sum(axis=0)
    ends: list[tuple[float, Solution]] = []
    for sign, edge in ((1.0, band[0]), (-1.0, band[1])):
        side = LinearConstraint(
            sign * (front - edge * total), -inf, sign * (edge * now.sum() - now[:2].sum())
        )
        solution = lexicographic(program, [Aim(np.zeros_like(total))], [*held, side])
        if solution is None:
            continue
        share = _front_share(program, loads, solution.values)
        for _ in range(50):
            better = lexicographic(program, [Aim(-sign * (front - share * total))], [*held, side])
            if better is None:
                break
            moved = _front_share(program, loads, better.values)
            gained = sign * (moved - share)
            if gained > 0:
                solution, share = better, moved
            if gained < 1e-10:
                break
        ends.append((sign * (edge - share), solution))
    if not ends:
        return Solution(np.zeros(len(program.whole)), proved=False)
    return min(ends, key=lambda end: end[0])[1]
