"""Whole steps on real corners: the exact search where the car is not linear.

As `grid`, but every candidate is settled: heights and cross weight are those of the equilibrium,
stops and all. What keeps it exact is `settled_bounds`: of the steps that could meet the limits none
is left out.
"""

from __future__ import annotations

from itertools import combinations
from typing import NamedTuple

import numpy as np

from balancer.car import Flags, Floats, Integers
from balancer.grid import SLACK, Found
from balancer.settled_bounds import Reach, Span, reach, whole
from balancer.settling import Contacts, Moves, Settled, contacts, settle
from balancer.standing import Standing

MOST_CASES = 400_000
"""Above this many candidates at once a search keeps to those in the middle, and proves nothing."""

_CHUNK = 10_000

_WIDER = 1.4
"""Factor between one height tolerance and the next where the least is looked for."""

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
        preload and nothing else, so no plan asks for it.
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
    settled = settle(problem.stands, moves)
    cross = (settled.loads[:, 1] + settled.loads[:, 2]) / settled.loads.sum(axis=1)
    then = contacts(problem.stands, settled)
    stopped = then.stopped() & ~problem.now.stopped()
    idle = then.topped_out & problem.now.topped_out & (moves.perch != 0)
    return Tried(
        steps=steps,
        settled=settled,
        cross=np.abs(cross - problem.cross),
        height=np.abs(settled.heights - problem.rise).max(axis=1),
        stops=stopped.sum(axis=1),
        turns=np.abs(steps) @ problem.turns_per_step,
        idle=idle.any(axis=1),
    )


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
    for search in (_meeting, _level, _crossed, _nearest):
        found = search(problem, adjusters)
        if found is not None:
            return found
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
        found = best_settled(problem, 0) if not adjusters else _meeting(problem, adjusters)
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
    found = [one for count in range(1, 5) if (one := _crossed(problem, count))]
    return min(found, key=lambda one: one.height_miss) if found else None


def _found(problem: SettledProblem, some: Tried, row: int, proved: bool = True) -> Found:
    cross, height = float(some.cross[row]), float(some.height[row])
    return Found(
        steps=some.steps[row],
        cross_miss=cross,
        height_miss=height,
        cross_met=cross <= problem.tolerance * (1 + SLACK) + 1e-12,
        heights_met=height <= problem.height_tolerance * (1 + SLACK) + 1e-12,
        proved=proved,
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


def _cases(problem: SettledProblem, adjusters: int, within: _Within) -> tuple[Integers, bool]:
    """List all steps that could keep within these limits, and say whether none is missing."""
    rises = Span.around(problem.rise, np.full(4, within.height * (1 + SLACK) + 1e-9))
    found, complete = [np.zeros((0, len(problem.least)), dtype=np.int64)], True
    for low, high in within.cross:
        ends = problem.cross + low - 1e-9, problem.cross + high + 1e-9
        bounds = _Bounds(problem, rises, Span(*map(np.array, ends)))
        for subset in _subsets(problem, adjusters):
            ranges = bounds.ranges(subset)
            while np.prod([len(one) for one in ranges], dtype=float) > MOST_CASES:
                longest = max(range(len(ranges)), key=lambda one: len(ranges[one]))
                ranges[longest] = ranges[longest][1:-1]
                complete = False
            found.append(_mesh(problem, subset, ranges))
    return np.unique(np.concatenate(found), axis=0), complete


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
        ratio = np.array([link.ratio for link in problem.stands.car.links] or [1.0, 1.0])
        self.lengths = problem.link / ratio
        self.known: dict[bytes, Reach] = {}

    def ranges(self, subset: tuple[int, ...]) -> list[Integers]:
        """Give the steps of each adjuster of a subset, without 0; empty where there are none."""
        problem, chosen = self.problem, list(subset)
        ends = np.stack(
            [limits[chosen] @ self.lengths[chosen] for limits in (problem.least, problem.most)]
        )
        key = ends.tobytes()
        if key not in self.known:
            longer = Span(ends.min(axis=0), ends.max(axis=0))
            mounts = np.asarray(problem.mount.any(axis=0))
            self.known[key] = reach(problem.stands, self.rises, self.cross, longer, mounts)
        moves = self.known[key]
        turned = (problem.perch + problem.mount)[chosen].any(axis=0)
        if not (moves.still | turned).all():
            return [np.zeros(0, dtype=np.int64)] * len(subset)
        found = []
        for column in subset:
            low, high = float(problem.least[column]), float(problem.most[column])
            for per_step, span in ((problem.perch, moves.perch), (problem.mount, moves.mount)):
                for corner in np.flatnonzero(per_step[column]).tolist():
                    least, most = whole(span.at(corner), float(per_step[column, corner]))
                    low, high = max(low, least), min(high, most)
            steps = np.arange(low, high + 1).astype(np.int64)
            found.append(steps[steps != 0])
        return found


def _best(
    problem: SettledProblem, adjusters: int, within: _Within, order: tuple[str, ...]
) -> Found | None:
    """Give the best of all that keep within these limits."""
    steps, complete = _cases(problem, adjusters, within)
    turns = np.round(np.abs(steps) @ problem.turns_per_step, 9)
    # Where the fewest turns count, the search ends with the first that bring nothing to a stop.
    first_wins = order[0] == "stops"
    if first_wins:
        fewest = np.argsort(turns, kind="stable")
        steps, turns = steps[fewest], turns[fewest]
    cross = max(abs(end) for side in within.cross for end in side)
    best: tuple[list[float], Found] | None = None
    for start in range(0, len(steps), _CHUNK):
        if first_wins and best and not best[1].stops and turns[start] > best[0][1]:
            break
        some = tried(problem, steps[start : start + _CHUNK])
        kept = (
            ~some.idle
            & (some.cross <= cross * (1 + SLACK) + 1e-12)
            & (some.height <= within.height * (1 + SLACK) + 1e-12)
        )
        rows = np.flatnonzero(kept)
        if len(rows):
            ranked = some.first(rows, order)
            if best is None or ranked[0] < best[0]:
                best = ranked[0], _found(problem, some, ranked[1], complete)
    return best[1] if best else None


def _meeting(problem: SettledProblem, adjusters: int) -> Found | None:
    """Find the fewest turns that meet both tolerances, free of stops if any are."""
    within = _Within(((-problem.tolerance, problem.tolerance),), problem.height_tolerance)
    return _best(problem, adjusters, within, ("stops", "turns", "cross", "height"))


def _level(problem: SettledProblem, adjusters: int) -> Found | None:
    """With the heights held, find the closest cross weight, ring by ring outward."""
    inner, width = 0.0, max(problem.tolerance, 0.001)
    farthest = _farthest(problem)
    while inner < farthest:
        outer = inner + width
        within = _Within(((-outer, -inner), (inner, outer)), problem.height_tolerance)
        best = _best(problem, adjusters, within, ("cross", "turns", "height", "stops"))
        if best is not None:
            return best
        inner, width = outer, width * _WIDER
    return None


def _crossed(problem: SettledProblem, adjusters: int) -> Found | None:
    """With the cross weight met, find the smallest worst height, ring by ring outward."""
    height = problem.height_tolerance
    while height < _WIDEST:
        within = _Within(((-problem.tolerance, problem.tolerance),), height)
        best = _best(problem, adjusters, within, ("height", "turns", "cross", "stops"))
        if best is not None:
            return best
        height *= _WIDER
    return None


def _nearest(problem: SettledProblem, adjusters: int) -> Found | None:
    """Find the closest cross weight, whatever the heights."""
    order = ("cross", "height", "turns")
    spans = [
        np.arange(low, high + 1) for low, high in zip(problem.least, problem.most, strict=True)
    ]
    spans = [span[span != 0] for span in spans]
    subsets = _subsets(problem, adjusters)
    if not subsets:
        return None
    if sum(np.prod([len(spans[one]) for one in subset]) for subset in subsets) <= MOST_CASES:
        every = [_mesh(problem, subset, [spans[one] for one in subset]) for subset in subsets]
        some = tried(problem, np.concatenate(every))
        rows = np.flatnonzero(~some.idle)
        return _found(problem, some, some.first(rows, order)[1]) if len(rows) else None
    # The cross weight answers to each adjuster in one direction, so it is closest at an end of all
    # travels; or the target is between, and the steps are too coarse for the tolerance.
    some = tried(problem, np.concatenate([_ends(problem, subset) for subset in subsets]))
    rows = np.flatnonzero(~some.idle)
    if not len(rows):
        return None
    steps = some.steps[some.first(rows, order)[1]]
    for column in np.flatnonzero(steps).tolist():
        nearer = np.repeat(steps[None], abs(int(steps[column])), axis=0)
        nearer[:, column] = np.sign(steps[column]) * np.arange(1, len(nearer) + 1)
        cross = tried(problem, nearer).cross
        steps = nearer[int(np.flatnonzero(cross <= cross.min() + 1e-7)[0])]
    across = some.settled.loads[:, 1] + some.settled.loads[:, 2]
    beyond = across > problem.cross * some.settled.loads.sum(axis=1)
    short = bool(beyond.all() or not beyond.any())
    return _found(problem, tried(problem, steps[None]), 0, proved=short)


def _ends(problem: SettledProblem, subset: tuple[int, ...]) -> Integers:
    """Give the ends of travel of a subset in all combinations."""
    travels = [np.array([problem.least[one], problem.most[one]]) for one in subset]
    return _mesh(problem, subset, [travel[travel != 0] for travel in travels])


def _farthest(problem: SettledProblem) -> float:
    """Give the farthest from the target that any turns bring the cross weight."""
    every = _subsets(problem, int(((problem.most > 0) | (problem.least < 0)).sum()))[0]
    ends = np.vstack([_ends(problem, every), np.zeros((1, len(problem.least)), dtype=np.int64)])
    return float(tried(problem, ends).cross.max()) + 1e-9
