"""The ballast plan as a linear program, whole pieces making it a mixed-integer one.

With the mass m at a place and its moments m·x and m·y as unknowns everything is linear: a
rectangle reads x_low·m ≤ m·x ≤ x_high·m, and so do rules on totals, shares and wheels. Masses in
kg, moments in kg·m.
"""

from collections.abc import Callable, Sequence
from math import inf
from typing import NamedTuple

import numpy as np

from balancer.car.body import twists
from balancer.car.conventions import GRAVITY, Flags, Floats, Integers
from balancer.car.leaning import leaned_loads
from balancer.car.model import Car, Piece, Place
from balancer.planning.solver import Bounds, LinearConstraint, Solved, solve

_ABSOLUTE_GAP = 1e-6
"""At which HiGHS calls a mixed-integer optimum proved; aims are scaled so that it is enough."""

_MANY = 300
"""From so many whole unknowns on an optimum is first looked for among few of them."""

_SHARP = 1e-6
"""Of ties between spots for pieces that are chosen: what the solver tells apart."""


class Program(NamedTuple):
    """Unknowns and what they add up to; every row has one entry an unknown.

    Attributes:
        mass, aft_moment, left_moment: (places, unknowns), what is put at each place.
        points: (places,), whether a place is a single point.
        wheels: (4, unknowns), what all of it adds at the four wheels [kg].
        counts: (places, kinds) of int or None, which unknown is the number of pieces of a kind
            at a place; None when any mass can be had.
        least, most: (unknowns,), of each, where what else there is leaves it bounded.
        whole: (unknowns,), 1 where an unknown is an integer.
        limits: Capacities, stocks and rectangles: never relaxed by the solver.
    """

    mass: Floats
    aft_moment: Floats
    left_moment: Floats
    points: Flags
    wheels: Floats
    counts: Integers | None
    least: Floats
    most: Floats
    whole: Floats
    limits: list[LinearConstraint]

    @property
    def bolted(self) -> Floats:
        """What the ballast alone adds at the wheels, whatever else is among the unknowns."""
        return self.wheels * (np.arange(len(self.whole)) < self.ballast)

    @property
    def ballast(self) -> int:
        """How many of the unknowns, the first ones, are ballast."""
        kinds = 1 if self.counts is None else self.counts.shape[1]
        return len(self.mass) * (2 + kinds)


class Aim(NamedTuple):
    """Something to make small: row·v + offset, or its size.

    Attributes:
        row: (unknowns,)
        size: Whether it is |row·v + offset| that counts.
        grain: Differences below this, in the unit of the row, are a tie; it also ends the
            search for an integer optimum.
    """

    row: Floats
    offset: float = 0.0
    size: bool = False
    grain: float = 1e-6


class Solution(NamedTuple):
    """Values of the unknowns, and whether they are proved best."""

    values: Floats
    proved: bool


def build_for(car: Car, most: float, loads: Floats) -> Program:
    """Set up the unknowns for the places and pieces of a car.

    Args:
        most: Most ballast in all [kg].
        loads: (4,), as in `build` [N].
    """
    return build(car, car.places, car.pieces, most, loads)


def build(
    car: Car, places: Sequence[Place], pieces: Sequence[Piece], most: float, loads: Floats
) -> Program:
    """Set up the unknowns for places and pieces.

    Args:
        pieces: None: any mass can be had.
        most: Most ballast in all [kg].
        loads: (4,), without it [N]; the car leans by these.

    Returns:
        On a chassis that twists exact where a place is a point or a line; elsewhere the side moment
        is taken to first order around the middle of the place.
    """
    centers = [(sum(place.aft) / 2, sum(place.left) / 2) for place in places]
    count, kinds = len(places), max(len(pieces), 1)
    width, each = 2 * count + count * kinds, np.arange(count)
    amounts = 2 * count + np.arange(count * kinds).reshape(count, kinds)
    aft_moment, left_moment, mass = (np.zeros((count, width)) for _ in range(3))
    aft_moment[each, each] = left_moment[each, count + each] = 1.0
    piece_mass = np.array([piece.mass for piece in pieces] or [1.0])
    mass[each[:, None], amounts] = piece_mass

    def at(aft: Floats | float, left: Floats | float) -> Floats:
        return leaned_loads(car, loads, 1.0, aft, left) / GRAVITY

    spots = np.array([(0, 0), (1, 0), *((aft, side) for aft, _ in centers for side in (0, 1))])
    origin, behind, *sides = at(*spots.T)
    wheels = np.outer(origin, mass.sum(axis=0)) + np.outer(behind - origin, aft_moment.sum(axis=0))
    for row, middle, beside in zip(left_moment, sides[::2], sides[1::2], strict=True):
        wheels += np.outer(beside - middle, row)
    if twists(car):
        for place, (aft, left), along, amount in zip(
            places, centers, aft_moment, mass, strict=True
        ):
            wheels += np.outer(left * _twist(at, place.aft), along - aft * amount)

    limits = [
        LinearConstraint(mass.sum(axis=0), 0, most),
        LinearConstraint(mass, 0, [place.most for place in places]),
    ]
    for moment, ranges in (
        (aft_moment, [place.aft for place in places]),
        (left_moment, [place.left for place in places]),
    ):
        low, high = np.array(ranges).reshape(count, 2).T
        limits.append(LinearConstraint(moment - low[:, None] * mass, 0, inf))
        limits.append(LinearConstraint(high[:, None] * mass - moment, 0, inf))
    whole, highest = np.zeros(width), np.full(width, inf)
    # Amounts start at zero, and moments are of either sign.
    lowest = np.where(np.arange(width) < 2 * count, -inf, 0.0)
    points = np.array([len({*place.aft}) == len({*place.left}) == 1 for place in places])
    program = Program(
        mass, aft_moment, left_moment, points, wheels, None, lowest, highest, whole, limits
    )
    if not pieces:
        return program
    whole[2 * count :] = 1
    stock = np.array([inf if piece.stock is None else piece.stock for piece in pieces])
    room = np.array([inf if place.most_pieces is None else place.most_pieces for place in places])
    limits.append(LinearConstraint(_picked(amounts.T, width), 0, stock))
    limits.append(LinearConstraint(_picked(amounts, width), 0, room))
    heaviest = np.minimum([place.most for place in places], most)
    # A hair more than fits: whether a piece fits on the edge is for the limits to say.
    fits = np.floor(heaviest[:, None] / piece_mass * (1 + 1e-9) + 1e-9)
    highest[amounts] = np.minimum(np.minimum(stock, room[:, None]), fits)
    return program._replace(counts=amounts)


def _twist(at: Callable[[float, float], Floats], ends: tuple[float, float]) -> Floats:
    """Give what a side moment does at the wheels, more for each meter that it sits further aft."""
    front, rear = (at(aft, 1) - at(aft, 0) for aft in ends)
    return (rear - front) / ((ends[1] - ends[0]) or 1.0)


def _picked(columns: Integers, width: int) -> Floats:
    """Give a row of ones for each row of columns."""
    rows = np.zeros((len(columns), width))
    rows[np.arange(len(columns))[:, None], columns] = 1.0
    return rows


def lexicographic(
    program: Program, aims: Sequence[Aim], rules: Sequence[LinearConstraint] = ()
) -> Solution | None:
    """Make the first aim as small as can be, then the second among the ties, and so on.

    Args:
        rules: What must hold beside the limits of the program.

    Returns:
        None when it is proved that nothing meets limits and rules; unproved, and at worst all
        zero, when the solver's time ran out.
    """
    width = len(program.whole)
    # One more unknown for the size of whatever aim is being made small; never a whole number.
    bounds = Bounds(np.append(program.least, -inf), np.append(program.most, inf))
    held = [wider(rule, 1) for rule in [*program.limits, *rules]]
    best, proved = np.zeros(width), True
    for rank, aim in enumerate(aims):
        scale = _ABSOLUTE_GAP / aim.grain if program.whole.any() else 1.0
        cost = np.zeros(width + 1)
        cost[-1] = scale
        above = LinearConstraint(np.append(-aim.row, 1.0), aim.offset, inf)
        below = LinearConstraint(np.append(aim.row, 1.0), -aim.offset, inf)
        binding = [*held, above, *([below] if aim.size else [])]
        solved = _soon(program, cost, bounds, binding, best)
        if solved is None:
            solved = solve(cost, np.append(program.whole, 0), bounds, binding)
        proved = proved and solved.proved
        if solved.values is None:
            if rank == 0 and solved.proved:
                return None
            # The ties of the first aim can't be empty: it is the solver's own tolerance speaking.
            break
        best = solved.values[:-1]
        reached = float(aim.row @ best + aim.offset)
        within = (abs(reached) if aim.size else reached) + aim.grain
        held.append(
            LinearConstraint(
                np.append(aim.row, 0.0),
                -within - aim.offset if aim.size else -inf,
                within - aim.offset,
            )
        )
    whole = program.whole.astype(bool)
    best[whole] = np.round(best[whole])
    return Solution(_placed(program, aims, rules, best) if proved else best, proved)


def _placed(
    program: Program, aims: Sequence[Aim], rules: Sequence[LinearConstraint], best: Floats
) -> Floats:
    """Put pieces that are chosen to the very best spot.

    Among ties a solver stops wherever it happens to be: another version of it somewhere else.
    Pieces at points have no other spot.
    """
    whole = program.whole.astype(bool)
    fixed = program.counts is not None and program.points[program.mass @ best > 0].all()
    if not whole.any() or fixed:
        return best
    chosen = LinearConstraint(np.eye(len(whole))[whole], best[whole], best[whole])
    free = program._replace(whole=np.zeros(len(whole)), counts=None)
    sharp = [aim._replace(grain=_SHARP) for aim in aims]
    placed = lexicographic(free, sharp, [*rules, chosen])
    if placed is None or not placed.proved:
        return best
    placed.values[whole] = best[whole]
    return placed.values


def _soon(
    program: Program, cost: Floats, bounds: Bounds, binding: list[LinearConstraint], best: Floats
) -> Solved | None:
    """Look for an optimum in a few places: where any mass would go, and where the last one is.

    It is proved where nothing that leaves pieces in parts is better by more than the grain; else,
    and where there is little to choose from, None.
    """
    if program.counts is None or program.counts.size < _MANY:
        return None
    parts = solve(cost, np.zeros(len(cost)), bounds, binding)
    if parts.values is None or not parts.proved:
        return parts if parts.proved else None
    used = (np.abs(program.mass @ parts.values[:-1]) > 1e-6) | (program.mass @ best > 1e-6)
    highest = np.array(bounds.ub)
    highest[program.counts[~used]] = 0.0
    few = solve(cost, np.append(program.whole, 0), Bounds(bounds.lb, highest), binding)
    if few.values is None or cost @ few.values > cost @ parts.values + _ABSOLUTE_GAP:
        return None
    return Solved(few.values, proved=True)


def wider(rule: LinearConstraint, columns: int) -> LinearConstraint:
    """Let a constraint pass over more unknowns, behind its own.

    Args:
        columns: How many.
    """
    rows = np.atleast_2d(rule.A)
    return LinearConstraint(np.hstack([rows, np.zeros((len(rows), columns))]), rule.lb, rule.ub)
