"""What a plan asks of a car on real corners: which adjusters, and what turning them comes to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import NamedTuple

import numpy as np

from balancer.car.adjusters import on_mounts
from balancer.car.conventions import CORNERS, Flags, Floats, Integers
from balancer.car.corner import LINKS
from balancer.car.equilibrium import Contacts, Moves, contacts, solve_equilibrium, solve_or_tip
from balancer.car.linearization import lifts, linear
from balancer.car.model import Car
from balancer.car.operating_point import OperatingPoint, operating_point
from balancer.perches.goal import EXACT, PerchGoal
from balancer.perches.nonlinear_problem import NonlinearProblem
from balancer.perches.question import FINER, LimitKind, LinearQuestion, far
from balancer.perches.search import best_steps, first_to_meet, least_height
from balancer.perches.steps import SLACK, Found
from balancer.perches.turns import UNSTATED_TRAVEL, PerchMoves, PerTurn
from balancer.weighing.uncertainty import shares


class NonlinearQuestion(NamedTuple):
    """Asked of a car that settles anew after every turn.

    Attributes:
        turned: One turn up of what is turned at each corner.
        mounts: (4,) of bool, where that is the lower mount and not the spring perch.
        columns: What each column of the problem is: 0 to 3 a corner, 4 and 5 the front and rear
            link.
        step: (n,), the smallest move of each [turn].
        free: tuple of array (n,), least and most steps if no corner were to be kept as it is.
    """

    problem: NonlinearProblem
    turned: PerTurn
    mounts: Flags
    columns: tuple[int, ...]
    step: Floats
    free: tuple[Integers, Integers]

    @property
    def adjusters(self) -> tuple[str, ...]:
        """Corners, then links."""
        return tuple((*CORNERS, *LINKS)[column] for column in self.columns)

    @property
    def limits(self) -> tuple[Integers, Integers]:
        """Least and most steps of each."""
        return self.problem.least, self.problem.most

    @property
    def turns_per_step(self) -> Floats:
        """Of each [turn]."""
        return self.problem.turns_per_step

    def best(self, adjusters: int) -> Found | None:
        """Find the best steps, see `search.best_steps`."""
        return best_steps(self.problem, adjusters)

    def first_to_meet(self) -> Found | None:
        """Find what meets both tolerances, see `search.first_to_meet`."""
        return first_to_meet(self.problem)

    def least_height(self) -> Found | None:
        """Find the level-most that meets the cross weight."""
        return least_height(self.problem)

    def lifted(self, kind: LimitKind, finer: int) -> NonlinearQuestion:
        """Ask again without one limit."""
        problem = self.problem
        if kind == "grid":
            return self._replace(problem=problem.cut(FINER))
        if kind == "keep":
            least, most = (limit * finer for limit in self.free)
            return self._replace(problem=problem.within(least, most))
        if kind == "travel":
            least, most = far(problem.least, problem.most, self.step, finer)
            return self._replace(problem=problem.within(least, most))
        return self

    def moves(self, found: Found, finer: int = 1) -> PerchMoves:
        """Say what steps that were found come to, settled."""
        problem, car = self.problem, self.problem.point.car
        turns = found.steps * problem.turns_per_step
        at_corners, at_links = np.zeros(4), np.zeros(2)
        for column, turn in zip(self.columns, turns.tolist(), strict=True):
            (at_corners if column < 4 else at_links)[column % 4] = turn
        moved = problem.moves(found.steps[None])
        after = solve_or_tip(problem.point, moved)[0]
        perch = (moved.perch + moved.mount)[0]
        loads = after.loads[0]
        return PerchMoves(
            turns=at_corners,
            perch=perch,
            lifts=lifts(problem.point, moved.perch[0], moved.mount[0]),
            loads=loads,
            shares=shares(car, loads),
            height_change=after.heights[0],
            cross_met=found.cross_met,
            heights_met=found.heights_met,
            proved=found.proved,
            mounts=self.mounts,
            link_turns=at_links,
            contacts=contacts(problem.point, after).row(0),
        )

    def made(self, turns: Floats) -> PerchMoves:
        """Say what turns at the four corners come to, settled."""
        steps = np.zeros(len(self.columns))
        steps[:4] = turns / self.turns_per_step[:4]
        return self.moves(self.problem.tried(steps[None]).found(0)._replace(proved=False))

    def taken_for_linear(self, goal: PerchGoal) -> PerchMoves | None:
        """Find what a plan that takes the car for linear really comes to, settled.

        None where such a plan would find nothing that meets the goal.
        """
        problem = self.problem
        corners = np.array([column < 4 for column in self.columns])
        lead = (problem.perch + problem.mount).sum(axis=0)
        simple = replace(
            linear(problem.point, stops=False),
            perch_lead=np.where(lead > 0, lead, np.nan),
            perch_step=np.ones(4),
            perch_travel=np.stack([problem.least[corners], problem.most[corners]], axis=1) * 1.0,
        )
        found = LinearQuestion.of(simple, problem.point.loads, goal).first_to_meet()
        if found is None:
            return None
        steps = np.zeros(len(self.columns), dtype=np.int64)
        steps[corners] = found.steps
        return self.moves(found._replace(steps=steps))

    @property
    def now(self) -> Contacts:
        """What each corner stands on before."""
        return self.problem.now


def nonlinear_questions(
    car: Car, loads: Floats, goal: PerchGoal, links: bool = False
) -> Iterator[NonlinearQuestion]:
    """Ask with the right adjuster at each corner, then with the others.

    The lower mount sets the height and leaves preload and shock travel alone, so where there is one
    it is the right one; the spring perch serves where the mounts can't do it.

    Args:
        car: With corners.
        loads: (4,), the loads now [N].
        links: Whether the drop links of bars that are connected may be used.
    """
    point = operating_point(car, loads)
    mountable = on_mounts(car)
    both = np.flatnonzero(mountable & np.isfinite(car.perch_lead)).tolist()
    for count in range(len(both) + 1):
        for on_perch in combinations(both, count):
            mounts = mountable.copy()
            mounts[list(on_perch)] = False
            yield _question(point, goal, mounts, links)


def _question(
    point: OperatingPoint, goal: PerchGoal, mounts: Flags, with_links: bool
) -> NonlinearQuestion:
    car = point.car
    mount = [corner.mount for corner in car.corners]
    lead = np.where(mounts, [one.lead for one in mount], car.perch_lead)
    step = np.where(mounts, [one.step for one in mount], car.perch_step)
    travel = np.where(mounts[:, None], [one.travel for one in mount], car.perch_travel)
    usable = np.isfinite(lead)
    columns, perches, links = [0, 1, 2, 3], np.diag(np.where(usable, lead * step, 0.0)), []
    kept = [corner in goal.keep for corner in CORNERS]
    for axle, link in enumerate(car.links if with_links else ()):
        if link.connected and link.rate and np.isfinite(link.lead):
            columns.append(4 + axle)
            links.append(np.eye(2)[axle] * link.lead * link.step)
            step, travel = np.append(step, link.step), np.vstack([travel, link.travel])
            usable, kept = np.append(usable, True), [*kept, False]
    unstated = np.array([-UNSTATED_TRAVEL, UNSTATED_TRAVEL])
    travel = np.where(np.isfinite(travel), travel, unstated) * usable[:, None]
    free = np.trunc(travel / step[:, None] * (1 + SLACK)).astype(np.int64).T
    least, most = free * ~np.array(kept)
    at_corners = np.vstack([perches, np.zeros((len(links), 4))])
    problem = NonlinearProblem(
        point=point,
        cross=goal.cross,
        tolerance=max(goal.tolerance, EXACT),
        rise=goal.rise,
        height_tolerance=max(goal.height_tolerance, EXACT),
        perch=at_corners * ~mounts,
        mount=at_corners * mounts,
        link=np.vstack([np.zeros((4, 2)), *links]),
        least=least,
        most=most,
        turns_per_step=step,
        now=contacts(point, solve_equilibrium(point, Moves.none())).row(0),
    )
    turned = _per_turn(point, lead, mounts, np.isfinite(lead))
    return NonlinearQuestion(problem, turned, mounts, tuple(columns), step, (free[0], free[1]))


def _per_turn(point: OperatingPoint, lead: Floats, mounts: Flags, usable: Flags) -> PerTurn:
    up = np.diag(np.where(usable, lead, 0.0))
    moves = Moves(up * ~mounts, up * mounts, np.zeros((4, 2)))
    after = solve_equilibrium(point, moves)
    changed = after.loads - point.loads
    cross = (after.loads[:, 1] + after.loads[:, 2]) / after.loads.sum(axis=1)
    crossed = cross - (point.loads[1] + point.loads[2]) / point.loads.sum()
    ratios = np.array([float(ratio.value(np.zeros(()))) for ratio in point.ratios])
    values = changed, after.heights, up / ratios
    for one in (*values, crossed):
        one[~usable] = np.nan
    return PerTurn(crossed, changed, after.heights, np.diag(values[2]).copy())
