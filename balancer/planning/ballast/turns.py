"""Turns of the perches that go with the ballast: whole steps as more unknowns of its program.

What a step does is taken to be the same for every ballast: at the wheels it is; on the heights the
weight above the ground has a little say, for which there is room in `low` and `high`.
"""

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import GRAVITY, Floats, Integers
from balancer.planning.ballast.constraints import band_of, rules_of
from balancer.planning.ballast.goal import SHARES
from balancer.planning.ballast.program import Aim, Program, wider
from balancer.planning.solver import LinearConstraint

_POINT = 0.01


class Turns(NamedTuple):
    """What steps of the perches do, and what they are to bring about with the ballast on board.

    Attributes:
        wheels: (4, n), what a step adds at the four wheels [kg].
        least, most: (n,), how many steps there may be.
        heights: (4, n), what a step raises the wheel stations [m].
        low, high: (4,), between which that is to come [m].
        crosses: Cross weight wanted in each race trim, as fractions.
        tolerance: Of the cross weight, as a fraction.
        near: What is nearer to it than this is as good as there, as a fraction.
    """

    wheels: Floats
    least: Integers
    most: Integers
    heights: Floats
    low: Floats
    high: Floats
    crosses: tuple[float, ...]
    tolerance: float
    near: float

    def joined(self, program: Program) -> Program:
        """Put the steps behind the ballast, and last how far the cross weight is off [points]."""
        more = len(self.least) + 1
        none = np.zeros((4, 1))
        size = max(float((self.high - self.low).max()) / 2, 1e-9)
        heights = np.hstack([np.zeros((4, len(program.whole))), self.heights, none])
        level = LinearConstraint(heights / size, self.low / size, self.high / size)
        return program._replace(
            mass=_behind(program.mass, more),
            aft_moment=_behind(program.aft_moment, more),
            left_moment=_behind(program.left_moment, more),
            wheels=np.hstack([program.wheels, self.wheels, none]),
            least=np.concatenate([program.least, self.least, [self.near / _POINT]]),
            most=np.concatenate([program.most, self.most, [inf]]),
            whole=np.concatenate([program.whole, np.ones(more - 1), [0.0]]),
            limits=[*(wider(limit, more) for limit in program.limits), level],
        )

    def landing(self, program: Program, trims: Sequence[Floats]) -> list[LinearConstraint]:
        """Ask for the cross weight within its tolerance in every race trim.

        Args:
            trims: (4,) each, without the ballast [N].
        """
        rows = []
        for cross, loads in zip(self.crosses, trims, strict=True):
            band = cross - self.tolerance, cross + self.tolerance
            rows += rules_of(band_of(program, loads, "cross", band))
        return rows

    def missing(
        self, program: Program, trims: Sequence[Floats], mass: float
    ) -> list[LinearConstraint]:
        """Tie the last unknown to the largest miss, for ballast of one mass [kg].

        Args:
            trims: (4,) each, without the ballast [N].
            mass: Of all the ballast.
        """
        rows, pick = [], SHARES["cross"]
        for cross, loads in zip(self.crosses, trims, strict=True):
            now = loads / GRAVITY
            off = pick @ program.wheels - cross * program.wheels.sum(axis=0)
            start = float(pick @ now - cross * now.sum())
            for side in (1.0, -1.0):
                row = -side * off
                row[-1] = _POINT * (now.sum() + mass)
                rows.append(LinearConstraint(row, side * start, inf))
        return rows


def nearest(program: Program) -> Aim:
    """Aim for the cross weight that was asked for, in a program that has turns."""
    row = np.zeros(len(program.whole))
    row[-1] = 1.0
    return Aim(row, grain=1e-3)


def grounded(program: Program, trims: Sequence[Floats]) -> list[LinearConstraint]:
    """Ask that no wheel is lifted in any race trim.

    Args:
        trims: (4,) each, without the ballast [N].
    """
    return [LinearConstraint(program.wheels, -loads / GRAVITY, np.full(4, inf)) for loads in trims]


def _behind(rows: Floats, more: int) -> Floats:
    return np.hstack([rows, np.zeros((len(rows), more))])
