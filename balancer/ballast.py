"""How much ballast, and where: the least that makes the car legal with the split that is wanted."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Literal, NamedTuple

import numpy as np
from scipy.optimize import LinearConstraint

from balancer.ballast_program import Aim, Program, Solution, build, lexicographic
from balancer.car import CORNERS, GRAVITY, Car, Floats, Piece, Place
from balancer.doubt import Shares, shares
from balancer.rules import least_mass, margin_of
from balancer.statics import added_loads

Status = Literal["met", "closest", "gave_up"]

HELD = 2e-6
"""Slack when what was reached is held fast [kg]: twice the solver's own feasibility tolerance."""

PIECE_TOLERANCE = 0.002
"""Front share within which whole pieces count as meeting a single wanted number."""


@dataclass(frozen=True, eq=False)
class BallastGoal:
    """What the ballast is to reach. Masses in kg, shares as fractions.

    Attributes
    ----------
    minimum, maximum : float
        Least total mass, margin included, and most.
    front : tuple of float or None
        Lowest and highest front share; None when any will do.
    left : float
        Left share to come close to, after all else.
    axle_minimum : tuple of float
        Least on the front and on the rear axle.
    wheel_minimum : float
        Least on any wheel.
    most : float
        Most ballast in all.
    """

    minimum: float = 0.0
    front: tuple[float, float] | None = None
    left: float = 0.5
    maximum: float = inf
    axle_minimum: tuple[float, float] = (0.0, 0.0)
    wheel_minimum: float = 0.0
    most: float = inf

    @classmethod
    def of(
        cls, car: Car, total_doubt: float = 0.0, front: tuple[float, float] | None = None
    ) -> BallastGoal:
        """Take the goal from the class rules in the car file.

        The doubt of the total [N] is for a margin that follows from a chance; a front share asked
        for goes before that of the class.
        """
        rules = car.rules
        front = front or rules.front
        if front and front[0] == front[1] and car.pieces:
            front = (front[0] - PIECE_TOLERANCE, front[1] + PIECE_TOLERANCE)
        least = least_mass(rules)
        return cls(
            minimum=least + margin_of(car, total_doubt).mass if least else 0.0,
            maximum=rules.maximum,
            front=front,
            axle_minimum=rules.axle_minimum,
            wheel_minimum=rules.wheel_minimum,
            most=rules.most_ballast,
        )


class Put(NamedTuple):
    """Ballast at one place.

    Attributes
    ----------
    place : str
    mass : float
        [kg].
    aft, left, up : float
        Center of what is put there [m].
    pieces : tuple of (float, int)
        Mass of a piece [kg] and how many; empty when any mass can be had.
    """

    place: str
    mass: float
    aft: float
    left: float
    up: float
    pieces: tuple[tuple[float, int], ...]


class Met(NamedTuple):
    """One rule, and how the car stands to it with the ballast in.

    Attributes
    ----------
    kind : str
        `minimum`, `maximum`, `front_low`, `front_high`, `axle_front`, `axle_rear` or `wheel_LF` ….
    limit, value : float
        Masses [kg] or shares [1].
    met : bool
    """

    kind: str
    limit: float
    value: float
    met: bool


class Bound(NamedTuple):
    """A limit on the ballast.

    Attributes
    ----------
    kind : str
        `most` (ballast in all), `place` (what one place takes), `stock` (pieces there are),
        `grid` (whole pieces only).
    name : str
        The place, where it is one.
    limit : float
        [kg]; infinite where it is not a mass.
    """

    kind: Literal["most", "place", "stock", "grid"]
    name: str = ""
    limit: float = inf


class Binding(NamedTuple):
    """What stands between the car and the goal: lift these limits, and the goal can be met.

    Attributes
    ----------
    bounds : tuple of Bound
        One, or several when only lifting them together helps; none when nothing does.
    needed : float
        Ballast that would then meet the goal [kg]; infinite where nothing does.
    """

    bounds: tuple[Bound, ...]
    needed: float


@dataclass(frozen=True, eq=False)
class BallastPlan:
    """Ballast to bolt in, and the car with it.

    Attributes
    ----------
    status : str
        `met`; `closest`: proved that no allowed ballast meets the goal; `gave_up`: the solver
        stopped without a proof.
    puts : tuple of Put
    added : float
        [kg].
    loads : array (4,)
        With the ballast [N].
    change : array (4,)
        What the ballast does to the loads [N].
    shares : Shares
        With the ballast.
    rules : tuple of Met
    bindings : tuple of Binding
        Empty when met.
    goal : BallastGoal
    """

    status: Status
    puts: tuple[Put, ...]
    added: float
    loads: Floats
    change: Floats
    shares: Shares
    rules: tuple[Met, ...]
    bindings: tuple[Binding, ...]
    goal: BallastGoal


class _Demand(NamedTuple):
    """A rule as the program sees it: row·v ≥ need [kg]."""

    kind: str
    row: Floats
    need: float


def plan_ballast(car: Car, loads: Floats, goal: BallastGoal) -> BallastPlan:
    """Find the least ballast that meets the rules, and the best way to spread it.

    Parameters
    ----------
    car : Car
        With its places and pieces.
    loads : array (4,)
        The loads in race trim, on level pads [N].
    goal : BallastGoal

    Returns
    -------
    BallastPlan
        Best by: all rules met, least mass, front share closest to the middle of what is wanted,
        left share closest to its target, lowest, most central. Where the rules can't all be met:
        first the minimum, then axles and wheels, then the front share as near as can be.
        Between whole pieces, differences below 0.001 points of front share, 0.01 points of left
        share and 0.01 % of the car's mass times one meter count as ties.

    References
    ----------
    Derived here; held against another optimizer in tests/oracles.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from balancer.car import plain_car
    >>> car = replace(plain_car(), places=(Place("boot", (2.4, 2.4), (0.0, 0.0), 0.3),))
    >>> plan = plan_ballast(car, np.full(4, 250 * GRAVITY), BallastGoal(front=(0.48, 0.48)))
    >>> plan.status, round(plan.added, 3)
    ('met', 41.667)
    """
    if not car.places:
        return _nowhere(car, loads, goal)
    centers = [(sum(place.aft) / 2, sum(place.left) / 2) for place in car.places]
    for _ in range(4):
        plan = _plan(car, loads, goal, centers)
        short = [one for one in plan.rules if not one.met and one.kind.startswith("wheel")]
        if plan.status != "met" or not short:
            break
        # A chassis that twists answers a side moment by where along it the mass sits; the
        # program took the middle of each rectangle, so take what it chose and look again.
        centers = [
            next(((put.aft, put.left) for put in plan.puts if put.place == place.name), center)
            for place, center in zip(car.places, centers, strict=True)
        ]
    return plan


def _nowhere(car: Car, loads: Floats, goal: BallastGoal) -> BallastPlan:
    """Hold a car that may carry no ballast against the rules."""
    rules = _met(goal, loads)
    met = all(rule.met for rule in rules)
    return BallastPlan(
        status="met" if met else "closest",
        puts=(),
        added=0.0,
        loads=loads,
        change=np.zeros(4),
        shares=shares(car, loads),
        rules=rules,
        bindings=() if met else (Binding((), inf),),
        goal=goal,
    )


def _plan(
    car: Car, loads: Floats, goal: BallastGoal, centers: list[tuple[float, float]]
) -> BallastPlan:
    program = build(car, car.places, car.pieces, goal.most, centers)
    demands = _demands(program, loads, goal)
    solution = lexicographic(program, _aims(car, program, loads, goal), _rules(demands))
    bindings: tuple[Binding, ...] = ()
    proved = True
    if solution is None:
        solution, proved = _closest(car, program, loads, goal, demands)
        bindings = _bindings(car, loads, goal, centers)
    puts = _puts(car, program, solution.values)
    change = np.zeros(4) + sum(added_loads(car, put.mass, put.aft, put.left) for put in puts)
    after = loads + change
    rules = _met(goal, after)
    met = all(rule.met for rule in rules)
    proved = proved and solution.proved
    return BallastPlan(
        status="met" if met and proved else "closest" if proved else "gave_up",
        puts=puts,
        added=sum(put.mass for put in puts),
        loads=after,
        change=change,
        shares=shares(car, after),
        rules=rules,
        bindings=bindings,
        goal=goal,
    )


def _demands(program: Program, loads: Floats, goal: BallastGoal) -> list[_Demand]:
    wheels, now = program.wheels, loads / GRAVITY
    total, front = wheels.sum(axis=0), wheels[:2].sum(axis=0)
    demands = [
        _Demand("maximum", -total, now.sum() - goal.maximum),
        _Demand("minimum", total, goal.minimum - now.sum()),
        _Demand("axle_front", front, goal.axle_minimum[0] - now[:2].sum()),
        _Demand("axle_rear", total - front, goal.axle_minimum[1] - now[2:].sum()),
    ]
    for name, row, load in zip(CORNERS, wheels, now, strict=True):
        demands.append(_Demand(f"wheel_{name}", row, goal.wheel_minimum - load))
    if goal.front:
        low, high = goal.front
        low_need = low * now.sum() - now[:2].sum()
        high_need = now[:2].sum() - high * now.sum()
        demands.append(_Demand("front_low", front - low * total, low_need))
        demands.append(_Demand("front_high", high * total - front, high_need))
    return demands


def _rules(demands: list[_Demand]) -> list[LinearConstraint]:
    return [LinearConstraint(demand.row, demand.need, inf) for demand in demands]


def _aims(car: Car, program: Program, loads: Floats, goal: BallastGoal) -> list[Aim]:
    wheels, now = program.wheels, loads / GRAVITY
    total, front, left = wheels.sum(axis=0), wheels[:2].sum(axis=0), wheels[0] + wheels[2]
    heights = np.array([place.up for place in car.places])
    point = 1e-2 * now.sum()
    aims = [Aim(total)]
    if goal.front:
        middle = sum(goal.front) / 2
        off = now[:2].sum() - middle * now.sum()
        aims.append(Aim(front - middle * total, off, size=True, grain=1e-3 * point))
    off = now[0] + now[2] - goal.left * now.sum()
    aims.append(Aim(left - goal.left * total, off, size=True, grain=1e-2 * point))
    aims.append(Aim(heights @ program.mass, grain=1e-2 * point))
    center = program.aft_moment.sum(axis=0) - car.wheelbase / 2 * program.mass.sum(axis=0)
    aims.append(Aim(center, size=True, grain=1e-2 * point))
    return aims


def _closest(
    car: Car, program: Program, loads: Floats, goal: BallastGoal, demands: list[_Demand]
) -> tuple[Solution, bool]:
    """Meet what can be met, rule by rule, and come as near as can be to the rest."""
    held: list[LinearConstraint] = []
    proved = True
    anything = Aim(np.zeros(len(program.whole)))
    for demand in demands:
        if demand.kind.startswith("front"):
            continue
        wanted = LinearConstraint(demand.row, demand.need, inf)
        solution = lexicographic(program, [anything], [*held, wanted])
        if solution is None:
            solution = lexicographic(program, [Aim(-demand.row)], held)
            if solution is None:
                continue
            wanted = LinearConstraint(demand.row, demand.row @ solution.values - HELD, inf)
        proved = proved and solution.proved
        held.append(wanted)
    band = _rules([demand for demand in demands if demand.kind.startswith("front")])
    if goal.front and lexicographic(program, [anything], [*held, *band]) is None:
        nearest = _nearest_front(program, loads, goal.front, held)
        proved = proved and nearest.proved
        total = program.wheels.sum(axis=0)
        off = program.wheels[:2].sum(axis=0) - _front_share(program, loads, nearest.values) * total
        reached = float(off @ nearest.values)
        band = [LinearConstraint(off, reached - HELD, reached + HELD)]
    held += band
    solution = lexicographic(program, _aims(car, program, loads, goal), held)
    if solution is None:
        return Solution(np.zeros(len(program.whole)), proved=False), False
    return solution, proved


def _front_share(program: Program, loads: Floats, values: Floats) -> float:
    masses = loads / GRAVITY + program.wheels @ values
    return float(masses[:2].sum() / masses.sum())


def _nearest_front(
    program: Program, loads: Floats, band: tuple[float, float], held: list[LinearConstraint]
) -> Solution:
    """Find the front share nearest to a band, from below and from above.

    A share is a ratio of two linear sums; it is driven to its end by W. Dinkelbach's method (On
    nonlinear fractional programming, Management Science 13, 1967, 492-498; from memory).
    """
    now = loads / GRAVITY
    total, front = program.wheels.sum(axis=0), program.wheels[:2].sum(axis=0)
    ends: list[tuple[float, Solution]] = []
    for sign, edge in ((1.0, band[0]), (-1.0, band[1])):
        side = LinearConstraint(
            sign * (front - edge * total), -inf, sign * (edge * now.sum() - now[:2].sum())
        )
        solution = lexicographic(program, [Aim(np.zeros_like(total))], [*held, side])
        if solution is None:
            continue
        share = _front_share(program, loads, solution.values)
        for _ in range(50):
            better = lexicographic(program, [Aim(-sign * (front - share * total))], [*held, side])
            if better is None:
                break
            moved = _front_share(program, loads, better.values)
            gained = sign * (moved - share)
            if gained > 0:
                solution, share = better, moved
            if gained < 1e-10:
                break
        ends.append((sign * (edge - share), solution))
    if not ends:
        return Solution(np.zeros(len(program.whole)), proved=False)
    return min(ends, key=lambda end: end[0])[1]


def _bindings(
    car: Car, loads: Floats, goal: BallastGoal, centers: list[tuple[float, float]]
) -> tuple[Binding, ...]:
    """Lift each limit alone and see whether the goal can then be met; if none will do, together."""

    def without(bounds: tuple[Bound, ...]) -> Binding:
        places, pieces, most = _lifted(car, goal, bounds)
        program = build(car, places, pieces, most, centers)
        total = program.mass.sum(axis=0)
        solution = lexicographic(program, [Aim(total)], _rules(_demands(program, loads, goal)))
        return Binding(bounds, inf if solution is None else float(total @ solution.values))

    bounds = _bounds(car, goal)
    alone = [one for bound in bounds if (one := without((bound,))).needed < inf]
    if alone:
        return tuple(alone)
    if without(bounds).needed == inf:
        return (Binding((), inf),)
    for bound in bounds:
        fewer = tuple(other for other in bounds if other != bound)
        if without(fewer).needed < inf:
            bounds = fewer
    return (without(bounds),)


def _bounds(car: Car, goal: BallastGoal) -> tuple[Bound, ...]:
    bounds = [Bound("grid")] if car.pieces else []
    if any(piece.stock is not None for piece in car.pieces):
        bounds.append(Bound("stock"))
    if goal.most < inf:
        bounds.append(Bound("most", "", goal.most))
    for place in car.places:
        if place.most < inf or place.most_pieces is not None:
            bounds.append(Bound("place", place.name, place.most))
    return tuple(bounds)


def _lifted(
    car: Car, goal: BallastGoal, bounds: tuple[Bound, ...]
) -> tuple[tuple[Place, ...], tuple[Piece, ...], float]:
    """Give places, pieces and most ballast with some limits lifted."""
    kinds = {bound.kind for bound in bounds}
    roomy = {bound.name for bound in bounds if bound.kind == "place"}
    places = tuple(
        place._replace(most=inf, most_pieces=None) if place.name in roomy else place
        for place in car.places
    )
    pieces = () if "grid" in kinds else car.pieces
    if "stock" in kinds:
        pieces = tuple(piece._replace(stock=None) for piece in pieces)
    return places, pieces, inf if "most" in kinds else goal.most


def _puts(car: Car, program: Program, values: Floats) -> tuple[Put, ...]:
    """Read places, masses and pieces back from the unknowns."""
    puts = []
    for index, place in enumerate(car.places):
        pieces: tuple[tuple[float, int], ...] = ()
        mass = float(program.mass[index] @ values)
        if program.counts is not None:
            counts = np.round(program.counts[index] @ values).astype(int)
            pieces = tuple(
                (piece.mass, int(count))
                for piece, count in zip(car.pieces, counts, strict=True)
                if count
            )
            mass = sum(each * count for each, count in pieces)
        if mass < 1e-6:
            continue
        aft = float(np.clip(program.aft_moment[index] @ values / mass, *place.aft))
        left = float(np.clip(program.left_moment[index] @ values / mass, *place.left))
        puts.append(Put(place.name, mass, aft, left, place.up, pieces))
    return tuple(puts)


def _met(goal: BallastGoal, loads: Floats) -> tuple[Met, ...]:
    """Hold the rules that were asked for against the loads, with the solver's tolerance."""
    masses = loads / GRAVITY
    total = float(masses.sum())
    asked = [
        ("minimum", goal.minimum, total),
        ("axle_front", goal.axle_minimum[0], float(masses[:2].sum())),
        ("axle_rear", goal.axle_minimum[1], float(masses[2:].sum())),
        *(
            (f"wheel_{corner}", goal.wheel_minimum, float(mass))
            for corner, mass in zip(CORNERS, masses, strict=True)
        ),
    ]
    rules = [
        Met(kind, limit, value, value >= limit - 1e-5) for kind, limit, value in asked if limit > 0
    ]
    if goal.maximum < inf:
        rules.append(Met("maximum", goal.maximum, total, total <= goal.maximum + 1e-5))
    if goal.front:
        front = float(masses[:2].sum()) / total
        low, high = goal.front
        rules.append(Met("front_low", low, front, front >= low - 1e-7))
        rules.append(Met("front_high", high, front, front <= high + 1e-7))
    return tuple(rules)
