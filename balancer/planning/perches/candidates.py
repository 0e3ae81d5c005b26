"""Whole steps on real corners that could keep within limits: all of them, and few others."""

import math
from collections.abc import Iterator
from functools import cached_property
from typing import NamedTuple, cast

import numpy as np

from balancer.car.conventions import Floats, Integers
from balancer.planning.perches.between import Turns, between
from balancer.planning.perches.bounds import Reach, Span, reach, whole
from balancer.planning.perches.nonlinear_steps import NonlinearSteps, mesh, row_keys, subsets
from balancer.planning.perches.slant import Frame, Motion
from balancer.planning.perches.steps import SLACK
from balancer.planning.perches.work import LISTED, SUBSET

MOST_CASES = 50_000
"""Above this many candidates at once a search keeps to those in the middle, and proves nothing."""


class Within(NamedTuple):
    """Limits of a search.

    Attributes:
        cross: How far off the cross weight may be, from and to, on one side or on either [1].
        height: How far off the heights may be [m].
        free: Whether no corner may come to stand on a stop on which it does not stand now.
        turns: How many there may be in all [turn].
    """

    cross: tuple[tuple[float, float], ...]
    height: float
    free: bool = False
    turns: float = np.inf


class Cases(NamedTuple):
    """Steps that could keep within limits.

    Attributes:
        steps: (m, n)
        complete: Whether none is missing.
        cross, height: (m,), what they are off by at least [1], [m].
    """

    steps: Integers
    complete: bool
    cross: Floats
    height: Floats


def cases(
    problem: NonlinearSteps, adjusters: int, within: Within, most: int = 2 * MOST_CASES
) -> Cases:
    """List all steps that could keep within limits.

    Args:
        adjusters: On exactly so many, at least one.
        most: From so many on they need not be all.

    References:
        Held against the whole grid in tests/oracles.
    """
    found, complete, chosen = [_none(problem)], True, subsets(problem, adjusters)
    for low, high in within.cross:
        limits, known = (low, high, within.height, within.free), problem.kept.bounds
        if limits not in known:
            known[limits] = _Bounds(problem, *limits)
        bounds = cast("_Bounds", known[limits])
        for subset in chosen:
            if problem.work.out or sum(len(one.steps) for one in found) > most:
                complete = False
                break
            found.append(bounds.cases(subset, within.turns, min(most, MOST_CASES)))
            problem.work.spend(SUBSET + LISTED * len(found[-1].steps))
    complete = complete and all(one.complete for one in found)
    # Sets of adjusters have no steps in common.
    every = _once(problem, found) if len(within.cross) > 1 else _joined(found)
    return every._replace(complete=complete)


def _none(problem: NonlinearSteps) -> Cases:
    nothing = np.zeros((0, len(problem.least)), dtype=np.int64)
    return Cases(nothing, True, np.zeros(0), np.zeros(0))


def _joined(some: list[Cases]) -> Cases:
    steps, _, cross, height = zip(*some, strict=True)
    return Cases(np.concatenate(steps), True, np.concatenate(cross), np.concatenate(height))


def _once(problem: NonlinearSteps, some: list[Cases]) -> Cases:
    """Put them together, each once and off by the least that it is said to be."""
    some = [one for one in some if len(one.steps)] or some[:1]
    if len(some) == 1:
        return some[0]
    steps = np.concatenate([one.steps for one in some])
    keys = row_keys(problem, steps)
    if keys is None:
        _, first, which = np.unique(steps, axis=0, return_index=True, return_inverse=True)
    else:
        _, first, which = np.unique(keys, return_index=True, return_inverse=True)
    cross, height = np.full(len(first), np.inf), np.full(len(first), np.inf)
    np.minimum.at(cross, which.ravel(), np.concatenate([one.cross for one in some]))
    np.minimum.at(height, which.ravel(), np.concatenate([one.height for one in some]))
    return Cases(steps[first], True, cross, height)


class _Bounds:
    """The ranges of steps within limits; worked out once for all subsets of all sizes."""

    def __init__(
        self, problem: NonlinearSteps, low: float, high: float, height: float, free: bool
    ) -> None:
        self.problem = problem
        self.rises = Span.around(problem.rise, np.full(4, height * (1 + SLACK) + 1e-9))
        self.cross = Span(*(np.array(problem.cross + end) for end in (low - 1e-9, high + 1e-9)))
        ratio = np.array([link.ratio for link in problem.point.car.links] or [1.0, 1.0])
        self.lengths = problem.per_step.link / ratio
        self.free = ~problem.now.stopped() & free
        self.known: dict[bytes, Reach] = {}

    @cached_property
    def frame(self) -> Frame:
        """All of the car but its corners, for links of any length."""
        problem = self.problem
        ends = [limits @ self.lengths for limits in (problem.least, problem.most)]
        longer = Span(np.min(ends, axis=0), np.max(ends, axis=0))
        limits = self.rises, self.cross, longer, self.free
        return Frame(problem.point, *limits, problem.work, problem.kept.planes)

    def cases(self, subset: tuple[int, ...], turns: float, most: int) -> Cases:
        """List the steps of a subset of so many turns at most, the others 0: all, if not most."""
        problem, within = self.problem, self._reach(subset)
        turned = np.asarray(
            (problem.per_step.perch + problem.per_step.mount)[list(subset)].any(axis=0)
        )
        if not (within.still | turned).all():
            return _none(problem)
        ranges = [self._range(within, column) for column in subset]
        if not all(len(one) for one in ranges):
            return _none(problem)
        slants = self.frame.slants(self._motion(subset), (problem.rise, problem.cross))
        if slants is None:
            return self._all(subset, ranges)
        found, allowed = [_none(problem)], Turns(problem.turns_per_step[list(subset)], turns)
        for slant in slants:
            room = most - sum(len(one.steps) for one in found)
            picked, complete = between(slant, ranges, allowed, max(room, 1), problem.work)
            steps = np.zeros((len(picked), len(problem.least)), dtype=np.int64)
            steps[:, list(subset)] = picked
            found.append(Cases(steps, complete, *slant.least_off(picked)))
        complete = all(one.complete for one in found)
        return _once(problem, found)._replace(complete=complete)

    def _motion(self, subset: tuple[int, ...]) -> Motion:
        problem, chosen = self.problem, list(subset)
        return Motion(
            problem.per_step.perch[chosen].T,
            problem.per_step.mount[chosen].T,
            self.lengths[chosen].T,
            problem.least[chosen],
            problem.most[chosen],
        )

    def _all(self, subset: tuple[int, ...], ranges: list[Integers]) -> Cases:
        """List all steps in these ranges, or every so many where they are too many."""
        room = max(min(MOST_CASES, self.problem.work.room(LISTED)), 1)
        many = np.prod([float(len(one)) for one in ranges])
        thin = math.ceil((many / room) ** (1 / len(ranges)))
        steps = mesh(self.problem, subset, [one[::thin] for one in ranges])
        return Cases(steps, thin == 1, np.zeros(len(steps)), np.zeros(len(steps)))

    def _reach(self, subset: tuple[int, ...]) -> Reach:
        """Bound the moves of a car with the left links as long as a subset makes them."""
        problem, chosen = self.problem, list(subset)
        ends = np.stack(
            [limits[chosen] @ self.lengths[chosen] for limits in (problem.least, problem.most)]
        )
        longer = Span(ends.min(axis=0), ends.max(axis=0))
        key = np.stack(longer).tobytes()
        if key not in self.known:
            mounts = np.asarray(problem.per_step.mount.any(axis=0))
            self.known[key] = reach(problem.point, self.rises, self.cross, longer, mounts)
        return self.known[key]

    def _moved(self, column: int) -> Iterator[tuple[int, float, bool]]:
        """Give the corner that an adjuster moves, how far a step, and whether by its mount."""
        for per_step, mount in (
            (self.problem.per_step.perch, False),
            (self.problem.per_step.mount, True),
        ):
            for corner in np.flatnonzero(per_step[column]).tolist():
                yield corner, float(per_step[column, corner]), mount

    def _range(self, moves: Reach, column: int) -> Integers:
        """Give the steps of an adjuster, without 0."""
        low, high = float(self.problem.least[column]), float(self.problem.most[column])
        for corner, per_step, mount in self._moved(column):
            span = moves.mount if mount else moves.perch
            least, most = whole(span.at(corner), per_step)
            low, high = max(low, least), min(high, most)
        if low > high:
            return np.zeros(0, dtype=np.int64)
        steps = np.arange(low, high + 1).astype(np.int64)
        return np.asarray(steps[steps != 0])
