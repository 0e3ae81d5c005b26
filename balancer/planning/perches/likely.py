"""Whole steps on real corners settled, and those likely the best by slopes, which prove nothing."""

from collections.abc import Iterator
from typing import NamedTuple, cast

import numpy as np

from balancer.car.adjusters import Moves
from balancer.car.conventions import Flags, Floats, Integers
from balancer.car.equilibrium import contacts, solve_or_tip
from balancer.planning.perches.bounds import Span, reach
from balancer.planning.perches.linear_problem import LinearProblem, size
from balancer.planning.perches.nonlinear_steps import Elsewhere, NonlinearSteps, subsets
from balancer.planning.perches.search import best_for
from balancer.planning.perches.steps import CROSSED, Aim, Best, Tried, farther
from balancer.planning.perches.work import BY_SLOPES
from balancer.weighing.uncertainty import cross_of

_GUESSES, _HEAVY = 3, 10.0
"""How often what is best is guessed, and heights that a cross weight of 1 counts as then [m]."""

_MANY = 20_000
"""Steps above which the exact best by slopes is not worth its while."""

WIDEST = 0.08
"""No ride height is worth talking about that is off by more [m]."""


class Settled(NamedTuple):
    """Cars after moves in one state: as in `Tried`, and heights and idle (m, 4)."""

    off: Floats
    heights: Floats
    tipped: Flags
    stops: Integers
    idle: Flags


def settled(at: Elsewhere, moves: Moves) -> Settled:
    """Settle a car after moves in one state."""
    after, tipped = solve_or_tip(at.point, moves)
    cross = (after.loads[:, 1] + after.loads[:, 2]) / at.point.loads.sum()
    then = contacts(at.point, after)
    return Settled(
        off=cross - at.cross,
        heights=after.heights,
        tipped=tipped,
        stops=(then.stopped() & ~at.now.stopped()).sum(axis=1),
        idle=then.topped_out & at.now.topped_out & (moves.perch != 0),
    )


def likely(problem: NonlinearSteps, adjusters: int, best: Best) -> Iterator[Integers]:
    """Take what is best by slopes, and from there anew: that shortens a proof.

    Args:
        adjusters: On exactly so many, a count.
        best: So far; what was yielded is in it by the time the next is asked for.
    """
    at = np.zeros(len(problem.least), dtype=np.int64)
    for _ in range(_GUESSES):
        ways = _best_by_slopes(problem, adjusters, best.aim, at)
        near = [np.clip(way + beside(way), problem.least, problem.most) for way in ways]
        steps = np.unique(np.concatenate([at[None], *near]), axis=0)
        steps = steps[np.count_nonzero(steps, axis=1) == adjusters]
        if len(steps):
            yield steps
        if best.solution is None or np.array_equal(at, best.solution.steps):
            return
        at = best.solution.steps


def beside(way: Integers) -> Integers:
    """Give a step more, less or none at all adjusters that are turned (m, n).

    Args:
        way: (n,)
    """
    some = [np.array([-1, 0, 1]) if steps else np.zeros(1, dtype=np.int64) for steps in way]
    return np.stack(np.meshgrid(*some, indexing="ij"), axis=-1).reshape(-1, len(way))


def _best_by_slopes(
    problem: NonlinearSteps, adjusters: int, aim: Aim, at: Integers
) -> list[Integers]:
    """Find the best steps of each set of adjusters by slopes at some steps, the nearest first."""
    moves = problem.moves(np.vstack([at, at + np.eye(len(at))]))
    found = settled(Elsewhere(problem.point, problem.cross, problem.now), moves)
    off = np.column_stack([found.off, found.heights - problem.rise])
    if not np.isfinite(off).all():
        return []
    slopes, ways = (off[1:] - off[0]).T, []
    for subset in map(list, subsets(problem, adjusters)):
        if problem.work.out:
            break
        problem.work.spend(BY_SLOPES)
        still, steps = off[0] - slopes @ at, np.zeros(len(at), dtype=np.int64)
        linear = _by_slopes(problem, still, slopes, subset)
        if aim is CROSSED or size(linear, adjusters, aim) > _MANY:
            # Exactly that takes too long: least squares, with the cross weight held, come near.
            heavy = np.append(_HEAVY, np.ones(4))
            moved = np.linalg.lstsq(slopes[:, subset] * heavy[:, None], -still * heavy, rcond=None)
            steps[subset] = np.clip(np.round(moved[0]), problem.least[subset], problem.most[subset])
            rises = float(np.abs(still + slopes @ steps)[1:].max())
            # Cars that would be thrown about take long to settle.
            ways += [(rises, steps)] if rises < WIDEST else []
            continue
        way = best_for(linear, adjusters, aim).solution
        if way is not None:
            steps[subset] = way.steps[: len(subset)]
            ways.append((way.cross_miss, steps))
    return [steps for _, steps in sorted(ways, key=lambda one: one[0])]


def _by_slopes(
    problem: NonlinearSteps, off: Floats, slopes: Floats, subset: list[int]
) -> LinearProblem:
    """Take the car for linear in a set of adjusters, others of no use filling it up to four."""
    spare = 4 - len(subset)
    per_step = np.hstack([slopes[:, subset], np.zeros((5, spare))])
    nothing = np.zeros(spare, dtype=np.int64)
    return LinearProblem(
        cross_off=float(off[0]),
        cross_per_step=per_step[0],
        heights_off=off[1:],
        height_per_step=per_step[1:],
        tolerance=problem.tolerance,
        height_tolerance=problem.height_tolerance,
        least=np.append(problem.least[subset], nothing),
        most=np.append(problem.most[subset], nothing),
        turns_per_step=np.append(problem.turns_per_step[subset], np.ones(spare)),
    )


class SettledSteps(NonlinearSteps):
    """Steps that settle the car anew."""

    __slots__ = ()

    def tried(self, steps: Integers | Floats) -> Tried:
        """Settle candidates (m, n) and measure them.

        Idle is a perch that is turned at a shock topped out before and after: that changes preload
        and nothing else.
        """
        moves = self.moves(steps)
        first = settled(Elsewhere(self.point, self.cross, self.now), moves)
        height = np.abs(first.heights - self.rise).max(axis=1)
        off, tipped, stops, idle = first.off, first.tipped, first.stops, first.idle
        for other in self.others:
            there = settled(other, moves)
            off, tipped = farther(off, there.off), tipped | there.tipped
            stops, idle = np.maximum(stops, there.stops), idle & there.idle
        return Tried(
            steps=cast("Integers", steps),
            turns_per_step=self.turns_per_step,
            off=np.where(tipped, np.inf, off),
            height=np.where(tipped, np.inf, height),
            tolerances=(self.tolerance, self.height_tolerance),
            stops=stops,
            idle=idle.any(axis=1) | tipped,
        )


def right_to_a_digit(problem: NonlinearSteps) -> Integers:
    """Give the steps next to the one move of each corner that is right, known in closed form.

    Returns:
        (n,)
    """
    still = Span(np.zeros(2), np.zeros(2))
    exact = Span(problem.rise, problem.rise), Span(*[np.array(_amid(problem))] * 2)
    mounts = np.asarray(problem.per_step.mount.any(axis=0))
    found = reach(problem.point, *exact, still, mounts)
    move = np.where(mounts, found.mount.low, found.perch.low)
    per_step, steps = problem.per_step.perch + problem.per_step.mount, np.zeros(len(problem.least))
    for number, corner in zip(*np.nonzero(per_step), strict=True):
        if np.isfinite(move[corner]):
            steps[number] = np.round(move[corner] / per_step[number, corner])
    return np.clip(steps, problem.least, problem.most).astype(np.int64)


def _amid(problem: NonlinearSteps) -> float:
    """Give the cross weight at which, to first order, the largest miss of all states is least."""
    if not problem.others:
        return problem.cross
    states = (Elsewhere(problem.point, problem.cross, problem.now), *problem.others)
    loads = ((at.point.loads, at.cross) for at in states)
    now = [cross_of(each) - cross for each, cross in loads]
    return problem.cross + now[0] - (min(now) + max(now)) / 2
