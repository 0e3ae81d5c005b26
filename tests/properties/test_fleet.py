"""A fleet is its cars: every row is what a single car comes to, to rounding."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY
from balancer.car.model import Car, Item, Scales
from balancer.weighing.comparison import compare
from balancer.weighing.fleet import FleetItem, carry_fleet, compare_fleet, fleet_of, weigh_fleet
from balancer.weighing.load_states import carry
from balancer.weighing.weigh import Readings, weigh
from tests.cars import cornered
from tests.conftest import random_car, random_loads

COUNT = 60
NEAR = 1e-12


def cars(seed: int, count: int = COUNT) -> list[Car]:
    """Draw cars: rigid chassis and twisting ones, bars, soft tires and rigid ones, other pads."""
    rng = np.random.default_rng(seed)
    drawn = [random_car(rng, rigid=bool(rng.random() < 0.5)) for _ in range(count)]
    pads = rng.uniform(0, [2e-3, 2e-3, 5.0, 5.0], (count, 4)).tolist()
    return [replace(car, scales=Scales(*one)) for car, one in zip(drawn, pads, strict=True)]


def readings(seed: int, count: int, repeats: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    loads = np.array([random_loads(rng) for _ in range(count)])
    return loads[:, None] + rng.normal(0, 4.0, (count, repeats, 4))


def same(fleet: np.ndarray, single: list[object]) -> None:
    """Hold rows against single calls, column by column as large as the column is."""
    wanted = np.array(single)
    assert fleet.shape == wanted.shape
    size = np.where(np.isfinite(wanted), np.abs(wanted), 0.0).max(axis=0)
    finite = np.isfinite(wanted)
    assert np.array_equal(np.isfinite(fleet), finite)
    off = np.abs(np.where(finite, fleet, 0.0) - np.where(finite, wanted, 0.0))
    assert (off <= NEAR * np.maximum(size, 1e-3)).all()


@pytest.mark.parametrize("repeats", [1, 3, 7])
def test_every_car_is_weighed_as_if_alone(repeats: int) -> None:
    drawn, read = cars(1), readings(2, COUNT, repeats)
    read[:, :, 2] = read[:, :1, 2]
    heights = np.random.default_rng(3).uniform(0, 4e-3, (COUNT, 4))
    found = weigh_fleet(fleet_of(drawn), read, heights)
    alone = [
        weigh(car, Readings(some, np.zeros(4), high))
        for car, some, high in zip(drawn, read, heights, strict=True)
    ]
    for name in ("loads", "covariance", "shares", "uncertainties"):
        same(getattr(found, name), [getattr(one, name) for one in alone])


def test_every_car_is_carried_as_if_alone() -> None:
    drawn, loads = cars(4), readings(5, COUNT, 1)[:, 0]
    rng = np.random.default_rng(6)
    put = [FleetItem(*rng.uniform([5, -0.4, -0.6], [90, 3.0, 0.6], (COUNT, 3)).T) for _ in "123"]
    found = carry_fleet(fleet_of(drawn), loads, put[:1], put[1:])
    for row, car in enumerate(drawn):
        items = [
            Item("it", float(item.mass[row]), float(item.aft[row]), float(item.left[row]), 0.3)
            for item in put
        ]
        alone = carry(car, loads[row], items[:1], items[1:])
        assert found.loads[row] == pytest.approx(alone.loads, rel=NEAR, abs=1e-9)
        assert found.shares[row] == pytest.approx(np.array(alone.shares), rel=NEAR, abs=NEAR)


def test_every_car_is_compared_as_if_alone() -> None:
    drawn = cars(7)
    fleet, rng = fleet_of(drawn), np.random.default_rng(8)
    read = readings(9, COUNT, 1)
    # Some changes are lost in their own uncertainty: where they sit is not known then.
    more = rng.choice([0.0, 0.2, 300.0], (COUNT, 1, 1)) * rng.uniform(0.2, 1, (COUNT, 1, 4))
    found = compare_fleet(fleet, weigh_fleet(fleet, read), weigh_fleet(fleet, read + more))
    alone = [
        compare(
            car, weigh(car, Readings.of(read[row])), weigh(car, Readings.of((read + more)[row]))
        )
        for row, car in enumerate(drawn)
    ]
    assert np.isinf(found.added[:, 4:]).any()
    assert np.isfinite(found.added[:, 4:]).any()
    for name in ("loads", "load_uncertainties", "shares", "uncertainties"):
        wanted = np.array([getattr(one, name) for one in alone])
        assert getattr(found, name) == pytest.approx(wanted, rel=NEAR, abs=1e-9)
    told = np.array([one.added for one in alone])
    certain = np.abs(told[:, 0]) > 1
    assert found.added[certain] == pytest.approx(told[certain], rel=1e-9, abs=1e-9)
    assert np.array_equal(np.isinf(found.added), np.isinf(told))


def test_what_is_no_fleet_is_refused() -> None:
    drawn = cars(10, 3)
    with pytest.raises(ValueError, match="at least one"):
        fleet_of([])
    with pytest.raises(ValueError, match="car 1 of the fleet is not linear"):
        fleet_of([drawn[0], cornered(drawn[1])])
    solid = replace(drawn[2], spring_rate=np.array([np.inf, np.inf, 6e4, 6e4]))
    with pytest.raises(ValueError, match="car 0 of the fleet is not linear"):
        fleet_of([solid])
    fleet = fleet_of(drawn)
    with pytest.raises(ValueError, match="2 rows for 3 cars"):
        weigh_fleet(fleet, np.full((2, 1, 4), 250 * GRAVITY))
    with pytest.raises(ValueError, match="finite"):
        carry_fleet(fleet, np.full((3, 4), np.nan), [], [])
