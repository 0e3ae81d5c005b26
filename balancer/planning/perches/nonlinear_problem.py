"""Whole steps on real corners: every candidate is settled, stops and all.

What keeps the search exact is `bounds`: of the steps that could hold what an aim holds none is left
out. The closest is looked for ring by ring outward.
"""

from collections.abc import Callable, Iterator

import numpy as np

from balancer.car.conventions import Floats, Integers
from balancer.planning.perches.candidates import Cases, Within, cases
from balancer.planning.perches.likely import WIDEST, SettledSteps, beside, likely, right_to_a_digit
from balancer.planning.perches.nonlinear_steps import (
    ends_of,
    grid_size,
    mesh,
    subsets,
    whole_grid,
)
from balancer.planning.perches.steps import CROSSED, LEVEL, MEETING, NEAREST, Best
from balancer.planning.perches.work import CASE, MUCH, SETTLED, SOME

_MANY = 20_000
"""Above this many candidates a search for the closest draws its limits closer."""

_FEW = 1_000
"""Up to so many steps all are tried, as nothing is quicker."""

_SOME = 2_000
"""Steps that are tried where there is no time for all."""

_TOGETHER = 1e-3
"""Of the cross weight [1], up to which a ring is looked at on both sides at once."""

_BETTER = 0.98
"""Part that is left of what the best is off by, if a ring is to be drawn anew for it."""

_FIRST, _CHUNK = 250, 10_000
"""Cases that are tried at once: the first ones, and at most."""

_CLOSER = 0.05
"""Part of the way out to which a ring is narrowed where there are too many in it."""

_UNPROVED = 20_000
"""Candidates that are tried where they are not all and prove nothing."""

_TIE = 2e-10
"""Of the cross weight [1] and heights [m], what no comparison sees."""

_SURE = 1e-5
"""Of the cross weight, beyond which it is out of reach without uncertainty."""

_LITTLE = 1e-9
"""Of the cross weight, what an equilibrium is not known to."""

_NARROW = 2e-5
"""Of the cross weight, where the closest is looked for first; then each time twice as wide."""


class NonlinearProblem(SettledSteps):
    """Steps that settle the car anew, and which of them can be best; see `search.Problem`."""

    __slots__ = ()

    def candidates(self, adjusters: int | None, best: Best) -> Iterator[Integers]:
        """Yield steps until none can be better."""
        if self.finer > 1:
            yield from _rounded(self, adjusters)
            return
        # Fewer come first: what is asked last has all that is left.
        last = adjusters is None or (adjusters == 4 and best.aim is CROSSED)
        self.work.begin(1.0 if last else MUCH if best.aim is MEETING else SOME)
        ways = {MEETING: _meeting, LEVEL: _level, CROSSED: _crossed, NEAREST: _nearest}
        # On most adjusters is what leaves least to be looked for on fewer.
        counts = range(4, 0, -1) if adjusters is None else (adjusters,)
        for count in counts if len(counts) > 1 else ():
            yield from likely(self, count, best)
        for count in counts:
            if chosen := subsets(self, count):
                few = grid_size(self, chosen) <= _FEW
                every = whole_grid(self, chosen) if few else ways[best.aim](self, count, best)
                for steps in filter(len, every):
                    self.work.spend((SETTLED + CASE * len(steps)) * (1 + len(self.others)))
                    yield steps
        if not best.complete:
            yield from _nearby(self, best)
        if best.aim is MEETING and best.key is not None and not best.key[0]:
            self.kept.turns.append(best.key[1])
        if best.solution is not None:
            self.kept.ways.append(best.solution.steps)


def _rounded(problem: NonlinearProblem, adjusters: int | None) -> Iterator[Integers]:
    """Yield `right_to_a_digit`, but nothing that misses a tolerance.

    Who asks wants to know what finer steps would meet, and their grid can't be searched through.
    """
    whole = right_to_a_digit(problem)
    if adjusters in (None, np.count_nonzero(whole)):
        some = problem.tried(whole[None])
        if some.cross_met[0] and some.heights_met[0]:
            yield whole[None]


def _meeting(problem: NonlinearProblem, adjusters: int, best: Best) -> Iterator[Integers]:
    """Look for the fewest turns that meet both tolerances, free of stops if any are."""
    within = Within(((-problem.tolerance, problem.tolerance),), problem.height_tolerance)
    fewest = min(problem.kept.turns, default=np.inf)
    if not problem.kept.turns:
        # Where nothing at all may meet them, it is soonest seen so.
        every = cases(problem, adjusters, within)
        if every.complete and len(every.steps) <= _FEW:
            yield every.steps
            return
        if not every.complete:
            yield every.steps[np.argsort(np.abs(every.steps) @ problem.turns_per_step)[:_SOME]]
    free = within._replace(free=True)
    # What takes hardly more turns than others do is looked for first: there is less of it.
    for most in (fewest, 2 * fewest) if problem.kept.turns else ():
        yield from _fewest(problem, adjusters, best, free._replace(turns=most))
        if not best.complete or _met_free(best):
            return
    if adjusters > 2:
        yield from likely(problem, adjusters, best)
    most = best.key[1] if best.key is not None and _met_free(best) else np.inf
    yield from _fewest(problem, adjusters, best, free._replace(turns=most))
    if best.complete and not _met_free(best):
        # What brings something to a stop is looked for only where nothing else meets both.
        yield from _fewest(problem, adjusters, best, within)


def _met_free(best: Best) -> bool:
    return best.key is not None and not best.key[0]


def _fewest(
    problem: NonlinearProblem, adjusters: int, best: Best, within: Within
) -> Iterator[Integers]:
    """Yield what could meet both tolerances, of fewest turns first, until none can be better."""
    found, stops = cases(problem, adjusters, within), float(not within.free)
    best.complete = best.complete and found.complete
    turns = np.round(np.abs(found.steps) @ problem.turns_per_step, 9)
    fewest = np.argsort(turns, kind="stable")
    steps, turns = found.steps[fewest], turns[fewest]
    start, size = 0, _FIRST
    room = np.inf if found.complete else _UNPROVED
    while start < len(steps) and (best.key is None or [stops, turns[start]] <= best.key[:2]):
        if (start and problem.work.out) or start >= room:
            best.complete = False
            return
        yield steps[start : start + size]
        start, size = start + size, min(2 * size, _CHUNK)


def _level(problem: NonlinearProblem, adjusters: int, best: Best) -> Iterator[Integers]:
    """With the heights held, look for the closest cross weight."""
    off, one_way = _at_the_ends(problem)
    # Elsewhere than between the ends there is nothing, where it answers one way.
    ends = -problem.cross, 1.0 - problem.cross
    if one_way:
        # In the state that is searched it is no farther off than where it is farthest off.
        every = np.append(off, -off) if problem.others else off
        ends = float(every.min()) - 1e-9, float(every.max()) + 1e-9

    def ring(inner: float, outer: float) -> Within:
        together = inner == 0 and outer <= _TOGETHER
        sides = ((-outer, outer),) if together else ((-outer, -inner), (inner, outer))
        clipped = ((max(low, ends[0]), min(high, ends[1])) for low, high in sides)
        return Within(
            tuple((low, high) for low, high in clipped if low <= high), problem.height_tolerance
        )

    return _outward(problem, adjusters, best, ring, (_NARROW, max(-ends[0], ends[1])))


def _crossed(problem: NonlinearProblem, adjusters: int, best: Best) -> Iterator[Integers]:
    """With the cross weight met, look for the smallest worst height."""

    def ring(_: float, outer: float) -> Within:
        return Within(((-problem.tolerance, problem.tolerance),), outer)

    off, one_way = _at_the_ends(problem)
    beyond = problem.tolerance + _SURE
    if one_way and ((off > beyond).all() or (off < -beyond).all()):
        # The cross weight answers to each adjuster one way, so all else lies between.
        return iter(())
    start = problem.height_tolerance
    return _outward(problem, adjusters, best, ring, (start, max(WIDEST, start)))


def _outward(
    problem: NonlinearProblem,
    adjusters: int,
    best: Best,
    ring: Callable[[float, float], Within],
    ends: tuple[float, float],
) -> Iterator[Integers]:
    """Look for what is least off, ring by ring outward, until nothing nearer can be left.

    What could be the least off is tried first, and nothing that is farther off than the best.
    """
    yield from _one_more(problem, adjusters)
    yield from likely(problem, adjusters, best)
    level = best.aim.order[0] == "cross"
    inner, (first, last), tried = 0.0, ends, 0
    outer = min(last, best.off() if np.isfinite(best.off()) else last if level else first)
    while inner < last:
        found = cases(problem, adjusters, ring(inner, outer), _MANY)
        steps, off = _nearest_first(found, level)
        if not found.complete and not problem.work.out:
            was, wide = best.off(), outer - inner > _CLOSER * outer and outer > first / 8
            yield steps[:_FEW]
            better = best.off() < min(_BETTER * was, outer)
            if better or wide:
                outer = best.off() if better else _between(inner, outer, first, best)
                continue
            found = cases(problem, adjusters, ring(inner, outer))
            steps, off = _nearest_first(found, level)
        start, size = 0, _FIRST
        room = np.inf if found.complete else _UNPROVED
        while start < len(steps) and off[start] <= best.off() + _TIE:
            if (start and problem.work.out) or tried >= room:
                best.complete = False
                return
            yield steps[start : start + size]
            start, size, tried = start + size, min(2 * size, _CHUNK), tried + size
        if not found.complete:
            best.complete = False
            return
        if best.off() <= outer:
            return
        # Whatever was met with farther out leaves only what is nearer to be looked for.
        inner, outer = outer, min(outer + max(2 * (outer - inner), outer / 2), best.off())


def _one_more(problem: NonlinearProblem, adjusters: int) -> Iterator[Integers]:
    """Yield the best steps on one adjuster fewer, with any steps of one more."""
    for way in (way for way in problem.kept.ways if np.count_nonzero(way) == adjusters - 1):
        for subset in subsets(problem, adjusters):
            more = set(subset) - set(np.flatnonzero(way).tolist())
            if len(more) == 1:
                (column,) = more
                span = np.arange(problem.least[column], problem.most[column] + 1)
                steps = np.repeat(way[None], len(span), axis=0)
                steps[:, column] = span
                yield steps[span != 0]


def _nearby(problem: NonlinearProblem, best: Best) -> Iterator[Integers]:
    """Yield what is a step beside the best, until that is better than all of it."""
    at: list[int] = []
    while best.solution is not None and best.solution.steps.tolist() != at:
        at = best.solution.steps.tolist()
        near = np.clip(at + beside(best.solution.steps), problem.least, problem.most)
        yield near[np.count_nonzero(near, axis=1) == np.count_nonzero(at)]


def _nearest_first(found: Cases, level: bool) -> tuple[Integers, Floats]:
    off = found.cross if level else found.height
    nearest = np.argsort(off, kind="stable")
    return found.steps[nearest], off[nearest]


def _between(inner: float, outer: float, first: float, best: Best) -> float:
    """Give where to narrow a ring to; with nothing to go by, halve its order of magnitude."""
    if best.solution is not None:
        return (inner + outer) / 2
    return float(np.sqrt(max(inner, first) * outer))


def _nearest(problem: NonlinearProblem, adjusters: int, best: Best) -> Iterator[Integers]:
    """Look for the closest cross weight, whatever the heights."""
    chosen = subsets(problem, adjusters)
    if grid_size(problem, chosen) > problem.work.room(CASE):
        return _inward(problem, chosen, best)
    return whole_grid(problem, chosen)


def _inward(
    problem: NonlinearProblem, chosen: list[tuple[int, ...]], best: Best
) -> Iterator[Integers]:
    """Start from the best end of travel and go back as far as the cross weight gets no worse.

    The cross weight answers to each adjuster in one direction, so it is closest at an end of all
    travels; or the target is between, and the steps are too coarse for the tolerance.
    """
    some = problem.tried(np.concatenate([ends_of(problem, subset) for subset in chosen]))
    rows = np.flatnonzero(NEAREST.holds(some))
    if not len(rows):
        return
    steps = some.steps[some.first(rows, NEAREST.order)[1]]
    for column in np.flatnonzero(steps).tolist():
        nearer = np.repeat(steps[None], abs(int(steps[column])), axis=0)
        nearer[:, column] = np.sign(steps[column]) * np.arange(1, len(nearer) + 1)
        cross = problem.tried(nearer).cross
        steps = nearer[int(np.flatnonzero(cross <= cross.min() + 1e-7)[0])]
    one_side = bool((some.off > 0).all() or (some.off <= 0).all())
    best.complete = one_side and _at_the_ends(problem)[1]
    yield steps[None]


def _at_the_ends(problem: NonlinearProblem) -> tuple[Floats, bool]:
    """Give the cross weight less the target at all ends of travel; NaN where the car tips over.

    Returns:
        tuple of array (m,) and bool, whether it answers to each adjuster in one direction, as far
        as the ends show; a body that leans a lot on little can be otherwise.
    """
    if not problem.kept.ends:
        problem.kept.ends.append(_settled_at_the_ends(problem))
    return problem.kept.ends[0]


def _settled_at_the_ends(problem: NonlinearProblem) -> tuple[Floats, bool]:
    spans = [np.unique(two) for two in zip(problem.least, problem.most, strict=True)]
    some = problem.tried(mesh(problem, tuple(range(len(spans))), spans))
    off = np.where(np.isfinite(some.off), some.off, np.nan)
    one_way = bool(np.isfinite(off).all())
    grid = off.reshape([len(span) for span in spans])
    for axis in range(grid.ndim):
        change = np.diff(grid, axis=axis)
        one_way &= bool((change > -_LITTLE).all() or (change < _LITTLE).all())
    return off, one_way
