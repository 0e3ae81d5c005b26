"""What a corner does over rectangles of travel and force: the moves that go with them, bounded."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Flags, Floats, Integers
from balancer.car.curves import ForceCurve
from balancer.car.operating_point import OperatingPoint

FARTHEST = 1.0
"""Farther than any adjuster goes [m]."""

HAIR = 1e-9
"""Less than any move or travel that matters [m], or part of a load [1]."""

_THIN = 1e-8
"""Of compression, what a change of rate within makes no difference [m]."""

_HALVINGS = 30


class Some(NamedTuple):
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

    def of(self, rows: Flags) -> Some:
        """Take some of them."""
        t, f, moves, bent, at = (
            one[..., rows] for one in (self.t, self.f, self.moves, self.bent, self.at)
        )
        return Some(t, f, moves, self.piece[rows], bent, at)

    @property
    def ends(self) -> tuple[Floats, Floats]:
        """Travel and force at the corners of each, (4, m)."""
        return self.t[[0, 0, 1, 1]], self.f[[0, 1, 0, 1]]


class Ways(NamedTuple):
    """What moves of a perch or mount go with travels and forces of its corner.

    Attributes:
        corner: Its number.
        mount: Whether its lower mount moves, not its perch.
        off_stop: Whether it must not stay topped out.
    """

    point: OperatingPoint
    corner: int
    mount: bool
    off_stop: bool

    def within(self, t: Floats, f: Floats) -> tuple[Some, Flags]:
        """Bound the moves in rectangles of travel and force.

        Args:
            t, f: (2, m), least and most of either.

        Returns:
            tuple of Some, but for what is at the corners, and array of bool (m,), where there is
            a move at all.
        """
        axial, leverage, even = self._axial(t, f)
        closed = self._closed(t)
        ends, moves, kept = self._moves(axial, closed)
        here, shut = self.point.compression[self.corner], ends if self.mount else closed
        piece = self._piece(ends + here, self.point.shock[self.corner] + shut)
        bent, none = self._bent(t, f, leverage), np.zeros((4, t.shape[1]))
        return Some(t, f, moves, np.where(even, piece, -1), bent, none), kept

    def moves(self, t: Floats, f: Floats) -> tuple[Floats, Floats]:
        """Bound the moves in rectangles, (m,) each: infinity and its negative where there is none.

        Args:
            t, f: As in `within`.
        """
        _, moves, kept = self._moves(self._axial(t, f)[0], self._closed(t))
        return np.where(kept, moves[0], np.inf), np.where(kept, moves[1], -np.inf)

    def _moves(self, axial: Floats, closed: Floats) -> tuple[Floats, Floats, Flags]:
        """Bound how much farther the spring closes, and the moves, and say where there are any."""
        low, high, kept = self._by_mount(axial) if self.mount else self._by_perch(axial, closed)
        if self.off_stop:
            closed = np.maximum(closed, -self.point.shock[self.corner])
        return np.stack([low, high]), np.stack([low - closed[1], high - closed[0]]), kept

    def corners_of(self, some: Some) -> Floats:
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
        return np.asarray(law.knots * self.point.ratios[self.corner].value(np.zeros(())))

    def unstopped(self, t: Floats, high: Floats) -> Flags:
        """Say where a corner may be free of its stops."""
        if self.mount:
            return np.ones(t.shape[1], dtype=bool)
        shock = self.point.shock[self.corner] + self._closed(t)
        bump = self.point.car.corners[self.corner].bump_at
        free = (shock[1] >= -HAIR) & (shock[0] <= bump + HAIR)
        return np.asarray(free & (high > -FARTHEST))

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
            alike &= np.append(0.0, curve.bend)[pieces[0]] == 0
            alike &= (pieces[0] == pieces[1]) | (at[1] - at[0] < _THIN)
            number = number * (len(knots) + 1) + pieces[0]
        off = shock >= (HAIR if law.solid_droop else 0.0)
        alike &= off[0] if law.solid_droop else off[0] == off[1]
        loose = (springs[0] <= 0) | (springs[1] >= FARTHEST / 2)
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
        """Bound how much farther the spring closes, and say where it can."""
        point, law = self.point, self.point.car.corners[self.corner]
        shock = point.shock[self.corner] + closed
        stops = law.stops(np.maximum(shock, 0.0) if self.off_stop else shock)
        kept = np.isfinite(stops[1]) & (shock[1] >= -HAIR if self.off_stop else True)
        least = axial[0] - np.where(kept, stops[1], 0.0)
        most = axial[1] - np.where(np.isfinite(stops[0]), stops[0], 0.0)
        kept &= most >= -1e-9
        low = np.where(least > 0, _compression(law.spring, least), -FARTHEST)
        high = _compression(law.spring, most)
        if law.solid_droop and not self.off_stop:
            # On a solid stop the spring may push however hard it will.
            high = np.where(shock[0] < HAIR, FARTHEST, high)
        here = point.compression[self.corner]
        return low - here, high - here, kept

    def _by_mount(self, axial: Floats) -> tuple[Floats, Floats, Flags]:
        """Bound how far spring and shock close."""
        point, law = self.point, self.point.car.corners[self.corner]
        if law.solid_droop and not np.isfinite(law.bump_at):
            ends = _compression(law.spring, axial) - point.compression[self.corner]
            ends[0] = np.where(axial[0] > 0, ends[0], -FARTHEST)
            low, high = np.maximum(ends, -point.shock[self.corner])
            return low, high, np.ones(axial.shape[1], dtype=bool)
        low, high = np.full(axial.shape, -FARTHEST), np.full(axial.shape, FARTHEST)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            pushed = law.spring.force(point.compression[self.corner] + middle)
            pushed = pushed + law.stops(point.shock[self.corner] + middle)
            beyond = np.stack([pushed[0] >= axial[0], pushed[1] > axial[1]])
            low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
        return low[0], high[1], np.ones(axial.shape[1], dtype=bool)


def _compression(spring: ForceCurve, force: Floats) -> Floats:
    """Give the compression of a spring under forces of any shape; 0 for none."""
    knots, bends = spring.knots, spring.bend
    piece = np.clip(np.searchsorted(knots, force, side="right") - 1, 0, len(knots) - 1)
    beyond, rate = np.maximum(force - knots[piece], 0.0), spring.rate[piece]
    root = np.sqrt(rate**2 + 2 * bends[piece] * beyond)
    return np.asarray(spring.at[piece] + 2 * beyond / (rate + root))
