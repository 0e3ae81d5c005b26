"""Where the steps can be that bring real corners to given heights and cross weights.

Forces grow with compression everywhere, so intervals carry through: heights and cross weight held
within limits leave each corner a range of loads, of wheel travel and of spring force, and with
them a range of moves. Every plan that meets the limits is within; not all within meet them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from balancer.car.conventions import GRAVITY, Flags, Floats
from balancer.car.linear import free_pattern
from balancer.car.operating_point import OperatingPoint
from balancer.planning.perches.rectangles import Ways

_FREE_FALL = 0.5
"""Farther than a hub falls whose wheel is in the air [m]."""

_NOTHING = 1e-9
"""Less than any move [m], or slope that a body has [1]."""


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
    for number in range(4):
        wheel = np.array([travel.at(number)]).T, np.array([force.at(number)]).T
        low, high = Ways(point, number, mount=False, off_stop=False).moves(*wheel)
        still.append(bool(low[0] <= _NOTHING and high[0] >= -_NOTHING))
        if point.topped_out[number]:
            low, high = Ways(point, number, mount=False, off_stop=True).moves(*wheel)
        perch.append((low[0], high[0]))
        wanted = mounts is not None and mounts[number]
        ways = Ways(point, number, mount=True, off_stop=False)
        mount.append(np.concatenate(ways.moves(*wheel)) if wanted else np.zeros(2))
    return Reach(Span(*np.array(perch).T), Span(*np.array(mount).T), np.array(still))


def wheels_within(
    point: OperatingPoint, loads: Span, rises: Span, longer: Span
) -> tuple[Span, Span, Span]:
    """Bound how far hubs rise, how far wheels travel, and what each corner pushes but its bar."""
    tire, at_rest = point.tire_rate, point.loads / point.tire_rate
    hubs = Span(
        at_rest - loads.high / tire, np.where(loads.low > 0, at_rest - loads.low / tire, _FREE_FALL)
    )
    travel = hubs.less(rises)
    hub_weight = point.car.unsprung_mass * GRAVITY
    force = Span(loads.low - hub_weight, loads.high - hub_weight)
    return hubs, travel, force.less(_bars(point, travel, longer))


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
