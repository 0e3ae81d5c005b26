"""Whole steps: what is asked of them, what they miss, and which of two ways is the better one."""

from __future__ import annotations

from typing import NamedTuple, Self, cast

import numpy as np

from balancer.car.conventions import Flags, Floats, Integers

SLACK = 1e-9
"""Relative slack on every limit, so that a plan on the very edge of a tolerance counts."""

_DIGITS = 10
"""Of cross weight [1] and height [m] that count: what no scale can see must not decide between
ties, and an equilibrium is known to no more."""


class Aim(NamedTuple):
    """What a search holds within tolerance, and what it then prefers, the first first.

    Attributes:
        order: Of `stops`, `turns`, `cross`, `height`: the least of each.
    """

    hold_cross: bool
    hold_heights: bool
    order: tuple[str, ...]

    def holds(self, some: Tried) -> Flags:
        """Say which candidates hold what is to be held, (m,)."""
        kept = ~some.idle
        kept &= some.cross_met if self.hold_cross else True
        return kept & (some.heights_met if self.hold_heights else True)


MEETING = Aim(True, True, ("stops", "turns", "cross", "height"))
LEVEL = Aim(False, True, ("cross", "turns", "height", "stops"))
CROSSED = Aim(True, False, ("height", "turns", "cross", "stops"))
NEAREST = Aim(False, False, ("cross", "height", "turns", "stops"))

AIMS = (MEETING, LEVEL, CROSSED, NEAREST)
"""One after the other, until something holds what one holds."""


class Solution(NamedTuple):
    """Steps that a search comes to, and what they miss.

    Attributes:
        steps: (n,)
        cross_miss: |cross weight - target| [1]; of several states the largest.
        height_miss: Worst |height - wanted| [m].
        proved: Whether it is proved that no steps on as many adjusters are better.
        stops: How many corners come to stand on a stop that did not before.
        sure: Whether it is proved whether any steps on as many adjusters meet both tolerances.
    """

    steps: Integers
    cross_miss: float
    height_miss: float
    cross_met: bool
    heights_met: bool
    proved: bool = True
    stops: int = 0
    sure: bool = True


class Tried(NamedTuple):
    """Candidates and what they come to.

    Attributes:
        steps: (m, n)
        turns_per_step: (n,) [turn].
        off: (m,), cross weight - target [1], in the state where it is farthest off; infinite where
            the car would tip over.
        height: (m,), worst |height - wanted| [m].
        tolerances: Of cross weight [1] and heights [m].
        stops: (m,), how many corners come to stand on a stop, or off their pad, that did not
            before.
        idle: (m,) of bool, where a turn does nothing that anybody would ask for, or the car
            would tip over.
    """

    steps: Integers
    turns_per_step: Floats
    off: Floats
    height: Floats
    tolerances: tuple[float, float]
    stops: Integers
    idle: Flags

    @property
    def cross(self) -> Floats:
        """How far the cross weight is from the target (m,) [1]."""
        return np.abs(self.off)

    @property
    def turns(self) -> Floats:
        """How much is turned in all (m,)."""
        return np.asarray(np.abs(self.steps) @ self.turns_per_step)

    @property
    def cross_met(self) -> Flags:
        """Where the cross weight is within tolerance (m,)."""
        return self.cross <= self.tolerances[0] * (1 + SLACK) + 1e-12

    @property
    def heights_met(self) -> Flags:
        """Where the heights are within tolerance (m,)."""
        return self.height <= self.tolerances[1] * (1 + SLACK) + 1e-12

    def first(self, rows: Integers, order: tuple[str, ...]) -> tuple[list[float], int]:
        """Find the best of some rows: its ranks in this order, and which it is.

        Ties go to the front axle, then to lowering: never to left or right, so that the mirrored
        car gets the mirrored plan.
        """
        key = []
        for name in (*order, "front", "lowering", *range(self.steps.shape[1])):
            values = self._rank(name, rows)
            least = values.min()
            key.append(float(least))
            rows = rows[values == least]
        return key, int(rows[0])

    def shared(self, least: list[float]) -> list[int]:
        """Find, of those with the least stops and turns, the best of each share of the front."""
        rows = np.arange(len(self.steps))
        for name, value in zip(MEETING.order, least, strict=False):
            rows = rows[self._rank(name, rows) == value]
        front = self._rank("front", rows)
        return [
            self.first(rows[front == each], MEETING.order)[1]
            for each in sorted(set(front.tolist()))
        ]

    def _rank(self, name: str | int, rows: Integers) -> Floats:
        steps, digits = self.steps[rows], 9
        match name:
            case "stops":
                values = self.stops[rows] * 1.0
            case "turns":
                values = np.abs(steps) @ self.turns_per_step
            case "cross" | "height":
                values, digits = (np.abs(self.off), self.height)[name == "height"][rows], _DIGITS
            case "front":
                values = -np.abs(steps[:, :2]) @ self.turns_per_step[:2]
            case "lowering":
                values = steps.sum(axis=1) * 1.0
            case _:
                values = steps[:, int(name)] * 1.0
        return np.asarray(np.round(values, digits), dtype=np.float64)

    def solution(self, row: int) -> Solution:
        """Give one of them as a solution."""
        return Solution(
            steps=self.steps[row],
            cross_miss=float(abs(self.off[row])),
            height_miss=float(self.height[row]),
            cross_met=bool(self.cross_met[row]),
            heights_met=bool(self.heights_met[row]),
            stops=int(self.stops[row]),
        )


def farther(off: Floats, other: Floats) -> Floats:
    """Give whichever is farther from 0, element by element.

    Args:
        off, other: (m,)
    """
    return np.where(np.abs(other) > np.abs(off), other, off)


class Best:
    """The best candidate so far for an aim.

    Attributes:
        key: Its ranks, for comparison.
        complete: Whether all was looked at that could be better.
    """

    def __init__(self, aim: Aim) -> None:
        self.aim = aim
        self.key: list[float] | None = None
        self.solution: Solution | None = None
        self.complete = True

    def put(self, some: Tried) -> None:
        """Take the best of these where it is better."""
        rows = np.flatnonzero(self.aim.holds(some))
        if len(rows):
            key, row = some.first(rows, self.aim.order)
            if self.key is None or key < self.key:
                self.key, self.solution = key, some.solution(row)

    def off(self) -> float:
        """Give how far off it is in what counts first, cross weight [1] or height [m]."""
        if self.solution is None:
            return np.inf
        return (
            self.solution.cross_miss if self.aim.order[0] == "cross" else self.solution.height_miss
        )


class Cross(NamedTuple):
    """A cross weight that is to be met: now less its target [1], and per step (4,) [1]."""

    off: float
    per_step: Floats


class LinearSteps(NamedTuple):
    """Steps that do the same everywhere, and what is asked of them.

    Attributes:
        cross_off: Cross weight now less the target [1].
        cross_per_step: (4,) [1].
        heights_off: (4,), heights now less the wanted ones [m].
        height_per_step: (4, 4), at station i for a step at corner j [m].
        tolerance, height_tolerance: [1], [m].
        least, most: (4,), limits of the steps, least ≤ 0 ≤ most.
        turns_per_step: (4,) [turn].
        others: Of the car in other states, where it is to be met too.
    """

    cross_off: float
    cross_per_step: Floats
    heights_off: Floats
    height_per_step: Floats
    tolerance: float
    height_tolerance: float
    least: Integers
    most: Integers
    turns_per_step: Floats
    others: tuple[Cross, ...] = ()

    @property
    def crosses(self) -> tuple[Cross, ...]:
        """All cross weights that are to be met, its own first."""
        return (Cross(self.cross_off, self.cross_per_step), *self.others)

    def tried(self, steps: Integers | Floats) -> Tried:
        """Measure candidates (m, 4)."""
        off = self.cross_off + steps @ self.cross_per_step
        for other in self.others:
            off = farther(off, other.off + steps @ other.per_step)
        height = np.abs(self.heights_off + steps @ self.height_per_step.T).max(axis=1)
        never = np.zeros(len(steps), dtype=bool)
        return Tried(
            steps=cast("Integers", steps),
            turns_per_step=self.turns_per_step,
            off=off,
            height=height,
            tolerances=(self.tolerance, self.height_tolerance),
            stops=never.astype(np.int64),
            idle=never,
        )

    def cut(self, parts: int) -> Self:
        """Cut every step into parts."""
        return self._replace(
            cross_per_step=self.cross_per_step / parts,
            height_per_step=self.height_per_step / parts,
            least=self.least * parts,
            most=self.most * parts,
            turns_per_step=self.turns_per_step / parts,
            others=tuple(Cross(one.off, one.per_step / parts) for one in self.others),
        )

    def within(self, least: Integers, most: Integers) -> Self:
        """Limit the steps otherwise."""
        return self._replace(least=least, most=most)

    def afresh(self, most: float) -> Self:
        """Leave it as it is: it takes no time worth counting."""
        return self

    def closer(self, tolerance: float, height_tolerance: float) -> Self:
        """Ask for the same to other tolerances."""
        return self._replace(tolerance=tolerance, height_tolerance=height_tolerance)
