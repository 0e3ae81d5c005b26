"""Statics of a car on real corners: where it comes to rest after moves, many cases at a time.

Potential energy of springs, stops, bars, tires and weight is convex in the attitude of the body
and the heights of the four hubs, and smooth with a kinked gradient; so it has one minimum, and
Newton's method with an exact line search finds it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from balancer.car.adjusters import Moves
from balancer.car.answers import Contacts
from balancer.car.body import twist_stiffness, weight_arms
from balancer.car.conventions import GRAVITY, Flags, Floats, Integers
from balancer.car.model import Item
from balancer.car.operating_point import OperatingPoint
from balancer.errors import UnstableCarError

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
    """

    loads: Floats
    heights: Floats
    travel: Floats
    compression: Floats
    shock: Floats

    @property
    def topped_out(self) -> Flags:
        """Which droop stops are loaded, (m, 4)."""
        return self.shock < -1e-12


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
    equations = _Equations(point, moves, pads, put_on, taken_off)
    place, tipped = _rest(equations)
    if tipped.any():
        raise UnstableCarError
    return equations.equilibrium(place)


def solve_or_tip(point: OperatingPoint, moves: Moves) -> tuple[Equilibrium, Flags]:
    """Find where the car comes to rest, and where it does not.

    Returns:
        tuple of Equilibrium and array of bool (m,), all cases, and in which of them the car
        tips over: there the rest means nothing.
    """
    equations = _Equations(point, moves, None, (), ())
    place, tipped = _rest(equations)
    return equations.equilibrium(place), tipped


def _rest(equations: _Equations) -> tuple[Floats, Flags]:
    """Go downhill until no force is left over, and say where there is no end to it."""
    place, gradient = equations.start()
    most = REST * float(equations.point.loads.sum())
    left = np.flatnonzero(np.abs(gradient).max(axis=1) > most)
    for _ in range(_MOST_STEPS):
        if not len(left):
            break
        hessian = equations.hessian(place[left], left)
        along = -np.asarray(np.linalg.solve(hessian, gradient[left][..., None])[..., 0], float)
        place[left], gradient[left] = equations.gone(place[left], along, gradient[left], left)
        left = left[np.abs(gradient[left]).max(axis=1) > most]
    return place, np.isin(np.arange(len(place)), left)


class _Equations:
    """Gradient and curvature of the potential energy: body first, then the four hubs."""

    def __init__(
        self,
        point: OperatingPoint,
        moves: Moves,
        pads: Floats | None,
        put_on: Sequence[Item],
        taken_off: Sequence[Item],
    ) -> None:
        car = point.car
        self.point, self.moves = point, moves
        self.bodily = point.basis.shape[1]
        self.unknowns = self.bodily + 4
        self.squash = point.loads / point.tire_rate + (np.zeros(4) if pads is None else pads)
        self.hub_weight = car.unsprung_mass * GRAVITY
        # What the springs hold up as the car stands is what weighs on them, whatever it is.
        self.pull = point.basis.T @ (point.loads - self.hub_weight)
        for items, sign in ((put_on, 1.0), (taken_off, -1.0)):
            for item in items:
                self.pull += sign * item.mass * GRAVITY * weight_arms(car, item.aft, item.left)
        self.own = twist_stiffness(car) - np.diag(point.softening)
        ratio = np.array([link.ratio for link in car.links] or [1.0, 1.0])
        self.longer = point.misfit + moves.link / ratio

    def start(self) -> tuple[Floats, Floats]:
        """Guess where each case comes to rest as if nothing else were touched, and look there.

        What stands on the top of a hill has no force left over either, and is refused.
        """
        rows = np.arange(len(self.moves.perch))
        place = np.zeros((len(rows), self.unknowns))
        unmoved = _Equations(self.point, Moves.none(), None, (), ())
        still = unmoved.hessian(place[:1], rows[:1])[0]
        if np.linalg.eigvalsh(still)[0] <= 0:
            raise UnstableCarError
        place = -np.linalg.solve(still, self.gradient(place, rows).T).T
        return place, self.gradient(place, rows)

    def gradient(self, place: Floats, rows: Integers) -> Floats:
        """Give the forces left over (m, n) in these rows."""
        force, squash, _ = self._corners(place, rows, with_rates=False)
        body = place[:, : self.bodily] @ self.own + self.pull - force @ self.point.basis
        pushed = self.point.tire_rate * np.maximum(squash, 0.0)
        return np.hstack([body, force + self.hub_weight - pushed])

    def hessian(self, place: Floats, rows: Integers) -> Floats:
        """Give how the forces left over change with place (m, n, n) in these rows."""
        _, squash, stiffness = self._corners(place, rows, with_rates=True)
        basis, bodily = self.point.basis, self.bodily
        hessian = np.zeros((len(place), self.unknowns, self.unknowns))
        hessian[:, :bodily, :bodily] = basis.T @ stiffness @ basis + self.own
        hessian[:, :bodily, bodily:] = -basis.T @ stiffness
        hessian[:, bodily:, :bodily] = -stiffness @ basis
        hessian[:, bodily:, bodily:] = stiffness
        touching = np.where(squash > 0, self.point.tire_rate, 0.0)
        corner = np.arange(bodily, self.unknowns)
        hessian[:, corner, corner] += touching
        # A newton per meter keeps what hangs free from having no step at all.
        every = np.arange(self.unknowns)
        hessian[:, every, every] += 1.0
        return hessian

    def gone(
        self, place: Floats, along: Floats, gradient: Floats, rows: Integers
    ) -> tuple[Floats, Floats]:
        """Go along each step, to where the energy stops falling if that comes first."""
        there = place + along
        left_over = self.gradient(there, rows)
        uphill = np.einsum("mi,mi->m", left_over, along)
        far = uphill > -_ENOUGH * np.einsum("mi,mi->m", gradient, along)
        if far.any():
            start, step, cases = place[far], along[far], rows[far]
            low, high = np.zeros(len(start)), np.ones(len(start))
            for _ in range(30):
                middle = (low + high) / 2
                slope = self.gradient(start + middle[:, None] * step, cases)
                beyond = np.einsum("mi,mi->m", slope, step) > 0
                low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
            there[far] = start + high[:, None] * step
            left_over[far] = self.gradient(there[far], cases)
        return there, left_over

    def equilibrium(self, place: Floats) -> Equilibrium:
        """Read what there is to know of the car at rest."""
        heights = place[:, : self.bodily] @ self.point.basis.T
        hubs = place[:, self.bodily :]
        travel = hubs - heights
        compression, shock = np.empty_like(travel), np.empty_like(travel)
        for corner, ratio in enumerate(self.point.ratios):
            closed = ratio.closing(travel[:, corner]) + self.moves.mount[:, corner]
            shock[:, corner] = self.point.shock[corner] + closed
            compression[:, corner] = (
                self.point.compression[corner] + closed + self.moves.perch[:, corner]
            )
        loads = self.point.tire_rate * np.maximum(self.squash - hubs, 0.0)
        return Equilibrium(loads, heights, travel, compression, shock)

    def _corners(
        self, place: Floats, rows: Integers, with_rates: bool
    ) -> tuple[Floats, Floats, Floats]:
        """Give what each corner pushes, the squash of the tires, and all rates as (m, 4, 4)."""
        point, moves = self.point, self.moves
        hubs = place[:, self.bodily :]
        travel = hubs - place[:, : self.bodily] @ point.basis.T
        force, stiffness = np.empty_like(travel), np.zeros((len(place), 4, 4))
        for number, corner in enumerate(point.car.corners):
            ratio = point.ratios[number]
            moved = travel[:, number]
            leverage = ratio.value(moved)
            closed = ratio.closing(moved) + moves.mount[rows, number]
            spring = point.compression[number] + closed + moves.perch[rows, number]
            shock = point.shock[number] + closed
            bump = shock - corner.bump_at
            axial = corner.spring.force(spring) + corner.bump.force(bump)
            axial += corner.droop_rate * np.minimum(shock, 0.0)
            force[:, number] = axial * leverage
            if with_rates:
                stiff = corner.spring.slope(spring) + corner.bump.slope(bump)
                stiff += np.where(shock < 0, corner.droop_rate, 0.0)
                stiff = stiff * leverage**2 + axial * ratio.slope(moved)
                stiffness[:, number, number] = stiff
        for axle, bar in enumerate(point.bar_rate.tolist()):
            if bar:
                left, right = 2 * axle, 2 * axle + 1
                twist = bar * (travel[:, left] - travel[:, right] + self.longer[rows, axle])
                force[:, left] += twist
                force[:, right] -= twist
                both = slice(left, right + 1)
                stiffness[:, both, both] += bar * np.array([[1.0, -1.0], [-1.0, 1.0]])
        return force, self.squash - hubs, stiffness


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
