"""Planes that stand for what a corner does, and how far it is off them at most."""

from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.planning.perches.rectangles import HAIR, Some, Ways

_PARTS = 12
"""Into how many parts the travel of a corner is cut, and its force: what is left is a fraction."""

_TOUCH = 1e-4
"""Less than any force that matters [N]."""

_FLAT = 0.05
"""Part of what a corner does by which it may be off one plane."""

_MOST_PIECES = 4


class Reach(NamedTuple):
    """Where a corner can be: least and most travel [m] and force [N].

    Attributes:
        lifts: Travel at which its wheel leaves the ground at the latest [m].
    """

    travel: tuple[float, float]
    force: tuple[float, float]
    lifts: float


class Plane(NamedTuple):
    """A corner's move · `move` as travel · `travel` + force · `force` + something within `rest`.

    Attributes:
        move: 1; 0 on a stop, where the travel is what it is whatever the move [1].
        travel, force: Its slopes [1], [m/N].
        rest: Least and most [m].
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


def fitted(
    ways: Ways, reach: Reach, moves: tuple[float, float], still: bool, free: bool
) -> list[Plane]:
    """Lay planes through what a corner can do; none where that is nothing.

    Args:
        moves: Least and most that it may be moved [m].
        still: Whether it is not turned at all.
        free: Whether it must not come to stand on a stop.

    Returns:
        One through all of it, and then one through each piece.
    """
    t, f = _rectangles(ways, reach)
    some, kept = ways.within(t, f)
    low, high = some.moves
    kept &= (low <= moves[1] + HAIR) & (high >= moves[0] - HAIR)
    if free:
        kept &= ways.unstopped(t, high)
    if not kept.any():
        return []
    some = some.of(kept)
    some = some._replace(moves=np.clip(some.moves, *moves), at=ways.corners_of(some))
    box = float(np.ptp(t)), float(np.ptp(f))
    every = _plane(some, box, still)
    pieces = np.unique(some.piece).tolist() if every.part(*box) > _FLAT else []
    if 1 < len(pieces) <= _MOST_PIECES:
        each = (some.of(some.piece == one) for one in pieces)
        return [every, *(_plane(one, box, still) for one in each)]
    return [every, every]


def _rectangles(ways: Ways, reach: Reach) -> tuple[Floats, Floats]:
    """Cut travel and force into parts, where something is touched at its very travel."""
    ends, push = reach.travel, reach.force
    last = min(ends[1], reach.lifts)
    travel = np.linspace(ends[0] - HAIR, last + HAIR, _PARTS + 1)
    touched = ways.touched()
    sharp = np.concatenate([touched - 2 * HAIR, touched + 2 * HAIR])
    travel = np.union1d(travel, sharp[(sharp > travel[0]) & (sharp < travel[-1])])
    if ends[1] > last:
        # The longer in the air the coarser: hardly anything lets a wheel hang there.
        beyond = np.geomspace(min(1e-3, ends[1] - last), ends[1] - last, _PARTS // 2)
        travel = np.union1d(travel, last + beyond)
    force = np.linspace(push[0] - HAIR, push[1] + HAIR, _PARTS + 1)
    bends = ways.bends()
    sharp = np.concatenate([bends - _TOUCH, bends + _TOUCH])
    force = np.union1d(force, sharp[(sharp > force[0]) & (sharp < force[-1])])
    t, f = (np.stack([ends[:-1], ends[1:]]) for ends in (travel, force))
    return np.repeat(t, f.shape[1], axis=1), np.tile(f, t.shape[1])


def _plane(some: Some, box: tuple[float, float], still: bool) -> Plane:
    """Lay a plane through them: of several the one from which they are off least."""
    straight = some.piece >= 0
    # On a stop the travel is fast, and where a spring is loose the force.
    ways = [(0.0, 1.0, 0.0), (0.0, 0.0, 1.0)]
    if straight.any():
        t, f = (one[:, straight] for one in some.ends)
        ways.append((1.0, *_slopes(t, f, some.at[:, straight])))
    if not still:
        middle = (one.mean(axis=0) for one in (some.t, some.f, some.moves))
        ways.append((1.0, *_slopes(*middle)))
    return min((_on(some, *way) for way in ways), key=lambda one: one.part(*box))


def _on(some: Some, move: float, a: float, b: float) -> Plane:
    plane = np.sort(a * some.t, axis=0) + np.sort(b * some.f, axis=0)
    t, f = some.ends
    exact, bent = move * some.at - a * t - b * f, move * some.bent
    straight = (some.piece >= 0) & (move > 0)
    least = np.where(straight, exact.min(axis=0) - bent, move * some.moves[0] - plane[1])
    most = np.where(straight, exact.max(axis=0) + bent, move * some.moves[1] - plane[0])
    rest = float(least.min()), float(most.max())
    return Plane(move, a, b, rest, (float(some.t.min()), float(some.t.max())))


def _slopes(t: Floats, f: Floats, moves: Floats) -> tuple[float, float]:
    """Fit how moves go with travel and force."""
    off = np.stack([(one - one.mean()).ravel() for one in (t, f)])
    spread = np.abs(off).max(axis=1)
    spread[spread == 0] = 1.0
    rest = (moves - moves.mean()).ravel()
    a, b = np.linalg.lstsq((off / spread[:, None]).T, rest, rcond=None)[0] / spread
    return float(a), float(b)
