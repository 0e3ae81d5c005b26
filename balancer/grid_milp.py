"""The step problem for grids too fine to search through: the same question put to HiGHS.

A screw that stops at every hundredth of a turn has millions of millions of settings. Here the
corners' steps are u - v with u, v ≥ 0 whole, and a switch each that says whether it is in use.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from balancer.car import Floats, Integers
from balancer.grid import Found, StepProblem, measure, order_of

TIME_LIMIT = 20.0
"""Seconds for one solve; after that the best so far counts as unproved."""

_TIE = 1e-6
"""How much worse than the best still counts as a tie: the solver's own feasibility tolerance."""

# Columns: u (4), v (4), in-use switches of u (4) and v (4), cross miss [tolerances], height miss.
_CROSS, _HEIGHT, _COLUMNS = 16, 17, 18


class _Solved(NamedTuple):
    columns: Floats
    proved: bool


def best_steps_by_milp(
    problem: StepProblem, corners: int, hold_cross: bool = True, hold_heights: bool = True
) -> Found | None:
    """Find the best whole steps that touch exactly so many corners, by mixed-integer program.

    Parameters
    ----------
    problem : StepProblem
    corners : int
        1 to the number of corners that can move.
    hold_cross, hold_heights : bool
        What must be within tolerance.

    Returns
    -------
    Found or None
        None where it is proved that nothing holds what must be held; unproved where the solver's
        time ran out. Ties finer than the solver's own tolerance are not told apart.

    References
    ----------
    HiGHS through `scipy.optimize.milp`.

    Examples
    --------
    >>> lean = StepProblem(0.01, np.full(4, -0.002), np.zeros(4), np.eye(4) / 1e3,
    ...                    0.002, 1e-3, np.full(4, -9), np.full(4, 9), np.full(4, 0.25))
    >>> best_steps_by_milp(lean, 4).steps.tolist()
    [1, 1, 1, 1]
    """
    costs = {name: np.zeros(_COLUMNS) for name in ("turns", "cross", "height")}
    costs["turns"][:8] = np.tile(problem.turns_per_step, 2)
    costs["cross"][_CROSS] = costs["height"][_HEIGHT] = 1.0
    most_miss = (1.0 if hold_cross else np.inf, 1.0 if hold_heights else np.inf)
    constraints = _constraints(problem, corners)
    best, proved = np.zeros(_COLUMNS), True
    for name in order_of(hold_cross, hold_heights):
        solved = _solve(problem, costs[name], constraints, most_miss)
        if solved is None:
            if name == order_of(hold_cross, hold_heights)[0]:
                return None
            break
        best, proved = solved.columns, proved and solved.proved
        if not proved:
            break
        held = float(costs[name] @ best) + _TIE
        constraints.append(LinearConstraint(costs[name], -np.inf, held))
    whole = np.round(best[:8]).astype(np.int64)
    return measure(problem, whole[:4] - whole[4:], proved)


def _solve(
    problem: StepProblem,
    objective: Floats,
    constraints: list[LinearConstraint],
    most_miss: tuple[float, float],
) -> _Solved | None:
    upper = np.concatenate([problem.most, -problem.least, np.ones(8), most_miss])
    result = milp(
        objective,
        integrality=np.concatenate([np.ones(16), np.zeros(2)]),
        bounds=Bounds(np.zeros(_COLUMNS), upper),
        constraints=constraints,
        options={"time_limit": TIME_LIMIT, "mip_rel_gap": 0.0},
    )
    if result.x is None:
        # Status 2 is a proof that there is nothing; any other is the solver running out of time.
        return None if result.status == 2 else _Solved(np.zeros(_COLUMNS), proved=False)
    return _Solved(result.x, proved=result.status == 0)


def _constraints(problem: StepProblem, corners: int) -> list[LinearConstraint]:
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
    found = [
        LinearConstraint(up, -np.inf, 0),
        LinearConstraint(down, -np.inf, 0),
        LinearConstraint(used_up, 0, np.inf),
        LinearConstraint(used_down, 0, np.inf),
        LinearConstraint(either, -np.inf, 1),
        LinearConstraint(count, corners, corners),
    ]
    per_step = np.vstack(
        [
            problem.cross_per_step[None] / problem.tolerance,
            problem.height_per_step / problem.height_tolerance,
        ]
    )
    off = np.array(
        [
            problem.cross_off / problem.tolerance,
            *(problem.heights_off / problem.height_tolerance),
        ]
    )
    misses = np.eye(_COLUMNS)[[_CROSS, *[_HEIGHT] * 4]]
    moved = rows(per_step, -per_step)
    found.append(LinearConstraint(moved - misses, -np.inf, -off))
    found.append(LinearConstraint(moved + misses, -off, np.inf))
    return found
