"""Margins worked on paper: how far inside a limit, from the table of the normal distribution."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import Any

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY
from balancer.car.errors import InputError
from balancer.car.model import Car, Rules, plain_car
from balancer.planning.ballast.margin import (
    Margin,
    OtherScale,
    inset,
    margin_for,
    margin_of,
    minimum_mass,
    miss_chance,
)


def car(**rules: Any) -> Car:
    return replace(plain_car(), rules=Rules(**rules))


def test_two_ends_of_a_band_share_the_chance() -> None:
    """In the middle of a band four deviations wide each end is missed 2.28 % of the time."""
    assert inset(1.0, 0.045501, 4.0) == pytest.approx(2.0, abs=0.01)
    assert inset(1.0, 0.0454, 4.0) == inf
    # The far end of one twelve wide takes nothing of a chance of 2.28 %.
    assert inset(0.5, 0.02275, 6.0) == pytest.approx(1.0, abs=1e-4)


def test_a_limit_that_stands_alone_has_the_whole_chance() -> None:
    assert inset(2.0, 0.15866) == pytest.approx(2.0, abs=1e-4)
    # What may be missed half of the time may be at the very edge; sure: no distance.
    assert inset(2.0, 0.5) == 0.0
    assert inset(0.0, 0.05) == inset(0.0, 0.05, 1.0) == 0.0


def test_what_is_known_exactly_is_inside_or_outside() -> None:
    assert [miss_chance(spare, 0.0) for spare in (-0.5, 0.0, 0.5)] == [1.0, 0.0, 0.0]
    assert miss_chance(-2.0, 2.0) == pytest.approx(0.8413, abs=5e-5)
    assert miss_chance(0.0, 2.0) == 0.5


def test_the_scale_here_and_the_one_there_add_up_as_squares() -> None:
    """3 N here on a newton of each front pad; there 0.1 % of 4000 N in all: 5 N."""
    known = np.diag([4.0, 5.0, 70.0, 70.0])
    front = np.array([1.0, 1.0, 0.0, 0.0])
    loads = np.array([2500.0, 1500.0, 100.0, 100.0])
    assert OtherScale(known, 1e-3).deviation(loads, front) == pytest.approx(5.0)
    # One against the other, pads that err each by itself make more of it: 2.5 and 1.5 N.
    across = np.array([1.0, -1.0, 0.0, 0.0])
    alone = (9 + 2.5**2 + 1.5**2) ** 0.5
    assert OtherScale(known, 1e-3).deviation(loads, across) == pytest.approx(alone)


def test_a_minimum_by_power_counts_where_it_is_more() -> None:
    assert minimum_mass(Rules(minimum=900, power=200, mass_per_power=5)) == 1000
    assert minimum_mass(Rules(minimum=1100, power=200, mass_per_power=5)) == 1100
    assert minimum_mass(Rules()) == 0


def test_the_margin_of_a_chance() -> None:
    """3 kg here and 0.4 % of 1000 kg there make 5 kg; one time in 44 is two of them."""
    doubtful = car(minimum=1000, shortfall_chance=0.02275, scale_accuracy=0.004)
    margin = margin_of(doubtful, 3 * GRAVITY)
    assert margin.mass == pytest.approx(10.0, abs=1e-3)
    assert margin[1:] == pytest.approx((3.0, 4.0, 0.02275))


def test_a_margin_that_is_given_goes_before_one_of_a_chance() -> None:
    given = car(minimum=1000, margin=7, shortfall_chance=0.05, scale_accuracy=0.004)
    assert margin_of(given, 3 * GRAVITY) == pytest.approx((7, 3.0, 4.0, 0.0))
    assert margin_of(car(minimum=1000), 0.0) == Margin(0, 0.0, 1.0, 0.0)


@pytest.mark.parametrize("chance", [0.0, 0.5, -0.1, 0.7])
def test_chances_that_no_margin_is_for(chance: float) -> None:
    with pytest.raises(ValueError, match="not between 0 and"):
        margin_for(chance, 1.0, 1.0)


def test_a_minimum_with_several_faults_is_refused_with_all_of_them() -> None:
    with pytest.raises(InputError) as caught:
        minimum_mass(Rules(minimum=-1, power=np.nan, mass_per_power=inf))
    assert [fault.where for fault in caught.value.faults] == ["minimum", "power", "mass_per_power"]
    with pytest.raises(InputError):
        margin_of(car(minimum=1000, margin=-1), 0.0)


def test_the_chance_of_the_class_or_the_usual_one() -> None:
    stated = OtherScale.of(car(shortfall_chance=0.02, scale_accuracy=3e-3), np.eye(4))
    assert (stated.accuracy, stated.chance, stated.stated) == (3e-3, 0.02, True)
    usual = OtherScale.of(car(), np.eye(4))
    assert (usual.accuracy, usual.chance, usual.stated) == (1e-3, 0.05, False)
    assert not OtherScale(np.eye(4), 1e-3).stated
