"""Other springs on a car that can be worked on paper: rigid tires, one wheel rate all around."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from balancer.car.adjusters import adjusters_of
from balancer.car.answers import Springs
from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Car, plain_car
from balancer.car.statics import statics_of

LOADS = np.array([2500.0, 2300.0, 1900.0, 400.0])
UNSPRUNG = np.full(4, 500.0 / GRAVITY)
"""[kg], 500 N each: more than there is on the right rear pad."""

AS_BEFORE = np.full(4, np.nan)
NO_LONGER = np.zeros(4)
WRENCH = np.array([1.0, -1.0, -1.0, 1.0])
"""What a lift of the left front does to the loads, where both tracks are equal."""


def car() -> Car:
    """Make a car with 10 N/mm at each wheel: 40 N/mm at a motion ratio of a half, squared."""
    plain = plain_car(tracks=(1.5, 1.5), spring_rate=(40e3, 40e3), motion_ratio=(0.5, 0.5))
    return replace(plain, unsprung_mass=UNSPRUNG)


def changed(rate: Floats, longer: Floats) -> Floats:
    """Give what the springs change of the loads [N]."""
    resprung = statics_of(car(), LOADS).resprung(Springs(rate, longer))
    return np.asarray(resprung.loads - LOADS)


def test_a_stiffer_spring_stands_too_high_by_what_it_is_pressed_less() -> None:
    """It carries 2500 - 500 N at the wheel, 4000 at the spring: 100 mm of the old, 66.7 of this.

    It is 13.3 mm shorter, so 20 mm too long; that lifts the wheel station by 40. Wheel rates are
    then 15 N/mm at one wheel, 10 at three: 40 mm over 1/15 + 3/10 mm/N.
    """
    stiffer = np.array([60e3, np.nan, np.nan, np.nan])
    shorter = np.array([-40e-3 / 3, 0.0, 0.0, 0.0])
    expected = 40 / (1 / 15 + 3 / 10) * WRENCH
    assert changed(stiffer, shorter) == pytest.approx(expected, rel=1e-12)


def test_a_softer_spring_stands_too_low() -> None:
    """The left rear carries 1400 N, 2800 at its spring: 70 mm of the old one, 140 of this.

    Its wheel comes down by 140 mm, and its rate to 5 N/mm.
    """
    softer = np.array([np.nan, np.nan, 20e3, np.nan])
    assert changed(softer, NO_LONGER) == pytest.approx(140 / (1 / 5 + 3 / 10) * WRENCH, rel=1e-12)


def test_a_spring_that_carries_nothing_is_pressed_by_nothing() -> None:
    """Less is on the right rear pad than the wheel itself weighs: its spring hangs loose.

    3 mm more of length are 6 at the wheel, whatever the rate.
    """
    assert changed(np.array([np.nan, np.nan, np.nan, 60e3]), NO_LONGER) == pytest.approx(
        np.zeros(4), abs=1e-12
    )
    longer = np.array([0.0, 0.0, 0.0, 3e-3])
    assert changed(AS_BEFORE, longer) == pytest.approx(6 / (4 / 10) * WRENCH, rel=1e-12)


def test_a_longer_spring_is_a_perch_moved_up() -> None:
    statics = statics_of(car(), LOADS)
    longer = np.array([1.5e-3, 0.0, -3e-3, 0.75e-3])
    springs = statics.resprung(Springs(AS_BEFORE, longer))
    perches = statics.turned(adjusters_of(car()), longer / 1.5e-3)
    assert springs.loads == pytest.approx(perches.loads, rel=1e-12)
    assert springs.heights == pytest.approx(perches.heights, abs=1e-12)
