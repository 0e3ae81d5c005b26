"""The step problem for grids too fine to search through: the same question put to HiGHS.

A screw that stops at every hundredth of a turn has millions of millions of settings. Here the
corners' steps are u - v with u, v ≥ 0 whole, and a switch each that says whether it is in use.
"""

import numpy as np

from balancer.car.conventions import Floats, Integers
from balancer.planning.perches.steps import AIMS, SLACK, Cross, LinearSteps, Solution
from balancer.planning.solver import Bounds, LinearConstraint, solve

_TIE = 1e-6
"""How much worse than the best still counts as a tie: the solver's own feasibility tolerance."""

# Columns: u (4), v (4), in-use switches of u (4) and v (4), cross miss [tolerances], height miss.
_CROSS, _HEIGHT, _COLUMNS = 16, 17, 18


def best_steps_by_milp(
    problem: LinearSteps, corners: int, hold_cross: bool = True, hold_heights: bool = True
) -> Solution | None:
    """Find the best whole steps that touch exactly so many corners, by mixed-integer program.

    Args:
        corners: 1 to the number of corners that can move.
        hold_cross, hold_heights: What must be within tolerance.

    Returns:
        None where it is proved that nothing holds what must be held; unproved where the
        solver's time ran out. Ties finer than the solver's own tolerance are not told apart.

    References:
        See `planning.solver.solve`.
    """
    best = _best(problem, corners, hold_cross, hold_heights, slack=0.0)
    if best is None or not best.proved:
        return best
    if (hold_cross and not best.cross_met) or (hold_heights and not best.heights_met):
        # By our own integers it is just outside: the solver's tolerance is wider than ours.
        return _best(problem, corners, hold_cross, hold_heights, slack=2 * _TIE)
    return best


def _best(
    problem: LinearSteps, corners: int, hold_cross: bool, hold_heights: bool, slack: float
) -> Solution | None:
    costs = {name: np.zeros(_COLUMNS) for name in ("turns", "cross", "height")}
    costs["turns"][:8] = np.tile(problem.turns_per_step, 2)
    costs["cross"][_CROSS] = costs["height"][_HEIGHT] = 1.0
    most_miss = [1.0 - slack if held else np.inf for held in (hold_cross, hold_heights)]
    upper = np.concatenate([problem.most, -problem.least, np.ones(8), most_miss])
    bounds = Bounds(np.zeros(_COLUMNS), upper)
    whole = np.concatenate([np.ones(16), np.zeros(2)])
    constraints = _constraints(problem, corners)
    best: Floats | None = None
    proved = True
    order = next(aim.order for aim in AIMS if aim[:2] == (hold_cross, hold_heights))
    for name in (one for one in order if one in costs):
        solved = solve(costs[name], whole, bounds, constraints)
        if solved.values is None:
            # Without a first solution this is the answer; later, when only ties are left to be
            # broken, it is the solver stumbling over its own tolerance.
            proved = solved.proved if best is None else proved
            break
        proved = proved and solved.proved
        best = solved.values
        held = float(costs[name] @ best) + _TIE
        constraints.append(LinearConstraint(costs[name], -np.inf, held))
    if best is None:
        if proved:
            return None
        best = np.zeros(_COLUMNS)
    steps = np.round(best[:8]).astype(np.int64)
    return problem.tried((steps[:4] - steps[4:])[None]).solution(0)._replace(proved=proved)


def _constraints(problem: LinearSteps, corners: int) -> list[LinearConstraint]:
    """Tie switches to steps, count the corners, and bind both misses from both sides."""
    identity, none = np.eye(4), np.zeros((4, 4))

    def rows(*blocks: Floats | Integers) -> Floats:
        filled = np.hstack(blocks)
        return np.hstack([filled, np.zeros((len(filled), _COLUMNS - filled.shape[1]))])

    up = rows(identity, none, -np.diag(problem.most), none)
    down = rows(none, identity, none, np.diag(problem.least))
    used_up = rows(identity, none, -identity, none)
    used_down = rows(none, identity, none, -identity)
    either = rows(none, none, identity, identity)
    count = rows(np.zeros((1, 8)), np.ones((1, 8)))
    rows_held = [
        LinearConstraint(up, -np.inf, 0),
        LinearConstraint(down, -np.inf, 0),
        LinearConstraint(used_up, 0, np.inf),
        LinearConstraint(used_down, 0, np.inf),
        LinearConstraint(either, -np.inf, 1),
        LinearConstraint(count, corners, corners),
    ]
    per_step = np.vstack(
        [
            *(cross.per_step[None] / problem.tolerance for cross in problem.crosses),
            problem.height_per_step / problem.height_tolerance,
        ]
    )
    off = np.array(
        [
            *(cross.off / problem.tolerance for cross in problem.crosses),
            *(problem.heights_off / problem.height_tolerance),
        ]
    )
    misses = np.eye(_COLUMNS)[[*[_CROSS] * len(problem.crosses), *[_HEIGHT] * 4]]
    moved = rows(per_step, -per_step)
    rows_held.append(LinearConstraint(moved - misses, -np.inf, -off))
    rows_held.append(LinearConstraint(moved + misses, -off, np.inf))
    return rows_held


def _held(cross: Cross, tolerance: float) -> LinearConstraint:
    row, center = np.append(cross.per_step, 0.0) / tolerance, cross.off / tolerance
    return LinearConstraint(row, -1 - SLACK - center, 1 + SLACK - center)


class Near:
    """Whole steps or parts of them that hold the cross weight and miss heights by so much.

    What is not restricted to whole steps is a linear program. It bounds from below what whole
    steps can do, and bounds each corner, so that only few are left to be looked at.
    """

    def __init__(self, problem: LinearSteps) -> None:
        per_step, off = problem.height_per_step, problem.heights_off
        self.problem = problem
        self.unit = float(np.abs(per_step).max()) or 1.0
        """What heights are measured in here [m]."""
        furthest = np.maximum(problem.most, -problem.least)
        self.most_miss = float((np.abs(off) + np.abs(per_step) @ furthest).max()) / self.unit
        heights, off = per_step / self.unit, off / self.unit
        ones = np.ones((4, 1))
        self.rows = [
            *(_held(cross, problem.tolerance) for cross in problem.crosses),
            LinearConstraint(np.hstack([heights, -ones]), -np.inf, -off),
            LinearConstraint(np.hstack([heights, ones]), -off, np.inf),
        ]

    def least_miss(self) -> float | None:
        """Give the least that heights must miss by [unit]; None where nothing holds the cross."""
        values = self._solve(np.eye(5)[4], np.inf)
        return None if values is None else float(values[4])

    def spans(self, miss: float) -> list[Integers] | None:
        """Give the values each corner may take; None where it has none."""
        spans = []
        for unknown in np.eye(5)[:4]:
            low, high = self._solve(unknown, miss), self._solve(-unknown, miss)
            if low is None or high is None:
                return None
            first, last = np.ceil(low @ unknown - 1e-5), np.floor(high @ unknown + 1e-5)
            spans.append(np.arange(first, last + 1).astype(np.int64))
        return spans if all(len(span) for span in spans) else None

    def _solve(self, cost: Floats, miss: float) -> Floats | None:
        problem = self.problem
        bounds = Bounds(
            np.append(problem.least, 0.0).astype(float), np.append(problem.most, miss).astype(float)
        )
        return solve(cost, np.zeros(5), bounds, self.rows).values
