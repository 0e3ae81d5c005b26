"""Whole steps on real corners: what they move, where the car is to be, and how they are listed."""

import math
from collections.abc import Iterator
from itertools import combinations
from typing import NamedTuple, Self

import numpy as np

from balancer.car.adjusters import Moves
from balancer.car.answers import Contacts
from balancer.car.conventions import Floats, Integers
from balancer.car.operating_point import OperatingPoint
from balancer.planning.perches.slant import Planes
from balancer.planning.perches.work import Work


class Elsewhere(NamedTuple):
    """The car in another state: where it stands, and the cross weight wanted there [1].

    Attributes:
        now: As of the steps.
    """

    point: OperatingPoint
    cross: float
    now: Contacts


class Kept(NamedTuple):
    """What was worked out of a car, for the next that asks the same.

    Attributes:
        planes: For the whole of a plan.
        bounds: By their limits, as long as the steps and the work are the same.
        ends: Cross weights at the ends of travel, as long too.
        turns: Of what meets both tolerances on other numbers of adjusters, free of stops [turn].
        ways: The best steps of each search so far, as long too.
    """

    planes: Planes
    bounds: dict[tuple[float, float, float, bool], object]
    ends: list[tuple[Floats, bool]]
    turns: list[float]
    ways: list[Integers]


class NonlinearSteps(NamedTuple):
    """What whole steps of the adjusters move where the car settles anew after each.

    Attributes:
        cross, tolerance: Cross weight wanted, and how near [1].
        rise: (4,), of the ride heights wanted [m].
        height_tolerance: [m].
        per_step: What a step of each adjuster moves, one a row.
        least, most: (n,), limits of the steps, least ≤ 0 ≤ most.
        turns_per_step: (n,) [turn].
        now: What each corner stands on before, (4,) each.
        work: What may still be done; past that nothing is proved.
        kept: What was worked out before.
        finer: How many of these steps make one of the adjuster's.
        others: Other states in which the cross weight is to be met too. Limits of a search are
            those of the first, so that none is missed that is as good in all.
    """

    point: OperatingPoint
    cross: float
    tolerance: float
    rise: Floats
    height_tolerance: float
    per_step: Moves
    least: Integers
    most: Integers
    turns_per_step: Floats
    now: Contacts
    work: Work
    kept: Kept
    finer: int = 1
    others: tuple[Elsewhere, ...] = ()

    def moves(self, steps: Integers | Floats) -> Moves:
        """Say what steps (m, n) move."""
        return Moves(*(steps @ per_step for per_step in self.per_step))

    def cut(self, parts: int) -> Self:
        """Cut every step into parts."""
        return self._replace(
            per_step=Moves(*(per_step / parts for per_step in self.per_step)),
            least=self.least * parts,
            most=self.most * parts,
            turns_per_step=self.turns_per_step / parts,
            finer=self.finer * parts,
            kept=self._anew(),
        )

    def within(self, least: Integers, most: Integers) -> Self:
        """Limit the steps otherwise."""
        return self._replace(least=least, most=most, kept=self._anew())

    def afresh(self, most: float) -> Self:
        """Count the work anew."""
        return self._replace(work=Work(most), kept=self._anew())

    def closer(self, tolerance: float, height_tolerance: float) -> Self:
        """Ask for the same to other tolerances."""
        return self._replace(tolerance=tolerance, height_tolerance=height_tolerance)

    def _anew(self) -> Kept:
        return self.kept._replace(bounds={}, ends=[], turns=[], ways=[])


def subsets(problem: NonlinearSteps, adjusters: int) -> list[tuple[int, ...]]:
    """List the sets of so many adjusters that can move at all, at most one a corner.

    Args:
        adjusters: How many are in a set, a count.
    """
    movable = np.flatnonzero((problem.most > 0) | (problem.least < 0))
    together = (problem.per_step.perch + problem.per_step.mount > 0).astype(int)
    return [
        subset
        for subset in combinations(movable.tolist(), adjusters)
        if together[list(subset)].sum(axis=0).max() <= 1
    ]


def mesh(problem: NonlinearSteps, subset: tuple[int, ...], spans: list[Integers]) -> Integers:
    """List all combinations of steps.

    Args:
        subset: The adjusters that move; the others stay at 0.
        spans: list of array, the steps of each.

    Returns:
        (m, n)
    """
    chosen = np.stack(np.meshgrid(*spans, indexing="ij"), axis=-1).reshape(-1, len(subset))
    steps = np.zeros((len(chosen), len(problem.least)), dtype=np.int64)
    steps[:, list(subset)] = chosen
    return steps


def grid_size(problem: NonlinearSteps, chosen: list[tuple[int, ...]]) -> int:
    """Count the steps of sets of adjusters.

    Args:
        chosen: The sets, as of `subsets`.
    """
    counts = problem.most - problem.least
    return sum(math.prod(counts[list(subset)].tolist()) for subset in chosen)


def whole_grid(problem: NonlinearSteps, chosen: list[tuple[int, ...]]) -> Iterator[Integers]:
    """Give all steps of sets of adjusters, none of them 0.

    Args:
        chosen: As of `grid_size`.
    """
    limits = zip(problem.least, problem.most, strict=True)
    spans = [np.arange(low, high + 1) for low, high in limits]
    spans = [span[span != 0] for span in spans]
    yield np.concatenate([mesh(problem, one, [spans[each] for each in one]) for one in chosen])


def ends_of(problem: NonlinearSteps, subset: tuple[int, ...]) -> Integers:
    """Give the ends of travel of adjusters in all combinations.

    Args:
        subset: As of `mesh`.
    """
    travels = [np.array([problem.least[one], problem.most[one]]) for one in subset]
    return mesh(problem, subset, [travel[travel != 0] for travel in travels])


def row_keys(problem: NonlinearSteps, steps: Integers) -> Integers | None:
    """Give each row a number of its own, since sorting rows is slow.

    Args:
        steps: (m, n)

    Returns:
        (m,) or None, None where there are more combinations of steps than numbers.
    """
    sizes = (problem.most - problem.least + 1).astype(float)
    if np.prod(sizes) > 2**62:
        return None
    strides = np.concatenate([[1.0], np.cumprod(sizes)[:-1]]).astype(np.int64)
    return np.asarray((steps - problem.least) @ strides)
