"""Whole steps at four corners: the exact search under the perch plan.

The problem is linear in the integers s: cross weight c + g·s, heights H·s, each corner within its
limits. For a fixed choice of the other corners the last one follows in closed form, so a search
runs over one corner fewer than it touches, vectorized, and over no more of the grid than the
tolerances leave.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats, Integers
from balancer.perches.steps import SLACK, Found, StepProblem, measure, order_of

MOST_NODES = 5_000_000
"""Above this many choices of the other corners the mixed-integer solver takes over."""

_CHUNK = 200_000

_HEIGHT_RELIEF = (1.25, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0, 100.0, 1000.0)
"""How far the height tolerance is widened where the least can't be had exactly."""


def best_steps(problem: StepProblem, corners: int) -> Found | None:
    """Find the best whole steps that touch exactly so many corners.

    Best is, of those that meet both tolerances: the fewest turns, then the closest cross weight,
    then the smallest worst height. Where none does, the closest: with the heights held, the
    closest cross weight; else with the cross weight met, the smallest worst height; else the
    closest cross weight, whatever the heights.

    Parameters
    ----------
    corners : int
        0 to 4.

    Returns
    -------
    Found or None
        None where fewer corners than that can move at all.

    References
    ----------
    Exact by enumeration, or by HiGHS where the grid is too large for that; tests/oracles holds
    it against the whole grid.

    Examples
    --------
    >>> lean = StepProblem(0.01, np.full(4, -0.002), np.zeros(4), np.eye(4) / 1e3,
    ...                    0.002, 1e-3, np.full(4, -9), np.full(4, 9), np.full(4, 0.25))
    >>> best_steps(lean, 2).steps.tolist(), best_steps(lean, 4).steps.tolist()
    ([1, 1, 0, 0], [1, 1, 1, 1])
    """
    if corners == 0:
        return measure(problem, np.zeros(4, dtype=np.int64))
    for hold_cross, hold_heights in ((True, True), (False, True), (True, False), (False, False)):
        found = _search(_Aim(problem, hold_cross, hold_heights), corners)
        if found is not None:
            return found
    return None


def first_to_meet(problem: StepProblem) -> Found | None:
    """Find the best steps on the fewest corners that meet both tolerances.

    Returns
    -------
    Found or None
        None where no allowed steps meet both.

    References
    ----------
    As `best_steps`.

    Examples
    --------
    >>> lean = StepProblem(0.01, np.full(4, -0.002), np.zeros(4), np.eye(4) / 1e3,
    ...                    0.002, 1e-3, np.full(4, -9), np.full(4, 9), np.full(4, 0.25))
    >>> first_to_meet(lean).steps.tolist()
    [1, 1, 1, 1]
    """
    for corners in range(5):
        found = (
            best_steps(problem, 0) if not corners else _search(_Aim(problem, True, True), corners)
        )
        if found is not None and found.cross_met and found.heights_met:
            return found
    return None


def least_height(problem: StepProblem) -> Found | None:
    """Find the steps that meet the cross weight with the smallest worst height miss there is.

    Parameters
    ----------
    problem : StepProblem
        Its height tolerance does not matter.

    Returns
    -------
    Found or None
        On whatever number of corners; None where no allowed steps meet the cross weight. Unproved
        where the grid is too fine to search through: then the height miss is merely enough.

    References
    ----------
    See `milp.Near`; tests/oracles holds it against the whole grid.

    Examples
    --------
    >>> lean = StepProblem(0.01, np.full(4, -0.002), np.zeros(4), np.eye(4) / 1e3,
    ...                    0.002, 1e-4, np.full(4, -9), np.full(4, 9), np.full(4, 0.25))
    >>> least_height(lean).height_miss
    0.001
    """
    from balancer.perches.milp import Near

    near = Near(problem)
    start = near.least_miss()
    if start is None:
        return None
    aim = _Aim(problem, hold_cross=True, hold_heights=False)
    beyond = 0.5
    while True:
        # Of steps that miss by no more than this every one is looked at, so the least is the least.
        spans = near.spans(start + beyond)
        if spans is not None:
            if _nodes(spans) > MOST_NODES:
                return _height_enough(problem)
            within = _Aim(
                problem._replace(height_tolerance=(start + beyond) * near.unit), True, True
            )
            best: _Ranked | None = None
            for steps in within.candidates((0, 1, 2, 3), spans, every=True):
                best = aim.better(best, steps)
            if best is not None:
                return measure(problem, best.steps)
        if start + beyond > near.most_miss:
            return None
        beyond *= 3


def _height_enough(problem: StepProblem) -> Found | None:
    """Widen the height tolerance until something meets both."""
    for factor in _HEIGHT_RELIEF:
        wider = problem._replace(height_tolerance=problem.height_tolerance * factor)
        if found := first_to_meet(wider):
            return found._replace(proved=False)
    return None


def _search(aim: _Aim, corners: int) -> Found | None:
    """Find the best steps for one aim; None where no steps hold what it holds fast."""
    problem = aim.problem
    movable = np.flatnonzero((problem.most > 0) | (problem.least < 0))
    subsets = list(combinations(movable.tolist(), corners))
    spans = [aim.spans(subset) for subset in subsets]
    if sum(_nodes(span) for span in spans) > MOST_NODES:
        from balancer.perches.milp import best_steps_by_milp

        return best_steps_by_milp(problem, corners, aim.hold_cross, aim.hold_heights)
    best: _Ranked | None = None
    for subset, span in zip(subsets, spans, strict=True):
        for steps in aim.candidates(subset, span):
            best = aim.better(best, steps)
    return None if best is None else measure(problem, best.steps)


def _nodes(span: list[Integers]) -> int:
    return int(np.prod([len(values) for values in span[:-1]], dtype=float))


class _Ranked(NamedTuple):
    key: tuple[float, ...]
    steps: Integers


class _Aim:
    """What a search holds fast, and in which order it then prefers."""

    def __init__(self, problem: StepProblem, hold_cross: bool, hold_heights: bool) -> None:
        self.problem = problem
        self.hold_cross = hold_cross
        self.hold_heights = hold_heights
        rows, off = [], []
        if hold_heights:
            rows.append(problem.height_per_step / problem.height_tolerance)
            off.append(problem.heights_off / problem.height_tolerance)
        if hold_cross:
            rows.append(problem.cross_per_step[None] / problem.tolerance)
            off.append(np.array([problem.cross_off / problem.tolerance]))
        # Every held row reads |row·s + off| ≤ 1.
        self.rows = np.vstack(rows) if rows else np.zeros((0, 4))
        self.off = np.concatenate(off) if off else np.zeros(0)

    def spans(self, subset: tuple[int, ...]) -> list[Integers]:
        """Bound each corner by its limits and, where they bound it, by the held rows."""
        low = self.problem.least[list(subset)].astype(float)
        high = self.problem.most[list(subset)].astype(float)
        rows = self.rows[:, subset]
        if len(rows) and np.linalg.matrix_rank(rows) == len(subset):
            # s = rows⁺·(rows·s), and rows·s lies in a box of half-width 1 around -off.
            inverse = np.linalg.pinv(rows)
            center = -inverse @ self.off
            reach = np.abs(inverse).sum(axis=1) * (1 + 1e-6) + 1e-6
            low, high = np.maximum(low, center - reach), np.minimum(high, center + reach)
        spans = [np.arange(np.ceil(lo), np.floor(hi) + 1) for lo, hi in zip(low, high, strict=True)]
        return [span[span != 0].astype(np.int64) for span in spans]

    def candidates(
        self, subset: tuple[int, ...], spans: list[Integers], every: bool = False
    ) -> Iterator[Integers]:
        """Yield arrays (m, 4) of steps among which the best of this subset is.

        Or every one that holds what is held, zeros among them where the spans have those.
        """
        lengths = [len(span) for span in spans]
        if not all(lengths):
            return
        nodes = _nodes(spans)
        for start in range(0, nodes, _CHUNK):
            picks = np.unravel_index(
                np.arange(start, min(start + _CHUNK, nodes)), lengths[:-1] or (1,)
            )
            steps = np.zeros((len(picks[0]), 4), dtype=np.int64)
            for corner, span, pick in zip(subset[:-1], spans[:-1], picks, strict=False):
                steps[:, corner] = span[pick]
            yield from self._with_last(subset[-1], spans[-1], steps, every)

    def _with_last(
        self, last: int, span: Integers, steps: Integers, every: bool
    ) -> Iterator[Integers]:
        """Complete the steps by every value of the last corner that could be best."""
        low = np.full(len(steps), span[0], dtype=float)
        high = np.full(len(steps), span[-1], dtype=float)
        possible = np.ones(len(steps), dtype=bool)
        for row, off in zip(self.rows, self.off, strict=True):
            fixed = steps @ row + off
            slope = row[last]
            if abs(slope) < 1e-12:
                possible &= np.abs(fixed) <= 1 + SLACK
                continue
            center, reach = -fixed / slope, (1 + SLACK) / abs(slope)
            np.maximum(low, center - reach, out=low)
            np.minimum(high, center + reach, out=high)
        low, high = np.ceil(low - SLACK), np.floor(high + SLACK)
        possible &= low <= high
        steps, low, high = steps[possible], low[possible], high[possible]
        if not len(steps):
            return
        for value in self._last_values(last, steps, low, high, every):
            allowed = (value >= low) & (value <= high) & ((value != 0) | every)
            complete = steps[allowed]
            complete[:, last] = value[allowed].astype(np.int64)
            if len(complete):
                yield complete

    def _last_values(
        self, last: int, steps: Integers, low: Floats, high: Floats, every: bool
    ) -> Iterator[Floats]:
        if every or (self.hold_cross and not self.hold_heights):
            for offset in range(int((high - low).max()) + 1):
                yield low + offset
        elif self.hold_cross:
            # Fewest turns: as near to zero as the limits let it, on either side.
            yield np.maximum(low, 1)
            yield np.minimum(high, -1)
        else:
            slope = self.problem.cross_per_step[last]
            fixed = self.problem.cross_off + steps @ self.problem.cross_per_step
            root = -fixed / slope if abs(slope) > 1e-15 else np.zeros(len(steps))
            below = np.clip(np.floor(root), low, high)
            above = np.clip(np.ceil(root), low, high)
            yield np.where(below == 0, -1, below)
            yield np.where(above == 0, 1, above)

    def better(self, best: _Ranked | None, steps: Integers) -> _Ranked:
        """Give the better of the best so far and the best of these steps (m, 4)."""
        problem = self.problem
        cross = np.abs(problem.cross_off + steps @ problem.cross_per_step)
        height = np.abs(problem.heights_off + steps @ problem.height_per_step.T).max(axis=1)
        turns = np.abs(steps) @ problem.turns_per_step
        # Rounding to what no hand can turn and no scale can see keeps ties from being decided by
        # the last bit. Ties go to the front axle, then to lowering: never to left or right, so
        # that the mirrored car gets the mirrored plan.
        front_first = -np.abs(steps[:, :2]) @ problem.turns_per_step[:2]
        ranks = {
            "turns": np.round(turns, 9),
            "cross": np.round(cross, 12),
            "height": np.round(height, 12),
        }
        keys = [
            *(ranks[name] for name in order_of(self.hold_cross, self.hold_heights)),
            np.round(front_first, 9),
            steps.sum(axis=1),
        ]
        first = np.lexsort((*steps.T, *keys[::-1]))[0]
        key = tuple(float(values[first]) for values in keys)
        one = _Ranked(key, steps[first])
        if best is None or (one.key, tuple(one.steps)) < (best.key, tuple(best.steps)):
            return one
        return best
