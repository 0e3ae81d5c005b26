"""The ends of travel of all adjusters: between them lies every cross weight that can be reached."""

from collections.abc import Iterator

import numpy as np

from balancer.car.conventions import Floats, Integers
from balancer.planning.perches.likely import SettledSteps
from balancer.planning.perches.nonlinear_steps import ends_of, grid_size, mesh, subsets, whole_grid
from balancer.planning.perches.steps import NEAREST, Best
from balancer.planning.perches.work import CASE

_LITTLE = 1e-9
"""Of the cross weight, what an equilibrium is not known to."""


def nearest(problem: SettledSteps, adjusters: int, best: Best) -> Iterator[Integers]:
    """Look for the closest cross weight, whatever the heights.

    Args:
        adjusters: On exactly so many, a count.
        best: So far; what was yielded is in it by the time the next is asked for.
    """
    chosen = subsets(problem, adjusters)
    if grid_size(problem, chosen) > problem.work.room(CASE):
        return _inward(problem, chosen, best)
    return whole_grid(problem, chosen)


def _inward(problem: SettledSteps, chosen: list[tuple[int, ...]], best: Best) -> Iterator[Integers]:
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
    best.complete = one_side and at_the_ends(problem)[1]
    yield steps[None]


def at_the_ends(problem: SettledSteps) -> tuple[Floats, bool]:
    """Give the cross weight less the target at all ends of travel; NaN where the car tips over.

    Returns:
        tuple of array (m,) and bool, whether it answers to each adjuster in one direction, as far
        as the ends show; a body that leans a lot on little can be otherwise.
    """
    if not problem.kept.ends:
        problem.kept.ends.append(_settled(problem))
    return problem.kept.ends[0]


def _settled(problem: SettledSteps) -> tuple[Floats, bool]:
    spans = [np.unique(two) for two in zip(problem.least, problem.most, strict=True)]
    some = problem.tried(mesh(problem, tuple(range(len(spans))), spans))
    off = np.where(np.isfinite(some.off), some.off, np.nan)
    one_way = bool(np.isfinite(off).all())
    grid = off.reshape([len(span) for span in spans])
    for axis in range(grid.ndim):
        change = np.diff(grid, axis=axis)
        one_way &= bool((change > -_LITTLE).all() or (change < _LITTLE).all())
    return off, one_way
