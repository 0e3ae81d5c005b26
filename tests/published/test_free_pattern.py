"""Four loads from three equations: what the springs decide.

Where they were read:

* Engineering Stack Exchange: https://engineering.stackexchange.com/q/35600
* Barton & Fieldhouse:
  https://fliphtml5.com/osspz/szqt/Automotive_Chassis_Engineering/212
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.linear import compliance, free_pattern, load_change
from balancer.car.model import Car, plain_car
from balancer.car.resting import added_loads
from tests.published.printed import printed
from tests.sources import source

HALF = 0.9
PLATE = plain_car(2 * HALF, (2 * HALF, 2 * HALF), spring_rate=(40e3, 40e3), motion_ratio=(1.0, 1.0))
STACK_EXCHANGE = source(
    "Engineering Stack Exchange, question 35600, square rigid plate on four equal springs",
    "eqs. 5 and 6 (eqs. 10 and 11 there have sign errors and are not used)",
    "formula read, numbers ours",
)
DERIVED = pytest.mark.source(
    work="derived here, no published source",
    place="force method with one redundant, held against the 3×3 stiffness method",
    how="-",
)


@pytest.mark.parametrize(
    ("aft", "left"),
    [(HALF, 0.0), (0.0, HALF), (0.4, -0.7), (1.5, 0.2), (2.3, -1.1), (-0.6, 0.5)],
)
@STACK_EXCHANGE
def test_each_diagonal_takes_half_wherever_the_load_is(aft: float, left: float) -> None:
    loads = added_loads(PLATE, 50, aft, left) / GRAVITY
    assert loads[[0, 3]].sum() == pytest.approx(25, rel=1e-12)
    assert loads[[1, 2]].sum() == pytest.approx(25, rel=1e-12)


@pytest.mark.parametrize(
    "other",
    [
        replace(PLATE, spring_rate=np.array([40e3, 40e3, 30e3, 30e3])),
        replace(PLATE, spring_rate=np.array([40e3, 30e3, 40e3, 40e3])),
        replace(PLATE, tracks=np.array([1.8, 1.4])),
    ],
    ids=["softer rear", "one soft spring", "narrower rear"],
)
@STACK_EXCHANGE
def test_the_diagonals_differ_once_the_plate_is_not_square_and_equal(other: Car) -> None:
    """The limit of the rule: unequal springs or tracks let a mass on one side move them."""
    loads = added_loads(other, 50, 0.4, 0.5) / GRAVITY
    assert abs(loads[[1, 2]].sum() - 25) > 0.1


def unequal() -> Car:
    """Make the car of the printed vector: 40 and 30 N/mm, tracks 1.6 and 1.4 m."""
    return plain_car(tracks=(1.6, 1.4), spring_rate=(40e3, 30e3), motion_ratio=(1.0, 1.0))


def by_stiffness(car: Car, lifts: Floats) -> Floats:
    """Give the answer to lifts from heave, pitch and roll of a rigid body."""
    basis = np.column_stack([np.ones(4), car.aft, car.left])
    rates = np.diag(car.spring_rate)
    moved = np.linalg.solve(basis.T @ rates @ basis, basis.T @ rates @ lifts)
    return np.asarray(rates @ (lifts - basis @ moved))


@DERIVED
def test_one_hundredth_of_a_millimeter_under_the_left_front() -> None:
    change = load_change(unequal(), np.array([1e-5, 0.0, 0.0, 0.0]))
    digits = ("0.0729529", "-0.0729529", "-0.0833747", "0.0833747")
    assert change.tolist() == [printed(each) for each in digits]


@pytest.mark.parametrize("corner", range(4))
@DERIVED
def test_force_method_and_stiffness_method_agree(corner: int) -> None:
    car, lifts = unequal(), 1e-5 * np.eye(4)[corner]
    change = load_change(car, lifts)
    assert change == pytest.approx(by_stiffness(car, lifts), rel=1e-11)
    sums = [change.sum(), change @ car.aft, change @ car.left]
    assert sums == pytest.approx([0, 0, 0], abs=1e-15)


@DERIVED
def test_closed_form_of_the_answer() -> None:
    car, lifts = unequal(), np.array([1e-5, 0.0, -2e-5, 3e-5])
    pattern = free_pattern(car.tracks)
    expected = pattern * (pattern @ lifts) / np.sum(pattern**2 / car.spring_rate)
    assert load_change(car, lifts) == pytest.approx(expected, rel=1e-12)


@source(
    "D. C. Barton, J. D. Fieldhouse, Automotive Chassis Engineering, Springer 2018",
    "p. 201, suspension deflection from the load change at an axle station",
    "read",
)
def test_height_is_load_over_rate() -> None:
    """936 N off a station whose rate is 35.2 N/mm lets it rise 26.6 mm.

    The mass is taken off above the axle, so that the other axle keeps its load.
    """
    car = plain_car(spring_rate=(35.2e3, 60e3), motion_ratio=(1.0, 1.0))
    change = added_loads(car, -2 * 936 / GRAVITY, 0.0, 0.0)
    assert change[:2].tolist() == [printed("-936")] * 2
    pressed = 1e3 * compliance(car) @ change
    assert pressed[:2].tolist() == [printed("-26.6")] * 2
    assert pressed[2:] == pytest.approx([0, 0], abs=1e-9)
