"""Whole steps where they do the same everywhere: candidates in closed form.

The problem is linear in the integers s: cross weight c + g·s, heights H·s, each corner within its
limits. For a fixed choice of the other corners the last one follows in closed form, so a search
runs over one corner fewer than it touches, vectorized, and over no more of the grid than the
tolerances leave.
"""

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from balancer.car.conventions import Floats, Integers
from balancer.planning.perches.search import first_to_meet
from balancer.planning.perches.steps import MEETING, SLACK, Aim, Best, LinearSteps

MOST_NODES = 5_000_000
"""Above this many choices of the other corners the mixed-integer solver takes over."""

_CHUNK = 200_000

_FEW = 1000
"""Choices up to which it takes longer to say which of them can't hold than to look at all."""

_HEIGHT_RELIEF = (1.25, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0, 100.0, 1000.0)
"""How far the height tolerance is widened where the least can't be had exactly."""


class LinearProblem(LinearSteps):
    """Steps that do the same everywhere, and which of them can be best; see `search.Problem`."""

    def candidates(self, adjusters: int | None, best: Best) -> Iterator[Integers]:
        """Yield steps until none can be better."""
        if adjusters is None:
            return _of_least_height(self, best)
        return _on_so_many(self, adjusters, best)


def size(problem: LinearProblem, adjusters: int, aim: Aim) -> int:
    """Count what a search would look at, but for the last adjuster of each set.

    Args:
        adjusters: On exactly so many, a count.
        aim: For which.
    """
    held = _Held(problem, aim)
    movable = np.flatnonzero((problem.most > 0) | (problem.least < 0)).tolist()
    return sum(map(_nodes, held.spans(list(combinations(movable, adjusters)))))


def _on_so_many(problem: LinearProblem, adjusters: int, best: Best) -> Iterator[Integers]:
    held = _Held(problem, best.aim)
    movable = np.flatnonzero((problem.most > 0) | (problem.least < 0))
    subsets = list(combinations(movable.tolist(), adjusters))
    spans = held.spans(subsets)
    if sum(map(_nodes, spans)) > MOST_NODES:
        from balancer.planning.perches.milp import best_steps_by_milp

        aim = best.aim
        solution = best_steps_by_milp(problem, adjusters, aim.hold_cross, aim.hold_heights)
        best.complete = solution is None or solution.proved
        if solution is not None:
            yield solution.steps[None]
        return
    for subset, span in zip(subsets, spans, strict=True):
        yield from held.candidates(subset, span)


def _of_least_height(problem: LinearProblem, best: Best) -> Iterator[Integers]:
    """Yield all steps that miss the heights by little more than parts of steps would have to."""
    from balancer.planning.perches.milp import Near

    near = Near(problem)
    start = near.least_miss()
    if start is None:
        return
    beyond = 0.5
    while best.solution is None:
        # Of steps that miss by no more than this every one is looked at, so the least is the least.
        spans = near.spans(start + beyond)
        if spans is not None:
            if _nodes(spans) > MOST_NODES:
                yield from _of_enough_height(problem, best)
                return
            within = problem._replace(height_tolerance=(start + beyond) * near.unit)
            yield from _Held(within, MEETING).candidates((0, 1, 2, 3), spans, every=True)
        if start + beyond > near.most_miss:
            return
        beyond *= 3


def _of_enough_height(problem: LinearProblem, best: Best) -> Iterator[Integers]:
    """Widen the height tolerance until something meets both."""
    best.complete = False
    for factor in _HEIGHT_RELIEF:
        wider = problem._replace(height_tolerance=problem.height_tolerance * factor)
        if solution := first_to_meet(wider):
            yield solution.steps[None]
            return


def _nodes(span: list[Integers]) -> int:
    return int(np.prod([len(values) for values in span[:-1]], dtype=float))


class _Held:
    """What an aim holds fast, as rows of a linear problem."""

    def __init__(self, problem: LinearProblem, aim: Aim) -> None:
        self.problem, self.aim = problem, aim
        rows, off = [], []
        if aim.hold_heights:
            rows.append(problem.height_per_step / problem.height_tolerance)
            off.append(problem.heights_off / problem.height_tolerance)
        if aim.hold_cross:
            for cross in problem.crosses:
                rows.append(cross.per_step[None] / problem.tolerance)
                off.append(np.array([cross.off / problem.tolerance]))
        # Every held row reads |row·s + off| ≤ 1.
        self.rows = np.vstack(rows) if rows else np.zeros((0, 4))
        self.off = np.concatenate(off) if off else np.zeros(0)

    def spans(self, subsets: list[tuple[int, ...]]) -> list[list[Integers]]:
        """Bound each corner by its limits and, where they bound it, by the held rows.

        Args:
            subsets: As many corners in each.
        """
        if not subsets:
            return []
        each = np.array(subsets)
        low, high = self.problem.least[each].astype(float), self.problem.most[each].astype(float)
        inverse, reach = self._bounds(each)
        center = -inverse @ self.off
        low, high = np.maximum(low, center - reach), np.minimum(high, center + reach)
        ends = zip(np.ceil(low).tolist(), np.floor(high).tolist(), strict=True)
        every = ([np.arange(lo, hi + 1) for lo, hi in zip(*pair, strict=True)] for pair in ends)
        return [[span[span != 0].astype(np.int64) for span in spans] for spans in every]

    def _bounds(self, subsets: Integers) -> tuple[Floats, Floats]:
        """Say near which steps of its corners each subset (k, n) must be, and how near.

        Returns:
            (k, n, rows), what gives those steps from minus what the rows are without them; (k, n),
            infinite where the rows don't bound them.
        """
        rows = np.moveaxis(self.rows[:, subsets], 0, 1)
        # s = rows⁺·(rows·s), and rows·s lies in a box of half-width 1 around -off.
        inverse = np.asarray(np.linalg.pinv(rows), dtype=np.float64)
        bound = np.linalg.matrix_rank(rows) == subsets.shape[1] if rows.size else np.array(False)
        reach = np.abs(inverse).sum(axis=2) * (1 + 1e-6) + 1e-6
        return inverse, np.where(bound.reshape(-1, 1), reach, np.inf)

    def candidates(
        self, subset: tuple[int, ...], spans: list[Integers], every: bool = False
    ) -> Iterator[Integers]:
        """Yield arrays (m, 4) of steps among which the best of this subset is.

        Or every one that holds what is held, zeros among them where the spans have those.
        """
        if all(map(len, spans)):
            for steps in self._begun(subset, spans, np.zeros((1, 4), dtype=np.int64)):
                yield from self._with_last(subset[-1], spans[-1], steps, every)

    def _begun(
        self, subset: tuple[int, ...], spans: list[Integers], steps: Integers
    ) -> Iterator[Integers]:
        """Put to steps what all corners but the last may be turned by beside them."""
        if len(subset) == 1:
            yield steps
            return
        span, at_once = spans[0], max(_CHUNK // len(spans[0]), 1)
        for start in range(0, len(steps), at_once):
            some = steps[start : start + at_once]
            picked = np.ones((len(some), len(span)), dtype=bool)
            if picked.size > _FEW:
                (inverse,), (reach,) = self._bounds(np.array([subset]))
                center = -inverse[0] @ (self.rows @ some.T.astype(float) + self.off[:, None])
                picked &= np.abs(span - center[:, None]) <= reach[0]
            row, column = np.nonzero(picked)
            wider = some[row]
            wider[:, subset[0]] = span[column]
            yield from self._begun(subset[1:], spans[1:], wider)

    def _with_last(
        self, last: int, span: Integers, steps: Integers, every: bool
    ) -> Iterator[Integers]:
        """Complete the steps by every value of the last corner that could be best."""
        low = np.full(len(steps), span[0], dtype=float)
        high = np.full(len(steps), span[-1], dtype=float)
        possible = np.ones(len(steps), dtype=bool)
        # All rows at once, and as floats: BLAS knows no whole numbers.
        every_fixed = self.rows @ steps.T.astype(float) + self.off[:, None]
        for slope, fixed in zip(self.rows[:, last], every_fixed, strict=True):
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
        if every or (self.aim.hold_cross and not self.aim.hold_heights):
            for offset in range(int((high - low).max()) + 1):
                yield low + offset
        elif self.aim.hold_cross:
            # Fewest turns: as near to zero as the limits let it, on either side.
            yield np.maximum(low, 1)
            yield np.minimum(high, -1)
        else:
            root = self._closest(last, steps)
            below = np.clip(np.floor(root), low, high)
            above = np.clip(np.ceil(root), low, high)
            yield np.where(below == 0, -1, below)
            yield np.where(above == 0, 1, above)

    def _closest(self, last: int, steps: Integers) -> Floats:
        """Find where, between whole steps of the last corner, the largest cross miss is least.

        All cross weights rise with the step, or all fall. Two of them miss by the same, one above
        and one below, where their sum is met. The highest of all is as far above as the lowest is
        below at the least, over the one, of the most, over the other, of these.
        """
        crosses = self.problem.crosses
        if abs(crosses[0].per_step[last]) <= 1e-15:
            return np.zeros(len(steps))
        fixed = [one.off + steps @ one.per_step for one in crosses]
        slope = [one.per_step[last] for one in crosses]
        every = range(len(crosses))
        between = [[-(fixed[i] + fixed[j]) / (slope[i] + slope[j]) for j in every] for i in every]
        return np.asarray(np.min([np.max(ends, axis=0) for ends in between], axis=0))
