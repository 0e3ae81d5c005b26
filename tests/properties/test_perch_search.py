"""What a search says of its own result: nothing is called the best that was not proved so."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count
from typing import Any, Self

import numpy as np
import pytest

from balancer.car.conventions import Integers
from balancer.car.model import plain_car
from balancer.perches import linear_problem, milp
from balancer.perches.goal import PerchGoal
from balancer.perches.linear_problem import LinearProblem
from balancer.perches.plan import plan_perches
from balancer.perches.search import best_steps, first_to_meet
from balancer.perches.steps import Best, LinearSteps
from balancer.solver import Solved, solve

LOADS = np.array([2950.0, 2850.0, 2350.0, 2350.0])
LEAN = LinearProblem(
    cross_off=0.01,
    cross_per_step=np.full(4, -0.002),
    heights_off=np.zeros(4),
    height_per_step=np.eye(4) / 1e3,
    tolerance=0.002,
    height_tolerance=1e-3,
    least=np.full(4, -9),
    most=np.full(4, 9),
    turns_per_step=np.full(4, 0.25),
)
"""Four steps up, no two at one corner, or five anywhere: the latter spoil the heights."""


def answering(answers: dict[int, Solved]) -> Callable[..., Solved]:
    """Solve, but at some calls, counted from 0, say what is given."""
    calls = count()

    def say(*asked: Any) -> Solved:
        return answers.get(next(calls)) or solve(*asked)

    return say


NOTHING_YET = Solved(None, proved=False)


@pytest.fixture
def _by_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(linear_problem, "MOST_NODES", -1)


@pytest.mark.usefixtures("_by_solver")
def test_a_solver_out_of_time_leaves_the_car_as_it_is_and_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(milp, "solve", lambda *_: NOTHING_YET)
    found = best_steps(LEAN, 2)
    assert found is not None
    assert (found.steps.tolist(), found.proved) == ([0, 0, 0, 0], False)
    assert plan_perches(plain_car(), LOADS, PerchGoal.level(0.55)).status == "gave_up"


@pytest.mark.usefixtures("_by_solver")
@pytest.mark.parametrize("call", [0, 1])
def test_what_a_solver_has_not_shown_to_be_out_of_reach_may_be_within(
    call: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two corners meet one tolerance, not both; that the first search ended is what proves it."""
    found = best_steps(LEAN, 2)
    assert found is not None
    assert (found.cross_met, found.heights_met, found.proved) == (False, True, True)
    monkeypatch.setattr(milp, "solve", answering({call: NOTHING_YET}))
    late = best_steps(LEAN, 2)
    assert late is not None
    assert not late.proved


@pytest.mark.usefixtures("_by_solver")
def test_an_optimum_not_proved_is_not_called_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def unproved(*asked: Any) -> Solved:
        return solve(*asked)._replace(proved=False)

    proved = plan_perches(plain_car(), LOADS, PerchGoal.level(0.5))
    monkeypatch.setattr(milp, "solve", unproved)
    plan = plan_perches(plain_car(), LOADS, PerchGoal.level(0.5))
    assert (proved.status, plan.status) == ("reached", "reached")
    assert (proved.best.proved, plan.best.proved) == (True, False)


class Five(LinearSteps):
    """A problem of five adjusters that are all needed."""

    __slots__ = ()

    def candidates(self, adjusters: int | None, best: Best) -> Iterator[Integers]:
        """Yield the one way to touch so many."""
        assert best.complete
        yield (np.arange(5)[None] < (adjusters or 0)).astype(np.int64)

    def cut(self, parts: int) -> Self:
        """Not asked for."""
        raise NotImplementedError(parts)

    def within(self, least: Integers, most: Integers) -> Self:
        """Not asked for."""
        raise NotImplementedError(least, most)


@pytest.mark.parametrize(("needed", "found"), [(1, True), (4, True), (5, False)])
def test_nobody_is_sent_to_more_than_four_adjusters(needed: int, found: bool) -> None:
    zero, one = np.zeros(5), np.ones(5, dtype=int)
    problem = Five(-0.01 * needed, zero + 0.01, zero, np.eye(5), 1e-3, 2.0, -one, one, one)
    met = first_to_meet(problem)
    assert (met is not None) == found
    if met is not None:
        assert np.count_nonzero(met.steps) == needed
