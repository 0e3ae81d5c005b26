"""Statics of a car on real corners: where it comes to rest after moves, many cases at a time.

Potential energy of springs, stops, bars, tires and weight is convex in the attitude of the body
and the travel of the four wheels, and smooth with a kinked gradient; so it has one minimum, and
Newton's method with an exact line search finds it. A solid droop stop is the least travel that its
wheel has: no spring, but an end; wheels that are pushed against it are held there by a step.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from balancer.car.adjusters import Moves
from balancer.car.answers import Contacts
from balancer.car.conventions import Flags, Floats, Integers
from balancer.car.errors import UnstableCarError
from balancer.car.model import Item
from balancer.car.operating_point import OperatingPoint
from balancer.car.potential import Potential, without

REST = 1e-9
"""Forces left over at rest, as a share of the weight."""

_MOST_STEPS = 100

_ENOUGH = 0.5
"""Share of the first downhill slope that may be left, uphill, without a shorter step."""


class Equilibrium(NamedTuple):
    """Cars at rest, one a row.

    Attributes:
        loads: (m, 4) [N].
        heights: (m, 4), how far the body has risen above each wheel station [m].
        travel: (m, 4), wheel travel since, hub against body, bump positive [m].
        compression, shock: (m, 4), as in `operating_point.OperatingPoint` [m].
        topped_out: (m, 4) of bool, which shocks are on their droop stops.
    """

    loads: Floats
    heights: Floats
    travel: Floats
    compression: Floats
    shock: Floats
    topped_out: Flags


def solve_equilibrium(
    point: OperatingPoint,
    moves: Moves,
    pads: Floats | None = None,
    put_on: Sequence[Item] = (),
    taken_off: Sequence[Item] = (),
) -> Equilibrium:
    """Find where the car comes to rest.

    Args:
        pads: (4,) or None, rise of the pads [m].
        put_on, taken_off: Masses on the body.

    Returns:
        Of every row of `moves`, forces left over within `REST` of the weight.

    Raises:
        UnstableCarError: Where there is no rest: too much weight too high on too little spring.

    References:
        Minimum of potential energy; derived here. Held against mujoco and cvxpy in tests/oracles.
    """
    potential = Potential(point, moves, pads, put_on, taken_off)
    place, tipped = _rest(potential)
    if tipped.any():
        raise UnstableCarError
    return _read(potential, place)


def solve_or_tip(point: OperatingPoint, moves: Moves) -> tuple[Equilibrium, Flags]:
    """Find where the car comes to rest, and where it does not.

    Returns:
        tuple of Equilibrium and array of bool (m,), all cases, and in which of them the car
        tips over: there the rest means nothing.
    """
    potential = Potential(point, moves)
    place, tipped = _rest(potential)
    return _read(potential, place), tipped


def _rest(car: Potential) -> tuple[Floats, Flags]:
    """Go downhill until no force is left over, and say where there is no end to it."""
    place, gradient = _start(car)
    most = REST * float(car.point.loads.sum())
    left, held = _moving(car, place, gradient, np.arange(len(place)), most)
    for _ in range(_MOST_STEPS):
        if not len(left):
            break
        along = _step(car, place[left], gradient[left], left, held)
        place[left], gradient[left] = _gone(car, place[left], along, gradient[left], left)
        left, held = _moving(car, place, gradient, left, most)
    tipped = np.isin(np.arange(len(place)), left)
    return place, tipped | _on_a_ridge(car, place, gradient)


def _start(car: Potential) -> tuple[Floats, Floats]:
    """Guess where each case comes to rest as if nothing were touched but solid droop stops.

    What stands on the top of a hill has no force left over either, and is refused.
    """
    rows = np.arange(len(car.moves.perch))
    place = np.zeros((len(rows), car.unknowns))
    unmoved, pushed = Potential(car.point, Moves.none()), car.gradient(place, rows)
    still = unmoved.hessian(place[:1], rows[:1])
    held = np.append(np.zeros(car.bodily, dtype=bool), unmoved.lowest[0] >= 0)[None]
    if np.linalg.eigvalsh(without(still, held))[0, 0] <= 0:
        raise UnstableCarError
    ends = np.hstack([np.full((len(rows), car.bodily), -np.inf), car.lowest])
    place = _guess(still, pushed, held, ends)
    beyond = place < ends
    while (left := np.flatnonzero(beyond.any(axis=1))).size:
        held = np.broadcast_to(held, ends.shape) | beyond
        place[left] = _guess(still, pushed[left], held[left], ends[left])
        beyond = place < ends
    return place, car.gradient(place, rows)


def _guess(still: Floats, pushed: Floats, held: Flags, ends: Floats) -> Floats:
    """Take one step (m, n) on springs that do the same everywhere, with what is held at its end."""
    at_end = np.where(held, ends, 0.0)
    system, right = without(still, held), np.where(held, 0.0, pushed + at_end @ still[0])
    if len(system) == 1:
        return np.asarray(at_end - np.linalg.solve(system[0], right.T).T)
    return np.asarray(at_end - np.linalg.solve(system, right[..., None])[..., 0])


def _moving(
    car: Potential, place: Floats, gradient: Floats, rows: Integers, most: float
) -> tuple[Integers, Flags]:
    """Give those rows that are not at rest yet, and what is pushed against its end there."""
    held = car.held(place[rows], gradient[rows], rows)
    left_over = np.abs(np.where(held, 0.0, gradient[rows])).max(axis=1) > most
    return rows[left_over], held[left_over]


def _step(car: Potential, place: Floats, gradient: Floats, rows: Integers, held: Flags) -> Floats:
    """Give Newton's step (m, n) in these rows, with what is held left where it is."""
    hessian = car.hessian(place, rows)
    some = held.any(axis=1)
    if some.any():
        hessian[some] = without(hessian[some], held[some])
        gradient = np.where(held, 0.0, gradient)
    return -np.asarray(np.linalg.solve(hessian, gradient[..., None])[..., 0], float)


def _gone(
    car: Potential, place: Floats, along: Floats, gradient: Floats, rows: Integers
) -> tuple[Floats, Floats]:
    """Go along each step, to an end of travel or where the energy stops falling, if before."""
    there = _up_to_the_end(car, place, along, rows)
    along = there - place
    left_over = car.gradient(there, rows)
    uphill = np.einsum("mi,mi->m", left_over, along)
    far = uphill > -_ENOUGH * np.einsum("mi,mi->m", gradient, along)
    if far.any():
        start, step, cases = place[far], along[far], rows[far]
        low, high = np.zeros(len(start)), np.ones(len(start))
        for _ in range(30):
            middle = (low + high) / 2
            slope = car.gradient(start + middle[:, None] * step, cases)
            beyond = np.einsum("mi,mi->m", slope, step) > 0
            low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
        there[far] = start + high[:, None] * step
        left_over[far] = car.gradient(there[far], cases)
    return there, left_over


def _up_to_the_end(car: Potential, place: Floats, along: Floats, rows: Integers) -> Floats:
    """Go along each step, but no farther than the first wheel comes to the end of its travel.

    One that is there and would go on stays, which costs the step nothing of its way down: see
    D. P. Bertsekas, Projected Newton methods for optimization problems with simple constraints,
    SIAM J. Control Optim. 20 (1982), 221-246; from memory.
    """
    there = place + along
    travel, lowest = place[:, car.bodily :], car.lowest[rows]
    if (there[:, car.bodily :] >= lowest).all():
        return there
    step = along[:, car.bodily :]
    step = np.where((travel <= lowest) & (step < 0), 0.0, step)
    along = np.hstack([along[:, : car.bodily], step])
    room = np.full(step.shape, np.inf)
    np.divide(lowest - travel, step, out=room, where=step < 0)
    part = np.minimum(room.min(axis=1, keepdims=True), 1.0)
    there = place + part * along
    there[:, car.bodily :] = np.where(
        room <= part, lowest, np.maximum(there[:, car.bodily :], lowest)
    )
    return np.asarray(there)


def _on_a_ridge(car: Potential, place: Floats, gradient: Floats) -> Flags:
    """Say where the car balances (m,) but would tip over at a touch.

    The guess started from a car that stands, so only wheels off the ground can make it so.
    """
    hubs = place[:, : car.bodily] @ car.point.basis.T + place[:, car.bodily :]
    ridge: Flags = np.asarray((hubs >= car.squash).any(axis=1))
    rows = np.flatnonzero(ridge)
    if len(rows):
        held = car.held(place[rows], gradient[rows], rows)
        stiff = np.linalg.eigvalsh(without(car.hessian(place[rows], rows), held))
        ridge[rows] = stiff[:, 0] <= 0
    return ridge


def _read(car: Potential, place: Floats) -> Equilibrium:
    """Read what there is to know of the car at rest."""
    heights = place[:, : car.bodily] @ car.point.basis.T
    travel = place[:, car.bodily :]
    hubs = heights + travel
    compression, shock = np.empty_like(travel), np.empty_like(travel)
    for corner, ratio in enumerate(car.point.ratios):
        closed = ratio.closing(travel[:, corner]) + car.moves.mount[:, corner]
        shock[:, corner] = car.point.shock[corner] + closed
        compression[:, corner] = car.point.compression[corner] + closed + car.moves.perch[:, corner]
    ended = travel <= car.lowest
    return Equilibrium(
        loads=car.point.tire_rate * np.maximum(car.squash - hubs, 0.0),
        heights=heights,
        travel=travel,
        compression=compression,
        shock=np.where(ended, 0.0, shock),
        topped_out=ended | ((np.array(car.soft) > 0) & (shock < -1e-12)),
    )


def contacts(point: OperatingPoint, equilibrium: Equilibrium) -> Contacts:
    """Say what each corner stands on.

    Returns:
        (m, 4) each.
    """
    corners = point.car.corners
    return Contacts(
        topped_out=equilibrium.topped_out,
        bumped=equilibrium.shock > np.array([corner.bump_at for corner in corners]),
        solid=equilibrium.compression >= np.array([corner.solid for corner in corners]),
        loose=equilibrium.compression <= 0,
        lifted=equilibrium.loads <= 0,
    )
