"""Whole steps on real corners: every candidate is settled, stops and all.

What keeps the search exact is `bounds`: of the steps that could hold what an aim holds none is left
out. The closest is looked for ring by ring outward.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple, Self, cast

import numpy as np

from balancer.car.adjusters import Moves
from balancer.car.conventions import Flags, Floats, Integers
from balancer.car.equilibrium import contacts, solve_or_tip
from balancer.perches.bounds import Span, reach
from balancer.perches.candidates import (
    MOST_CASES,
    Elsewhere,
    NonlinearSteps,
    Within,
    cases,
    mesh,
    row_keys,
    subsets,
)
from balancer.perches.steps import CROSSED, LEVEL, MEETING, NEAREST, Best, Tried, farther

_MANY = 8_000
"""Above this many candidates a search for the closest draws its limits closer."""

_FIRST, _CHUNK = 250, 10_000
"""Cases that are tried at once: the first ones, and at most."""

_CLOSER = 0.05
"""Part of the way out to which a ring is narrowed where there are too many in it."""

_FEWER = 0.7
"""Part of the candidates that a ring half as wide has at most, if it is to be narrowed again."""

_SURE = 1e-5
"""Of the cross weight, beyond which it is out of reach without uncertainty."""

_NARROW = 2e-5
"""Of the cross weight, where the closest is looked for first; then each time twice as wide."""

_WIDEST = 0.08
"""No ride height is worth talking about that is off by more [m]."""


class NonlinearProblem(NonlinearSteps):
    """Steps that settle the car anew, and which of them can be best; see `search.Problem`."""

    __slots__ = ()

    def moves(self, steps: Integers | Floats) -> Moves:
        """Say what steps (m, n) move."""
        return Moves(*(steps @ per_step for per_step in self.per_step))

    def tried(self, steps: Integers | Floats) -> Tried:
        """Settle candidates (m, n) and measure them.

        Idle is a perch that is turned at a shock topped out before and after: that changes preload
        and nothing else.
        """
        moves = self.moves(steps)
        first = _settled(Elsewhere(self.point, self.cross, self.now), moves)
        height = np.abs(first.heights - self.rise).max(axis=1)
        off, tipped, stops, idle = first.off, first.tipped, first.stops, first.idle
        for other in self.others:
            there = _settled(other, moves)
            off, tipped = farther(off, there.off), tipped | there.tipped
            stops, idle = np.maximum(stops, there.stops), idle & there.idle
        return Tried(
            steps=cast("Integers", steps),
            turns_per_step=self.turns_per_step,
            off=np.where(tipped, np.inf, off),
            height=np.where(tipped, np.inf, height),
            tolerances=(self.tolerance, self.height_tolerance),
            stops=stops,
            idle=idle.any(axis=1) | tipped,
        )

    def candidates(self, adjusters: int | None, best: Best) -> Iterator[Integers]:
        """Yield steps until none can be better."""
        if self.finer > 1:
            yield from _rounded(self, adjusters)
            return
        ways = {MEETING: _meeting, LEVEL: _level, CROSSED: _crossed, NEAREST: _nearest}
        for count in range(1, 5) if adjusters is None else (adjusters,):
            if subsets(self, count):
                yield from ways[best.aim](self, count, best)

    def cut(self, parts: int) -> Self:
        """Cut every step into parts."""
        return self._replace(
            per_step=Moves(*(per_step / parts for per_step in self.per_step)),
            least=self.least * parts,
            most=self.most * parts,
            turns_per_step=self.turns_per_step / parts,
            finer=self.finer * parts,
        )

    def within(self, least: Integers, most: Integers) -> Self:
        """Limit the steps otherwise."""
        return self._replace(least=least, most=most)

    def closer(self, tolerance: float, height_tolerance: float) -> Self:
        """Ask for the same to other tolerances."""
        return self._replace(tolerance=tolerance, height_tolerance=height_tolerance)


class _Settled(NamedTuple):
    """Cars after moves in one state: as in `Tried`, and heights and idle (m, 4)."""

    off: Floats
    heights: Floats
    tipped: Flags
    stops: Integers
    idle: Flags


def _settled(at: Elsewhere, moves: Moves) -> _Settled:
    after, tipped = solve_or_tip(at.point, moves)
    cross = (after.loads[:, 1] + after.loads[:, 2]) / at.point.loads.sum()
    then = contacts(at.point, after)
    return _Settled(
        off=cross - at.cross,
        heights=after.heights,
        tipped=tipped,
        stops=(then.stopped() & ~at.now.stopped()).sum(axis=1),
        idle=then.topped_out & at.now.topped_out & (moves.perch != 0),
    )


def _rounded(problem: NonlinearProblem, adjusters: int | None) -> Iterator[Integers]:
    """Yield the steps next to the one move of each corner that is right to the last digit.

    That one is known in closed form; a grid of finer steps can't be searched through. Nothing is
    yielded that misses a tolerance: who asks wants to know what finer steps would meet.
    """
    still = Span(np.zeros(2), np.zeros(2))
    exact = Span(problem.rise, problem.rise), Span(*[np.array(_amid(problem))] * 2)
    mounts = np.asarray(problem.per_step.mount.any(axis=0))
    found = reach(problem.point, *exact, still, mounts)
    move = np.where(mounts, found.mount.low, found.perch.low)
    per_step, steps = problem.per_step.perch + problem.per_step.mount, np.zeros(len(problem.least))
    for number, corner in zip(*np.nonzero(per_step), strict=True):
        if np.isfinite(move[corner]):
            steps[number] = np.round(move[corner] / per_step[number, corner])
    whole = np.clip(steps, problem.least, problem.most).astype(np.int64)
    if adjusters in (None, np.count_nonzero(whole)):
        some = problem.tried(whole[None])
        if some.cross_met[0] and some.heights_met[0]:
            yield whole[None]


def _amid(problem: NonlinearProblem) -> float:
    """Give the cross weight at which, to first order, the largest miss of all states is least."""
    if not problem.others:
        return problem.cross
    states = (Elsewhere(problem.point, problem.cross, problem.now), *problem.others)
    loads = ((at.point.loads, at.cross) for at in states)
    now = [float((each[1] + each[2]) / each.sum() - cross) for each, cross in loads]
    return problem.cross + now[0] - (min(now) + max(now)) / 2


def _meeting(problem: NonlinearProblem, adjusters: int, best: Best) -> Iterator[Integers]:
    """Look for the fewest turns that meet both tolerances, free of stops if any are."""
    within = Within(((-problem.tolerance, problem.tolerance),), problem.height_tolerance)
    steps, best.complete = cases(problem, adjusters, within)
    turns = np.round(np.abs(steps) @ problem.turns_per_step, 9)
    fewest = np.argsort(turns, kind="stable")
    steps, turns = steps[fewest], turns[fewest]
    start, size = 0, _FIRST
    # The search ends with the fewest turns that bring nothing to a stop.
    while start < len(steps) and (best.key is None or [0.0, turns[start]] <= best.key[:2]):
        if start >= MOST_CASES:
            best.complete = False
            return
        yield steps[start : start + size]
        start, size = start + size, min(2 * size, _CHUNK)


def _level(problem: NonlinearProblem, adjusters: int, best: Best) -> Iterator[Integers]:
    """With the heights held, look for the closest cross weight."""

    def ring(inner: float, outer: float) -> Within:
        return Within(((-outer, -inner), (inner, outer)), problem.height_tolerance)

    return _outward(problem, adjusters, best, ring, (_NARROW, _farthest(problem)))


def _crossed(problem: NonlinearProblem, adjusters: int, best: Best) -> Iterator[Integers]:
    """With the cross weight met, look for the smallest worst height."""

    def ring(_: float, outer: float) -> Within:
        return Within(((-problem.tolerance, problem.tolerance),), outer)

    ends = _at_the_ends(problem)
    if (ends > problem.tolerance + _SURE).all() or (ends < -problem.tolerance - _SURE).all():
        # The cross weight answers to each adjuster one way, so all else lies between.
        return iter(())
    start = problem.height_tolerance
    return _outward(problem, adjusters, best, ring, (start, max(_WIDEST, start)))


def _outward(
    problem: NonlinearProblem,
    adjusters: int,
    best: Best,
    ring: Callable[[float, float], Within],
    ends: tuple[float, float],
) -> Iterator[Integers]:
    """Look for what is least off, ring by ring outward, until nothing nearer can be left."""
    seen, tried = np.zeros(0, dtype=np.int64), 0
    inner, (outer, last), before = 0.0, ends, np.inf
    while inner < last:
        steps, all_of_them = cases(problem, adjusters, ring(inner, outer))
        keys = row_keys(problem, steps)
        if keys is not None:
            fresh = ~np.isin(keys, seen)
            steps, keys = steps[fresh], keys[fresh]
        crowded = len(steps) > _MANY or not all_of_them
        # What is no fewer in a narrower ring can't be told apart by heights and cross weight.
        fewer = len(steps) < _FEWER * before
        if crowded and fewer and outer - inner > _CLOSER * outer and outer > ends[0] / 8:
            outer, before = (inner + outer) / 2, len(steps)
            continue
        before = np.inf
        if keys is not None:
            seen = np.append(seen, keys)
        room = max(-(-(MOST_CASES - tried) // _CHUNK) * _CHUNK, 0)
        for start in range(0, min(len(steps), room), _CHUNK):
            yield steps[start : start + _CHUNK]
        tried += len(steps)
        if not all_of_them or len(steps) > room:
            best.complete = False
            return
        if best.off() <= outer:
            return
        # Whatever was met with farther out leaves only what is nearer to be looked for.
        inner, outer = outer, min(outer + max(2 * (outer - inner), outer / 2), best.off())


def _nearest(problem: NonlinearProblem, adjusters: int, best: Best) -> Iterator[Integers]:
    """Look for the closest cross weight, whatever the heights."""
    limits = zip(problem.least, problem.most, strict=True)
    spans = [np.arange(low, high + 1) for low, high in limits]
    spans = [span[span != 0] for span in spans]
    chosen = subsets(problem, adjusters)
    if sum(np.prod([len(spans[one]) for one in subset]) for subset in chosen) > MOST_CASES:
        yield from _inward(problem, chosen, best)
        return
    yield np.concatenate([mesh(problem, one, [spans[each] for each in one]) for one in chosen])


def _inward(
    problem: NonlinearProblem, chosen: list[tuple[int, ...]], best: Best
) -> Iterator[Integers]:
    """Start from the best end of travel and go back as far as the cross weight gets no worse.

    The cross weight answers to each adjuster in one direction, so it is closest at an end of all
    travels; or the target is between, and the steps are too coarse for the tolerance.
    """
    some = problem.tried(np.concatenate([_ends(problem, subset) for subset in chosen]))
    rows = np.flatnonzero(NEAREST.holds(some))
    if not len(rows):
        return
    steps = some.steps[some.first(rows, NEAREST.order)[1]]
    for column in np.flatnonzero(steps).tolist():
        nearer = np.repeat(steps[None], abs(int(steps[column])), axis=0)
        nearer[:, column] = np.sign(steps[column]) * np.arange(1, len(nearer) + 1)
        cross = problem.tried(nearer).cross
        steps = nearer[int(np.flatnonzero(cross <= cross.min() + 1e-7)[0])]
    best.complete = bool((some.off > 0).all() or (some.off <= 0).all())
    yield steps[None]


def _ends(problem: NonlinearProblem, subset: tuple[int, ...]) -> Integers:
    """Give the ends of travel of a subset in all combinations."""
    travels = [np.array([problem.least[one], problem.most[one]]) for one in subset]
    return mesh(problem, subset, [travel[travel != 0] for travel in travels])


def _farthest(problem: NonlinearProblem) -> float:
    """Give the farthest from the target that any turns bring the cross weight."""
    off = np.abs(_at_the_ends(problem))
    return float(off[np.isfinite(off)].max()) + 1e-9


def _at_the_ends(problem: NonlinearProblem) -> Floats:
    """Give the cross weight less the target at all ends of travel; NaN where the car tips over."""
    limits = zip(problem.least, problem.most, strict=True)
    ends = mesh(problem, tuple(range(len(problem.least))), [np.unique(two) for two in limits])
    off = problem.tried(ends).off
    return np.where(np.isfinite(off), off, np.nan)
