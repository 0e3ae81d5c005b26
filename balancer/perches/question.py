"""What a plan asks, whichever way the car answers: whole steps that meet a goal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple, Protocol

import numpy as np

from balancer.car.conventions import CORNERS, Floats, Integers
from balancer.car.model import Car
from balancer.perches.goal import PerchGoal
from balancer.perches.linear_problem import LinearProblem
from balancer.perches.search import best_steps, first_to_meet, least_height
from balancer.perches.steps import Found
from balancer.perches.turns import PerchMoves, PerTurn, moves_of, per_turn, problem_of, step_limits

if TYPE_CHECKING:
    from balancer.car.equilibrium import Contacts

LimitKind = Literal["grid", "keep", "travel", "heights", "lift"]

FINER = 8
"""Into how many a step is cut where the grid of steps is lifted."""

FAR_TURNS = 60.0
"""How far an adjuster goes where its travel is lifted [turn]."""


class Question(Protocol):
    """Whole steps asked for; `steps.Found` says what they miss."""

    @property
    def adjusters(self) -> tuple[str, ...]:
        """Names of what can be turned, in the order of the steps."""

    @property
    def limits(self) -> tuple[Integers, Integers]:
        """Least and most steps of each."""

    @property
    def turns_per_step(self) -> Floats:
        """Of each [turn]."""

    @property
    def turned(self) -> PerTurn:
        """What one turn up at each corner does."""

    @property
    def now(self) -> Contacts | None:
        """What each corner stands on before; None where the car is linear."""

    def best(self, adjusters: int) -> Found | None:
        """Find the best steps on exactly so many adjusters."""

    def first_to_meet(self) -> Found | None:
        """Find steps on the fewest adjusters that meet both tolerances."""

    def least_height(self) -> Found | None:
        """Find steps that meet the cross weight with the smallest worst height miss."""

    def lifted(self, kind: LimitKind, finer: int) -> Question:
        """Ask again without one limit; the steps are, or become, so much finer."""

    def moves(self, found: Found, finer: int = 1) -> PerchMoves:
        """Say what steps that were found come to."""

    def made(self, turns: Floats) -> PerchMoves:
        """Say what turns at the four corners come to, whole steps or not."""

    def taken_for_linear(self, goal: PerchGoal) -> PerchMoves | None:
        """Find what a plan that takes a car for linear really comes to; None where it is."""


class LinearQuestion(NamedTuple):
    """Asked of a car whose answer to a turn is the same everywhere.

    Attributes:
        loads: (4,) [N].
    """

    car: Car
    loads: Floats
    turned: PerTurn
    problem: LinearProblem

    @classmethod
    def of(cls, car: Car, loads: Floats, goal: PerchGoal) -> LinearQuestion:
        """Ask for a goal."""
        turned = per_turn(car, loads)
        return cls(car, loads, turned, problem_of(car, loads, goal, turned))

    @property
    def adjusters(self) -> tuple[str, ...]:
        """The four perches, by corner."""
        return CORNERS

    @property
    def limits(self) -> tuple[Integers, Integers]:
        """Least and most steps of each."""
        return self.problem.least, self.problem.most

    @property
    def turns_per_step(self) -> Floats:
        """Of each [turn]."""
        return self.problem.turns_per_step

    @property
    def now(self) -> None:
        """Nothing that matters."""

    def best(self, adjusters: int) -> Found | None:
        """Find the best steps, see `search.best_steps`."""
        return best_steps(self.problem, adjusters)

    def first_to_meet(self) -> Found | None:
        """Find what meets both tolerances, see `search.first_to_meet`."""
        return first_to_meet(self.problem)

    def least_height(self) -> Found | None:
        """Find the level-most that meets the cross weight, see `search.least_height`."""
        return least_height(self.problem)

    def lifted(self, kind: LimitKind, finer: int) -> LinearQuestion:
        """Ask again without one limit."""
        problem = self.problem
        if kind == "grid":
            return self._replace(problem=problem.cut(FINER))
        if kind == "keep":
            free = step_limits(self.car, frozenset())
            return self._replace(problem=problem.within(free[0] * finer, free[1] * finer))
        if kind == "travel":
            least, most = far(problem.least, problem.most, self.car.perch_step, finer)
            return self._replace(problem=problem.within(least, most))
        return self

    def moves(self, found: Found, finer: int = 1) -> PerchMoves:
        """Say what steps come to, see `turns.moves_of`."""
        return moves_of(self.car, self.loads, self.turned, found, finer)

    def made(self, turns: Floats) -> PerchMoves:
        """Say what turns come to."""
        step = self.turns_per_step
        steps = np.divide(turns, step, out=np.zeros(4), where=step > 0)
        return self.moves(self.problem.tried(steps[None]).found(0)._replace(proved=False))

    def taken_for_linear(self, goal: PerchGoal) -> None:
        """Say nothing: it is linear."""


def far(least: Integers, most: Integers, step: Floats, finer: int) -> tuple[Integers, Integers]:
    """Give limits of steps as if whatever can be turned had all the travel that there could be.

    Args:
        least, most: (n,), limits of the steps.
        step: (n,) [turn].
        finer: How many of these steps make one of the adjuster's.

    Returns:
        tuple of array (n,)

    Examples:
        >>> far(np.array([0, -4]), np.array([0, 0]), np.array([0.25, 0.25]), 1)
        (array([   0, -240]), array([  0, 240]))
    """
    movable = (least < 0) | (most > 0)
    away = np.where(movable, np.ceil(FAR_TURNS / step) * finer, 0).astype(np.int64)
    return np.minimum(least, -away), np.maximum(most, away)
