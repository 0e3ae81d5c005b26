"""Many linear cars at once: weighed, carried to another state and compared in one call each.

The formulas are those of a single car, whose arrays have one more axis in front; nothing of the
physics is here twice. For paddock statistics, studies and tests that draw thousands of cars.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from balancer.car.body import twists
from balancer.car.conventions import Floats, Integers
from balancer.car.leaning import Masses, carried_loads, leaned_change, upright
from balancer.car.linear import pad_slopes
from balancer.car.model import Car
from balancer.car.statics import taken_for_linear
from balancer.weighing.comparison import Pads, center_values, pair_covariance
from balancer.weighing.uncertainty import (
    carried_uncertainties,
    pad_effects,
    scatter_covariance,
    share_slopes,
    share_values,
)

_STACKED = (
    "wheelbase", "tracks", "spring_rate", "motion_ratio", "tire_rate", "unsprung_mass", "bar_rate",
    "torsional_stiffness", "cg_up",
)  # fmt: skip


class Fleet(NamedTuple):
    """Cars side by side.

    Attributes:
        size: How many.
        parts: tuple of (array of int, Car), which of them, and those stacked: rigid chassis
            apart from those that twist.
    """

    size: int
    parts: tuple[tuple[Integers, Car], ...]


class FleetItem(NamedTuple):
    """Something put on each car, one number a car.

    Attributes:
        mass: (n,) [kg]; 0 where a car has no such thing.
        aft, left, up: (n,) [m]; up 0: as high as the center of gravity of the car.
    """

    mass: Floats
    aft: Floats
    left: Floats
    up: Floats | float = 0.0


class FleetWeighIn(NamedTuple):
    """Every car weighed, row by row what `weigh.WeighIn` is for one.

    Attributes:
        loads: (n, 4), on level pads [N].
        covariance, scatter: (n, 4, 4) [N²].
        pads: (n, 9, 4) [N].
        shares, uncertainties, repeatable: (n, 6), in the order of `uncertainty.Shares`.
        slopes: (n, 6, 4), what a newton on each pad does to the shares.
    """

    loads: Floats
    covariance: Floats
    scatter: Floats
    pads: Floats
    shares: Floats
    uncertainties: Floats
    repeatable: Floats
    slopes: Floats


class FleetTrim(NamedTuple):
    """Every car in another state: loads (n, 4) [N] and `Shares` (n, 6)."""

    loads: Floats
    shares: Floats


class FleetDifference(NamedTuple):
    """Second weigh-ins less first ones, row by row what `comparison.Difference` is for one.

    Attributes:
        loads, load_uncertainties: (n, 4) [N].
        shares, uncertainties: (n, 6), in the order of `uncertainty.Shares`.
        added: (n, 6), in the order of `comparison.Center`.
    """

    loads: Floats
    load_uncertainties: Floats
    shares: Floats
    uncertainties: Floats
    added: Floats


def fleet_of(cars: Sequence[Car]) -> Fleet:
    """Put cars side by side.

    Args:
        cars: Linear ones on springs.

    Raises:
        ValueError: When there are none, or one of them has corners that are not linear or an
            unsprung axle.
    """
    if not cars:
        raise ValueError("a fleet has at least one car")
    for number, car in enumerate(cars):
        if taken_for_linear(car) is not car or car.solid.any():
            raise ValueError(f"car {number} of the fleet is not linear on four springs")
    twisting = np.array([twists(car) for car in cars])
    groups = [np.flatnonzero(~twisting), np.flatnonzero(twisting)]
    parts = [(rows, _stacked([cars[row] for row in rows.tolist()])) for rows in groups if len(rows)]
    return Fleet(len(cars), tuple(parts))


def _stacked(cars: Sequence[Car]) -> Car:
    fields: dict[str, Any] = {
        name: np.array([getattr(car, name) for car in cars]) for name in _STACKED
    }
    of_pads = np.array([car.scales[:5] for car in cars]).T
    scales = dict(zip(cars[0].scales._fields, of_pads, strict=False))
    return replace(cars[0], **fields, scales=cars[0].scales._replace(**scales))


def weigh_fleet(fleet: Fleet, readings: Floats, pad_heights: Floats | None = None) -> FleetWeighIn:
    """Weigh every car, as `weigh.weigh` does for one.

    Args:
        readings: (n, r, 4), of each car r times, tare taken off [N].
        pad_heights: (n, 4) or None [m]; None: level pads.

    Raises:
        ValueError: When a reading or a height is not a finite number, or there are not as many
            as cars.
    """
    heights = np.zeros((fleet.size, 4)) if pad_heights is None else pad_heights
    _check(fleet, readings, heights)

    def weighed(car: Car, read: Floats, raised: Floats) -> Iterable[Floats]:
        mean = read.mean(axis=-2)
        loads = mean - leaned_change(car, raised, mean)
        scatter = scatter_covariance(car.scales, mean, read)
        pads = pad_effects(car.scales, mean, pad_slopes(car))
        covariance, slopes = scatter + np.swapaxes(pads, -1, -2) @ pads, share_slopes(car, loads)
        sure = (carried_uncertainties(slopes, each) for each in (covariance, scatter))
        return loads, covariance, scatter, pads, share_values(car, loads), *sure, slopes

    return FleetWeighIn(*_by_part(fleet, weighed, readings, heights))


def carry_fleet(
    fleet: Fleet, loads: Floats, was: Sequence[FleetItem], now: Sequence[FleetItem]
) -> FleetTrim:
    """Carry every car from the state it was weighed in to another, as `load_states.carry` does.

    Args:
        loads: (n, 4), on level pads [N].
        was, now: What was on board then, and what is to be.

    Raises:
        ValueError: As `weigh_fleet`.
    """
    every = [item._replace(up=np.broadcast_to(item.up, fleet.size)) for item in (*now, *was)]
    numbers = [np.asarray(values) for item in every for values in item]
    _check(fleet, loads, *numbers)

    def carried(car: Car, before: Floats, *given: Floats) -> Iterable[Floats]:
        rows = np.reshape(given, (len(every), 4, len(before)))
        put_on, taken_off = (
            Masses(*part.transpose(1, 0, 2)) for part in (rows[: len(now)], rows[len(now) :])
        )
        after = carried_loads(car, before, put_on, taken_off)
        return after, share_values(car, after)

    return FleetTrim(*_by_part(fleet, carried, loads, *numbers))


def compare_fleet(
    fleet: Fleet, first: FleetWeighIn, second: FleetWeighIn, pads: Pads = "same"
) -> FleetDifference:
    """Compare two weigh-ins of every car, as `comparison.compare` does for one.

    Args:
        pads: On which ones the second weighings were; as high as the first time.
    """
    eight = pair_covariance((first.scatter, second.scatter), (first.pads, second.pads), pads)
    slopes = np.concatenate([first.slopes, second.slopes], axis=-1)
    together = eight[:, :4, :4] + eight[:, :4, 4:] + eight[:, 4:, :4] + eight[:, 4:, 4:]

    def center(car: Car, gained: Floats, uncertainty: Floats, loads: Floats) -> Iterable[Floats]:
        put = upright(car, gained, loads)
        return (center_values(car.aft, car.left, put, uncertainty),)

    change = second.loads - first.loads
    lighter = second.shares[:, :1] < first.shares[:, :1]
    heavier = np.where(lighter, first.loads, second.loads)
    (added,) = _by_part(fleet, center, change, together, heavier)
    return FleetDifference(
        loads=change,
        load_uncertainties=np.sqrt(np.diagonal(together, axis1=-2, axis2=-1)),
        shares=second.shares - first.shares,
        uncertainties=carried_uncertainties(slopes, eight),
        added=added,
    )


def _check(fleet: Fleet, *numbers: Floats) -> None:
    for values in numbers:
        if len(values) != fleet.size:
            raise ValueError(f"{len(values)} rows for {fleet.size} cars")
        if not np.isfinite(values).all():
            raise ValueError("every number of a fleet is to be finite")


def _by_part(
    fleet: Fleet, work: Callable[..., Iterable[Floats]], *numbers: Floats
) -> Iterable[Floats]:
    """Work on rigid and twisting cars apart, and put the rows together again."""
    order = np.argsort(np.concatenate([rows for rows, _ in fleet.parts]))
    parts = [work(car, *(values[rows] for values in numbers)) for rows, car in fleet.parts]
    return tuple(np.concatenate(columns)[order] for columns in zip(*parts, strict=True))
