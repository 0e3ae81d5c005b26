"""What turns at the perches do to the car, one at a time and all together."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, Flags, Floats, Integers
from balancer.car.linear import height_change, lift, load_change
from balancer.car.model import Car
from balancer.perches.goal import EXACT, PerchGoal
from balancer.perches.linear_problem import LinearProblem
from balancer.perches.steps import SLACK, Found
from balancer.weighing.uncertainty import Shares, shares

if TYPE_CHECKING:
    from balancer.car.equilibrium import Contacts

UNSTATED_TRAVEL = 10.0
"""Turns up and down that a plan may use at a perch whose travel the file does not state."""


class PerTurn(NamedTuple):
    """What one turn up at each corner does. Row: the corner turned; column: where.

    Attributes:
        cross: (4,), change of cross weight [1].
        loads: (4, 4) [N].
        heights: (4, 4) [m].
        lifts: (4,), how far the corner itself would lift at constant load [m].
    """

    cross: Floats
    loads: Floats
    heights: Floats
    lifts: Floats


class PerchMoves(NamedTuple):
    """One way to turn the perches, and the car after it.

    Attributes:
        turns: (4,), positive up [turn].
        perch, lifts: (4,), move of the perch, and of the wheel station at constant load [m].
        loads: (4,) [N].
        height_change: (4,) [m].
        cross_met, heights_met: Whether each is within its tolerance.
        proved: Whether nothing better touches as many corners.
        mounts: (4,) of bool or None, where the lower mount is turned and not the spring perch;
            None: nowhere.
        link_turns: (2,) or None, of the left drop links, longer positive [turn].
        contacts: What each corner of a car that is not linear then stands on.
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

    @property
    def corners(self) -> int:
        """How many corners it touches, or corners and links."""
        links = 0 if self.link_turns is None else np.count_nonzero(self.link_turns)
        return int(np.count_nonzero(self.turns) + links)


def per_turn(car: Car, loads: Floats) -> PerTurn:
    """Compute what one turn up at each corner does to loads, cross weight and heights.

    Args:
        loads: (4,), the loads now [N].

    Returns:
        By `linear.load_change` and `linear.height_change`.

    References:
        Derived here; see tests/oracles.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> turned = per_turn(plain_car(), np.full(4, 2500.0))
        >>> (100 * turned.cross).round(2).tolist()
        [-0.34, 0.34, 0.34, -0.34]
    """
    perches = np.diag(np.where(car.adjustable, car.perch_lead, 0.0))
    lifts = np.array([lift(car, perch) for perch in perches])
    changed = load_change(car, lifts)
    raised = height_change(car, lifts, loads)
    own = np.diag(perches) / car.motion_ratio
    fixed = ~car.adjustable
    for values in (changed, raised, own):
        values[fixed] = np.nan
    cross = (changed[:, 1] + changed[:, 2]) / loads.sum()
    return PerTurn(cross, changed, raised, own)


def problem_of(car: Car, loads: Floats, goal: PerchGoal, turned: PerTurn) -> LinearProblem:
    """Put a goal as a question of whole steps.

    Args:
        loads: (4,) [N].
    """
    step = np.where(car.adjustable, car.perch_step, 0.0)
    least, most = step_limits(car, goal.keep)
    return LinearProblem(
        cross_off=shares(car, loads).cross - goal.cross,
        cross_per_step=np.nan_to_num(turned.cross) * step,
        heights_off=-goal.rise,
        height_per_step=np.nan_to_num(turned.heights.T) * step,
        tolerance=max(goal.tolerance, EXACT),
        height_tolerance=max(goal.height_tolerance, EXACT),
        least=least,
        most=most,
        turns_per_step=step,
    )


def step_limits(car: Car, keep: frozenset[str]) -> tuple[Integers, Integers]:
    """Give how many whole steps each corner may go down (≤ 0) and up (≥ 0).

    Args:
        keep: Corners that may not be touched.

    Returns:
        tuple of array (4,)
    """
    free = car.adjustable & np.array([corner not in keep for corner in CORNERS])
    stated = np.isfinite(car.perch_travel)
    travel = np.where(stated, car.perch_travel, np.array([-UNSTATED_TRAVEL, UNSTATED_TRAVEL]))
    whole = np.trunc(travel / car.perch_step[:, None] * (1 + SLACK)) * free[:, None]
    least, most = whole.astype(np.int64).T
    return least, most


def moves_of(car: Car, loads: Floats, turned: PerTurn, found: Found, finer: int) -> PerchMoves:
    """Say what steps that were found come to.

    Args:
        loads: (4,), before [N].
        finer: How many of these steps make one of the perch's.
    """
    turns: Floats = found.steps / finer * np.where(car.adjustable, car.perch_step, 0.0)
    after = loads + turns @ np.nan_to_num(turned.loads)
    return PerchMoves(
        turns=turns,
        perch=turns * np.nan_to_num(car.perch_lead),
        lifts=turns * np.nan_to_num(turned.lifts),
        loads=after,
        shares=shares(car, after),
        height_change=turns @ np.nan_to_num(turned.heights),
        cross_met=found.cross_met,
        heights_met=found.heights_met,
        proved=found.proved,
    )
