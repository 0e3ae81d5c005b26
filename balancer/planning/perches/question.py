"""What a plan asks, however the car answers: whole steps for a goal, and what they come to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from balancer.car.adjusters import Adjusters, ways_to_turn
from balancer.car.answers import Contacts, PerTurn
from balancer.car.conventions import Flags, Floats, Integers
from balancer.car.errors import TippedOverError
from balancer.car.ground import off_the_ground
from balancer.car.statics import Statics, statics_of
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.posed import far_limits, problem_of, step_limits
from balancer.planning.perches.search import (
    Problem,
    all_that_meet,
    best_of_each,
    best_steps,
    first_to_meet,
    least_height,
)
from balancer.planning.perches.steps import Solution
from balancer.weighing.uncertainty import Shares, shares

if TYPE_CHECKING:
    from balancer.planning.perches.slant import Planes

LimitKind = Literal["grid", "keep", "travel", "heights", "lift"]


FINER = 8
"""Into how many a step is cut where the grid of steps is lifted."""


class Landed(NamedTuple):
    """The car in another state after turns: loads (4,) [N], and their shares."""

    loads: Floats
    shares: Shares


class PerchMoves(NamedTuple):
    """One way to turn the perches, and the car after it.

    Attributes:
        turns: (4,), positive up [turn].
        perch, lifts: (4,), move of the perch, and of the wheel station at constant load [m].
        loads: (4,) [N].
        height_change: (4,) [m].
        cross_met, heights_met: Whether each is within its tolerance.
        proved: Whether nothing on as many corners is better by what was searched for.
        mounts: (4,) of bool or None, where the lower mount is turned and not the spring perch;
            None: nowhere.
        link_turns: (2,) or None, of the left drop links, longer positive [turn].
        contacts: What each corner of a car that is not linear then stands on.
        others: The same turns in each other state of the goal.
    """

    turns: Floats
    perch: Floats
    lifts: Floats
    loads: Floats
    shares: Shares
    height_change: Floats
    cross_met: bool
    heights_met: bool
    proved: bool
    mounts: Flags | None = None
    link_turns: Floats | None = None
    contacts: Contacts | None = None
    others: tuple[Landed, ...] = ()

    @property
    def every_loads(self) -> tuple[Floats, ...]:
        """The loads in all states, (4,) each [N]."""
        return (self.loads, *(other.loads for other in self.others))

    @property
    def every_turn(self) -> Floats:
        """Turns (4,), or (6,) with those of both links where one is turned."""
        if self.link_turns is None or not self.link_turns.any():
            return self.turns
        return np.append(self.turns, self.link_turns)

    @property
    def airborne(self) -> bool:
        """Whether a wheel leaves the ground in any state."""
        return any(map(off_the_ground, self.every_loads))

    @property
    def corners(self) -> int:
        """How many corners it touches, or corners and links."""
        links = 0 if self.link_turns is None else np.count_nonzero(self.link_turns)
        return int(np.count_nonzero(self.turns) + links)

    @property
    def turns_in_all(self) -> float:
        """Of corners and links together."""
        links = 0.0 if self.link_turns is None else float(np.abs(self.link_turns).sum())
        return float(np.abs(self.turns).sum()) + links

    @property
    def met(self) -> bool:
        """Whether both are within tolerance."""
        return self.cross_met and self.heights_met


class Question(NamedTuple):
    """Whole steps asked for.

    Attributes:
        per_turn: One turn up of what is turned at each corner.
        problem: The same in steps, without one limit or another.
        others: The car in the other states of the goal.
    """

    statics: Statics
    adjusters: Adjusters
    per_turn: PerTurn
    problem: Problem
    others: tuple[Statics, ...] = ()

    @property
    def limits(self) -> tuple[Integers, Integers]:
        """Least and most steps of each adjuster."""
        return self.problem.least, self.problem.most

    def best(self, adjusters: int) -> Solution | None:
        """Find the best steps on exactly so many adjusters."""
        return best_steps(self.problem, adjusters)

    def best_of_each(self) -> list[Solution]:
        """Find the best steps on each number of adjusters."""
        return best_of_each(self.problem)

    def first_to_meet(self) -> Solution | None:
        """Find steps on the fewest adjusters that meet both tolerances."""
        return first_to_meet(self.problem)

    def that_meet(self, tolerance: float, height_tolerance: float) -> Iterator[Solution]:
        """Find what meets other tolerances, the fewest adjusters first, one for each number."""
        return all_that_meet(self.problem.closer(tolerance, height_tolerance))

    def least_height(self) -> Solution | None:
        """Find steps that meet the cross weight with the smallest worst height miss."""
        return least_height(self.problem)

    def afresh(self, most: float) -> Question:
        """Ask the same with so much work to be done, whatever was done before."""
        return self._replace(problem=self.problem.afresh(most))

    def lifted(self, kind: LimitKind, finer: int) -> Question:
        """Ask again without one limit; the steps are, or become, so much finer."""
        problem, adjusters = self.problem, self.adjusters
        if kind == "grid":
            return self._replace(problem=problem.cut(FINER))
        if kind == "keep":
            least, most = (finer * limit for limit in step_limits(adjusters))
            return self._replace(problem=problem.within(least, most))
        if kind == "travel":
            least, most = far_limits(problem.least, problem.most, adjusters.step, finer)
            return self._replace(problem=problem.within(least, most))
        return self

    def moves(self, solution: Solution) -> PerchMoves:
        """Say what steps come to."""
        turns = solution.steps * self.problem.turns_per_step
        outcome = self.statics.turned(self.adjusters, turns)
        return PerchMoves(
            turns=turns[:4],
            perch=outcome.perch,
            lifts=outcome.lifts,
            loads=outcome.loads,
            shares=shares(self.statics.car, outcome.loads),
            height_change=outcome.heights,
            cross_met=solution.cross_met,
            heights_met=solution.heights_met,
            proved=solution.proved,
            mounts=self.adjusters.mounts,
            link_turns=self.adjusters.link_turns(turns),
            contacts=outcome.contacts,
            others=tuple(self._landed(other, turns) for other in self.others),
        )

    def grounded(self, ways: Iterable[Solution]) -> Iterator[PerchMoves]:
        """Say what steps come to, but of those that take a wheel off the ground or tip the car."""
        for way in ways:
            try:
                moves = self.moves(way)
            except TippedOverError:
                continue
            if not moves.airborne:
                yield moves

    def _landed(self, other: Statics, turns: Floats) -> Landed:
        loads = other.turned(self.adjusters, turns).loads
        return Landed(loads, shares(other.car, loads))

    def made(self, turns: Floats) -> PerchMoves:
        """Say what turns, as in `adjusters.moves_of`, come to, whole steps or not."""
        per_step = self.problem.turns_per_step
        steps = np.zeros(len(per_step))
        np.divide(self.adjusters.in_order(turns), per_step, out=steps, where=per_step > 0)
        return self.moves(self.problem.tried(steps[None]).solution(0)._replace(proved=False))

    def taken_for_linear(self, goal: PerchGoal) -> PerchMoves | None:
        """Find what a plan that leaves out stops really comes to.

        None where such a plan would find nothing that meets the goal, or be this one.
        """
        unstopped, adjusters = self.statics.unstopped, self.adjusters
        if unstopped is self.statics.car:
            return None
        least, most = self.limits
        lead = np.nan_to_num(adjusters.lead) * adjusters.step[:4]
        simple = replace(
            unstopped,
            perch_lead=np.where(lead > 0, lead, np.nan),
            perch_step=np.ones(4),
            perch_travel=np.stack([least[:4], most[:4]], axis=1).astype(np.float64),
        )
        solution = next(questions_of(statics_of(simple, self.statics.loads), goal)).first_to_meet()
        if solution is None:
            return None
        steps = np.zeros(len(least), dtype=np.int64)
        steps[:4] = solution.steps
        return self.moves(solution._replace(steps=steps))


def questions_of(statics: Statics, goal: PerchGoal, links: bool = False) -> Iterator[Question]:
    """Give the ways to ask for a goal: with the right adjusters first, then with others.

    Args:
        links: Whether the drop links of bars that are connected may be used.
    """
    others = tuple(statics_of(statics.car, other.loads) for other in goal.others)
    planes: Planes = {}
    for adjusters in ways_to_turn(statics.car, links):
        per_turn = statics.per_turn(adjusters)
        problem = problem_of(statics, goal, adjusters, per_turn, others, planes)
        yield Question(statics, adjusters, per_turn, problem, others)
