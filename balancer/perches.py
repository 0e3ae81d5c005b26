"""Which perches to turn, which way and how far: the plan and what it promises."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from balancer.car import CORNERS, Car, Floats, Integers
from balancer.doubt import Shares, shares
from balancer.grid import SLACK, Found, StepProblem, best_steps, first_to_meet
from balancer.statics import height_change, lift, load_change

Status = Literal["reached", "closest", "gave_up"]
LimitKind = Literal["grid", "keep", "travel", "heights"]

TOLERANCE = 0.002
"""Of the cross weight, unless another is asked for [1]."""

HEIGHT_TOLERANCE = 1.5e-3
"""Of the ride heights, unless another is asked for [m]."""

UNSTATED_TRAVEL = 10.0
"""Turns up and down that a plan may use at a perch whose travel the file does not state."""

HEIGHT_RELIEF = (1.25, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0)
"""How far the height tolerance is widened to see what it would take."""

_FINER = 8
_FAR_TURNS = 60.0


@dataclass(frozen=True, eq=False)
class PerchGoal:
    """What the perches are to reach.

    Attributes
    ----------
    cross : float
        Cross weight (RF+LR)/total wanted, as a fraction.
    tolerance : float
        Of the cross weight, as a fraction.
    rise : array (4,)
        Wanted change of ride height at the wheel stations [m].
    height_tolerance : float
        [m].
    keep : frozenset of str
        Corners that may not be touched.
    """

    cross: float
    tolerance: float
    rise: Floats
    height_tolerance: float
    keep: frozenset[str] = frozenset()

    @classmethod
    def level(cls, cross: float) -> PerchGoal:
        """Want a cross weight, and the heights as they are, with the usual tolerances."""
        return cls(cross, TOLERANCE, np.zeros(4), HEIGHT_TOLERANCE)


class PerTurn(NamedTuple):
    """What one turn up at each corner does. Row: the corner turned; column: where.

    Attributes
    ----------
    cross : array (4,)
        Change of cross weight [1].
    loads : array (4, 4)
        [N].
    heights : array (4, 4)
        [m].
    lifts : array (4,)
        How far the corner itself would lift at constant load [m].

    All NaN at a corner without a threaded perch.
    """

    cross: Floats
    loads: Floats
    heights: Floats
    lifts: Floats


class PerchMoves(NamedTuple):
    """One way to turn the perches, and the car after it.

    Attributes
    ----------
    turns : array (4,)
        Positive up [turn].
    perch, lifts : array (4,)
        Move of the perch, and of the wheel station at constant load [m].
    loads : array (4,)
        [N].
    shares : Shares
    height_change : array (4,)
        [m].
    cross_met, heights_met : bool
        Whether each is within its tolerance.
    proved : bool
        Whether nothing better touches as many corners.
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

    @property
    def corners(self) -> int:
        """How many corners it touches."""
        return int(np.count_nonzero(self.turns))


class Limit(NamedTuple):
    """What stands between the car and the goal: lift it, and the goal can be met.

    Attributes
    ----------
    kinds : tuple of str
        `grid` (the steps are too coarse), `keep` (corners not to be touched), `travel` (turns
        left), `heights` (their tolerance). Several when only lifting them together helps; none
        when nothing does.
    corners : tuple of str
        Where `travel` or `keep` binds.
    turns_left : tuple of float
        At those corners in the direction that is needed [turn].
    would : PerchMoves or None
        The moves that would then meet the goal.
    """

    kinds: tuple[LimitKind, ...]
    corners: tuple[str, ...]
    turns_left: tuple[float, ...]
    would: PerchMoves | None


@dataclass(frozen=True, eq=False)
class PerchPlan:
    """The recommended moves, the others beside them, and why it can't be better.

    Attributes
    ----------
    status : str
        `reached`; `closest`: proved that no allowed plan reaches the goal; `gave_up`: the solver
        stopped without a proof.
    best : PerchMoves
        The fewest corners that meet both tolerances, or the closest.
    alternatives : tuple of PerchMoves
        The best for every other number of corners.
    per_turn : PerTurn
    goal : PerchGoal
    limits : tuple of Limit
        Empty when reached.
    turns_doubt : float
        Standard uncertainty of the turns at one corner, from that of the cross weight alone
        [turn]; NaN when no perch can turn.
    """

    status: Status
    best: PerchMoves
    alternatives: tuple[PerchMoves, ...]
    per_turn: PerTurn
    goal: PerchGoal
    limits: tuple[Limit, ...]
    turns_doubt: float


def cross_for_equal_pair(car: Car, loads: Floats, axle: Literal["front", "rear"]) -> float:
    """Compute the cross weight at which the two wheels of an axle carry the same.

    Parameters
    ----------
    car : Car
    loads : array (4,)
        [N].
    axle : str
        `front` or `rear`.

    Returns
    -------
    float
        As a fraction. Perches move the difference of an axle by the free pattern only.

    References
    ----------
    Derived here from Bᵀn = 0.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> cross_for_equal_pair(plain_car(), np.array([320.0, 280.0, 200.0, 200.0]), "front")
    0.52
    """
    left, right = (0, 1) if axle == "front" else (2, 3)
    wanted = loads.copy()
    difference = (loads[left] - loads[right]) / 2
    moment = difference * (car.tracks[0] if axle == "front" else -car.tracks[1])
    front, rear = moment / car.tracks
    wanted += np.array([-front, front, rear, -rear])
    return shares(car, wanted).cross


def cross_for_loads(car: Car, loads: Floats, wanted: Floats) -> float:
    """Compute the cross weight of the closest loads to four wanted ones that perches can reach.

    Parameters
    ----------
    car : Car
    loads, wanted : array (4,)
        [N].

    Returns
    -------
    float
        As a fraction; closest by least squares along the free pattern.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> loads = np.array([320.0, 280.0, 200.0, 200.0])
    >>> cross_for_loads(plain_car(), loads, np.array([310.0, 290.0, 210.0, 190.0]))
    0.5
    """
    pattern = load_change(car, np.array([1.0, 0.0, 0.0, 0.0]))
    along = pattern @ (wanted - loads) / (pattern @ pattern)
    return shares(car, loads + along * pattern).cross


def per_turn(car: Car, loads: Floats) -> PerTurn:
    """Compute what one turn up at each corner does to loads, cross weight and heights.

    Parameters
    ----------
    car : Car
    loads : array (4,)
        The loads now [N].

    Returns
    -------
    PerTurn
        By `statics.load_change` and `statics.height_change`.

    References
    ----------
    Derived here; see tests/oracles.

    Examples
    --------
    >>> from balancer.car import plain_car
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


def plan_perches(car: Car, loads: Floats, goal: PerchGoal, cross_doubt: float = 0.0) -> PerchPlan:
    """Find the exact best whole-step perch moves for a goal.

    Parameters
    ----------
    car : Car
    loads : array (4,)
        The loads now, on level pads [N].
    goal : PerchGoal
    cross_doubt : float
        Standard uncertainty of the cross weight, as a fraction.

    Returns
    -------
    PerchPlan
        For each number of corners the best by: both tolerances met, fewest turns, closest cross
        weight, smallest worst height. Recommended is the fewest corners that meet both. The
        linear model is right near the operating point: no damper at full droop, no bump stop.

    References
    ----------
    Exact search in `grid`; held against the whole grid in tests/oracles.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> loads = np.array([2950.0, 2850.0, 2350.0, 2350.0])
    >>> goal = PerchGoal(0.5, 0.002, np.zeros(4), 1.5e-3)
    >>> plan = plan_perches(plain_car(), loads, goal)
    >>> plan.status, plan.best.turns.tolist()
    ('reached', [0.0, 0.0, 0.5, -0.5])
    """
    turned = per_turn(car, loads)
    problem = _problem(car, loads, goal, turned)
    found = _by_corners(problem)
    best = _recommended(found)
    limits: tuple[Limit, ...] = ()
    met = best.cross_met and best.heights_met
    if not met:
        limits = _limits(car, loads, turned, problem, goal)
    proved = all(one.proved for one in found)
    status: Status = "reached" if met else "closest" if proved else "gave_up"
    others = tuple(one for one in found if one is not best and np.any(one.steps))
    largest = np.nanmax(np.abs(turned.cross)) if car.adjustable.any() else np.nan
    return PerchPlan(
        status=status,
        best=_moves(car, loads, turned, best),
        alternatives=tuple(_moves(car, loads, turned, one) for one in others),
        per_turn=turned,
        goal=goal,
        limits=limits,
        turns_doubt=float(cross_doubt / largest),
    )


def can_reach(car: Car, loads: Floats, goal: PerchGoal) -> bool:
    """Say whether any allowed turns meet a goal, without working out what binds.

    Parameters
    ----------
    car : Car
    loads : array (4,)
        [N].
    goal : PerchGoal

    Returns
    -------
    bool

    References
    ----------
    See `grid.first_to_meet`.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> can_reach(plain_car(), np.full(4, 2500.0), PerchGoal.level(0.5))
    True
    """
    return first_to_meet(_problem(car, loads, goal, per_turn(car, loads))) is not None


def _problem(car: Car, loads: Floats, goal: PerchGoal, turned: PerTurn) -> StepProblem:
    step = np.where(car.adjustable, car.perch_step, 0.0)
    least, most = _step_limits(car, goal.keep)
    return StepProblem(
        cross_off=shares(car, loads).cross - goal.cross,
        cross_per_step=np.nan_to_num(turned.cross) * step,
        heights_off=-goal.rise,
        height_per_step=np.nan_to_num(turned.heights.T) * step,
        tolerance=goal.tolerance,
        height_tolerance=goal.height_tolerance,
        least=least,
        most=most,
        turns_per_step=step,
    )


def _step_limits(car: Car, keep: frozenset[str]) -> tuple[Integers, Integers]:
    """Give how many whole steps each corner may go down (≤ 0) and up (≥ 0)."""
    free = car.adjustable & np.array([corner not in keep for corner in CORNERS])
    stated = np.isfinite(car.perch_travel)
    travel = np.where(stated, car.perch_travel, np.array([-UNSTATED_TRAVEL, UNSTATED_TRAVEL]))
    whole = np.trunc(travel / car.perch_step[:, None] * (1 + SLACK)) * free[:, None]
    least, most = whole.astype(np.int64).T
    return least, most


def _by_corners(problem: StepProblem) -> list[Found]:
    """Give the best for every number of corners that can be touched, 0 to 4."""
    found = (best_steps(problem, corners) for corners in range(5))
    return [one for one in found if one is not None]


def _recommended(found: list[Found]) -> Found:
    """Pick the fewest corners that meet both tolerances, else the closest of all."""

    def rank(one: Found) -> tuple[int, float, int, float]:
        corners = int(np.count_nonzero(one.steps))
        # Rounded to what no scale can see, so that the last bit does not decide between ties.
        cross, height = round(one.cross_miss, 9), round(one.height_miss, 9)
        if one.cross_met and one.heights_met:
            return (0, 0.0, corners, 0.0)
        if one.heights_met:
            return (1, cross, corners, height)
        if one.cross_met:
            return (2, height, corners, cross)
        return (3, cross, corners, height)

    return min(found, key=rank)


def _moves(car: Car, loads: Floats, turned: PerTurn, found: Found, finer: int = 1) -> PerchMoves:
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


def _limits(
    car: Car, loads: Floats, turned: PerTurn, problem: StepProblem, goal: PerchGoal
) -> tuple[Limit, ...]:
    """Lift each limit alone and see whether the goal can then be met; if none will do, together."""

    def limit(kinds: tuple[LimitKind, ...]) -> Limit | None:
        relaxed, finer = problem, 1
        for kind in kinds:
            relaxed = _relax(car, goal, relaxed, kind)
            finer = _FINER if kind == "grid" else finer
        found = _first_within(relaxed, HEIGHT_RELIEF if "heights" in kinds else (1.0,))
        if found is None:
            return None
        steps = found.steps / finer
        beyond = (steps > problem.most + SLACK) | (steps < problem.least - SLACK)
        left = np.where(steps > 0, problem.most, problem.least) * problem.turns_per_step
        where = np.flatnonzero(beyond).tolist()
        return Limit(
            kinds=kinds,
            corners=tuple(CORNERS[corner] for corner in where),
            turns_left=tuple(abs(float(left[corner])) for corner in where),
            would=_moves(car, loads, turned, found, finer),
        )

    every: tuple[LimitKind, ...] = ("grid", "keep", "travel", "heights")
    kinds = tuple(kind for kind in every if kind != "keep" or goal.keep)
    alone = [one for kind in kinds if (one := limit((kind,)))]
    if alone:
        return tuple(alone)
    if limit(kinds) is None:
        return (Limit((), (), (), None),)
    for kind in kinds:
        without = tuple(other for other in kinds if other != kind)
        if limit(without):
            kinds = without
    together = limit(kinds)
    return (together,) if together else ()


def _relax(car: Car, goal: PerchGoal, problem: StepProblem, kind: LimitKind) -> StepProblem:
    if kind == "grid":
        return problem._replace(
            cross_per_step=problem.cross_per_step / _FINER,
            height_per_step=problem.height_per_step / _FINER,
            least=problem.least * _FINER,
            most=problem.most * _FINER,
            turns_per_step=problem.turns_per_step / _FINER,
        )
    if kind == "keep":
        free = _step_limits(car, frozenset())
        return problem._replace(least=free[0], most=free[1])
    if kind == "travel":
        movable = (problem.least < 0) | (problem.most > 0)
        far = np.where(movable, np.ceil(_FAR_TURNS / car.perch_step), 0).astype(np.int64)
        return problem._replace(
            least=np.minimum(problem.least, -far), most=np.maximum(problem.most, far)
        )
    return problem


def _first_within(problem: StepProblem, relief: tuple[float, ...]) -> Found | None:
    """Find steps that meet the goal, with the height tolerance widened no more than it takes."""
    for factor in relief:
        wider = problem._replace(height_tolerance=problem.height_tolerance * factor)
        if found := first_to_meet(wider):
            return found
    return None
