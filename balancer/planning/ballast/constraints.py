"""A goal for ballast as rows of the linear program, in the order in which it matters."""

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, GRAVITY, Floats
from balancer.car.model import Car
from balancer.planning.ballast.goal import SHARES, BallastGoal
from balancer.planning.ballast.program import Aim, Program, lexicographic
from balancer.planning.solver import LinearConstraint


class Demand(NamedTuple):
    """A rule as the program sees it: row·v ≥ need [kg]."""

    kind: str
    row: Floats
    need: float

    @property
    def share(self) -> bool:
        """Whether it is an end of the band of a share."""
        return self.kind.partition("_")[0] in SHARES


def demands_of(program: Program, loads: Floats, goal: BallastGoal) -> list[Demand]:
    """Give every rule of a goal as a row, the weightiest first.

    Args:
        loads: (4,), without the ballast [N].

    Returns:
        A share is a ratio; multiplied by the total it is linear.
    """
    wheels, now = program.wheels, loads / GRAVITY
    total, front = wheels.sum(axis=0), wheels[:2].sum(axis=0)
    demands = [
        Demand("maximum", -total, now.sum() - goal.maximum),
        Demand("minimum", total, goal.minimum - now.sum()),
        Demand("axle_front", front, goal.axle_minimum[0] - now[:2].sum()),
        Demand("axle_rear", total - front, goal.axle_minimum[1] - now[2:].sum()),
    ]
    for name, row, load in zip(CORNERS, wheels, now, strict=True):
        demands.append(Demand(f"wheel_{name}", row, goal.wheel_minimum - load))
    for name, band in goal.bands.items():
        demands += band_of(program, loads, name, band)
    return demands


def band_of(program: Program, loads: Floats, name: str, band: tuple[float, float]) -> list[Demand]:
    """Give the two ends of the band of a share as rows.

    Args:
        loads: (4,), without the ballast [N].
        band: Lowest and highest, as fractions.
    """
    (low, high), pick, now = band, SHARES[name], loads / GRAVITY
    total, part = program.wheels.sum(axis=0), pick @ program.wheels
    low_need, high_need = low * now.sum() - pick @ now, pick @ now - high * now.sum()
    return [
        Demand(f"{name}_low", part - low * total, low_need),
        Demand(f"{name}_high", high * total - part, high_need),
    ]


def demands_in(program: Program, trims: Sequence[Floats], goal: BallastGoal) -> list[Demand]:
    """Give every rule of a goal in every race trim as a row, the weightiest rules first.

    Args:
        trims: (4,) each, without the ballast [N].
    """
    each = [demands_of(program, loads, goal) for loads in trims]
    return [demand for alike in zip(*each, strict=True) for demand in alike]


def rules_of(demands: list[Demand]) -> list[LinearConstraint]:
    """Give demands as constraints."""
    return [LinearConstraint(demand.row, demand.need, inf) for demand in demands]


def lightest(program: Program, trims: Sequence[Floats], goal: BallastGoal) -> tuple[float, bool]:
    """Give the mass of the lightest ballast that meets a goal, and whether that is proved.

    Args:
        trims: (4,) each, in the race trims, without the ballast [N].

    Returns:
        Mass [kg]; infinite where it is proved that nothing does.
    """
    total = program.mass.sum(axis=0)
    solution = lexicographic(program, [Aim(total)], rules_of(demands_in(program, trims, goal)))
    return (inf, True) if solution is None else (float(total @ solution.values), solution.proved)


def aims_of(car: Car, program: Program, loads: Floats, goal: BallastGoal) -> list[Aim]:
    """Give what is best among ballast that meets the demands: lightest, then best spread.

    Args:
        loads: (4,), without the ballast [N].

    Returns:
        Mass, front share to the middle of its band, left share, height, distance from the
        middle of the car; each with the grain below which differences are ties.
    """
    wheels, now = program.bolted, loads / GRAVITY
    total, front, left = wheels.sum(axis=0), wheels[:2].sum(axis=0), wheels[0] + wheels[2]
    heights = np.array([place.up for place in car.places])
    point = 1e-2 * now.sum()
    aims = [Aim(total)]
    if goal.front:
        middle = sum(goal.front) / 2
        off = now[:2].sum() - middle * now.sum()
        aims.append(Aim(front - middle * total, off, size=True, grain=1e-3 * point))
    off = now[0] + now[2] - goal.left * now.sum()
    aims.append(Aim(left - goal.left * total, off, size=True, grain=1e-2 * point))
    aims.append(Aim(heights @ program.mass, grain=1e-2 * point))
    center = program.aft_moment.sum(axis=0) - car.wheelbase / 2 * program.mass.sum(axis=0)
    aims.append(Aim(center, size=True, grain=1e-2 * point))
    return aims
