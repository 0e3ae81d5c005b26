"""The least ballast by cvxpy: an oracle for the ballast planner.

Any mass: a linear program for CLARABEL, an interior-point solver. Whole pieces: a mixed-integer
program for SCIP (package pyscipopt). Neither shares anything with HiGHS, nor this model with the
package's.

Order of wheels LF RF LR RR; aft is behind the front axle, left is left of the centerline [m].
Loads and masses are in kg. Front share is (LF+RF)/total, in percent.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cvxpy as cp
import numpy as np

from tests.oracles import Numbers
from tests.oracles.energy_cvxpy import value

NOTHING = 1e-6  # less mass than this is none [kg]
EXACT = {"numerics/feastol": 1e-9, "limits/gap": 0.0}
TIGHT = {"tol_gap_abs": 1e-10, "tol_gap_rel": 1e-10, "tol_feas": 1e-10}


@dataclass(frozen=True)
class Place:
    """Where ballast may go.

    aft, left : ranges (lo, hi) [m]; lo == hi for a point
    most : mass [kg]
    most_pieces : number
    """

    aft: tuple[float, float]
    left: tuple[float, float]
    most: float | None = None
    most_pieces: int | None = None


@dataclass(frozen=True)
class Car:
    """The car in race trim.

    loads : (4,) on the wheels now [kg]
    wheelbase, tracks (front, rear) : [m]
    ride_rate : (4,) [N/m]; only their ratios matter
    """

    loads: Numbers
    wheelbase: float
    tracks: tuple[float, float]
    ride_rate: Numbers


@dataclass(frozen=True)
class Rules:
    """What must hold with the ballast on board; None: no such rule.

    minimum : total [kg]
    front : (lo, hi) front share [percent]; lo == hi: exactly
    most : ballast [kg]
    axles : least on the front and on the rear axle [kg]
    wheel : least on every wheel [kg]
    """

    minimum: float | None = None
    front: tuple[float, float] | None = None
    most: float | None = None
    axles: tuple[float, float] | None = None
    wheel: float | None = None


@dataclass(frozen=True)
class Answer:
    """added, front and loads are nan when infeasible, and the tuples empty.

    added : all ballast [kg]
    where : for each place (mass [kg], aft [m], left [m]); its middle where there is no mass
    pieces : for each place how many of each piece; () for any mass
    loads : (4,) with the ballast [kg]
    front : front share [percent]
    """

    status: Literal["feasible", "infeasible"]
    added: float
    where: tuple[tuple[float, float, float], ...]
    pieces: tuple[tuple[int, ...], ...]
    loads: np.ndarray
    front: float


def any_mass(
    car: Car, places: Sequence[Place], rules: Rules, also: Sequence[Numbers] = ()
) -> Answer:
    """The least ballast when any mass may be had; `also` are loads with which rules hold too.

    Unknown are the mass at each place and its two moments, m, m*aft and m*left; in these all rules
    are linear. Where several layouts have the least mass, the one shown is any of them.

    Raises
    ------
    RuntimeError : the solver stopped without a proof
    """
    mass = cp.Variable(len(places), nonneg=True)
    moments = cp.Variable((len(places), 2))
    loads = _loads(car, mass, moments)
    limits = _limits(places, mass, moments) + _rules(rules, car, mass, loads)
    limits += _rules_too(rules, car, also, mass, moments)
    # With rows that differ by little an interior point stops short; SCIP's simplex does not.
    solver, options = (cp.SCIP, {"scip_params": EXACT}) if also else (cp.CLARABEL, TIGHT)
    if not _solve(cp.sum(mass), limits, solver, **options):
        return _infeasible()
    return _answer(places, value(mass), value(moments), value(loads), ())


def pieces(
    car: Car,
    places: Sequence[Place],
    rules: Rules,
    stock: Sequence[tuple[float, int | None]],
    front_target: float | None = None,
    also: Sequence[Numbers] = (),
) -> Answer:
    """The least ballast in whole pieces; among the least, the front share closest to a target.

    The pieces at one place share one location there (for a range the mean of theirs, which is as
    general, a rectangle being convex).

    Parameters
    ----------
    stock : sequence of (mass of a piece [kg], how many there are or None)
    front_target : [percent], or None: any solution with the least mass

    Raises
    ------
    RuntimeError : the solver stopped without a proof
    """
    count = cp.Variable((len(places), len(stock)), integer=True)
    moments = cp.Variable((len(places), 2))
    mass = count @ np.array([kg for kg, _ in stock])
    loads = _loads(car, mass, moments)
    limits = (
        _limits(places, mass, moments)
        + _rules(rules, car, mass, loads)
        + _counts(places, stock, count)
        + _rules_too(rules, car, also, mass, moments)
    )
    if not _solve(cp.sum(mass), limits, cp.SCIP, scip_params=EXACT):
        return _infeasible()
    if front_target is not None:
        # The total is fixed now, so the distance of the share is the distance of the front load.
        least = float(np.rint(value(count)).sum(axis=0) @ [kg for kg, _ in stock])
        wanted = front_target / 100 * (sum(car.loads) + least)
        # Not cp.abs: its bounds multiply 0 by the infinite bounds of `moments`, and numpy warns.
        away, distance = cp.Variable(), loads[0] + loads[1] - wanted
        limits += [cp.sum(mass) <= least + NOTHING, away >= distance, away >= -distance]
        if not _solve(away, limits, cp.SCIP, scip_params=EXACT):
            raise RuntimeError("the least mass was reached once and not again")
    whole = np.rint(value(count)).astype(int)
    return _answer(
        places,
        value(mass),
        value(moments),
        value(loads),
        tuple(tuple(map(int, row)) for row in whole),
    )


def _loads(car: Car, mass: cp.Expression, moments: cp.Expression) -> cp.Expression:
    """Wheel loads with the ballast [kg]: a rigid body on four springs.

    A load that sums to (m, m*aft, m*left) sinks the body by q = S^-1 (m, m*aft, m*left), heave and
    two slopes, S = B^T K B, B = [1, aft, left] of the wheels; the springs then carry K B q more.
    """
    front, rear = (track / 2 for track in car.tracks)
    base = car.wheelbase
    b = np.array([[1, 0, front], [1, 0, -front], [1, base, rear], [1, base, -rear]])
    k = np.diag(np.asarray(car.ride_rate, dtype=float) / max(car.ride_rate))
    share = k @ b @ np.linalg.inv(b.T @ k @ b)
    added = share @ cp.hstack([cp.sum(mass), cp.sum(moments, axis=0)])
    loads: cp.Expression = np.asarray(car.loads, dtype=float) + added
    return loads


def _limits(
    places: Sequence[Place], mass: cp.Expression, moments: cp.Expression
) -> list[cp.Constraint]:
    """Each place holds no more than it may, inside its ranges: lo*m <= m*aft <= hi*m."""
    limits = []
    for j, place in enumerate(places):
        for axis, (lo, hi) in enumerate((place.aft, place.left)):
            moment = moments[j, axis]
            limits += (
                [moment == lo * mass[j]]
                if lo == hi
                else [moment >= lo * mass[j], moment <= hi * mass[j]]
            )
        if place.most is not None:
            limits.append(mass[j] <= place.most)
    return limits


def _rules(
    rules: Rules, car: Car, mass: cp.Expression, loads: cp.Expression
) -> list[cp.Constraint]:
    added = cp.sum(mass)
    total, front, rear = sum(car.loads) + added, loads[0] + loads[1], loads[2] + loads[3]
    limits = []
    if rules.minimum is not None:
        limits.append(total >= rules.minimum)
    if rules.front is not None:
        lo, hi = (share / 100 for share in rules.front)
        limits += [front == lo * total] if lo == hi else [front >= lo * total, front <= hi * total]
    if rules.most is not None:
        limits.append(added <= rules.most)
    if rules.axles is not None:
        limits += [front >= rules.axles[0], rear >= rules.axles[1]]
    if rules.wheel is not None:
        limits.append(loads >= rules.wheel)
    return limits


def _rules_too(
    rules: Rules,
    car: Car,
    also: Sequence[Numbers],
    mass: cp.Expression,
    moments: cp.Expression,
) -> list[cp.Constraint]:
    """The same rules on the same car with other loads before the same ballast."""
    others = [replace(car, loads=loads) for loads in also]
    return [
        limit
        for there in others
        for limit in _rules(rules, there, mass, _loads(there, mass, moments))
    ]


def _counts(
    places: Sequence[Place], stock: Sequence[tuple[float, int | None]], count: cp.Variable
) -> list[cp.Constraint]:
    """No piece more than there is, no place with more pieces than it takes."""
    limits = [count >= 0]
    limits += [
        cp.sum(count[:, p]) <= there for p, (_, there) in enumerate(stock) if there is not None
    ]
    limits += [
        cp.sum(count[j, :]) <= p.most_pieces
        for j, p in enumerate(places)
        if p.most_pieces is not None
    ]
    return limits


def _solve(
    goal: cp.Expression, limits: list[cp.Constraint], solver: str, **options: object
) -> bool:
    """Whether there is a solution; its values are left in the variables."""
    problem = cp.Problem(cp.Minimize(goal), limits)
    problem.solve(solver=solver, **options)
    if problem.status not in (cp.OPTIMAL, cp.INFEASIBLE):
        raise RuntimeError(f"{solver} stopped without a proof: {problem.status}")
    return problem.status == cp.OPTIMAL


def _infeasible() -> Answer:
    return Answer("infeasible", math.nan, (), (), np.full(4, math.nan), math.nan)


def _answer(
    places: Sequence[Place],
    mass: np.ndarray,
    moments: np.ndarray,
    loads: np.ndarray,
    whole: tuple[tuple[int, ...], ...],
) -> Answer:
    where = tuple(
        _at(place, float(m), moment) for place, m, moment in zip(places, mass, moments, strict=True)
    )
    front = 100 * float(loads[0] + loads[1]) / float(loads.sum())
    return Answer("feasible", float(mass.sum()), where, whole, loads, front)


def _at(place: Place, mass: float, moment: np.ndarray) -> tuple[float, float, float]:
    """(mass, aft, left), location moment/mass.

    Kept inside the place, since the moments carry the solver's error.
    """
    ranges = (place.aft, place.left)
    if mass < NOTHING:
        aft, left = ((lo + hi) / 2 for lo, hi in ranges)
    else:
        aft, left = (
            min(max(float(t) / mass, lo), hi) for t, (lo, hi) in zip(moment, ranges, strict=True)
        )
    return max(mass, 0.0), aft, left
