"""Which steps go together: a car on real corners as a linear one and what that is wrong by at most.

Heights, loads, wheel travel, bars, links, tires and the chassis are linear; springs, stops and
ratios alone are not. Of each corner a plane stands for them, and how far they are from the plane
within limits is bounded piece by piece. So whatever steps meet the limits lie between two
parallel planes for every height and the cross weight, and few others do.
"""

from itertools import product
from typing import NamedTuple

import numpy as np

from balancer.car.body import twist_stiffness
from balancer.car.conventions import GRAVITY, Flags, Floats, Integers
from balancer.car.linear import free_pattern
from balancer.car.operating_point import OperatingPoint
from balancer.planning.perches.bounds import Span, loads_within, wheels_within
from balancer.planning.perches.planes import Plane, Reach, fitted
from balancer.planning.perches.rectangles import HAIR, Ways
from balancer.planning.perches.work import FITTED, SLANT, Work

_MOST_SLANTS = 24
"""How many ways to take one plane of each corner are looked at."""

_SINGULAR = 1e10
"""From this condition on nothing is learned from the planes of the corners."""


Planes = dict[tuple[int, str, Reach, tuple[float, float], bool], list[Plane]]
"""Planes laid before: of a corner, how it is turned, where it can be, its moves, and `free`."""


class Motion(NamedTuple):
    """What steps of chosen adjusters move, a column each.

    Attributes:
        perch, mount: (4, k) [m].
        longer: (2, k), of the left links at the wheel [m].
        least, most: (k,), limits of the steps.
    """

    perch: Floats
    mount: Floats
    longer: Floats
    least: Integers
    most: Integers


class Slant(NamedTuple):
    """Rows of sums of steps, each of which is within limits where the steps are.

    Attributes:
        rows: (r, k), the four heights, the cross weight, and whatever else is limited.
        low, high: (r,).
        wrong: (r,), by how much a row may be wrong; counted in low and high.
        wanted: (r,), where heights and cross weight are what is wanted.
    """

    rows: Floats
    low: Floats
    high: Floats
    wrong: Floats
    wanted: Floats

    def least_off(self, steps: Integers) -> tuple[Floats, Floats]:
        """Give what cross weight [1] and heights [m] are off by at least, (m,) each."""
        off = np.maximum(np.abs(steps @ self.rows[:5].T - self.wanted) - self.wrong[:5], 0.0)
        return off[:, 4], off[:, :4].max(axis=1)


class Body(NamedTuple):
    """What is shown by what is within the rest of four planes, (r,) and more, whatever is turned.

    Attributes:
        shown: (r, 4), by what each corner is moved.
        low, high, wrong: (r,), as in `Slant`.
        at: (r,), what is shown where nothing is moved.
    """

    shown: Floats
    low: Floats
    high: Floats
    wrong: Floats
    at: Floats


class Frame:
    """All of the car but its four corners, within limits; linear.

    Unknown are the moves of the body, and where it is rigid the amount of the free load pattern.

    Args:
        rises, cross, longer: As in `bounds.reach`.
        free: (4,) of bool, which corners must not come to stand on a stop.
        work: Where what is done is counted.
        planes: Those that were laid before, for any limits.
    """

    def __init__(
        self,
        point: OperatingPoint,
        rises: Span,
        cross: Span,
        longer: Span,
        free: Flags,
        work: Work,
        planes: Planes,
    ) -> None:
        self.point, self.free, self.work, self.planes = point, free, work, planes
        self.bodies: dict[tuple[Plane, ...], Body | None] = {}
        car, bodily = point.car, point.basis.shape[1]
        loads = loads_within(point, rises, cross)
        # What a wheel travels at most before it leaves the ground.
        self.lifts = point.loads / point.tire_rate - rises.low
        self.free_from = np.where(loads.low > 0, np.inf, point.loads / point.tire_rate - rises.high)
        _, self.travels, self.forces = wheels_within(point, loads, rises, longer)
        own = twist_stiffness(car) - np.diag(point.softening)
        shifted = np.linalg.pinv(point.basis.T) @ own
        if bodily == 3:
            self.heights = np.column_stack([point.basis, np.zeros(4)])
            self.loads = np.column_stack([shifted, free_pattern(car.tracks) * point.loads.sum()])
        else:
            self.heights, self.loads = point.basis, shifted
        self.travel = -self.loads / point.tire_rate[:, None] - self.heights
        self.force, self.rest = self.loads.copy(), point.loads - car.unsprung_mass * GRAVITY
        self.by_links = np.zeros((4, 2))
        for axle, bar in enumerate(point.bar_rate.tolist()):
            left, right = 2 * axle, 2 * axle + 1
            twist = bar * (self.travel[left] - self.travel[right])
            for wheel, side in ((left, -1.0), (right, 1.0)):
                self.force[wheel] += side * twist
                self.rest[wheel] += side * bar * point.misfit[axle]
                self.by_links[wheel, axle] = side * bar
        total, pattern = point.loads.sum(), free_pattern(car.tracks)
        across, bent = np.array([0.0, 1.0, 1.0, 0.0]) / total, rises.times(pattern)
        bend = pattern @ self.heights if bodily == 4 else np.zeros(4)
        # Heights, cross weight, how far the body is bent, travels, and loads.
        self.shown = np.vstack(
            [
                self.heights, across @ self.loads, bend, self.travel,
                self.loads / total,
            ]
        )  # fmt: skip
        self.now = float(across @ point.loads)
        none, loose = point.loads / total, np.full(4, np.inf)
        self.low = np.array([*rises.low, cross.low - self.now, bent.low.sum(), *-loose, *-none])
        self.high = np.array([*rises.high, cross.high - self.now, bent.high.sum(), *loose, *loose])

    def slants(self, motion: Motion, wanted: tuple[Floats, float]) -> list[Slant] | None:
        """Give the rows for chosen adjusters: what meets the limits is within one of them.

        Args:
            wanted: Rises of the four stations [m], and cross weight.

        Returns:
            None where nothing is known.
        """
        pieces = [self._pieces(corner, motion) for corner in range(4)]
        if np.prod([len(one) - 1 for one in pieces]) > _MOST_SLANTS:
            pieces = [one[:1] for one in pieces]
        else:
            pieces = [one[1:] for one in pieces]
        self.work.spend(SLANT * np.prod([len(one) for one in pieces]))
        slants = [self._slant(motion, wanted, planes) for planes in product(*pieces)]
        known = [one for one in slants if one is not None]
        return known if len(known) == len(slants) else None

    def _slant(
        self, motion: Motion, wanted: tuple[Floats, float], planes: tuple[Plane, ...]
    ) -> Slant | None:
        if planes not in self.bodies:
            self.bodies[planes] = self._body(planes)
        body = self.bodies[planes]
        if body is None:
            return None
        move, force = (np.array([one[n] for one in planes]) for n in (0, 2))
        steps = move[:, None] * (motion.perch + motion.mount)
        steps -= force[:, None] * (self.by_links @ motion.longer)
        aim = np.append(wanted[0], wanted[1] - self.now) + body.at[:5]
        return Slant(body.shown @ steps, body.low, body.high, body.wrong, aim)

    def _body(self, planes: tuple[Plane, ...]) -> Body | None:
        travel, force = (np.array([one[n] for one in planes]) for n in (1, 2))
        ends, travels = (np.array([one[n] for one in planes]) for n in (3, 4))
        # A wheel in the air is farther up than its load says.
        up = np.maximum(travels[:, 1] - self.free_from, 0.0)
        ends[:, 0] += np.minimum(travel * up, 0.0)
        ends[:, 1] += np.maximum(travel * up, 0.0)
        moved = travel[:, None] * self.travel + force[:, None] * self.force
        scale = np.abs(moved).max(axis=0)
        if (scale == 0).any() or np.linalg.cond(moved / scale) > _SINGULAR:
            return None
        shown = self.shown @ np.linalg.inv(moved)
        low, high = self.low.copy(), self.high.copy()
        low[6:10], high[6:10] = travels[:, 0] - up, travels[:, 1]
        wrong = np.abs(shown) @ (np.ptp(ends, axis=1) / 2) + HAIR
        at = shown @ (force * self.rest + ends.mean(axis=1))
        return Body(shown, low + at - wrong, high + at + wrong, wrong, at)

    def _pieces(self, corner: int, motion: Motion) -> list[Plane]:
        perch, mount = motion.perch[corner], motion.mount[corner]
        kind = "mount" if mount.any() else "perch" if perch.any() else "still"
        per_step = perch + mount
        ends = per_step * motion.least, per_step * motion.most
        moves = float(np.min(ends, axis=0).sum()), float(np.max(ends, axis=0).sum())
        travel, force = self.travels.at(corner), self.forces.at(corner)
        reach = Reach(travel, force, float(self.lifts[corner]))
        laid = corner, kind, reach, moves, bool(self.free[corner])
        if laid not in self.planes:
            self.work.spend(FITTED)
            # A perch turned where the shock stays topped out is idle.
            off_stop = kind == "perch" and bool(self.point.topped_out[corner])
            ways = Ways(self.point, corner, kind == "mount", off_stop)
            self.planes[laid] = fitted(ways, reach, moves, kind == "still", laid[-1])
        return self.planes[laid]
