"""Whole steps on real corners that could keep within limits: all of them, and few others."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Flags, Floats, Integers
from balancer.perches.between import between
from balancer.perches.bounds import Reach, Span, Warp, reach, whole
from balancer.perches.nonlinear_steps import NonlinearSteps, row_keys, subsets
from balancer.perches.slant import Frame, Motion
from balancer.perches.steps import SLACK
from balancer.perches.work import LISTED, SUBSET

MOST_CASES = 150_000
"""Above this many candidates at once a search keeps to those in the middle, and proves nothing."""


class Within(NamedTuple):
    """Limits of a search.

    Attributes:
        cross: How far off the cross weight may be, from and to, on one side or on either [1].
        height: How far off the heights may be [m].
        free: Whether no corner may come to stand on a stop on which it does not stand now.
    """

    cross: tuple[tuple[float, float], ...]
    height: float
    free: bool = False


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


def cases(problem: NonlinearSteps, adjusters: int, within: Within) -> Cases:
    """List all steps that could keep within limits.

    Args:
        adjusters: On exactly so many, at least one.

    References:
        Held against the whole grid in tests/oracles.
    """
    rises = Span.around(problem.rise, np.full(4, within.height * (1 + SLACK) + 1e-9))
    found, complete = [_none(problem)], True
    for low, high in within.cross:
        ends = problem.cross + low - 1e-9, problem.cross + high + 1e-9
        bounds = _Bounds(problem, rises, Span(*map(np.array, ends)), within.free)
        for subset in subsets(problem, adjusters):
            if problem.work.out or sum(len(one.steps) for one in found) > 2 * MOST_CASES:
                complete = False
                break
            found.append(bounds.cases(subset))
            problem.work.spend(SUBSET + LISTED * len(found[-1].steps))
    every = _once(problem, found)
    return every._replace(complete=every.complete and complete)


def _none(problem: NonlinearSteps) -> Cases:
    nothing = np.zeros((0, len(problem.least)), dtype=np.int64)
    return Cases(nothing, True, np.zeros(0), np.zeros(0))


def _once(problem: NonlinearSteps, some: list[Cases]) -> Cases:
    """Put them together, each once and off by the least that it is said to be."""
    steps = np.concatenate([one.steps for one in some])
    keys = row_keys(problem, steps)
    if keys is None:
        _, first, which = np.unique(steps, axis=0, return_index=True, return_inverse=True)
    else:
        _, first, which = np.unique(keys, return_index=True, return_inverse=True)
    cross, height = np.full(len(first), np.inf), np.full(len(first), np.inf)
    np.minimum.at(cross, which.ravel(), np.concatenate([one.cross for one in some]))
    np.minimum.at(height, which.ravel(), np.concatenate([one.height for one in some]))
    return Cases(steps[first], all(one.complete for one in some), cross, height)


class _Bounds:
    """The ranges of steps within limits; worked out once for all subsets that move no link."""

    def __init__(self, problem: NonlinearSteps, rises: Span, cross: Span, free: bool) -> None:
        self.problem, self.rises, self.cross = problem, rises, cross
        ratio = np.array([link.ratio for link in problem.point.car.links] or [1.0, 1.0])
        self.lengths = problem.per_step.link / ratio
        self.free = ~problem.now.stopped() & free
        self.known: dict[bytes, _Known] = {}

    @cached_property
    def frame(self) -> Frame:
        """All of the car but its corners, for links of any length."""
        problem = self.problem
        ends = [limits @ self.lengths for limits in (problem.least, problem.most)]
        longer = Span(np.min(ends, axis=0), np.max(ends, axis=0))
        return Frame(problem.point, self.rises, self.cross, longer, self.free, problem.work)

    def cases(self, subset: tuple[int, ...]) -> Cases:
        """List the steps of a subset, the others 0."""
        problem, known = self.problem, self._known(subset)
        turned = np.asarray(
            (problem.per_step.perch + problem.per_step.mount)[list(subset)].any(axis=0)
        )
        if not (known.reach.still | turned).all():
            return _none(problem)
        ranges = [self._range(known.reach, column) for column in subset]
        if not all(len(one) for one in ranges):
            return _none(problem)
        slants = self.frame.slants(self._motion(subset), (problem.rise, problem.cross))
        if slants is None:
            return self._together(known, subset, ranges, turned)
        found = [_none(problem)]
        for slant in slants:
            picked, complete = between(slant, ranges, MOST_CASES, problem.work)
            steps = np.zeros((len(picked), len(problem.least)), dtype=np.int64)
            steps[:, list(subset)] = picked
            found.append(Cases(steps, complete, *slant.least_off(picked)))
        return _once(problem, found) if len(slants) > 1 else found[-1]

    def _motion(self, subset: tuple[int, ...]) -> Motion:
        problem, chosen = self.problem, list(subset)
        return Motion(
            problem.per_step.perch[chosen].T,
            problem.per_step.mount[chosen].T,
            self.lengths[chosen].T,
            problem.least[chosen],
            problem.most[chosen],
        )

    def _together(
        self, known: _Known, subset: tuple[int, ...], ranges: list[Integers], turned: Flags
    ) -> Cases:
        """List steps that go together by the shape of the body alone."""
        complete = True
        added = [
            self._added(known.warp, column, steps)
            for column, steps in zip(subset, ranges, strict=True)
        ]
        allowed = known.allowed(turned)
        picked = _together(added, allowed)
        while picked is None:
            complete = False
            longest = max(range(len(ranges)), key=lambda one: len(ranges[one]))
            cut = slice(1 + len(ranges[longest]) // 10, -1 - len(ranges[longest]) // 10)
            ranges[longest] = ranges[longest][cut]
            added[longest] = Span(*(ends[cut] for ends in added[longest]))
            picked = _together(added, allowed)
        found = np.zeros((len(picked[0]), len(self.problem.least)), dtype=np.int64)
        for column, steps, at in zip(subset, ranges, picked, strict=True):
            found[:, column] = steps[at]
        nothing = np.zeros(len(found))
        return Cases(found, complete, nothing, nothing)

    def _known(self, subset: tuple[int, ...]) -> _Known:
        """Give what is known of the car with the left links as long as a subset makes them."""
        problem, chosen = self.problem, list(subset)
        ends = np.stack(
            [limits[chosen] @ self.lengths[chosen] for limits in (problem.least, problem.most)]
        )
        longer = Span(ends.min(axis=0), ends.max(axis=0))
        key = np.stack(longer).tobytes()
        if key not in self.known:
            self.known[key] = _Known(problem, self.rises, self.cross, longer)
        return self.known[key]

    def _moved(self, column: int) -> Iterator[tuple[int, float, bool]]:
        """Give the corner that an adjuster moves, how far a step, and whether by its mount."""
        for per_step, mount in (
            (self.problem.per_step.perch, False),
            (self.problem.per_step.mount, True),
        ):
            for corner in np.flatnonzero(per_step[column]).tolist():
                yield corner, float(per_step[column, corner]), mount

    def _added(self, warp: Warp, column: int, steps: Integers) -> Span:
        """Bound what steps of one adjuster add to the warp; nothing for a link."""
        for corner, per_step, mount in self._moved(column):
            return warp.of(corner, steps * np.float64(per_step), mount)
        return Span(np.zeros(len(steps)), np.zeros(len(steps)))

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


class _Known:
    """What limits leave to a car with its left links so much longer, worked out when asked for."""

    def __init__(self, problem: NonlinearSteps, rises: Span, cross: Span, longer: Span) -> None:
        self.problem, self.limits = problem, (rises, cross, longer)

    @cached_property
    def reach(self) -> Reach:
        """How far each perch or mount may move."""
        mounts = np.asarray(self.problem.per_step.mount.any(axis=0))
        return reach(self.problem.point, *self.limits, mounts)

    @cached_property
    def warp(self) -> Warp:
        """How moves go together."""
        return Warp(self.problem.point, *self.limits)

    def allowed(self, turned: Flags) -> tuple[float, float]:
        """Give what moves may add to the warp, beside the corners that are not turned."""
        low, high = self.warp.allowed
        for corner in np.flatnonzero(~turned).tolist():
            one = self.warp.of(corner, np.zeros(1), mount=False)
            low, high = low - float(one.high[0]), high - float(one.low[0])
        return low, high


def _together(added: list[Span], allowed: tuple[float, float]) -> list[Integers] | None:
    """Pick one span of each list so that their sums come within what is allowed.

    Half of the lists are summed and sorted, and searched for each sum of the other half, so that
    what does not go together need not be looked at. None where there are too many.
    """
    half = len(added) // 2
    (these, sums), (those, others) = _sums(added[:half]), _sums(added[half:])
    order = np.argsort(others.low, kind="stable")
    low, high = others.low[order], others.high[order]
    widest = float((high - low).max(initial=0.0))
    first = np.searchsorted(low, allowed[0] - sums.high - widest, side="left")
    beyond = np.searchsorted(low, allowed[1] - sums.low, side="right")
    count = np.maximum(beyond - first, 0)
    if count.sum() > MOST_CASES:
        return None
    mine = np.repeat(np.arange(len(count)), count)
    theirs = np.arange(len(mine)) - np.repeat(np.cumsum(count) - count, count) + first[mine]
    kept = sums.high[mine] + high[theirs] >= allowed[0]
    mine, theirs = mine[kept], order[theirs[kept]]
    return [*(one[mine] for one in these), *(one[theirs] for one in those)]


def _sums(added: list[Span]) -> tuple[list[Integers], Span]:
    """Give the sums of all choices of one span of each list, and which each is made of."""
    low, high = np.zeros(()), np.zeros(())
    for one in added:
        low, high = np.add.outer(low, one.low), np.add.outer(high, one.high)
    places = [place.ravel() for place in np.indices(low.shape)]
    return places, Span(low.ravel(), high.ravel())
