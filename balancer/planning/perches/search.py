"""The exact search for whole steps, however the car answers: the problem brings its candidates."""

from collections.abc import Iterator
from typing import Protocol, Self

import numpy as np

from balancer.car.conventions import Floats, Integers
from balancer.planning.perches.steps import (
    AIMS,
    CROSSED,
    MEETING,
    SLACK,
    Aim,
    Best,
    Solution,
    Tried,
)
from balancer.planning.perches.work import BESIDE, CLOSEST


class Problem(Protocol):
    """Which whole steps bring the cross weight and the heights to what is wanted."""

    @property
    def least(self) -> Integers:
        """Least steps of each adjuster (n,), at most 0."""

    @property
    def most(self) -> Integers:
        """Most steps of each adjuster (n,), at least 0."""

    @property
    def turns_per_step(self) -> Floats:
        """Of each adjuster (n,) [turn]."""

    def tried(self, steps: Integers | Floats) -> Tried:
        """Measure candidates (m, n)."""

    def candidates(self, adjusters: int | None, best: Best) -> Iterator[Integers]:
        """Yield steps (m, n) on so many adjusters, or any number, until none can be better.

        What was yielded is in `best` by the time the next is asked for. Where some are left out
        that could be better, `best` is not complete.
        """

    def cut(self, parts: int) -> Self:
        """Cut every step into parts."""

    def within(self, least: Integers, most: Integers) -> Self:
        """Limit the steps otherwise."""

    def afresh(self, most: float) -> Self:
        """Count anew the work that may be done, up to so much, where it is counted."""

    def closer(self, tolerance: float, height_tolerance: float) -> Self:
        """Ask for the same to other tolerances [1], [m]."""


def best_steps(problem: Problem, adjusters: int) -> Solution | None:
    """Find the best whole steps that touch exactly so many adjusters.

    Best is, of those that meet both tolerances: what brings the fewest corners to a stop, then the
    fewest turns, then the closest cross weight, then the smallest worst height. Where none does,
    the closest: with the heights held, the closest cross weight; else with the cross weight met,
    the smallest worst height; else the closest cross weight, whatever the heights.

    Args:
        adjusters: 0 to 4, or however many there are.

    Returns:
        None where fewer than that can move at all.

    References:
        Exact by enumeration, or by HiGHS where the grid of a linear problem is too large for that;
        tests/oracles holds it against the whole grid.

    Examples:
        >>> from balancer.planning.perches.linear_problem import LinearProblem
        >>> lean = LinearProblem(0.01, np.full(4, -0.002), np.zeros(4), np.eye(4) / 1e3,
        ...                      0.002, 1e-3, np.full(4, -9), np.full(4, 9), np.full(4, 0.25))
        >>> best_steps(lean, 2).steps.tolist(), best_steps(lean, 4).steps.tolist()
        ([1, 1, 0, 0], [1, 1, 1, 1])
    """
    if adjusters == 0:
        return _untouched(problem)
    return _or_closest(problem, adjusters, best_for(problem, adjusters, MEETING))


def best_of_each(problem: Problem) -> list[Solution]:
    """Find the best whole steps for each number of adjusters, 0 to 4 or however many there are.

    What meets both tolerances is looked for first, on all numbers; then what comes nearest, on
    fewest first: that takes least, and shows where to look for it on more.
    """
    met = {adjusters: best_for(problem, adjusters, MEETING) for adjusters in range(1, 5)}
    reached = any(one.solution is not None for one in met.values())
    problem = problem.afresh(BESIDE if reached else CLOSEST)
    found = [_or_closest(problem, adjusters, met[adjusters]) for adjusters in range(1, 5)]
    return [_untouched(problem), *(one for one in found if one is not None)]


def _or_closest(problem: Problem, adjusters: int, best: Best) -> Solution | None:
    """Give what meets both, as was searched for, or what comes nearest."""
    complete, sure = best.complete, best.complete
    for aim in AIMS[1:]:
        if best.solution is not None:
            break
        best = best_for(problem, adjusters, aim)
        complete = complete and best.complete
    if best.solution is not None:
        return best.solution._replace(proved=complete, sure=sure)
    return None if complete else _untouched(problem)._replace(proved=False, sure=sure)


def first_to_meet(problem: Problem) -> Solution | None:
    """Find the best steps on the fewest adjusters that meet both tolerances.

    Returns:
        None where no allowed steps on four adjusters or fewer meet both.
    """
    return next(all_that_meet(problem), None)


def all_that_meet(problem: Problem) -> Iterator[Solution]:
    """Find for each number of adjusters, the fewest first, the best steps that meet both."""
    untouched = _untouched(problem)
    if untouched.cross_met and untouched.heights_met:
        yield untouched
    for adjusters in range(1, 5):
        if solution := _proved(best_for(problem, adjusters, MEETING)):
            yield solution


def as_few_turns(problem: Problem, adjusters: int) -> list[Solution]:
    """Find the best of each way to share out the fewest turns that meet both between the axles.

    Args:
        adjusters: On exactly so many, a count.
    """
    best, met = Best(MEETING), [np.zeros((0, len(problem.least)), dtype=np.int64)]
    for steps in problem.candidates(adjusters, best):
        some = problem.tried(steps)
        best.put(some)
        if best.key is not None:
            met.append(steps[MEETING.holds(some) & (some.turns <= best.key[1] + SLACK)])
    some = problem.tried(np.concatenate(met))
    return [some.solution(row) for row in some.shared(best.key[:2] if best.key else [])]


def least_height(problem: Problem) -> Solution | None:
    """Find the steps that meet the cross weight with the smallest worst height miss there is.

    Args:
        problem: Its height tolerance does not matter.

    Returns:
        On whatever number of adjusters; None where no allowed steps meet the cross weight.
        Unproved where the grid is too fine to search through: then the height miss is merely
        enough.
    """
    return _proved(best_for(problem, None, CROSSED))


def _untouched(problem: Problem) -> Solution:
    return problem.tried(np.zeros((1, len(problem.least)), dtype=np.int64)).solution(0)


def _proved(best: Best) -> Solution | None:
    return None if best.solution is None else best.solution._replace(proved=best.complete)


def best_for(problem: Problem, adjusters: int | None, aim: Aim) -> Best:
    """Look for the best steps for one aim.

    Args:
        adjusters: On exactly so many, a count; None: on any number.
        aim: What is held, and preferred.
    """
    best = Best(aim)
    for steps in problem.candidates(adjusters, best):
        best.put(problem.tried(steps))
    return best
