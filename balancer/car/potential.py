"""Potential energy of a car on real corners: its slope, its curvature, and where it ends.

Unknown are the attitude of the body and the travel of the four wheels. Springs, stops, bars, tires
and weight store energy; a solid droop stop stores none and is the least travel of its wheel.
"""

from collections.abc import Sequence

import numpy as np

from balancer.car.adjusters import Moves
from balancer.car.body import twist_stiffness, weight_arms
from balancer.car.conventions import GRAVITY, Flags, Floats, Integers
from balancer.car.leaning import Masses, lean_of
from balancer.car.model import Item
from balancer.car.operating_point import OperatingPoint


class Potential:
    """Gradient and curvature of the potential energy: body first, then the travel of the wheels.

    Attributes:
        lowest: (m, 4), least travel that each wheel has in each case [m]; minus infinity where
            nothing solid ends it.
    """

    def __init__(
        self,
        point: OperatingPoint,
        moves: Moves,
        pads: Floats | None = None,
        put_on: Sequence[Item] = (),
        taken_off: Sequence[Item] = (),
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
        self.own = twist_stiffness(car) - np.diag(_softening(point, put_on, taken_off))
        ratio = np.array([link.ratio for link in car.links] or [1.0, 1.0])
        self.longer = point.misfit + moves.link / ratio
        self.soft = [0.0 if one.solid_droop else one.droop_rate for one in car.corners]
        self.lowest = self._lowest()

    def _lowest(self) -> Floats:
        """Give the wheel travel at which each shock is fully extended (m, 4), if it ends there."""
        point, lowest = self.point, np.full(self.moves.mount.shape, -np.inf)
        for number, corner in enumerate(point.car.corners):
            if corner.solid_droop:
                out = -point.shock[number] - self.moves.mount[:, number]
                lowest[:, number] = point.ratios[number].travels(out)
        return lowest

    def held(self, place: Floats, gradient: Floats, rows: Integers) -> Flags:
        """Say which of the unknowns are pushed against their ends (m, n) in these rows."""
        held = np.zeros(place.shape, dtype=bool)
        at_end = place[:, self.bodily :] <= self.lowest[rows]
        held[:, self.bodily :] = at_end & (gradient[:, self.bodily :] >= 0)
        return held

    def gradient(self, place: Floats, rows: Integers) -> Floats:
        """Give the forces left over (m, n) in these rows."""
        force, squash, _ = self._corners(place, rows, with_rates=False)
        on_hub = self.hub_weight - self.point.tire_rate * np.maximum(squash, 0.0)
        body = place[:, : self.bodily] @ self.own + self.pull + on_hub @ self.point.basis
        return np.hstack([body, force + on_hub])

    def hessian(self, place: Floats, rows: Integers) -> Floats:
        """Give how the forces left over change with place (m, n, n) in these rows."""
        _, squash, stiffness = self._corners(place, rows, with_rates=True)
        basis, bodily = self.point.basis, self.bodily
        tire = np.where(squash > 0, self.point.tire_rate, 0.0)
        on_body = tire[:, :, None] * basis
        hessian = np.zeros((len(place), self.unknowns, self.unknowns))
        hessian[:, :bodily, :bodily] = basis.T @ on_body + self.own
        hessian[:, bodily:, :bodily] = on_body
        hessian[:, :bodily, bodily:] = on_body.swapaxes(1, 2)
        hessian[:, bodily:, bodily:] = stiffness
        corner = np.arange(bodily, self.unknowns)
        hessian[:, corner, corner] += tire
        # A newton per meter keeps what hangs free from having no step at all.
        every = np.arange(self.unknowns)
        hessian[:, every, every] += 1.0
        return hessian

    def _corners(
        self, place: Floats, rows: Integers, with_rates: bool
    ) -> tuple[Floats, Floats, Floats]:
        """Give what each corner pushes, the squash of the tires, and all rates as (m, 4, 4)."""
        point, moves = self.point, self.moves
        travel = place[:, self.bodily :]
        hubs = travel + place[:, : self.bodily] @ point.basis.T
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
            axial += self.soft[number] * np.minimum(shock, 0.0)
            force[:, number] = axial * leverage
            if with_rates:
                stiff = corner.spring.slope(spring) + corner.bump.slope(bump)
                stiff += np.where(shock < 0, self.soft[number], 0.0)
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


def without(hessian: Floats, held: Flags) -> Floats:
    """Leave unknowns that are held out of systems of equations.

    Args:
        hessian: (m, n, n)
        held: (m, n)
    """
    free = ~held
    kept = np.where(free[:, :, None] & free[:, None, :], hessian, 0.0)
    every = np.arange(held.shape[1])
    kept[:, every, every] += held
    return kept


def _softening(point: OperatingPoint, put_on: Sequence[Item], taken_off: Sequence[Item]) -> Floats:
    """Give what weight takes off the stiffness, (n,), with masses as high as they are.

    The height in the file is that of the car without them. What leaves is where it is as the car
    leans by it, and counts as what comes on does.
    """
    car, on, off = point.car, Masses.of(put_on), Masses.of(taken_off)
    bare = point.softening - lean_of(car, off._replace(up=np.zeros(len(off.up))))
    return np.asarray(bare + lean_of(car, on) + lean_of(car, off))
