"""The ballast to take when not every rule can be met: what can be, rule by rule."""

from collections.abc import Sequence
from math import inf

import numpy as np

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Car
from balancer.planning.ballast.constraints import Demand, aims_of, band_of, rules_of
from balancer.planning.ballast.goal import SHARES, BallastGoal
from balancer.planning.ballast.program import Aim, Program, Solution, lexicographic
from balancer.planning.solver import LinearConstraint

HELD = 2e-6
"""Slack when what was reached is held fast [kg]: twice the solver's own feasibility tolerance."""


def closest(
    car: Car, program: Program, trims: Sequence[Floats], goal: BallastGoal, demands: list[Demand]
) -> Solution:
    """Meet what can be met, rule by rule, and come as near as can be to the rest.

    Args:
        trims: (4,) each, in the race trims, without the ballast [N].

    Returns:
        Proved only where every step to it was.
    """
    held: list[LinearConstraint] = []
    proved = True
    for demand in demands:
        if demand.share:
            continue
        wanted = LinearConstraint(demand.row, demand.need, inf)
        solution = lexicographic(program, [_anything(program)], [*held, wanted])
        if solution is None:
            solution = lexicographic(program, [Aim(-demand.row)], held)
            if solution is None:
                continue
            wanted = LinearConstraint(demand.row, demand.row @ solution.values - HELD, inf)
        proved = proved and solution.proved
        held.append(wanted)
    for name, band in goal.bands.items():
        for loads in trims:
            near, sure = _held_near(program, loads, name, band, held)
            held, proved = [*held, *near], proved and sure
    solution = lexicographic(program, aims_of(car, program, trims[0], goal), held)
    if solution is None:
        return Solution(np.zeros(len(program.whole)), proved=False)
    return solution._replace(proved=proved and solution.proved)


def _anything(program: Program) -> Aim:
    return Aim(np.zeros(len(program.whole)))


def _held_near(
    program: Program,
    loads: Floats,
    name: str,
    band: tuple[float, float],
    held: list[LinearConstraint],
) -> tuple[list[LinearConstraint], bool]:
    """Hold a share in its band, or as near to it as can be, and say whether that is proved."""
    within = rules_of(band_of(program, loads, name, band))
    if lexicographic(program, [_anything(program)], [*held, *within]) is not None:
        return within, True
    pick = SHARES[name]
    nearest = _nearest_share(program, loads, pick, band, held)
    share = _share(program, loads, pick, nearest.values)
    off = pick @ program.wheels - share * program.wheels.sum(axis=0)
    reached = float(off @ nearest.values)
    return [LinearConstraint(off, reached - HELD, reached + HELD)], nearest.proved


def _share(program: Program, loads: Floats, pick: Floats, values: Floats) -> float:
    masses = loads / GRAVITY + program.wheels @ values
    return float(pick @ masses / masses.sum())


def _nearest_share(
    program: Program,
    loads: Floats,
    pick: Floats,
    band: tuple[float, float],
    held: list[LinearConstraint],
) -> Solution:
    """Find the share nearest to a band, from below and from above.

    A share is a ratio of two linear sums; it is driven to its end by W. Dinkelbach's method (On
    nonlinear fractional programming, Management Science 13, 1967, 492-498; from memory).
    """
    now = loads / GRAVITY
    total, part = program.wheels.sum(axis=0), pick @ program.wheels
    ends: list[tuple[float, Solution]] = []
    for sign, edge in ((1.0, band[0]), (-1.0, band[1])):
        side = LinearConstraint(
            sign * (part - edge * total), -inf, sign * (edge * now.sum() - pick @ now)
        )
        solution = lexicographic(program, [_anything(program)], [*held, side])
        if solution is None:
            continue
        share = _share(program, loads, pick, solution.values)
        for _ in range(50):
            better = lexicographic(program, [Aim(-sign * (part - share * total))], [*held, side])
            if better is None:
                break
            moved = _share(program, loads, pick, better.values)
            gained = sign * (moved - share)
            if gained > 0:
                solution, share = better, moved
            if gained < 1e-10:
                break
        ends.append((sign * (edge - share), solution))
    if not ends:
        return Solution(np.zeros(len(program.whole)), proved=False)
    return min(ends, key=lambda end: end[0])[1]
