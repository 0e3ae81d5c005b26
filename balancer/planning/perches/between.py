"""Whole steps whose sums lie between limits: all of them, one adjuster after the other."""

from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats, Integers
from balancer.planning.perches.slant import Slant
from balancer.planning.perches.work import CELL, Work

_ON_THE_WAY = 4
"""Times as many as are wanted in the end may be looked at on the way there."""


class Turns(NamedTuple):
    """Turns that a step of each adjuster makes (k,), and how many there may be in all [turn]."""

    per_step: Floats
    most: float


def between(
    slant: Slant, spans: list[Integers], turns: Turns, most: int, work: Work
) -> tuple[Integers, bool]:
    """List all steps, none of them 0, of which every row is within its limits.

    One adjuster after the other, and each no further than the rows let it wherever the rest is.

    Args:
        spans: list of array, the steps of each adjuster, ascending.
        turns: That there may be.
        most: How many.
        work: Where what is done is counted; there is no more of it than it has room for.

    Returns:
        tuple of array (m, k) and bool, the steps, and whether none is missing; where there are too
        many, some from everywhere among them.
    """
    spans = _narrowed(slant, spans)
    if not all(len(span) for span in spans):
        return np.zeros((0, len(spans)), dtype=np.int64), True
    order = sorted(range(len(spans)), key=lambda one: len(spans[one]))
    ends = np.array([[span[0], span[-1]] for span in spans], dtype=float)
    reached = slant.rows[:, :, None] * ends
    least, greatest = reached.min(axis=2), reached.max(axis=2)
    binds = (least.sum(axis=1) < slant.low) | (greatest.sum(axis=1) > slant.high)
    slant = slant._replace(rows=slant.rows[binds], low=slant.low[binds], high=slant.high[binds])
    least, greatest = least[binds], greatest[binds]
    found, sums = np.zeros((1, len(spans)), dtype=np.int64), np.zeros((1, len(slant.rows)))
    left = np.array([turns.most * (1 + 1e-9)])
    complete, cost = True, CELL * (1 + len(slant.rows))
    for place, column in enumerate(order):
        rest = order[place + 1 :]
        low = slant.low - greatest[:, rest].sum(axis=1) - sums
        high = slant.high - least[:, rest].sum(axis=1) - sums
        first, last = _whole(slant.rows[:, column], low, high, ends[column])
        if np.isfinite(turns.most):
            # None of the rest stays where it is.
            steps_left = np.floor((left - turns.per_step[rest].sum()) / turns.per_step[column])
            first, last = np.maximum(first, -steps_left), np.minimum(last, steps_left)
        count = np.maximum(last - first + 1, 0).astype(np.int64)
        room = min(_ON_THE_WAY * most if rest else most, work.room(cost))
        share = -(-int(count.sum()) // max(room, 1))
        if share > 1:
            complete = False
            found, sums, left = found[::share], sums[::share], left[::share]
            first, count = first[::share], count[::share]
        work.spend(cost * int(count.sum()))
        which = np.repeat(np.arange(len(count)), count)
        steps = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
        steps += first[which].astype(np.int64)
        which, steps = which[steps != 0], steps[steps != 0]
        found, sums = found[which], sums[which] + np.outer(steps, slant.rows[:, column])
        left = left[which] - np.abs(steps) * turns.per_step[column]
        found[:, column] = steps
    return found, complete


def _narrowed(slant: Slant, spans: list[Integers]) -> list[Integers]:
    """Leave out of the steps of each adjuster what heights and cross weight do not let be."""
    low, high = slant.low[:5], slant.high[:5]
    half = (high - low) / 2
    rows = slant.rows[:5] / half[:, None]
    if (half <= 0).any() or len(rows) < len(spans):
        return spans
    left, sizes, right = np.linalg.svd(rows, full_matrices=False)
    if sizes[-1] <= 1e-12 * sizes[0]:
        return spans
    # steps = rows⁺·(rows·steps), and rows·steps lies in a box of half-width 1.
    inverse = (right.T / sizes) @ left.T
    middle, reach = inverse @ ((low + high) / 2 / half), np.abs(inverse).sum(axis=1) + 1e-6
    pairs = zip(spans, middle - reach, middle + reach, strict=True)
    return [span[(span >= least) & (span <= most)] for span, least, most in pairs]


def _whole(row: Floats, low: Floats, high: Floats, ends: Floats) -> tuple[Floats, Floats]:
    """Give the first and last whole step that keeps every sum within (m, r)."""
    if not len(row):
        many = np.ones(len(low))
        return many * ends[0], many * ends[1]
    flat = np.abs(row) < 1e-15
    if flat.any():
        out = ((low > 0) | (high < 0))[:, flat].any(axis=1)
        row, low, high = row[~flat], low[:, ~flat], high[:, ~flat]
        first, last = _whole(row, low, high, ends)
        return first, np.where(out, first - 1, last)
    one, other = low / row, high / row
    first = np.ceil(np.maximum(np.minimum(one, other).max(axis=1), ends[0]) - 1e-6)
    last = np.floor(np.minimum(np.maximum(one, other).min(axis=1), ends[1]) + 1e-6)
    return first, last
