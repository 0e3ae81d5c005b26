"""Whole steps on real corners: the exact search where the car is not linear.

As `grid`, but every candidate is settled: heights and cross weight are those of the equilibrium,
stops and all. What keeps it exact is `settled_bounds`: of the steps that could meet the limits none
is left out.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats, Integers
from balancer.perches.candidates import MOST_CASES, Within, cases, mesh, row_keys, subsets
from balancer.perches.nonlinear_problem import NonlinearProblem, Tried, tried
from balancer.perches.steps import Found

_MANY = 8_000
"""Above this many candidates a search for the closest draws its limits closer."""

_FIRST, _CHUNK = 250, 10_000
"""Cases that are settled at once: the first ones, and at most."""

_CLOSER = 0.05
"""Part of the way out to which a ring is narrowed where there are too many in it."""

_FEWER = 0.7
"""Part of the candidates that a ring half as wide has at most, if it is to be narrowed again."""

_SURE = 1e-5
"""Of the cross weight, beyond which it is out of reach without uncertainty."""

_TIE = 2e-10
"""Of cross weight or height; what is as near counts as equal."""

_NARROW = 2e-5
"""Of the cross weight, where the closest is looked for first; then each time twice as wide."""

_WIDEST = 0.08
"""No ride height is worth talking about that is off by more [m]."""


class _Looked(NamedTuple):
    """The best that was found, and whether all was looked at that could be better."""

    found: Found | None
    complete: bool


_NONE = _Looked(None, complete=True)


def best_nonlinear(problem: NonlinearProblem, adjusters: int) -> Found | None:
    """Find the best whole steps on exactly so many adjusters, as `grid.best_steps` does.

    Of plans that meet both tolerances those come first that bring no corner to a stop.

    Parameters
    ----------
    adjusters : int

    Returns
    -------
    Found or None
        None where fewer than that can move at all.

    References
    ----------
    Held against the whole grid in tests/oracles.
    """
    if adjusters == 0:
        return tried(problem, np.zeros((1, len(problem.least)), dtype=np.int64)).found(0)
    if not subsets(problem, adjusters):
        return None
    complete = True
    for search in (_meeting, _level, _crossed, _nearest):
        looked = search(problem, adjusters)
        complete = complete and looked.complete
        if looked.found is not None:
            return looked.found._replace(proved=complete)
    return None


def first_nonlinear(problem: NonlinearProblem) -> Found | None:
    """Find the best steps on the fewest adjusters that meet both tolerances.

    Returns
    -------
    """
    for adjusters in range(5):
        found = best_nonlinear(problem, 0) if not adjusters else _meeting(problem, adjusters).found
        if found is not None and found.cross_met and found.heights_met:
            return found
    return None


def least_nonlinear_height(problem: NonlinearProblem) -> Found | None:
    """Find the steps that meet the cross weight with the smallest worst height miss.

    Returns
    -------
    """
    found = [one for count in range(1, 5) if (one := _crossed(problem, count).found)]
    return min(found, key=lambda one: one.height_miss) if found else None


def _meeting(problem: NonlinearProblem, adjusters: int) -> _Looked:
    """Find the fewest turns that meet both tolerances, free of stops if any are."""
    within = Within(((-problem.tolerance, problem.tolerance),), problem.height_tolerance)
    steps, complete = cases(problem, adjusters, within)
    turns = np.round(np.abs(steps) @ problem.turns_per_step, 9)
    fewest = np.argsort(turns, kind="stable")
    steps, turns = steps[fewest], turns[fewest]
    best: tuple[list[float], Found] | None = None
    start, size = 0, _FIRST
    # The search ends with the fewest turns that bring nothing to a stop.
    while start < len(steps) and (best is None or best[1].stops or turns[start] <= best[0][1]):
        if start >= MOST_CASES:
            complete = False
            break
        some = tried(problem, steps[start : start + size])
        start, size = start + size, min(2 * size, _CHUNK)
        rows = np.flatnonzero(some.cross_met & some.heights_met & ~some.idle)
        if len(rows):
            ranked = some.first(rows, ("stops", "turns", "cross", "height"))
            if best is None or ranked[0] < best[0]:
                best = ranked[0], some.found(ranked[1])
    return _Looked(best[1] if best else None, complete)


def _level(problem: NonlinearProblem, adjusters: int) -> _Looked:
    """With the heights held, find the closest cross weight."""

    def ring(inner: float, outer: float) -> Within:
        return Within(((-outer, -inner), (inner, outer)), problem.height_tolerance)

    def off(some: Tried) -> Floats:
        return np.where(some.heights_met & ~some.idle, some.cross, np.inf)

    order = ("cross", "turns", "height", "stops")
    return _outward(problem, adjusters, ring, off, (_NARROW, _farthest(problem)), order)


def _crossed(problem: NonlinearProblem, adjusters: int) -> _Looked:
    """With the cross weight met, find the smallest worst height."""

    def ring(_: float, outer: float) -> Within:
        return Within(((-problem.tolerance, problem.tolerance),), outer)

    def off(some: Tried) -> Floats:
        return np.where(some.cross_met & ~some.idle, some.height, np.inf)

    order = ("height", "turns", "cross", "stops")
    ends = _at_the_ends(problem)
    if (ends > problem.tolerance + _SURE).all() or (ends < -problem.tolerance - _SURE).all():
        # The cross weight answers to each adjuster one way, so all else lies between.
        return _NONE
    start = problem.height_tolerance
    return _outward(problem, adjusters, ring, off, (start, max(_WIDEST, start)), order)


def _outward(
    problem: NonlinearProblem,
    adjusters: int,
    ring: Callable[[float, float], Within],
    off: Callable[[Tried], Floats],
    ends: tuple[float, float],
    order: tuple[str, ...],
) -> _Looked:
    """Find what is least off, ring by ring outward, until nothing nearer can be left."""
    pool, seen = _Pool(problem, off), np.zeros(0, dtype=np.int64)
    inner, (outer, last), complete, before = 0.0, ends, True, np.inf
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
        complete = pool.put(steps) and all_of_them and complete
        if not complete or pool.least() <= outer:
            break
        # Whatever was met with farther out leaves only what is nearer to be looked for.
        inner, outer = outer, min(outer + max(2 * (outer - inner), outer / 2), pool.least())
    return _Looked(pool.best(order), complete)


class _Pool:
    """What was settled and may be the least off."""

    def __init__(self, problem: NonlinearProblem, off: Callable[[Tried], Floats]) -> None:
        self.problem, self.off = problem, off
        self.near: Tried | None = None
        self.count = 0

    def put(self, steps: Integers) -> bool:
        """Settle steps and keep what is least off; False where there are too many."""
        for start in range(0, len(steps), _CHUNK):
            if self.count >= MOST_CASES:
                return False
            some = tried(self.problem, steps[start : start + _CHUNK])
            self.count += len(some.steps)
            # What is as near within rounding is told apart by turns.
            some = some if self.near is None else self.near.with_more(some)
            off = self.off(some)
            if np.isfinite(off.min()):
                self.near = some.some_rows(np.flatnonzero(off <= off.min() + _TIE))
        return True

    def least(self) -> float:
        """Give how far off the nearest is."""
        return np.inf if self.near is None else float(self.off(self.near).min())

    def best(self, order: tuple[str, ...]) -> Found | None:
        """Give the best of the nearest."""
        if self.near is None:
            return None
        rows = np.arange(len(self.near.steps))
        return self.near.found(self.near.first(rows, order)[1])


def _nearest(problem: NonlinearProblem, adjusters: int) -> _Looked:
    """Find the closest cross weight, whatever the heights."""
    order = ("cross", "height", "turns")
    spans = [
        np.arange(low, high + 1) for low, high in zip(problem.least, problem.most, strict=True)
    ]
    spans = [span[span != 0] for span in spans]
    chosen = subsets(problem, adjusters)
    if not chosen:
        return _NONE
    if sum(np.prod([len(spans[one]) for one in subset]) for subset in chosen) <= MOST_CASES:
        every = [mesh(problem, subset, [spans[one] for one in subset]) for subset in chosen]
        some = tried(problem, np.concatenate(every))
        rows = np.flatnonzero(~some.idle)
        best = some.found(some.first(rows, order)[1]) if len(rows) else None
        return _NONE._replace(found=best)
    # The cross weight answers to each adjuster in one direction, so it is closest at an end of all
    # travels; or the target is between, and the steps are too coarse for the tolerance.
    some = tried(problem, np.concatenate([_ends(problem, subset) for subset in chosen]))
    rows = np.flatnonzero(~some.idle)
    if not len(rows):
        return _NONE
    steps = some.steps[some.first(rows, order)[1]]
    for column in np.flatnonzero(steps).tolist():
        nearer = np.repeat(steps[None], abs(int(steps[column])), axis=0)
        nearer[:, column] = np.sign(steps[column]) * np.arange(1, len(nearer) + 1)
        cross = tried(problem, nearer).cross
        steps = nearer[int(np.flatnonzero(cross <= cross.min() + 1e-7)[0])]
    across = some.equilibrium.loads[:, 1] + some.equilibrium.loads[:, 2]
    beyond = across > problem.cross * some.equilibrium.loads.sum(axis=1)
    short = bool(beyond.all() or not beyond.any())
    return _NONE._replace(found=tried(problem, steps[None]).found(0), complete=short)


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
    some = tried(problem, ends)
    cross = problem.crosses(some.equilibrium) - problem.cross
    return np.where(np.isfinite(some.cross), cross, np.nan)
