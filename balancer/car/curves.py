"""What a corner does over its travel: force over compression, motion ratio over travel."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from functools import cached_property
from math import sqrt
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats

_BEYOND = 1.0
"""Farther than any wheel travels [m]: there the last ratio of a table still holds."""

_CUTS = 16
"""Pieces of a ramp whose spring has a tender on top of it."""


@dataclass(frozen=True, eq=False)
class ForceCurve:
    """A spring or stop whose rate is piecewise linear in its compression, in steps or in ramps.

    Attributes:
        at: (k,), compressions from which each rate holds, growing, the first 0 [m]. Below it
            there is no force: a spring pushes and does not pull.
        rate: (k,), there [N/m].
        ramp: (k,) or (1,), how fast each rate grows from there [N/m²].
    """

    at: Floats
    rate: Floats
    ramp: Floats = field(default_factory=lambda: np.zeros(1))

    def force(self, compression: Floats) -> Floats:
        """Compute the force [N] at compressions [m] of any shape.

        Examples:
            >>> law = ForceCurve(np.array([0.0, 0.01]), np.array([20e3, 50e3]))
            >>> law.force(np.array([-0.01, 0.01, 0.02])).tolist()
            [0.0, 200.0, 700.0]
        """
        if len(self.at) == 1:
            return np.asarray(self.rate[0] * np.maximum(compression, 0.0))
        beyond = np.maximum(np.subtract.outer(compression, self.at), 0.0)
        force = beyond @ self._steps
        return np.asarray(force if self.straight else force + beyond**2 @ self._bends / 2)

    def slope(self, compression: Floats) -> Floats:
        """Compute the rate [N/m] at compressions [m] of any shape."""
        rate = np.greater.outer(compression, self.at) @ self._steps
        if not self.straight:
            beyond = np.maximum(np.subtract.outer(compression, self.at), 0.0)
            rate = rate + beyond @ self._bends
        return np.asarray(rate)

    def compression(self, force: float) -> float:
        """Compute the compression [m] that gives a force [N]; 0 for none, or for a pull."""
        piece = max(int(np.searchsorted(self.knots, force, side="right")) - 1, 0)
        beyond, rate = max(force - float(self.knots[piece]), 0.0), float(self.rate[piece])
        bend = float(self.bend[piece])
        # Of the quadratic, written so that nothing cancels where the rate hardly grows.
        root = sqrt(rate**2 + 2 * bend * beyond) if bend else rate
        return float(self.at[piece]) + 2 * beyond / (rate + root)

    def stiffer(self, factor: float) -> ForceCurve:
        """Give a spring that pushes so many times as hard."""
        return ForceCurve(self.at, factor * self.rate, factor * self.ramp)

    @cached_property
    def straight(self) -> bool:
        """Whether the rate is a ramp nowhere."""
        return not self.ramp.any()

    @cached_property
    def knots(self) -> Floats:
        """Forces at which its pieces begin (k,) [N]."""
        return self.force(self.at)

    @cached_property
    def bend(self) -> Floats:
        """How fast the rate grows on each piece (k,) [N/m²]."""
        return np.broadcast_to(self.ramp, self.at.shape)

    @cached_property
    def _steps(self) -> Floats:
        steps = self.rate.copy()
        steps[1:] -= self.rate[:-1] + self.bend[:-1] * np.diff(self.at)
        return steps

    @cached_property
    def _bends(self) -> Floats:
        return np.diff(self.bend, prepend=0.0)


def ramps(at: Floats, rate: Floats) -> ForceCurve:
    """Let the rate go straight from row to row, and beyond the last stay as it is there.

    Args:
        at, rate: (k,), as in `ForceCurve`.

    Examples:
        >>> ramps(np.array([0.0, 0.02]), np.array([40e3, 60e3])).force(np.array([0.01, 0.03]))
        array([ 450., 1600.])
    """
    return ForceCurve(at, rate, np.append(np.diff(rate) / np.diff(at), 0.0))


def points(at: Floats, force: Floats) -> ForceCurve:
    """Let the force go straight from point to point, and on as between the last two.

    Args:
        at: (k,), as in `ForceCurve`, at least two.
        force: (k,), the first 0 [N].

    Examples:
        >>> points(np.array([0.0, 0.01]), np.array([0.0, 300.0])).force(np.array([0.02]))
        array([600.])
    """
    return ForceCurve(at[:-1], np.diff(force) / np.diff(at))


NOTHING = ForceCurve(np.zeros(1), np.zeros(1))
"""A stop that is not there."""


def with_tender(main: ForceCurve, rate: float, travel: float) -> ForceCurve:
    """Put a tender (or helper) spring in series with a main spring.

    Args:
        rate: Of the tender [N/m].
        travel: Of the tender, from free to solid [m].

    Returns:
        Of both together: softer until the tender is solid, then the main spring's own. A main
        spring whose rate is a ramp is exact at `_CUTS` places of each ramp.

    References:
        Springs in series; derived here.

    Examples:
        >>> both = with_tender(ForceCurve(np.zeros(1), np.array([60e3])), 30e3, 0.02)
        >>> both.at.round(9).tolist(), both.rate.round().tolist()
        ([0.0, 0.03], [20000.0, 60000.0])
    """
    solid = rate * travel
    knots = main.knots
    ramps = np.flatnonzero(main.ramp[: len(knots) - 1]).tolist()
    forces = np.unique(np.concatenate([knots, [solid], *(_cuts(main, row) for row in ramps)]))
    piece = np.searchsorted(knots, forces, side="right") - 1
    bends = main.bend[piece]
    # Where a rate is a ramp, its square grows evenly with the force.
    rates = np.sqrt(main.rate[piece] ** 2 + 2 * bends * (forces - knots[piece]))
    soft = np.where(forces < solid, 1 / rate, 0.0)
    both = 1 / (1 / rates + soft)
    more, closed = np.diff(forces), np.diff([main.compression(one) for one in forces.tolist()])
    wide = closed + more * soft[:-1]
    ramp = np.where(bends[:-1] != 0, 2 * (more - both[:-1] * wide) / wide**2, 0.0)
    return ForceCurve(np.concatenate([[0.0], np.cumsum(wide)]), both, np.append(ramp, bends[-1]))


def _cuts(main: ForceCurve, row: int) -> Floats:
    """Give forces on a ramp between which its rate grows in equal parts of itself.

    Evenly in force, a ramp from 10 to 300 N/mm would have its soft end in one piece.
    """
    start, ramp = main.rate[row], main.ramp[row]
    end = start + ramp * (main.at[row + 1] - main.at[row])
    rates = start * (end / start) ** (np.arange(_CUTS) / _CUTS)
    return np.asarray(main.knots[row] + (rates**2 - start**2) / (2 * ramp))


@dataclass(frozen=True, eq=False)
class RatioCurve:
    """Spring travel per wheel travel over wheel travel.

    Attributes:
        at: (k,), wheel travel, bump positive [m].
        ratio: (k,), motion ratio there [1]; straight between, and beyond the ends as at the
            ends.
    """

    at: Floats
    ratio: Floats

    def value(self, travel: Floats) -> Floats:
        """Give the ratio at wheel travels [m] of any shape."""
        return np.interp(travel, self.at, self.ratio)

    def slope(self, travel: Floats) -> Floats:
        """Give how fast the ratio changes [1/m] at wheel travels [m] of any shape."""
        return self._slopes[_pieces(self._wide[0], travel)]

    def closing(self, travel: Floats) -> Floats:
        """Compute how far the spring closes [m] from wheel travel 0 to others of any shape."""
        if len(self.at) == 1:
            return np.asarray(self.ratio[0] * travel)
        return self._area(travel) - self._here

    def travel(self, closing: float) -> float:
        """Compute the wheel travel [m] at which the spring has closed so far [m]."""
        return self.one_by_one().travel(closing)

    def travels(self, closing: Floats) -> Floats:
        """Compute the same of closings of any shape; 0 of 0, to the last bit."""
        return self._travels(closing) - self._travels(np.zeros(()))

    def one_by_one(self) -> OneByOne:
        """Give the same for one travel at a time, many times over."""
        at, ratio = self._wide
        return OneByOne(at.tolist(), ratio.tolist(), self._below.tolist(), float(self._here))

    def shifted(self, travel: float) -> RatioCurve:
        """Count wheel travel from a place [m] that is now called 0."""
        return RatioCurve(self.at - travel, self.ratio)

    @cached_property
    def _wide(self) -> tuple[Floats, Floats]:
        at = np.concatenate([[self.at[0] - _BEYOND], self.at, [self.at[-1] + _BEYOND]])
        return at, np.concatenate([self.ratio[:1], self.ratio, self.ratio[-1:]])

    @cached_property
    def _slopes(self) -> Floats:
        at, ratio = self._wide
        return np.asarray(np.diff(ratio) / np.diff(at))

    @cached_property
    def _below(self) -> Floats:
        at, ratio = self._wide
        return np.concatenate([[0.0], np.cumsum(np.diff(at) * (ratio[1:] + ratio[:-1]) / 2)])

    @cached_property
    def _here(self) -> Floats:
        return self._area(np.zeros(()))

    def _area(self, travel: Floats) -> Floats:
        (at, ratio), piece = self._wide, _pieces(self._wide[0], travel)
        beyond = (travel - at[piece]) * (ratio[piece] + self.value(travel)) / 2
        return np.asarray(self._below[piece] + beyond)

    def _travels(self, closing: Floats) -> Floats:
        if len(self.at) == 1:
            return np.asarray(closing / self.ratio[0])
        at, ratio = self._wide
        closed = self._below - self._here
        piece = _pieces(closed, closing)
        rest, first = closing - closed[piece], ratio[piece]
        bend = self._slopes[piece]
        # Of the quadratic, written so that nothing cancels where the ratio hardly changes.
        return at[piece] + 2 * rest / (first + np.sqrt(first**2 + 2 * bend * rest))


class OneByOne(NamedTuple):
    """A `RatioCurve` in plain numbers: quicker where one travel is looked at after another.

    Attributes:
        at, ratio: Of the ratio, with a row far beyond either end.
        below: How far the spring closes from the first row to each [m].
        here: And to wheel travel 0 [m].
    """

    at: list[float]
    ratio: list[float]
    below: list[float]
    here: float

    def value(self, travel: float) -> float:
        """Give the ratio at a wheel travel [m], as `RatioCurve.value` does to the last bit."""
        at, ratio = self.at, self.ratio
        piece = bisect_right(at, travel) - 1
        if not 0 < piece < len(at) - 2:
            return ratio[0] if piece <= 0 else ratio[-1]
        slope = (ratio[piece + 1] - ratio[piece]) / (at[piece + 1] - at[piece])
        return slope * (travel - at[piece]) + ratio[piece]

    def closing(self, travel: float) -> float:
        """Compute how far the spring closes [m] from wheel travel 0 to another."""
        at, ratio = self.at, self.ratio
        if len(at) == 3:
            return ratio[0] * travel
        piece = min(max(bisect_right(at, travel) - 1, 0), len(at) - 2)
        beyond = (travel - at[piece]) * (ratio[piece] + self.value(travel)) / 2
        return self.below[piece] + beyond - self.here

    def travel(self, closing: float) -> float:
        """Compute the wheel travel [m] at which the spring has closed so far [m]."""
        travel = closing / self.value(0.0)
        # Newton on an increasing function that is nearly straight.
        for _ in range(20):
            miss = closing - self.closing(travel)
            travel += miss / self.value(travel)
            if abs(miss) < 1e-15:
                break
        return travel


def _pieces(at: Floats, travel: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    return np.clip(np.searchsorted(at, travel, side="right") - 1, 0, len(at) - 2)
