"""The ballast plan as a linear program, whole pieces making it a mixed-integer one.

With the mass m at a place and its moments m·x and m·y as unknowns everything is linear: a
rectangle reads x_low·m ≤ m·x ≤ x_high·m, and so do rules on totals, shares and wheels. Masses in
kg, moments in kg·m.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint

from balancer.car import GRAVITY, Car, Floats, Piece, Place
from balancer.solver import solve
from balancer.statics import added_loads

_ABSOLUTE_GAP = 1e-6
"""At which HiGHS calls a mixed-integer optimum proved; aims are scaled so that it is enough."""


class Program(NamedTuple):
    """Unknowns and what they add up to; every row has one entry an unknown.

    Attributes
    ----------
    mass, aft_moment, left_moment : array (places, unknowns)
        What is put at each place.
    wheels : array (4, unknowns)
        What all of it adds at the four wheels [kg].
    counts : array (places, kinds, unknowns) or None
        Pieces of each kind at each place; None when any mass can be had.
    whole : array (unknowns,)
        1 where an unknown is an integer.
    limits : list of LinearConstraint
        Capacities, stocks and rectangles: never relaxed by the solver.
    """

    mass: Floats
    aft_moment: Floats
    left_moment: Floats
    wheels: Floats
    counts: Floats | None
    whole: Floats
    limits: list[LinearConstraint]


class Aim(NamedTuple):
    """Something to make small: row·v + offset, or its size.

    Attributes
    ----------
    row : array (unknowns,)
    offset : float
    size : bool
        Whether it is |row·v + offset| that counts.
    grain : float
        Differences below this are a tie; it also ends the search for an integer optimum.
    """

    row: Floats
    offset: float = 0.0
    size: bool = False
    grain: float = 1e-6


class Solution(NamedTuple):
    """Values of the unknowns, and whether they are proved best."""

    values: Floats
    proved: bool


def build(
    car: Car,
    places: Sequence[Place],
    pieces: Sequence[Piece],
    most: float,
    centers: Sequence[tuple[float, float]],
) -> Program:
    """Set up the unknowns for places and pieces.

    Parameters
    ----------
    car : Car
    places : sequence of Place
    pieces : sequence of Piece
        None: any mass can be had.
    most : float
        Most ballast in all [kg].
    centers : sequence of tuple
        Aft and left of each place [m], for the side moment on a chassis that twists.

    Returns
    -------
    Program

    References
    ----------
    Derived here; held against another optimizer in tests/oracles.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> program = build(plain_car(), [Place("boot", (2, 2), (0, 0), 0.3)], [], 50, [(2, 0)])
    >>> program.mass.tolist()
    [[0.0, 0.0, 1.0]]
    """
    count, kinds = len(places), max(len(pieces), 1)
    width = 2 * count + count * kinds
    unknowns = np.eye(width)
    aft_moment, left_moment = unknowns[:count], unknowns[count : 2 * count]
    amounts = unknowns[2 * count :].reshape(count, kinds, width)
    piece_mass = np.array([piece.mass for piece in pieces] or [1.0])
    mass = np.einsum("k,pkv->pv", piece_mass, amounts)

    def at(aft: float, left: float) -> Floats:
        return added_loads(car, 1.0, aft, left) / GRAVITY

    origin = at(0, 0)
    wheels = np.outer(origin, mass.sum(axis=0)) + np.outer(
        at(1, 0) - origin, aft_moment.sum(axis=0)
    )
    for row, (aft, _) in zip(left_moment, centers, strict=True):
        wheels += np.outer(at(aft, 1) - at(aft, 0), row)

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
    whole = np.zeros(width)
    if pieces:
        whole[2 * count :] = 1
        stock = [inf if piece.stock is None else piece.stock for piece in pieces]
        room = [inf if place.most_pieces is None else place.most_pieces for place in places]
        limits.append(LinearConstraint(amounts.sum(axis=0), 0, stock))
        limits.append(LinearConstraint(amounts.sum(axis=1), 0, room))
    counts = amounts if pieces else None
    return Program(mass, aft_moment, left_moment, wheels, counts, whole, limits)


def lexicographic(
    program: Program, aims: Sequence[Aim], rules: Sequence[LinearConstraint] = ()
) -> Solution | None:
    """Make the first aim as small as can be, then the second among the ties, and so on.

    Parameters
    ----------
    program : Program
    aims : sequence of Aim
    rules : sequence of LinearConstraint
        What must hold beside the limits of the program.

    Returns
    -------
    Solution or None
        None when it is proved that nothing meets limits and rules; unproved, and at worst all
        zero, when the solver's time ran out.

    References
    ----------
    See `solver.solve`.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> program = build(plain_car(), [Place("boot", (2, 2), (0, 0), 0.3)], [], 50, [(2, 0)])
    >>> total = program.mass.sum(axis=0)
    >>> float(lexicographic(program, [Aim(total)], [LinearConstraint(total, 20, inf)]).values[2])
    20.0
    """
    width = len(program.whole)
    # One more unknown for the size of whatever aim is being made small; never a whole number.
    bounds = Bounds(np.array([*_lowest(program), -inf]), np.full(width + 1, inf))
    held = [_wider(rule) for rule in [*program.limits, *rules]]
    best, proved = np.zeros(width), True
    for place, aim in enumerate(aims):
        scale = _ABSOLUTE_GAP / aim.grain if program.whole.any() else 1.0
        cost = np.zeros(width + 1)
        cost[-1] = scale
        above = LinearConstraint(np.append(-aim.row, 1.0), aim.offset, inf)
        below = LinearConstraint(np.append(aim.row, 1.0), -aim.offset, inf)
        binding = [*held, above, *([below] if aim.size else [])]
        found = solve(cost, np.append(program.whole, 0), bounds, binding)
        if found.values is None:
            if place == 0 and found.proved:
                return None
            # The ties of the first aim can't be empty: it is the solver's own tolerance speaking.
            proved = proved and found.proved
            break
        best, proved = found.values[:-1], proved and found.proved
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
    return Solution(best, proved)


def _lowest(program: Program) -> Floats:
    """Let amounts start at zero and moments be of either sign."""
    moments = len(program.aft_moment) + len(program.left_moment)
    return np.where(np.arange(len(program.whole)) < moments, -inf, 0.0)


def _wider(rule: LinearConstraint) -> LinearConstraint:
    rows = np.atleast_2d(np.asarray(rule.A))
    return LinearConstraint(np.hstack([rows, np.zeros((len(rows), 1))]), rule.lb, rule.ub)
