"""What people who weigh cars know: common practice, no published source."""

from __future__ import annotations

import numpy as np
import pytest

from balancer.car.model import plain_car
from balancer.car.resting import added_loads
from balancer.files.units import US
from balancer.weighing.weigh import Readings, weigh
from tests.published.printed import printed
from tests.sources import common_practice

PADS = np.array([680.0, 690.0, 580.0, 586.0]) * US.factors["load"]


@common_practice
def test_four_pads_make_a_total_and_a_front_share() -> None:
    found = weigh(plain_car(), Readings.of(PADS)).shares
    assert US.from_si(found.total, "load") == printed("2536")
    assert 100 * found.front == printed("54")


@pytest.mark.parametrize("left", [0.0, 0.4])
@common_practice
def test_a_hundred_pounds_on_the_front_axle(left: float) -> None:
    car = plain_car()
    after = PADS + added_loads(car, US.to_si(100, "mass"), 0.0, left)
    found = weigh(car, Readings.of(after)).shares
    assert US.from_si(found.total, "load") == printed("2636")
    assert 100 * found.front == printed("56")


@pytest.mark.parametrize("pad", range(4))
@common_practice
def test_a_pad_zeroed_with_packing_on_it(pad: int) -> None:
    """The packing is gone when the car is on: the pad reads 1 lb less of what stands on it."""
    packing = US.to_si(1, "load") * np.eye(4)[pad]
    tared = Readings((PADS - packing)[None, :], tare=-packing, pad_heights=np.zeros(4))
    weighed = weigh(plain_car(), tared)
    assert US.from_si(weighed.shares.total, "load") == printed("2536")
    assert weighed.loads == pytest.approx(PADS, rel=1e-12)
    untared = weigh(plain_car(), Readings.of(PADS - packing))
    assert US.from_si(untared.shares.total, "load") == printed("2535")


@pytest.mark.parametrize(("aft", "left"), [(1.1, 0.3), (0.0, -0.7), (2.9, 0.1), (-0.5, 0.6)])
@common_practice
def test_on_equal_springs_a_mass_leaves_the_difference_of_the_diagonals(
    aft: float, left: float
) -> None:
    """Equal springs and tracks, any wheelbase: the mass splits evenly over the diagonals."""
    car = plain_car(wheelbase=2.35, tracks=(1.42, 1.42), spring_rate=(60e3, 60e3))
    after = PADS + added_loads(car, 35, aft, left)
    before, now = (loads[[1, 2]].sum() - loads[[0, 3]].sum() for loads in (PADS, after))
    assert now == pytest.approx(before, abs=1e-9)
