"""What a part does and where a driver sits, as people who weigh cars know: common practice."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from balancer.car.conventions import Floats
from balancer.car.model import Car, Item, plain_car
from balancer.files.units import US
from balancer.weighing.comparison import Center, center_of
from balancer.weighing.parts import Change, variant
from tests.published.printed import printed
from tests.sources import common_practice

FRONT = np.array([0.5, 0.5, 0.0, 0.0])
REAR = np.array([0.0, 0.0, 0.5, 0.5])


def car_loads(pounds: float, front: float) -> Floats:
    """Make four loads [N] of a car that is the same left and right."""
    return US.to_si(pounds, "load") * (front * FRONT + (1 - front) * REAR)


@pytest.mark.parametrize("left", [-0.5, 0.0, 0.3])
@common_practice
def test_a_hundred_pounds_off_the_front_axle(left: float) -> None:
    taken = Item("taken off", US.to_si(100, "mass"), 0.0, left, 0.5)
    before = car_loads(2729, 0.538)
    after = variant(plain_car(), before, "lighter", [Change("off", taken, None)])
    assert US.from_si(after.shares.total, "load") == printed("2629")
    assert 100 * after.shares.front == printed("52.0")


def driver_in(car: Car, alone: float, driven: float, shares_uncertainty: float = 0.0) -> Center:
    """Find a driver of 180 lb from the front shares of a two-seater of 2,170 lb.

    The totals are sure; what uncertainty there is in a front share, the rear has the other way
    round.
    """
    pounds = np.array([2170.0, 2350.0])
    uncertainties = shares_uncertainty * US.to_si(1, "load") * pounds
    covariance = uncertainties @ uncertainties * np.outer(FRONT - REAR, FRONT - REAR)
    before, after = car_loads(pounds[0], alone), car_loads(pounds[1], driven)
    return center_of(car.aft, car.left, after - before, covariance)


@pytest.mark.parametrize("wheelbase", [2.2, 2.5])
@common_practice
def test_the_driver_of_a_two_seater_sits_behind_the_middle(wheelbase: float) -> None:
    """About 70 % of the wheelbase: one digit is all that shares of three digits give."""
    found = driver_in(plain_car(wheelbase=wheelbase), 0.536, 0.517)
    assert US.from_si(found.mass, "mass") == printed("180")
    assert found.aft / wheelbase == printed("0.7")
    assert 0.60 <= found.aft / wheelbase <= 0.75


@common_practice
def test_displays_that_cut_off_digits_are_within_the_uncertainty() -> None:
    """53.6 front and 46.3 rear make 99.9: the front is anywhere from 53.6 to 53.7.

    The middle of the cut is the estimate, and a rectangle a tenth of a point wide its uncertainty
    (width divided by the root of 12).
    """
    wheelbase = 2.4
    car = plain_car(wheelbase=wheelbase)
    found = driver_in(car, 0.5365, 0.5175, shares_uncertainty=0.001 / np.sqrt(12))
    from_front_display, from_rear_display = 0.536, 1 - 0.463
    for alone in (from_front_display, from_rear_display):
        read = driver_in(car, alone, 0.5175)
        assert abs(read.aft - found.aft) <= 2 * found.aft_uncertainty
    # The two shares at the ends of what was cut: two rectangles end within √6 of their uncertainty.
    farthest = np.sqrt(6) * found.aft_uncertainty
    ends = [driver_in(car, *pair).aft for pair in product((0.536, 0.537), (0.517, 0.518))]
    assert max(abs(end - found.aft) for end in ends) == pytest.approx(farthest, rel=0.01)
    assert abs(0.70 * wheelbase - found.aft) <= farthest
    assert found.aft + farthest < 0.75 * wheelbase
