"""From what the pads showed to what the car weighs, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple, Self

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import BalancerError, InputError
from balancer.car.linear import pad_slopes
from balancer.car.model import Car, Item
from balancer.car.statics import Statics, statics_of
from balancer.weighing.uncertainty import (
    Shares,
    cross_of,
    pad_effects,
    scatter_covariance,
    share_uncertainties,
    shares,
)


class Source(NamedTuple):
    """The entry of a log that readings were taken from.

    Attributes:
        entry: Its number.
        at: When it was written: ISO 8601 with offset.
        damaged: Lines of that log that can't be read.
    """

    entry: int
    at: str
    damaged: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Readings:
    """What was read and measured at the pads, in SI.

    Attributes:
        repeats: (r, 4), one row each time the four pads were read [N].
        tare: (4,), what each pad shows with the car off, all else as it was (packing, plates)
            [N]; negative when the pad was zeroed with something on it that is gone.
        pad_heights: (4,), height of each pad above the lowest [m].
        ride_heights: (4,) or None, measured at the wheel stations [m].
        on_board: Names of what was on board; None when not said.
        covariance: (4, 4) or None, of the readings, where it is not for the scales to say [N²].
        aboard: On board too, but no longer in the car file.
        source: Where they are from, if from a log.
        remarks: What is to be said of them.
    """

    repeats: Floats
    tare: Floats
    pad_heights: Floats
    ride_heights: Floats | None = None
    on_board: tuple[str, ...] | None = None
    date: str = ""
    note: str = ""
    covariance: Floats | None = None
    aboard: tuple[Item, ...] = ()
    source: Source | None = None
    remarks: tuple[str, ...] = ()

    @classmethod
    def of(cls, loads: Floats) -> Readings:
        """Take four plain loads [N] for a reading of level, untared pads."""
        return cls(np.atleast_2d(loads), np.zeros(4), np.zeros(4))


@dataclass(frozen=True, eq=False)
class WeighIn:
    """A car weighed: loads on level pads, and their uncertainty.

    Attributes:
        loads: (4,), mean, tare taken off, as it would be on level pads [N].
        scatter: (4, 4), what of the covariance weighing again on the same pads would show [N²].
        pads: (9, 4), what the pads do every time alike, see `uncertainty.pad_effects` [N].
        pad_slopes: (4, 4), what each pad's height does to the loads, see `linear.pad_slopes`
            [N/m]; NaN where that can't be told.
        shares, uncertainties: Values and their standard uncertainties: what level ground and true
            pads would say.
        repeatable: Standard uncertainties on the same pads: what weighing again there would say.
        pad_effect: (4,), what pads that are not level had added, now taken off [N].
        repeats: How often the pads were read.
        outliers: Readings that disagree with their repeats: which (from 1), and the corner.
        carried: What of the cross weight's uncertainty is from carrying it to another state, where
            that was counted [1].
    """

    loads: Floats
    scatter: Floats
    pads: Floats
    pad_slopes: Floats
    shares: Shares
    uncertainties: Shares
    repeatable: Shares
    pad_effect: Floats
    repeats: int
    outliers: tuple[tuple[int, str], ...]
    readings: Readings
    carried: float = 0.0

    @property
    def covariance(self) -> Floats:
        """Of the loads, pads and all (4, 4) [N²]."""
        return np.asarray(self.scatter + self.pads.T @ self.pads)

    @property
    def shown_cross(self) -> float:
        """Cross weight as the pads show it, level or not, as a fraction."""
        return cross_of(self.loads + self.pad_effect)

    @property
    def cross_per_pad(self) -> float:
        """What a meter under one wheel does to the cross weight [1/m].

        Where the tracks differ, under a wheel of the narrower; NaN where it can't be told.
        """
        return float(np.abs(self.pad_slopes[:, 1] + self.pad_slopes[:, 2]).max() / self.loads.sum())

    def with_loads(self, car: Car, loads: Floats) -> Self:
        """Give it with other loads (4,) [N] that are as uncertain as these."""
        return replace(
            self,
            loads=loads,
            shares=shares(car, loads),
            uncertainties=share_uncertainties(car, loads, self.covariance),
            repeatable=share_uncertainties(car, loads, self.scatter),
        )


def weigh(car: Car, readings: Readings) -> WeighIn:
    """Compute what the car weighs and where, from the readings.

    Args:
        car: Its wheelbase, tracks and scales; its rates where the pads are not level.

    Returns:
        First-order uncertainties. Those of the pad heights count through the stiffnesses of the
        file; where nothing can be told of these they are left out.

    Raises:
        InputError: When a reading, or an uncertainty of the scales, is not a finite number.

    References:
        JCGM 100:2008; the correction for pad heights is `Statics.pad_effect`.
    """
    repeats = readings.repeats - readings.tare
    _refuse_unless_finite("readings", repeats)
    _refuse_unless_finite("pad_heights", readings.pad_heights)
    mean = repeats.mean(axis=0)
    statics, scales, level = statics_of(car, mean), car.scales, not readings.pad_heights.any()
    # So that a car of which no more is known than its loads can be weighed, too.
    pad_effect = np.zeros(4) if level else statics.pad_effect(readings.pad_heights)
    slopes = _pad_slopes(statics)
    loads = mean - pad_effect
    scatter = readings.covariance
    if scatter is None:
        scatter = scatter_covariance(scales, mean, repeats)
    else:
        # The accuracy of what was read is in it.
        scales = scales._replace(accuracy=0.0, common_accuracy=0.0)
    pads = pad_effects(scales, mean, slopes)
    for sure in (scatter, pads):
        _refuse_unless_finite("the uncertainty of the readings", sure)
    covariance = scatter + pads.T @ pads
    return WeighIn(
        loads=loads,
        scatter=scatter,
        pads=pads,
        pad_slopes=slopes,
        shares=shares(car, loads),
        uncertainties=share_uncertainties(car, loads, covariance),
        repeatable=share_uncertainties(car, loads, scatter),
        pad_effect=pad_effect,
        repeats=len(repeats),
        outliers=_outliers(car, repeats),
        readings=readings,
    )


def _pad_slopes(statics: Statics) -> Floats:
    try:
        slopes = pad_slopes(statics.linear)
    except BalancerError:
        # Loads and shares are none the worse for a corner that can't stand as its file says.
        slopes = np.full((4, 4), np.nan)
    return slopes if np.isfinite(slopes).all() else np.full((4, 4), np.nan)


def _refuse_unless_finite(where: str, values: Floats) -> None:
    if not np.isfinite(values).all():
        what = "holds a value that is no finite number"
        raise InputError.one(where, what, "give numbers, as the pads and the [scales] have them")


def _outliers(car: Car, repeats: Floats) -> tuple[tuple[int, str], ...]:
    """Find readings far from the median of their pad: the car had not settled, or a slip."""
    if len(repeats) < 3:
        return ()
    # The quantile: `median` would load a package for masked arrays.
    off = np.abs(repeats - np.quantile(repeats, 0.5, axis=0))
    # 1.4826 makes the median deviation of a normal sample its standard deviation; five of them
    # (common practice, no published source) keeps an honest scatter from being called a slip.
    usual = max(
        1.4826 * float(np.quantile(off, 0.5)), car.scales.repeatability, car.scales.resolution
    )
    return tuple((int(row) + 1, CORNERS[pad]) for row, pad in np.argwhere(off > 5 * usual))
