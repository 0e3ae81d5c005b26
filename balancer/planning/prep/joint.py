"""Ballast and turns as one problem: first one after the other, and together where that won't do.

Ballast is planned first, then the turns with it on board. Where both reach what they are for, and
no rule depends on the turns, nothing can be lighter. Else ballast and turns go into one program;
what it finds is planned and held against the rules anew, exactly, before it counts.
"""

from dataclasses import replace
from itertools import islice
from math import inf

import numpy as np

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.errors import UnstableCarError
from balancer.car.model import Car
from balancer.car.statics import statics_of
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.joint import (
    ballast_with_turns,
    bindings_with_turns,
    least_with_turns,
)
from balancer.planning.ballast.outcome import A_GRAM
from balancer.planning.prep.task import Done, Status, Task

_ROUNDS = 3
"""Programs after which what the last one took for the car's answer, and for how sure the pads are,
is what its plan came to."""

_SANE = 0.3
"""Of the car's mass: more ballast than that is not looked for where the rules ask for less."""


_NEAREST = 2
"""Of the plans for a chassis that twists so many are tried where nothing reaches the target."""

_BY_BALLAST = 0.02
"""Cross weight that ballast and tolerance may add to what turns have to make good [1]."""


def together(task: Task, first: Done) -> Done:
    """Plan ballast and turns as one problem, where one after the other won't do.

    Args:
        first: That.
    """
    if not task.car.places:
        return first
    if first.status == "met" and not (task.turned_rules and first.ballast.items):
        return first
    if first.ballast.status == "closest" and not task.turned_rules:
        return first
    best = last = first
    # Where rules don't depend on turns, nothing lighter than for them alone is legal.
    alone = first.ballast.status == "met" and not task.turned_rules
    floor = first.ballast.added if alone else 0.0
    for _ in range(_ROUNDS):
        goal = task.all_rules.narrowed(last.perches.best.every_loads)
        if goal is None:
            break
        search = _Search(task, last, goal, floor)
        if search.bound == inf:
            return search.nearest(best)
        found = search.found()
        if found is None:
            break
        best, last = min(best, found, key=lambda one: one.rank), found
        if best.status == "met" or (best.met and not search.proved):
            return best
    return best if best.met else best._replace(status="gave_up")


class _Search:
    """One program for ballast and turns."""

    def __init__(self, task: Task, at: Done, goal: BallastGoal, floor: float) -> None:
        self.task, self.at, self.floor = task, at, floor
        self.linear = task.statics.linear
        self.exact = task.statics.point is None
        self.trims, self.turns = task.turns_at(at)
        mass = float(task.trims[0].sum()) / GRAVITY
        self.sane = max(_SANE * mass, 2 * at.ballast.added)
        self.rules, self.goal = goal, replace(goal, most=min(goal.most, self.sane))
        self.bound, self.proved = self._least(self.goal.most)

    def _least(self, most: float) -> tuple[float, bool]:
        """Give a mass below which no ballast of so much at most will do, and whether it is proved.

        All tolerances are widened by twice what the weight of that much can change of what turns
        do. Nothing is proved for corners that are not linear, nor where the car would not stand.
        """
        task, turns = self.task, self.turns
        most = min(most, sum(place.most for place in task.car.places))
        # What turns do is known at this much ballast.
        known = self.at.ballast.added
        mass = max(most - known, known - self.floor)
        wider = turns
        if self.exact:
            try:
                heights, crossed = _apart(task.car, self.at.ballast.loads, mass)
            except UnstableCarError:
                return -inf, False
            size = float(np.abs(task.target.rise).max()) + task.target.height_tolerance
            wide = 2 * crossed * (max(map(abs, task.off)) + _BY_BALLAST)
            wider = turns._replace(
                low=turns.low - 2 * heights * size,
                high=turns.high + 2 * heights * size,
                tolerance=turns.tolerance + wide,
            )
        goal = replace(self.goal, most=most)
        bound, proved = least_with_turns(self.linear, self.trims, goal, wider)
        return bound, proved and self.exact

    def found(self) -> Done | None:
        """Find the lightest that holds, all planned anew."""
        every, floor = [], max(self.floor, self.bound) if self.proved else self.floor
        for plan in ballast_with_turns(self.linear, self.trims, self.goal, self.turns):
            done = self.task.with_ballast(plan)
            if done.met and self.proved and plan.added > floor + A_GRAM:
                # With no more ballast than this the car is softened less: that may prove it.
                floor = max(floor, self._least(plan.added)[0])
            if done.met and plan.added > floor + A_GRAM:
                done = done._replace(status="gave_up")
            every.append(done)
            if done.status == "met":
                break
        return min(every, key=lambda one: one.rank, default=None)

    def nearest(self, best: Done) -> Done:
        """Find the lightest legal ballast with which turns come nearest, where nothing reaches."""
        ways = ballast_with_turns(self.linear, self.trims, self.goal, self.turns, landing=False)
        for plan in islice(ways, _NEAREST):
            best = min(best, self.task.with_ballast(plan), key=lambda one: one.rank)
        status: Status = "closest" if self.proved else "gave_up"
        if best.legal:
            lifted = bindings_with_turns(self.linear, self.trims, self.rules, self.turns)
            sane = tuple(way for way in lifted if way.needed <= self.sane)
            best = best._replace(ballast=replace(best.ballast, bindings=sane))
        return best._replace(status=status)


def _apart(car: Car, loads: Floats, mass: float) -> tuple[float, float]:
    """Say how much of itself what turns do to heights and to cross weight changes with ballast.

    Weight above the ground softens the car. What turns do to heights with ballast on board is what
    they do without, times a matrix near one; what they do to the cross weight, times a number.

    Raises:
        UnstableCarError: Where the car would not stand with that much.
    """
    onto = ([0.25] * 4, [0.5, 0.5, 0, 0], [0, 0, 0.5, 0.5])
    now, *each = (
        statics_of(car, loads + GRAVITY * mass * np.array(part)).per_turn()
        for part in ([0.0] * 4, *onto)
    )
    heights, crossed = np.nan_to_num(now.heights.T), now.loads[:, 1:3].sum(axis=1)
    unlike = [(np.nan_to_num(one.heights.T) - heights) @ np.linalg.pinv(heights) for one in each]
    moved = [one.loads[:, 1:3].sum(axis=1) / crossed - 1 for one in each]
    return (
        max(float(np.abs(one).sum(axis=1).max()) for one in unlike),
        float(np.nanmax(np.abs([np.zeros(4), *moved]))),
    )
