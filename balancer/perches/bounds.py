"""Where the steps can be that bring real corners to given heights and cross weights.

Forces grow with compression everywhere, so intervals carry through: heights and cross weight held
within limits leave each corner a range of loads, of wheel travel and of spring force, and with
them a range of moves. Every plan that meets the limits is within; not all within meet them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from balancer.car.conventions import GRAVITY, Flags, Floats
from balancer.car.corner import Corner
from balancer.car.linear import free_pattern
from balancer.car.operating_point import OperatingPoint

_FREE_FALL = 0.5
"""Farther than a hub falls whose wheel is in the air [m]."""

_FARTHEST = 1.0
"""Farther than any adjuster goes [m]."""


_NOTHING = 1e-9
"""Less than any move [m], or slope that a body has [1]."""

_HALVINGS = 9
"""Of a range of wheel travel, to bound it; what is left is a fraction of a tolerance."""


class Span(NamedTuple):
    """Lowest and highest of something, element by element."""

    low: Floats
    high: Floats

    @classmethod
    def around(cls, middle: Floats, reach: Floats) -> Span:
        """Take all within a reach of a middle."""
        return cls(middle - reach, middle + reach)

    def plus(self, other: Span) -> Span:
        """Add two."""
        return Span(self.low + other.low, self.high + other.high)

    def less(self, other: Span) -> Span:
        """Subtract another."""
        return Span(self.low - other.high, self.high - other.low)

    def at(self, number: int) -> tuple[float, float]:
        """Give the span of one element."""
        return float(self.low[number]), float(self.high[number])

    def times(self, factor: Floats) -> Span:
        """Multiply by a constant of either sign."""
        ends = self.low * factor, self.high * factor
        return Span(np.minimum(*ends), np.maximum(*ends))


class Reach(NamedTuple):
    """By how much each adjuster would have to move.

    Attributes:
        perch, mount: Span of array (4,), at a corner, if that is what is moved there [m]; a
            perch moved where the shock is topped out is to get it off its stop, since it does
            nothing else there but change preload.
        still: (4,) of bool, where nothing need be moved.
    """

    perch: Span
    mount: Span
    still: Flags


def reach(
    point: OperatingPoint, rises: Span, cross: Span, longer: Span, mounts: Flags | None = None
) -> Reach:
    """Bound the moves that bring heights and cross weight within limits.

    Args:
        rises: Span of array (4,), of the body at the wheel stations [m].
        cross: Of the cross weight, as a fraction.
        longer: Span of array (2,), by which the left links may be longer, at the wheel [m].
        mounts: (4,) of bool or None, where the mount's bounds are wanted; none: nowhere.

    Returns:
        Empty (low above high) where it can't be done at that corner.

    References:
        Interval arithmetic on the equilibrium; derived here, held against the whole grid in
        tests/oracles.
    """
    _, travel, force = wheels_within(point, loads_within(point, rises, cross), rises, longer)
    perch, mount, still = [], [], []
    for number, corner in enumerate(point.car.corners):
        ratio = point.ratios[number]
        ends = np.array([travel.low[number], travel.high[number]])
        inside = ratio.at[(ratio.at > ends[0]) & (ratio.at < ends[1])]
        leverage = ratio.value(np.concatenate([ends, inside]))
        by = np.array([leverage.min(), leverage.max()])
        axial = (force.low[number] / by).min(), (force.high[number] / by).max()
        closed = ratio.closing(ends)
        low, high = _perch(corner, point, number, axial, closed)
        still.append(low <= _NOTHING and high >= -_NOTHING)
        if point.topped_out[number]:
            free = np.maximum(closed, -point.shock[number])
            low, high = _perch(corner._replace(droop_rate=0.0), point, number, axial, free)
        perch.append((low, high))
        wanted = mounts is not None and mounts[number]
        mount.append(_mount(corner, point, number, axial, closed) if wanted else (0.0, 0.0))
    return Reach(Span(*np.array(perch).T), Span(*np.array(mount).T), np.array(still))


def wheels_within(
    point: OperatingPoint, loads: Span, rises: Span, longer: Span
) -> tuple[Span, Span, Span]:
    """Bound how far hubs rise, how far wheels travel, and what each corner pushes but its bar."""
    tire, at_rest = point.tire_rate, point.loads / point.tire_rate
    hubs = Span(
        at_rest - loads.high / tire,
        np.where(loads.low > 0, at_rest - loads.low / tire, _FREE_FALL),
    )
    travel = hubs.less(rises)
    hub_weight = point.car.unsprung_mass * GRAVITY
    force = Span(loads.low - hub_weight, loads.high - hub_weight)
    return hubs, travel, force.less(_bars(point, travel, longer))


class Warp:
    """Which moves of the four corners go together: the chassis does not bend as they like.

    Each corner's move and load leave it a range of heights; the four heights lie in a plane, or as
    far out of it as the chassis twists under the loads.

    Args:
        rises, cross, longer: As in `reach`.

    Attributes:
        allowed: Least and most warp of the body: roll slope in front less that behind [1].
    """

    def __init__(self, point: OperatingPoint, rises: Span, cross: Span, longer: Span) -> None:
        loads = loads_within(point, rises, cross)
        self._point = point
        self._hubs, self._travel, self._force = wheels_within(point, loads, rises, longer)
        self._pattern = free_pattern(point.car.tracks)
        self.allowed = self._twist(loads, rises)

    def of(self, number: int, moves: Floats, mount: bool) -> Span:
        """Bound what one corner adds to the warp after moves (m,) of its perch or mount [m]."""
        low, high = self._travel_after(number, moves, mount)
        hubs = self._hubs.at(number)
        rise = Span(
            np.maximum(hubs[0] - high, hubs[0] - self._travel.high[number]),
            np.minimum(hubs[1] - low, hubs[1] - self._travel.low[number]),
        )
        return rise.times(self._pattern[number])

    def _travel_after(self, number: int, moves: Floats, mount: bool) -> Span:
        """Halve ranges of wheel travel and keep the outer ends: coarse, but never too small."""
        point, ratio = self._point, self._point.ratios[number]
        corner, wanted = point.car.corners[number], np.array(self._force.at(number))[:, None]
        low = np.full((2, len(moves)), self._travel.low[number])
        high = np.full((2, len(moves)), self._travel.high[number])
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            closed = ratio.closing(middle)
            shock = point.shock[number] + closed + moves * mount
            axial = corner.spring.force(point.compression[number] + closed + moves)
            axial += corner.stops(shock)
            beyond = axial * ratio.value(middle) > wanted
            low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
        return Span(low[0], high[1])

    def _twist(self, loads: Span, rises: Span) -> tuple[float, float]:
        point, front = self._point, self._point.car.tracks[0]
        if point.basis.shape[1] == 3:
            return -_NOTHING, _NOTHING
        change = Span(loads.low - point.loads, loads.high - point.loads)
        side = _combined(np.array([front / 2, -front / 2, 0.0, 0.0]), change)
        leaning = _combined(np.array([1 / front, -1 / front, 0.0, 0.0]), rises)
        moment = side.plus(leaning.times(point.softening[2]))
        twist = moment.times(np.array(1 / point.car.torsional_stiffness))
        return float(twist.low) - _NOTHING, float(twist.high) + _NOTHING


def loads_within(point: OperatingPoint, rises: Span, cross: Span) -> Span:
    """Bound the loads: moments change only as far as the body leans, the rest is the pattern."""
    car, weight = point.car, point.loads.sum()
    front, rear = car.tracks
    pitch = np.array([-1.0, -1.0, 1.0, 1.0]) / (2 * car.wheelbase)
    rolls = np.array([[1 / front, -1 / front, 0.0, 0.0], [0.0, 0.0, 1 / rear, -1 / rear]])
    leans = [_combined(row, rises) for row in (pitch, *rolls)]
    soft = -point.softening[1:]
    if len(soft) == 2:
        # A rigid body: both axles lean alike, so either bounds it.
        soft = np.array([soft[0], soft[1], 0.0])
    moments = [lean.times(factor) for lean, factor in zip(leans, soft, strict=True)]
    pitching, rolling = moments[0], moments[1].plus(moments[2])
    basis = np.column_stack([np.ones(4), car.aft, car.left])
    share = basis @ np.linalg.inv(basis.T @ basis)
    leaning = pitching.times(share[:, 1]).plus(rolling.times(share[:, 2]))
    pattern = free_pattern(car.tracks)
    across = np.array([0.0, 1.0, 1.0, 0.0]) / weight
    by_leaning = pitching.times(across @ share[:, 1]).plus(rolling.times(across @ share[:, 2]))
    now = across @ point.loads
    amount = cross.less(Span(now + by_leaning.low, now + by_leaning.high))
    amount = amount.times(1 / (across @ pattern))
    found = leaning.plus(amount.times(pattern))
    return Span(np.maximum(point.loads + found.low, 0.0), np.maximum(point.loads + found.high, 0.0))


def _combined(row: Floats, spans: Span) -> Span:
    ends = spans.times(row)
    return Span(ends.low.sum(), ends.high.sum())


def _bars(point: OperatingPoint, travel: Span, longer: Span) -> Span:
    """Bound what the bars push on the hubs."""
    low, high = np.zeros(4), np.zeros(4)
    for axle, bar in enumerate(point.bar_rate.tolist()):
        left, right = 2 * axle, 2 * axle + 1
        least = travel.low[left] - travel.high[right] + point.misfit[axle] + longer.low[axle]
        most = travel.high[left] - travel.low[right] + point.misfit[axle] + longer.high[axle]
        low[[left, right]] = bar * least, -bar * most
        high[[left, right]] = bar * most, -bar * least
    return Span(low, high)


def _perch(
    corner: Corner, point: OperatingPoint, number: int, axial: tuple[float, float], closed: Floats
) -> tuple[float, float]:
    shock = point.shock[number] + closed
    stops = corner.stops(shock)
    least, most = axial[0] - stops[1], axial[1] - stops[0]
    if corner.solid_droop and shock[0] < _NOTHING:
        # On a solid stop the spring may push however hard it will.
        closed, most = np.maximum(closed, -point.shock[number]), np.inf
    if most < -1e-9 or least == np.inf:
        return np.inf, -np.inf
    low = corner.spring.compression(least) if least > 0 else -_FARTHEST
    high = corner.spring.compression(max(most, 0.0))
    here = point.compression[number]
    return low - here - closed[1], high - here - closed[0]


def _mount(
    corner: Corner, point: OperatingPoint, number: int, axial: tuple[float, float], closed: Floats
) -> tuple[float, float]:
    def pushes(moved: Floats) -> Floats:
        shock = point.shock[number] + moved
        spring = corner.spring.force(point.compression[number] + moved)
        return np.asarray(spring + corner.stops(shock))

    wanted = np.array(axial)
    low, high = np.full(2, -_FARTHEST), np.full(2, _FARTHEST)
    for _ in range(40):
        middle = (low + high) / 2
        # The lowest move that reaches the one, the highest that stays under the other.
        pushed = pushes(middle)
        beyond = np.array([pushed[0] >= wanted[0], pushed[1] > wanted[1]])
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    return low[0] - closed[1], high[1] - closed[0]


def whole(span: tuple[float, float], per_step: float) -> tuple[float, float]:
    """Give the lowest and highest whole steps within a span of moves.

    Args:
        span: [m].
        per_step: [m]; positive.

    Returns:
        Infinite where the span is empty or endless.
    """
    low, high = np.array(span) / per_step
    return float(np.ceil(low - 1e-6)), float(np.floor(high + 1e-6))
