"""Whole steps on real corners: the exact search where the car is not linear.

As `grid`, but every candidate is settled: heights and cross weight are those of the equilibrium,
stops and all. What keeps it exact is `settled_bounds`: of the steps that could meet the limits none
is left out.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import NamedTuple, cast

import numpy as np

from balancer.car import Flags, Floats, Integers
from balancer.grid import SLACK, Found
from balancer.settled_bounds import Reach, Span, Warp, reach, whole
from balancer.settling import Contacts, Moves, Settled, contacts, settle_or_tip
from balancer.standing import Standing

MOST_CASES = 150_000
"""Above this many candidates at once a search keeps to those in the middle, and proves nothing."""

_MANY = 8_000
"""Above this many candidates a search for the closest draws its limits closer."""

_FIRST, _CHUNK = 250, 10_000
"""Cases that are settled at once: the first ones, and at most."""

_CLOSER = 0.05
"""Part of the way out to which a ring is narrowed where there are too many in it."""

_FEWER = 0.7
"""Part of the candidates that a ring half as wide has at most, if it is to be narrowed again."""

_SURE = 1e-5
"""Of the cross weight, beyond which it is out of reach without doubt."""

_TIE = 2e-10
"""Of cross weight or height; what is as near counts as equal."""

_NARROW = 2e-5
"""Of the cross weight, where the closest is looked for first; then each time twice as wide."""

_WIDEST = 0.08
"""No ride height is worth talking about that is off by more [m]."""


class SettledProblem(NamedTuple):
    """Which whole steps of the adjusters bring a real car to what is wanted.

    Attributes
    ----------
    stands : Standing
    cross, tolerance : float
        Cross weight wanted, and how near [1].
    rise : array (4,)
        Of the ride heights wanted [m].
    height_tolerance : float
        [m].
    perch, mount : array (n, 4)
        What a step of each adjuster moves [m]; one corner a row.
    link : array (n, 2)
        Likewise the left links, at the link [m].
    least, most : array (n,)
        Limits of the steps, least ≤ 0 ≤ most.
    turns_per_step : array (n,)
        [turn].
    now : Contacts
        What each corner stands on before, (4,) each.
    """

    stands: Standing
    cross: float
    tolerance: float
    rise: Floats
    height_tolerance: float
    perch: Floats
    mount: Floats
    link: Floats
    least: Integers
    most: Integers
    turns_per_step: Floats
    now: Contacts

    def moves(self, steps: Integers) -> Moves:
        """Say what steps (m, n) move."""
        return Moves(steps @ self.perch, steps @ self.mount, steps @ self.link)


class Tried(NamedTuple):
    """Candidates settled.

    Attributes
    ----------
    steps : array (m, n)
    settled : Settled
    cross, height : array (m,)
        |cross weight - target| [1], and worst |height - wanted| [m].
    stops : array (m,)
        How many corners come to stand on a stop, or off their pad, that did not before.
    turns : array (m,)
    idle : array of bool (m,)
        Where a perch is turned at a shock that is topped out before and after: that changes
        preload and nothing else, so no plan asks for it; or the car would tip over.
    """

    steps: Integers
    settled: Settled
    cross: Floats
    height: Floats
    stops: Integers
    turns: Floats
    idle: Flags

    def first(self, rows: Integers, order: tuple[str, ...]) -> tuple[list[float], int]:
        """Find the best of some rows: its ranks in this order, and which it is.

        Ties go to the front axle, then to lowering.
        """
        ranks = {
            "stops": self.stops.astype(float),
            "turns": np.round(self.turns, 9),
            "cross": np.round(self.cross, 10),
            "height": np.round(self.height, 10),
        }
        front_first = -np.abs(self.steps[:, :2]).sum(axis=1)
        keys = [*(ranks[name] for name in order), front_first, self.steps.sum(axis=1)]
        keys = [*(key[rows] for key in keys), *self.steps[rows].T]
        best = int(np.lexsort(keys[::-1])[0])
        return [float(key[best]) for key in keys], int(rows[best])

    def some_rows(self, rows: Integers) -> Tried:
        """Take some."""
        settled = Settled(*(each[rows] for each in self.settled))
        others = {name: getattr(self, name)[rows] for name in self._fields if name != "settled"}
        return Tried(settled=settled, **others)

    def with_more(self, more: Tried) -> Tried:
        """Put others behind these."""
        settled = Settled(
            *(np.concatenate(two) for two in zip(self.settled, more.settled, strict=True))
        )
        others = {
            name: np.concatenate([getattr(self, name), getattr(more, name)])
            for name in self._fields
            if name != "settled"
        }
        return Tried(settled=settled, **others)


def tried(problem: SettledProblem, steps: Integers) -> Tried:
    """Settle candidates and measure them.

    Parameters
    ----------
    problem : SettledProblem
    steps : array (m, n)

    Returns
    -------
    Tried
    """
    moves = problem.moves(steps)
    settled, tipped = settle_or_tip(problem.stands, moves)
    cross = (settled.loads[:, 1] + settled.loads[:, 2]) / problem.stands.loads.sum()
    then = contacts(problem.stands, settled)
    stopped = then.stopped() & ~problem.now.stopped()
    idle = then.topped_out & problem.now.topped_out & (moves.perch != 0)
    return Tried(
        steps=steps,
        settled=settled,
        cross=np.where(tipped, np.inf, np.abs(cross - problem.cross)),
        height=np.where(tipped, np.inf, np.abs(settled.heights - problem.rise).max(axis=1)),
        stops=stopped.sum(axis=1),
        turns=np.abs(steps) @ problem.turns_per_step,
        idle=idle.any(axis=1) | tipped,
    )


def measured(problem: SettledProblem, steps: Floats) -> Found:
    """Work out what given steps miss, whole or not.

    Parameters
    ----------
    problem : SettledProblem
    steps : array (n,)

    Returns
    -------
    Found
        Of which nothing is proved.
    """
    # Nothing here asks for whole ones but the type.
    some = tried(problem, cast("Integers", steps[None]))
    return _found(problem, some, 0)._replace(proved=False)


def best_settled(problem: SettledProblem, adjusters: int) -> Found | None:
    """Find the best whole steps on exactly so many adjusters, as `grid.best_steps` does.

    Of plans that meet both tolerances those come first that bring no corner to a stop.

    Parameters
    ----------
    problem : SettledProblem
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
        return _found(problem, tried(problem, np.zeros((1, len(problem.least)), dtype=np.int64)), 0)
    if not _subsets(problem, adjusters):
        return None
    complete = True
    for search in (_meeting, _level, _crossed, _nearest):
        looked = search(problem, adjusters)
        complete = complete and looked.complete
        if looked.found is not None:
            return looked.found._replace(proved=complete)
    return None


def first_settled(problem: SettledProblem) -> Found | None:
    """Find the best steps on the fewest adjusters that meet both tolerances.

    Parameters
    ----------
    problem : SettledProblem

    Returns
    -------
    Found or None
    """
    for adjusters in range(5):
        found = best_settled(problem, 0) if not adjusters else _meeting(problem, adjusters).found
        if found is not None and found.cross_met and found.heights_met:
            return found
    return None


def least_settled_height(problem: SettledProblem) -> Found | None:
    """Find the steps that meet the cross weight with the smallest worst height miss.

    Parameters
    ----------
    problem : SettledProblem

    Returns
    -------
    Found or None
    """
    found = [one for count in range(1, 5) if (one := _crossed(problem, count).found)]
    return min(found, key=lambda one: one.height_miss) if found else None


def _found(problem: SettledProblem, some: Tried, row: int) -> Found:
    cross, height = float(some.cross[row]), float(some.height[row])
    return Found(
        steps=some.steps[row],
        cross_miss=cross,
        height_miss=height,
        cross_met=cross <= problem.tolerance * (1 + SLACK) + 1e-12,
        heights_met=height <= problem.height_tolerance * (1 + SLACK) + 1e-12,
        stops=int(some.stops[row]),
    )


def _subsets(problem: SettledProblem, adjusters: int) -> list[tuple[int, ...]]:
    movable = np.flatnonzero((problem.most > 0) | (problem.least < 0))
    together = (problem.perch + problem.mount > 0).astype(int)
    return [
        subset
        for subset in combinations(movable.tolist(), adjusters)
        # One adjuster a corner.
        if together[list(subset)].sum(axis=0).max() <= 1
    ]


class _Within(NamedTuple):
    """Limits of a search: how far off the cross weight may be on either side, and the heights."""

    cross: tuple[tuple[float, float], ...]
    height: float


class _Looked(NamedTuple):
    """The best that was found, and whether all was looked at that could be better."""

    found: Found | None
    complete: bool


_NONE = _Looked(None, complete=True)


def _cases(problem: SettledProblem, adjusters: int, within: _Within) -> tuple[Integers, bool]:
    """List all steps that could keep within these limits, and say whether none is missing."""
    rises = Span.around(problem.rise, np.full(4, within.height * (1 + SLACK) + 1e-9))
    found, complete = [np.zeros((0, len(problem.least)), dtype=np.int64)], True
    for low, high in within.cross:
        ends = problem.cross + low - 1e-9, problem.cross + high + 1e-9
        bounds = _Bounds(problem, rises, Span(*map(np.array, ends)))
        for subset in _subsets(problem, adjusters):
            if sum(map(len, found)) > 2 * MOST_CASES:
                complete = False
                break
            steps, all_of_them = bounds.steps(subset)
            found.append(steps)
            complete = complete and all_of_them
    steps = np.concatenate(found)
    return steps if len(within.cross) == 1 else _once(problem, steps), complete


def _once(problem: SettledProblem, steps: Integers) -> Integers:
    """Leave out rows that are there already."""
    keys = _keys(problem, steps)
    if keys is None:
        return np.unique(steps, axis=0)
    return steps[np.unique(keys, return_index=True)[1]]


def _keys(problem: SettledProblem, steps: Integers) -> Integers | None:
    """Give each row a number of its own, since sorting rows is slow; None where there are none."""
    sizes = (problem.most - problem.least + 1).astype(float)
    if np.prod(sizes) > 2**62:
        return None
    strides = np.concatenate([[1.0], np.cumprod(sizes)[:-1]]).astype(np.int64)
    return np.asarray((steps - problem.least) @ strides)


def _mesh(problem: SettledProblem, subset: tuple[int, ...], spans: list[Integers]) -> Integers:
    """List all combinations of steps of a subset, the others 0."""
    mesh = np.stack(np.meshgrid(*spans, indexing="ij"), axis=-1).reshape(-1, len(subset))
    steps = np.zeros((len(mesh), len(problem.least)), dtype=np.int64)
    steps[:, list(subset)] = mesh
    return steps


class _Bounds:
    """The ranges of steps within limits; worked out once for all subsets that move no link."""

    def __init__(self, problem: SettledProblem, rises: Span, cross: Span) -> None:
        self.problem, self.rises, self.cross = problem, rises, cross
        self.warps: dict[bytes, Warp] = {}
        ratio = np.array([link.ratio for link in problem.stands.car.links] or [1.0, 1.0])
        self.lengths = problem.link / ratio
        self.known: dict[bytes, Reach] = {}

    def steps(self, subset: tuple[int, ...]) -> tuple[Integers, bool]:
        """List the steps of a subset, the others 0, and say whether none is missing."""
        problem, complete = self.problem, True
        found = np.zeros((0, len(problem.least)), dtype=np.int64)
        ranges = self._ranges(subset)
        if not all(len(one) for one in ranges):
            return found, True
        warp = self._warp(subset)
        added = [
            self._added(warp, column, steps) for column, steps in zip(subset, ranges, strict=True)
        ]
        turned = (problem.perch + problem.mount)[list(subset)].any(axis=0)
        still = [
            warp.of(corner, np.zeros(1), mount=False) for corner in np.flatnonzero(~turned).tolist()
        ]
        allowed = warp.allowed
        for one in still:
            allowed = allowed[0] - float(one.high[0]), allowed[1] - float(one.low[0])
        picked = _together(added, allowed)
        while picked is None:
            complete = False
            longest = max(range(len(ranges)), key=lambda one: len(ranges[one]))
            cut = slice(1 + len(ranges[longest]) // 10, -1 - len(ranges[longest]) // 10)
            ranges[longest] = ranges[longest][cut]
            added[longest] = Span(*(ends[cut] for ends in added[longest]))
            picked = _together(added, allowed)
        found = np.zeros((len(picked[0]), len(problem.least)), dtype=np.int64)
        for column, steps, at in zip(subset, ranges, picked, strict=True):
            found[:, column] = steps[at]
        return found, complete

    def _added(self, warp: Warp, column: int, steps: Integers) -> Span:
        """Bound what steps of one adjuster add to the warp; nothing for a link."""
        for per_step, mount in ((self.problem.perch, False), (self.problem.mount, True)):
            for corner in np.flatnonzero(per_step[column]).tolist():
                return warp.of(corner, steps * per_step[column, corner], mount)
        return Span(np.zeros(len(steps)), np.zeros(len(steps)))

    def _warp(self, subset: tuple[int, ...]) -> Warp:
        longer = self._longer(subset)
        key = np.stack(longer).tobytes()
        if key not in self.warps:
            self.warps[key] = Warp(self.problem.stands, self.rises, self.cross, longer)
        return self.warps[key]

    def _ranges(self, subset: tuple[int, ...]) -> list[Integers]:
        """Give the steps of each adjuster of a subset, without 0; empty where there are none."""
        problem, chosen = self.problem, list(subset)
        longer = self._longer(subset)
        key = np.stack(longer).tobytes()
        if key not in self.known:
            mounts = np.asarray(problem.mount.any(axis=0))
            self.known[key] = reach(problem.stands, self.rises, self.cross, longer, mounts)
        moves = self.known[key]
        turned = (problem.perch + problem.mount)[chosen].any(axis=0)
        nothing = np.zeros(0, dtype=np.int64)
        if not (moves.still | turned).all():
            return [nothing] * len(subset)
        found = []
        for column in subset:
            low, high = float(problem.least[column]), float(problem.most[column])
            for per_step, span in ((problem.perch, moves.perch), (problem.mount, moves.mount)):
                for corner in np.flatnonzero(per_step[column]).tolist():
                    least, most = whole(span.at(corner), float(per_step[column, corner]))
                    low, high = max(low, least), min(high, most)
            steps = np.arange(low, high + 1).astype(np.int64) if low <= high else nothing
            found.append(steps[steps != 0])
        return found

    def _longer(self, subset: tuple[int, ...]) -> Span:
        """Bound how much longer the left links get, at the wheel."""
        problem, chosen = self.problem, list(subset)
        ends = np.stack(
            [limits[chosen] @ self.lengths[chosen] for limits in (problem.least, problem.most)]
        )
        return Span(ends.min(axis=0), ends.max(axis=0))


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


def _meeting(problem: SettledProblem, adjusters: int) -> _Looked:
    """Find the fewest turns that meet both tolerances, free of stops if any are."""
    within = _Within(((-problem.tolerance, problem.tolerance),), problem.height_tolerance)
    steps, complete = _cases(problem, adjusters, within)
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
        crossed, level = _met(problem, some)
        rows = np.flatnonzero(crossed & level)
        if len(rows):
            ranked = some.first(rows, ("stops", "turns", "cross", "height"))
            if best is None or ranked[0] < best[0]:
                best = ranked[0], _found(problem, some, ranked[1])
    return _Looked(best[1] if best else None, complete)


def _met(problem: SettledProblem, some: Tried) -> tuple[Flags, Flags]:
    """Say which meet the cross weight, and which the heights."""
    crossed = some.cross <= problem.tolerance * (1 + SLACK) + 1e-12
    level = some.height <= problem.height_tolerance * (1 + SLACK) + 1e-12
    return crossed & ~some.idle, level & ~some.idle


def _level(problem: SettledProblem, adjusters: int) -> _Looked:
    """With the heights held, find the closest cross weight."""

    def ring(inner: float, outer: float) -> _Within:
        return _Within(((-outer, -inner), (inner, outer)), problem.height_tolerance)

    def off(some: Tried) -> Floats:
        return np.where(_met(problem, some)[1], some.cross, np.inf)

    order = ("cross", "turns", "height", "stops")
    return _outward(problem, adjusters, ring, off, (_NARROW, _farthest(problem)), order)


def _crossed(problem: SettledProblem, adjusters: int) -> _Looked:
    """With the cross weight met, find the smallest worst height."""

    def ring(_: float, outer: float) -> _Within:
        return _Within(((-problem.tolerance, problem.tolerance),), outer)

    def off(some: Tried) -> Floats:
        return np.where(_met(problem, some)[0], some.height, np.inf)

    order = ("height", "turns", "cross", "stops")
    ends = _at_the_ends(problem)
    if (ends > problem.tolerance + _SURE).all() or (ends < -problem.tolerance - _SURE).all():
        # The cross weight answers to each adjuster one way, so all else lies between.
        return _NONE
    start = problem.height_tolerance
    return _outward(problem, adjusters, ring, off, (start, max(_WIDEST, start)), order)


def _outward(
    problem: SettledProblem,
    adjusters: int,
    ring: Callable[[float, float], _Within],
    off: Callable[[Tried], Floats],
    ends: tuple[float, float],
    order: tuple[str, ...],
) -> _Looked:
    """Find what is least off, ring by ring outward, until nothing nearer can be left."""
    pool, seen = _Pool(problem, off), np.zeros(0, dtype=np.int64)
    inner, (outer, last), complete, before = 0.0, ends, True, np.inf
    while inner < last:
        steps, all_of_them = _cases(problem, adjusters, ring(inner, outer))
        keys = _keys(problem, steps)
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

    def __init__(self, problem: SettledProblem, off: Callable[[Tried], Floats]) -> None:
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
        return _found(self.problem, self.near, self.near.first(rows, order)[1])


def _nearest(problem: SettledProblem, adjusters: int) -> _Looked:
    """Find the closest cross weight, whatever the heights."""
    order = ("cross", "height", "turns")
    spans = [
        np.arange(low, high + 1) for low, high in zip(problem.least, problem.most, strict=True)
    ]
    spans = [span[span != 0] for span in spans]
    subsets = _subsets(problem, adjusters)
    if not subsets:
        return _NONE
    if sum(np.prod([len(spans[one]) for one in subset]) for subset in subsets) <= MOST_CASES:
        every = [_mesh(problem, subset, [spans[one] for one in subset]) for subset in subsets]
        some = tried(problem, np.concatenate(every))
        rows = np.flatnonzero(~some.idle)
        best = _found(problem, some, some.first(rows, order)[1]) if len(rows) else None
        return _NONE._replace(found=best)
    # The cross weight answers to each adjuster in one direction, so it is closest at an end of all
    # travels; or the target is between, and the steps are too coarse for the tolerance.
    some = tried(problem, np.concatenate([_ends(problem, subset) for subset in subsets]))
    rows = np.flatnonzero(~some.idle)
    if not len(rows):
        return _NONE
    steps = some.steps[some.first(rows, order)[1]]
    for column in np.flatnonzero(steps).tolist():
        nearer = np.repeat(steps[None], abs(int(steps[column])), axis=0)
        nearer[:, column] = np.sign(steps[column]) * np.arange(1, len(nearer) + 1)
        cross = tried(problem, nearer).cross
        steps = nearer[int(np.flatnonzero(cross <= cross.min() + 1e-7)[0])]
    across = some.settled.loads[:, 1] + some.settled.loads[:, 2]
    beyond = across > problem.cross * some.settled.loads.sum(axis=1)
    short = bool(beyond.all() or not beyond.any())
    return _NONE._replace(found=_found(problem, tried(problem, steps[None]), 0), complete=short)


def _ends(problem: SettledProblem, subset: tuple[int, ...]) -> Integers:
    """Give the ends of travel of a subset in all combinations."""
    travels = [np.array([problem.least[one], problem.most[one]]) for one in subset]
    return _mesh(problem, subset, [travel[travel != 0] for travel in travels])


def _farthest(problem: SettledProblem) -> float:
    """Give the farthest from the target that any turns bring the cross weight."""
    off = np.abs(_at_the_ends(problem))
    return float(off[np.isfinite(off)].max()) + 1e-9


def _at_the_ends(problem: SettledProblem) -> Floats:
    """Give the cross weight less the target at all ends of travel; NaN where the car tips over."""
    limits = zip(problem.least, problem.most, strict=True)
    ends = _mesh(problem, tuple(range(len(problem.least))), [np.unique(two) for two in limits])
    some = tried(problem, ends)
    across = some.settled.loads[:, 1] + some.settled.loads[:, 2]
    cross = across / problem.stands.loads.sum() - problem.cross
    return np.where(np.isfinite(some.cross), cross, np.nan)
