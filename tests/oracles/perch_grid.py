"""The best perch plan by looking at every one: an oracle for the planner.

Every combination of whole steps within the limits is weighed. Nothing is pruned and nothing is
solved, so that a mistake in a formulation can't be repeated here.

Order of corners LF RF LR RR. Cross weight is (RF+LR)/total, in percent.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np

from tests.oracles import Numbers

CHUNK = 1 << 18  # plans weighed at a time; about 40 MB
SLACK = 1e-9  # relative, so that a plan just at a tolerance is within it
# Values nearer than this are ties: what is left of rounding must not decide between two plans.
QUANTUM = {"turns": 1e-9, "cross": 1e-9, "height": 1e-12}  # turns, points, m

Held = Literal["both", "heights", "cross", "neither"]
# What is best first, by which tolerances hold. Best to worst: a plan of an earlier line beats all
# plans of the later ones.
RANKING: dict[Held, tuple[str, ...]] = {
    "both": ("turns", "cross", "height"),
    "heights": ("cross", "turns", "height"),
    "cross": ("height", "turns", "cross"),
    "neither": ("cross", "height", "turns"),
}


@dataclass(frozen=True)
class Problem:
    """What is allowed and what is wanted.

    cross0 : cross weight now [percent]
    cross_per_step : (4,) its change for one step at each corner [points]
    height_per_step : (4, 4) rise of the body at wheel station i for one step at corner j [m]
    wanted : (4,) wanted rise at the wheel stations [m]
    step_turns : (4,) turns in one step
    lo, hi : (4,) fewest and most steps at each corner, inclusive
    target, tolerance : cross weight [percent], [points]
    height_tolerance : largest miss at any wheel station [m]
    others : of the car in other states: cross weight now and target [percent], and per step (4,)
        [points]; what is farthest off counts
    """

    cross0: float
    cross_per_step: np.ndarray
    height_per_step: np.ndarray
    wanted: np.ndarray
    step_turns: np.ndarray
    lo: Sequence[int]
    hi: Sequence[int]
    target: float
    tolerance: float
    height_tolerance: float
    others: Sequence[tuple[float, float, np.ndarray]] = ()


@dataclass(frozen=True)
class Plan:
    """One plan.

    steps : at the four corners
    turns : of all corners, up or down
    cross : cross weight [percent]
    cross_miss : |cross - target| [points], the largest of all states
    height_miss : worst |rise - wanted| at a wheel station [m]
    """

    steps: tuple[int, int, int, int]
    turns: float
    cross: float
    cross_miss: float
    height_miss: float


@dataclass(frozen=True)
class Outcome:
    """What there is with exactly `touched` corners moved.

    best : the best plan that meets both tolerances, or None
    closest : when there is no best: the nearest plan within the limits, or None where the limits
        allow no plan with that many corners
    held : which tolerances the plan shown holds; None without a plan
    """

    touched: int
    best: Plan | None
    closest: Plan | None
    held: Held | None


def search(problem: Problem) -> tuple[Outcome, ...]:
    """Weigh the whole grid; one Outcome for each number of corners moved, 0 to 4.

    A plan is feasible when |cross - target| <= tolerance and the worst |rise - wanted| is
    <= height_tolerance, both with the relative SLACK. Best: fewest turns, then closest cross, then
    smallest worst height miss. Nothing feasible: of the plans that hold the heights the one closest
    in cross; else of those that hold the cross the one with the smallest worst height miss; else
    the closest in cross, then in heights. Ties: fewest turns. Plans that tie in everything are
    equally good, and any one of them may be shown.
    """
    leaders: list[tuple[Held, Plan] | None] = [None] * 5
    for moved in product((False, True), repeat=4):
        for steps in _chunks(problem, moved):
            k = sum(moved)
            leaders[k] = _better(leaders[k], _leader(problem, steps))
    return tuple(_outcome(k, leader) for k, leader in enumerate(leaders))


def _chunks(problem: Problem, moved: tuple[bool, ...]) -> Iterator[np.ndarray]:
    """All plans that move just the corners in `moved`, as arrays (4, up to CHUNK) of steps."""
    choices = [np.arange(lo, hi + 1) for lo, hi in zip(problem.lo, problem.hi, strict=True)]
    choices = [c[(c != 0) == move] for c, move in zip(choices, moved, strict=True)]
    shape = tuple(map(len, choices))
    count = int(np.prod(shape, dtype=np.int64))
    for start in range(0, count, CHUNK):
        places = np.unravel_index(np.arange(start, min(start + CHUNK, count)), shape)
        yield np.array([c[place] for c, place in zip(choices, places, strict=True)], dtype=float)


def _measure(problem: Problem, steps: np.ndarray) -> dict[str, np.ndarray]:
    """Turns, cross miss [points] and worst height miss [m] of each plan."""
    cross = problem.cross0 + np.asarray(problem.cross_per_step) @ steps
    off = np.abs(cross - problem.target)
    for now, target, each in problem.others:
        off = np.maximum(off, np.abs(now + each @ steps - target))
    miss = np.asarray(problem.height_per_step) @ steps - np.asarray(problem.wanted)[:, None]
    return {
        "turns": np.asarray(problem.step_turns) @ np.abs(steps),
        "cross": off,
        "height": np.abs(miss).max(axis=0),
    }


def _leader(problem: Problem, steps: np.ndarray) -> tuple[Held, Plan]:
    """The best plan of a chunk (never empty)."""
    measures = _measure(problem, steps)
    cross_held = measures["cross"] <= problem.tolerance * (1 + SLACK)
    heights_held = measures["height"] <= problem.height_tolerance * (1 + SLACK)
    classes: dict[Held, np.ndarray] = {
        "both": cross_held & heights_held,
        "heights": heights_held,
        "cross": cross_held,
        "neither": np.ones_like(cross_held),
    }
    held = next(name for name, members in classes.items() if members.any())
    left = np.flatnonzero(classes[held])
    for measure in RANKING[held]:
        values = np.rint(measures[measure][left] / QUANTUM[measure])
        left = left[values == values.min()]
    return held, _plan(
        problem, steps[:, left[0]], {m: float(v[left[0]]) for m, v in measures.items()}
    )


def _plan(problem: Problem, steps: np.ndarray, measures: dict[str, float]) -> Plan:
    lf, rf, lr, rr = (int(n) for n in steps)
    cross = float(problem.cross0 + np.asarray(problem.cross_per_step) @ steps)
    return Plan((lf, rf, lr, rr), measures["turns"], cross, measures["cross"], measures["height"])


def _better(one: tuple[Held, Plan] | None, other: tuple[Held, Plan]) -> tuple[Held, Plan]:
    """The better of two leaders; the first on a tie."""
    return other if one is None or _key(*other) < _key(*one) else one


def _key(held: Held, plan: Plan) -> tuple[float, ...]:
    """Sorts leaders, best first."""
    values = {"turns": plan.turns, "cross": plan.cross_miss, "height": plan.height_miss}
    ranks = (float(np.rint(values[measure] / QUANTUM[measure])) for measure in RANKING[held])
    return (list(RANKING).index(held), *ranks)


def _outcome(touched: int, leader: tuple[Held, Plan] | None) -> Outcome:
    if leader is None:
        return Outcome(touched, None, None, None)
    held, plan = leader
    return (
        Outcome(touched, plan, None, held) if held == "both" else Outcome(touched, None, plan, held)
    )


def per_step(
    wheelbase: float,
    tracks: Numbers,
    ride_rate: Numbers,
    step_lift: Numbers,
    weight: float,
    topple: float = 0.0,
) -> tuple[np.ndarray, np.ndarray]:
    """What one step at each corner does, from the 3-degree-of-freedom stiffness of a rigid body.

    The body has a heave and two slopes q; its rise at the wheel stations is B q with
    B = [1, aft, left]. Springs longer by d change the loads by N = K (d - B q) with
    K = diag(ride_rate). The sum and the moments of N are zero, but for the lean of a high center of
    gravity: B^T N = -topple (0, q_aft, q_left).

    Parameters
    ----------
    wheelbase, tracks (front, rear) : [m]
    ride_rate : (4,) [N/m]
    step_lift : (4,) rise of a corner at constant load for one step [m]: perch travel / motion ratio
    weight : on the four pads [N]
    topple : weight that leans times the height of its center [N*m]; softens both slopes

    Returns
    -------
    cross_per_step (4,) [points], height_per_step (4, 4) [m], wheel station i for corner j
    """
    front, rear = (track / 2 for track in tracks)
    b = np.array([[1, 0, front], [1, 0, -front], [1, wheelbase, rear], [1, wheelbase, -rear]])
    k = np.diag(np.asarray(ride_rate, dtype=float))
    lift = np.diag(np.asarray(step_lift, dtype=float))
    height = b @ np.linalg.solve(b.T @ k @ b - np.diag([0.0, topple, topple]), b.T @ k @ lift)
    load = k @ (lift - height)
    return 100 * (load[1] + load[2]) / weight, height
