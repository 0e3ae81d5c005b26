"""Whole steps on real corners: every candidate is settled, stops and all.

What keeps the search exact is `bounds`: of the steps that could hold what an aim holds none is left
out. The closest is looked for ring by ring outward.
"""

from collections.abc import Callable, Generator, Iterator

import numpy as np

from balancer.car.conventions import Floats, Integers
from balancer.planning.perches.candidates import Cases, Within, cases
from balancer.planning.perches.likely import WIDEST, SettledSteps, beside, likely, right_to_a_digit
from balancer.planning.perches.nonlinear_steps import grid_size, subsets, whole_grid
from balancer.planning.perches.steps import CROSSED, LEVEL, MEETING, NEAREST, Aim, Best
from balancer.planning.perches.travel_ends import at_the_ends, nearest
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

_WIDE = 0.02
"""Of the cross weight [1], above which a ring takes long if nothing is known in it."""

_STEPS = 2
"""Of one adjuster more, beside what is best on fewer."""

_UNPROVED = 20_000
"""Candidates that are tried where they are not all and prove nothing."""

_TIE = 2e-10
"""Of the cross weight [1] and heights [m], what no comparison sees."""

_SURE = 1e-5
"""Of the cross weight, beyond which it is out of reach without uncertainty."""

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
        ways = {MEETING: _meeting, LEVEL: _level, CROSSED: _crossed, NEAREST: nearest}
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
        if best.aim is MEETING and _turns(best) < np.inf:
            self.kept.turns.append(_turns(best))
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
    free = within._replace(free=True)
    if problem.kept.turns:
        yield from _one_more(problem, adjusters)
    else:
        # Where nothing at all may meet them, it is soonest seen so.
        every = cases(problem, adjusters, within)
        if every.complete and len(every.steps) <= _FEW:
            yield every.steps
            return
        if not every.complete:
            yield every.steps[np.argsort(np.abs(every.steps) @ problem.turns_per_step)[:_SOME]]
    # What takes hardly more turns than others do is looked for first: there is less of it.
    for most in [each * min(problem.kept.turns) for each in (1, 2) if problem.kept.turns]:
        yield from _fewest(problem, adjusters, best, free._replace(turns=min(most, _turns(best))))
        if not best.complete or _turns(best) <= most:
            return
    if adjusters > 2:
        yield from likely(problem, adjusters, best)
    yield from _fewest(problem, adjusters, best, free._replace(turns=_turns(best)))
    if best.complete and _turns(best) == np.inf:
        # What brings something to a stop is looked for only where nothing else meets both.
        yield from _fewest(problem, adjusters, best, within)


def _turns(best: Best) -> float:
    """Give how many turns meet both tolerances free of stops; infinite where none are known."""
    return best.key[1] if best.key is not None and not best.key[0] else np.inf


def _fewest(
    problem: NonlinearProblem, adjusters: int, best: Best, within: Within
) -> Iterator[Integers]:
    """Yield what could meet both tolerances, of fewest turns first, until none can be better."""
    found, stops = cases(problem, adjusters, within), float(not within.free)
    turns = np.round(np.abs(found.steps) @ problem.turns_per_step, 9)
    fewest = np.argsort(turns, kind="stable")
    found, turns = found._replace(steps=found.steps[fewest]), turns[fewest]
    done = yield from _in_turn(
        problem, found, lambda row: best.key is None or [stops, turns[row]] <= best.key[:2]
    )
    best.complete = best.complete and done


def _in_turn(
    problem: NonlinearProblem, found: Cases, better: Callable[[int], bool]
) -> Generator[Integers, None, bool]:
    """Yield steps in their order until none can be better; return whether none is left that can.

    Little that is left is done though work has run out: a proof may hang on it.
    """
    steps, start, size = found.steps, 0, _FIRST
    room = len(steps) if found.complete else _UNPROVED
    while start < len(steps) and better(start):
        if start >= room or (start and problem.work.out and len(steps) - start > _FEW):
            return False
        yield steps[start : start + size]
        start, size = start + size, min(2 * size, _CHUNK)
    return found.complete


def _level(problem: NonlinearProblem, adjusters: int, best: Best) -> Iterator[Integers]:
    """With the heights held, look for the closest cross weight."""
    off, one_way = at_the_ends(problem)
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

    off, one_way = at_the_ends(problem)
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
    inner, (first, last), level = 0.0, ends, best.aim is LEVEL
    near = best.off() if best.solution is not None else _off_on_fewer(problem, best.aim)
    if level and best.solution is None and _WIDE < near < np.inf:
        found = cases(problem, adjusters, ring(0.9 * near, 1.1 * near), _MANY)
        yield _nearest_first(found, level)[0].steps[:_FEW]
        near = min(near, best.off())
    if level and adjusters == 4 and best.solution is not None:
        # Where the heights are held nothing else is looked for after.
        problem.work.begin(1.0)
    outer = min(last, near if np.isfinite(near) else last if level else first)
    while inner < last:
        found = cases(problem, adjusters, ring(inner, outer), _MANY)
        if not found.complete and not problem.work.out:
            was, wide = best.off(), outer - inner > _CLOSER * outer and outer > first / 8
            yield _nearest_first(found, level)[0].steps[:_FEW]
            better = best.off() < min(_BETTER * was, outer)
            if better or wide:
                outer = best.off() if better else _between(inner, outer, first, best)
                continue
            found = cases(problem, adjusters, ring(inner, outer))
        if not (yield from _nearer(problem, best, *_nearest_first(found, level))):
            best.complete = False
            return
        if best.off() <= outer:
            return
        # Whatever was met with farther out leaves only what is nearer to be looked for.
        inner, outer = outer, min(outer + max(2 * (outer - inner), outer / 2), best.off())


def _nearest_first(found: Cases, level: bool) -> tuple[Cases, Floats]:
    off = found.cross if level else found.height
    nearest = np.argsort(off, kind="stable")
    return found._replace(steps=found.steps[nearest]), off[nearest]


def _nearer(
    problem: NonlinearProblem, best: Best, found: Cases, off: Floats
) -> Generator[Integers, None, bool]:
    return _in_turn(problem, found, lambda row: off[row] <= best.off() + _TIE)


def _off_on_fewer(problem: NonlinearProblem, aim: Aim) -> float:
    """Give what the best of other searches is off by: about there is what is looked for now."""
    best = Best(aim)
    if problem.kept.ways:
        best.put(problem.tried(np.stack(problem.kept.ways)))
    return best.off()


def _one_more(problem: NonlinearProblem, adjusters: int) -> Iterator[Integers]:
    """Yield the best on one adjuster fewer with any steps of one more, and what is beside that."""
    found: list[Integers] = []
    for way in (way for way in problem.kept.ways if np.count_nonzero(way) == adjusters - 1):
        near = _beside(problem, way)
        for subset in subsets(problem, adjusters):
            column, *more = set(subset) - set(np.flatnonzero(way).tolist())
            if not more:
                span = np.arange(problem.least[column], problem.most[column] + 1)
                for rows, some in ((way[None], span), (near, span[np.abs(span) <= _STEPS])):
                    found.append(np.repeat(rows, len(some), axis=0))
                    found[-1][:, column] = np.tile(some, len(rows))
    if found:
        steps = np.concatenate(found)
        yield steps[np.count_nonzero(steps, axis=1) == adjusters]


def _beside(problem: NonlinearProblem, way: Integers) -> Integers:
    """Give what is a step beside, on as many adjusters."""
    near = np.clip(way + beside(way), problem.least, problem.most)
    return np.asarray(near[np.count_nonzero(near, axis=1) == np.count_nonzero(way)])


def _nearby(problem: NonlinearProblem, best: Best) -> Iterator[Integers]:
    """Yield what is a step beside the best, until that is better than all of it."""
    at: list[int] = []
    while best.solution is not None and best.solution.steps.tolist() != at:
        at = best.solution.steps.tolist()
        yield _beside(problem, best.solution.steps)


def _between(inner: float, outer: float, first: float, best: Best) -> float:
    """Give where to narrow a ring to; with nothing to go by, halve its order of magnitude."""
    if best.solution is not None:
        return (inner + outer) / 2
    return float(np.sqrt(max(inner, first) * outer))
