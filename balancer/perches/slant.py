"""Which steps go together: a car on real corners as a linear one and what that is wrong by at most.

Heights, loads, wheel travel, bars, links, tires and the chassis are linear; springs, stops and
ratios alone are not. Of each corner a plane stands for them, and how far they are from the plane
within limits is bounded piece by piece. So whatever steps meet the limits lie between two
parallel planes for every height and the cross weight, and few others do.
"""

from __future__ import annotations

from itertools import product
from typing import NamedTuple

import numpy as np

from balancer.car.body import twist_stiffness
from balancer.car.conventions import GRAVITY, Flags, Floats, Integers
from balancer.car.curves import ForceCurve
from balancer.car.linear import free_pattern
from balancer.car.operating_point import OperatingPoint
from balancer.perches.bounds import Span, loads_within, wheels_within
from balancer.perches.work import CELL, FITTED, SLANT, Work

_PARTS = 12
"""Into how many parts the travel of a corner is cut, and its force: what is left is a fraction."""

_FARTHEST = 1.0
"""Farther than any adjuster goes [m]."""

_TOUCH = 1e-4
"""Less than any force that matters [N]."""

_THIN = 1e-8
"""Of compression, what a change of rate within makes no difference [m]."""

_HALVINGS = 30

_FLAT = 0.05
"""Part of what a corner does by which it may be off one plane."""

_MOST_SLANTS = 24
"""How many ways to take one plane of each corner are looked at."""

_MOST_PIECES = 4

_ON_THE_WAY = 4
"""Times as many as are wanted in the end may be looked at on the way there."""

_SINGULAR = 1e10
"""From this condition on nothing is learned from the planes of the corners."""

_HAIR = 1e-9
"""Less than any move or travel that matters [m], or part of a load [1]."""


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


class _Plane(NamedTuple):
    """A corner's move · `move` as travel · `travel` + force · `force` + something within `rest`.

    Attributes:
        move: 1; 0 on a stop, where the travel is what it is whatever the move.
        travels: Least and most wheel travel of it [m].
    """

    move: float
    travel: float
    force: float
    rest: tuple[float, float]
    travels: tuple[float, float]

    def part(self, travel: float, force: float) -> float:
        """Give how far it is from the plane, as part of all that it does over travel and force."""
        every = abs(self.travel) * travel + abs(self.force) * force
        return (self.rest[1] - self.rest[0]) / every if every > 0 else np.inf


class Frame:
    """All of the car but its four corners, within limits; linear.

    Unknown are the moves of the body, and where it is rigid the amount of the free load pattern.

    Args:
        rises, cross, longer: As in `bounds.reach`.
        free: (4,) of bool, which corners must not come to stand on a stop.
        work: Where what is done is counted.
    """

    def __init__(
        self, point: OperatingPoint, rises: Span, cross: Span, longer: Span, free: Flags, work: Work
    ) -> None:
        self.point, self.free, self.work = point, free, work
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
        self.planes: dict[tuple[int, str], list[_Plane]] = {}
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
        self, motion: Motion, wanted: tuple[Floats, float], planes: tuple[_Plane, ...]
    ) -> Slant | None:
        move, travel, force = (np.array([one[n] for one in planes]) for n in range(3))
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
        steps = move[:, None] * (motion.perch + motion.mount)
        steps -= force[:, None] * (self.by_links @ motion.longer)
        wrong = np.abs(shown) @ (np.ptp(ends, axis=1) / 2) + _HAIR
        at = shown @ (force * self.rest + ends.mean(axis=1))
        aim = np.append(wanted[0], wanted[1] - self.now)
        return Slant(shown @ steps, low + at - wrong, high + at + wrong, wrong, aim + at[:5])

    def _pieces(self, corner: int, motion: Motion) -> list[_Plane]:
        perch, mount = motion.perch[corner], motion.mount[corner]
        kind = "mount" if mount.any() else "perch" if perch.any() else "still"
        if (corner, kind) not in self.planes:
            per_step = perch + mount
            ends = per_step * motion.least, per_step * motion.most
            moves = float(np.min(ends, axis=0).sum()), float(np.max(ends, axis=0).sum())
            self.work.spend(FITTED)
            self.planes[corner, kind] = self._fitted(corner, kind, moves)
        return self.planes[corner, kind]

    def _fitted(self, corner: int, kind: str, moves: tuple[float, float]) -> list[_Plane]:
        """Lay planes through what a corner can do; none where that is nothing.

        Returns:
            One through all of it, and then one through each piece.
        """
        # A perch turned where the shock stays topped out is idle.
        off_stop = kind == "perch" and bool(self.point.topped_out[corner])
        ways = _Ways(self.point, corner, kind == "mount", off_stop)
        t, f = self._rectangles(corner, ways)
        some, kept = ways.within(t, f)
        low, high = some.moves
        kept &= (low <= moves[1] + _HAIR) & (high >= moves[0] - _HAIR)
        if self.free[corner]:
            kept &= ways.unstopped(t, high)
        if not kept.any():
            return []
        some = some.of(kept)
        some = some._replace(moves=np.clip(some.moves, *moves), at=ways.corners_of(some))
        box = float(np.ptp(t)), float(np.ptp(f))
        every = some.plane(box, kind == "still")
        pieces = np.unique(some.piece).tolist() if every.part(*box) > _FLAT else []
        if 1 < len(pieces) <= _MOST_PIECES:
            each = (some.of(some.piece == one) for one in pieces)
            return [every, *(one.plane(box, kind == "still") for one in each)]
        return [every, every]

    def _rectangles(self, corner: int, ways: _Ways) -> tuple[Floats, Floats]:
        """Cut travel and force into parts, where something is touched at its very travel."""
        ends, lifts = self.travels.at(corner), float(self.lifts[corner])
        last = min(ends[1], lifts)
        travel = np.linspace(ends[0] - _HAIR, last + _HAIR, _PARTS + 1)
        touched = ways.touched()
        sharp = np.concatenate([touched - 2 * _HAIR, touched + 2 * _HAIR])
        travel = np.union1d(travel, sharp[(sharp > travel[0]) & (sharp < travel[-1])])
        if ends[1] > last:
            # The longer in the air the coarser: hardly anything lets a wheel hang there.
            beyond = np.geomspace(min(1e-3, ends[1] - last), ends[1] - last, _PARTS // 2)
            travel = np.union1d(travel, last + beyond)
        push = self.forces.at(corner)
        force = np.linspace(push[0] - _HAIR, push[1] + _HAIR, _PARTS + 1)
        bends = ways.bends()
        sharp = np.concatenate([bends - _TOUCH, bends + _TOUCH])
        force = np.union1d(force, sharp[(sharp > force[0]) & (sharp < force[-1])])
        t, f = (np.stack([ends[:-1], ends[1:]]) for ends in (travel, force))
        return np.repeat(t, f.shape[1], axis=1), np.tile(f, t.shape[1])


class _Some(NamedTuple):
    """Rectangles of travel and force of a corner, (2, m), and the moves in them.

    Attributes:
        moves: (2, m), least and most.
        piece: (m,), numbers of the pieces of spring and stops that a corner is on; below 0 where
            it is on several, on a stop, or loose.
        bent: (m,), how far moves on one piece are from straight [m].
        at: Moves at the corners of each, (4, m).
    """

    t: Floats
    f: Floats
    moves: Floats
    piece: Integers
    bent: Floats
    at: Floats

    def of(self, rows: Flags) -> _Some:
        """Take some of them."""
        t, f, moves, bent, at = (
            one[..., rows] for one in (self.t, self.f, self.moves, self.bent, self.at)
        )
        return _Some(t, f, moves, self.piece[rows], bent, at)

    @property
    def ends(self) -> tuple[Floats, Floats]:
        """Travel and force at the corners of each, (4, m)."""
        return self.t[[0, 0, 1, 1]], self.f[[0, 1, 0, 1]]

    def plane(self, box: tuple[float, float], still: bool) -> _Plane:
        """Lay a plane through them: of several the one from which they are off least."""
        straight = self.piece >= 0
        # On a stop the travel is fast, and where a spring is loose the force.
        ways = [(0.0, 1.0, 0.0), (0.0, 0.0, 1.0)]
        if straight.any():
            t, f = (one[:, straight] for one in self.ends)
            ways.append((1.0, *_slopes(t, f, self.at[:, straight])))
        if not still:
            middle = (one.mean(axis=0) for one in (self.t, self.f, self.moves))
            ways.append((1.0, *_slopes(*middle)))
        return min((self._on(*way) for way in ways), key=lambda one: one.part(*box))

    def _on(self, move: float, a: float, b: float) -> _Plane:
        plane = np.sort(a * self.t, axis=0) + np.sort(b * self.f, axis=0)
        t, f = self.ends
        exact, bent = move * self.at - a * t - b * f, move * self.bent
        straight = (self.piece >= 0) & (move > 0)
        least = np.where(straight, exact.min(axis=0) - bent, move * self.moves[0] - plane[1])
        most = np.where(straight, exact.max(axis=0) + bent, move * self.moves[1] - plane[0])
        rest = float(least.min()), float(most.max())
        return _Plane(move, a, b, rest, (float(self.t.min()), float(self.t.max())))


class _Ways(NamedTuple):
    """What moves of a perch or mount go with travels and forces of its corner."""

    point: OperatingPoint
    corner: int
    mount: bool
    off_stop: bool

    def within(self, t: Floats, f: Floats) -> tuple[_Some, Flags]:
        """Bound the moves in rectangles of travel and force.

        Args:
            t, f: (2, m), least and most of either.

        Returns:
            tuple of _Some, but for what is at the corners, and array of bool (m,), where there is
            a move at all.
        """
        axial, leverage, even = self._axial(t, f)
        closed = self._closed(t)
        if self.mount:
            low, high, kept = self._by_mount(axial)
            shock = self.point.shock[self.corner] + np.stack([low, high])
        else:
            low, high, kept = self._by_perch(axial, closed)
            shock = self.point.shock[self.corner] + closed
        here = self.point.compression[self.corner]
        springs = np.stack([low, high]) + (here if self.mount else 0.0)
        piece = np.where(even, self._piece(springs, shock), -1)
        low, high = (one - (0.0 if self.mount else here) for one in (low, high))
        moves = np.stack([low - closed[1], high - closed[0]])
        return _Some(
            t, f, moves, piece, self._bent(t, f, leverage), np.zeros((4, t.shape[1]))
        ), kept

    def corners_of(self, some: _Some) -> Floats:
        """Give the moves at the corners of rectangles (4, m)."""
        found, _ = self.within(*(np.tile(one.ravel(), (2, 1)) for one in some.ends))
        return np.asarray(found.moves.mean(axis=0).reshape(4, -1))

    def touched(self) -> Floats:
        """Give the travels at which a stop is touched, or the ratio begins to change."""
        point, law = self.point, self.point.car.corners[self.corner]
        ratio, shock = point.ratios[self.corner], point.shock[self.corner]
        stops = np.array([0.0, law.bump_at]) - shock
        stops = stops[np.isfinite(stops)]
        return np.concatenate([ratio.at[1:], ratio.at[:-1], ratio.travels(stops)])

    def bends(self) -> Floats:
        """Give the forces at which the rate of the spring changes, free of its stops."""
        law = self.point.car.corners[self.corner].spring
        return np.asarray(law.force(law.at) * self.point.ratios[self.corner].value(np.zeros(())))

    def unstopped(self, t: Floats, high: Floats) -> Flags:
        """Say where a corner may be free of its stops."""
        if self.mount:
            return np.ones(t.shape[1], dtype=bool)
        shock = self.point.shock[self.corner] + self._closed(t)
        bump = self.point.car.corners[self.corner].bump_at
        free = (shock[1] >= -_HAIR) & (shock[0] <= bump + _HAIR)
        return np.asarray(free & (high > -_FARTHEST))

    def _closed(self, travel: Floats) -> Floats:
        return self.point.ratios[self.corner].closing(travel)

    def _axial(self, t: Floats, f: Floats) -> tuple[Floats, Floats, Flags]:
        """Bound the force along the shock, and the ratio, (2, m); and say where it is even."""
        ratio = self.point.ratios[self.corner]
        leverage, even = np.sort(ratio.value(t), axis=0), np.ones(t.shape[1], dtype=bool)
        for at, value in zip(ratio.at.tolist(), ratio.ratio.tolist(), strict=True):
            inside = (t[0] < at) & (at < t[1]) & (len(ratio.at) > 1)
            even &= ~inside
            leverage[0] = np.where(inside, np.minimum(leverage[0], value), leverage[0])
            leverage[1] = np.where(inside, np.maximum(leverage[1], value), leverage[1])
        either = f[:, None] / leverage
        return np.stack([either[0].min(axis=0), either[1].max(axis=0)]), leverage, even

    def _piece(self, springs: Floats, shock: Floats) -> Integers:
        """Number the pieces of spring and stops that rectangles are on; below 0 if not on one.

        Args:
            springs, shock: Compression and travel, least and most (2, m) [m].
        """
        law = self.point.car.corners[self.corner]
        number = np.zeros(springs.shape[1], dtype=np.int64)
        alike = np.ones(springs.shape[1], dtype=bool)
        stops = law.bump.at + law.bump_at
        for curve, knots, at in ((law.spring, law.spring.at, springs), (law.bump, stops, shock)):
            pieces = np.searchsorted(knots, at, side="right")
            # On a ramp nothing is straight.
            alike &= np.append(0.0, np.broadcast_to(curve.ramp, knots.shape))[pieces[0]] == 0
            alike &= (pieces[0] == pieces[1]) | (at[1] - at[0] < _THIN)
            number = number * (len(knots) + 1) + pieces[0]
        off = shock >= (_HAIR if law.solid_droop else 0.0)
        alike &= off[0] if law.solid_droop else off[0] == off[1]
        loose = (springs[0] <= 0) | (springs[1] >= _FARTHEST)
        none = np.where(springs[0] <= 0, -3, np.where(off[0], -1, -2))
        return np.where(alike & ~loose, 2 * number + off[0], none)

    def _bent(self, t: Floats, f: Floats, leverage: Floats) -> Floats:
        """Bound how far moves on one piece are from straight, since the ratio changes.

        On a rectangle a function is farther from its corners' hull by at most an eighth of the
        square of a side times its curvature along it; along the force it has none.
        """
        law = self.point.car.corners[self.corner]
        long = np.maximum(t[1] - t[0], 1e-12)
        slope = (leverage[1] - leverage[0]) / long
        stop = float(law.bump.rate.max()) + (0.0 if law.solid_droop else law.droop_rate)
        pushed = 2 * np.abs(f).max(axis=0) * slope**2 / leverage[0] ** 3 + stop * slope
        return np.asarray((pushed / law.spring.rate.min() + slope) * long**2 / 8) + 2 * _THIN

    def _by_perch(self, axial: Floats, closed: Floats) -> tuple[Floats, Floats, Flags]:
        """Bound the compression of the spring, and say where there is one."""
        point, law = self.point, self.point.car.corners[self.corner]
        shock = point.shock[self.corner] + closed
        stops = law.stops(np.maximum(shock, 0.0) if self.off_stop else shock)
        kept = np.isfinite(stops[1]) & (shock[1] >= -_HAIR if self.off_stop else True)
        least = axial[0] - np.where(kept, stops[1], 0.0)
        most = axial[1] - np.where(np.isfinite(stops[0]), stops[0], 0.0)
        kept &= most >= -1e-9
        low = np.where(least > 0, _compression(law.spring, least), -_FARTHEST)
        high = _compression(law.spring, most)
        if law.solid_droop and not self.off_stop:
            # On a solid stop the spring may push however hard it will.
            high = np.where(shock[0] < _HAIR, _FARTHEST, high)
        return low, high, kept

    def _by_mount(self, axial: Floats) -> tuple[Floats, Floats, Flags]:
        """Bound how far spring and shock close."""
        point, law = self.point, self.point.car.corners[self.corner]
        low, high = np.full(axial.shape, -_FARTHEST), np.full(axial.shape, _FARTHEST)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            pushed = law.spring.force(point.compression[self.corner] + middle)
            pushed = pushed + law.stops(point.shock[self.corner] + middle)
            beyond = np.stack([pushed[0] >= axial[0], pushed[1] > axial[1]])
            low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
        return low[0], high[1], np.ones(axial.shape[1], dtype=bool)


def _slopes(t: Floats, f: Floats, moves: Floats) -> tuple[float, float]:
    """Fit how moves go with travel and force."""
    off = np.stack([(one - one.mean()).ravel() for one in (t, f)])
    spread = np.abs(off).max(axis=1)
    spread[spread == 0] = 1.0
    rest = (moves - moves.mean()).ravel()
    a, b = np.linalg.lstsq((off / spread[:, None]).T, rest, rcond=None)[0] / spread
    return float(a), float(b)


def _compression(spring: ForceCurve, force: Floats) -> Floats:
    """Give the compression of a spring under forces of any shape; 0 for none."""
    knots, bends = spring.force(spring.at), np.broadcast_to(spring.ramp, spring.at.shape)
    piece = np.clip(np.searchsorted(knots, force, side="right") - 1, 0, len(knots) - 1)
    beyond, rate = np.maximum(force - knots[piece], 0.0), spring.rate[piece]
    root = np.sqrt(rate**2 + 2 * bends[piece] * beyond)
    return np.asarray(spring.at[piece] + 2 * beyond / (rate + root))


def between(slant: Slant, spans: list[Integers], most: int, work: Work) -> tuple[Integers, bool]:
    """List all steps, none of them 0, of which every row is within its limits.

    One adjuster after the other, and each no further than the rows let it wherever the rest is.

    Args:
        spans: list of array, the steps of each adjuster, ascending.
        most: How many.
        work: Where what is done is counted; there is no more of it than it has room for.

    Returns:
        tuple of array (m, k) and bool, the steps, and whether none is missing; where there are too
        many, some from everywhere among them.
    """
    spans = _narrowed(slant, spans)
    if not all(len(span) for span in spans):
        return np.zeros((0, len(spans)), dtype=np.int64), True
    order = sorted(range(len(spans)), key=lambda one: len(spans[one]))
    ends = np.array([[span[0], span[-1]] for span in spans], dtype=float)
    reached = slant.rows[:, :, None] * ends
    least, greatest = reached.min(axis=2), reached.max(axis=2)
    binds = (least.sum(axis=1) < slant.low) | (greatest.sum(axis=1) > slant.high)
    slant = slant._replace(rows=slant.rows[binds], low=slant.low[binds], high=slant.high[binds])
    least, greatest = least[binds], greatest[binds]
    found, sums = np.zeros((1, len(spans)), dtype=np.int64), np.zeros((1, len(slant.rows)))
    complete, each = True, CELL * (1 + len(slant.rows))
    for place, column in enumerate(order):
        rest = order[place + 1 :]
        low = slant.low - greatest[:, rest].sum(axis=1) - sums
        high = slant.high - least[:, rest].sum(axis=1) - sums
        first, last = _whole(slant.rows[:, column], low, high, ends[column])
        count = np.maximum(last - first + 1, 0).astype(np.int64)
        room = min(_ON_THE_WAY * most if rest else most, work.room(each))
        share = -(-int(count.sum()) // max(room, 1))
        if share > 1:
            complete = False
            found, sums, first, count = (
                found[::share],
                sums[::share],
                first[::share],
                count[::share],
            )
        work.spend(each * int(count.sum()))
        which = np.repeat(np.arange(len(count)), count)
        steps = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
        steps += first[which].astype(np.int64)
        which, steps = which[steps != 0], steps[steps != 0]
        found, sums = found[which], sums[which] + np.outer(steps, slant.rows[:, column])
        found[:, column] = steps
    return found, complete


def _narrowed(slant: Slant, spans: list[Integers]) -> list[Integers]:
    """Leave out of the steps of each adjuster what heights and cross weight do not let be."""
    low, high = slant.low[:5], slant.high[:5]
    half = (high - low) / 2
    rows = slant.rows[:5] / half[:, None]
    if (half <= 0).any() or np.linalg.matrix_rank(rows) < len(spans):
        return spans
    # steps = rows⁺·(rows·steps), and rows·steps lies in a box of half-width 1.
    inverse = np.linalg.pinv(rows)
    middle, reach = inverse @ ((low + high) / 2 / half), np.abs(inverse).sum(axis=1) + 1e-6
    pairs = zip(spans, middle - reach, middle + reach, strict=True)
    return [span[(span >= least) & (span <= most)] for span, least, most in pairs]


def _whole(row: Floats, low: Floats, high: Floats, ends: Floats) -> tuple[Floats, Floats]:
    """Give the first and last whole step that keeps every sum within (m, r)."""
    if not len(row):
        many = np.ones(len(low))
        return many * ends[0], many * ends[1]
    flat = np.abs(row) < 1e-15
    slope = np.where(flat, 1.0, row)
    one, other = low / slope, high / slope
    first = np.where(flat, -np.inf, np.minimum(one, other)).max(axis=1)
    last = np.where(flat, np.inf, np.maximum(one, other)).min(axis=1)
    out = (flat & ((low > 0) | (high < 0))).any(axis=1)
    first = np.ceil(np.maximum(first, ends[0]) - 1e-6)
    last = np.floor(np.minimum(last, ends[1]) + 1e-6)
    return first, np.where(out, first - 1, last)
