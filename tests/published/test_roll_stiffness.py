"""Wheel rates, ride rates, roll stiffness, bars and the softening by a high center of gravity.

Where they were read:

* kktse, open engineering notes, text in the repository at commit 8989c57:
  https://kktse.github.io/jekyll/update/2021/05/12/simplied-lateral-load-transfer-analysis.html
  and, for the tire rates, the post of 2021-07-18 at https://kktse.github.io
* Barton & Fieldhouse: https://fliphtml5.com/osspz/szqt/Automotive_Chassis_Engineering/185
  and https://fliphtml5.com/osspz/szqt/Automotive_Chassis_Engineering/190
* UNC Asheville:
  https://sites.google.com/unca.edu/suspension/learning/vehicle-dynamics-basics/roll-stiffness
"""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi
from typing import NamedTuple

import numpy as np
import pytest

from balancer.car.conventions import Floats
from balancer.car.linear import (
    compliance,
    lift,
    ride_frequency,
    ride_rate,
    suspension_stiffness,
    wheel_rate,
)
from balancer.car.model import Car, plain_car
from balancer.car.resting import added_loads, height_change
from balancer.files.units import DEGREE, INCH
from tests.published.printed import printed
from tests.sources import source

BARTON = "D. C. Barton, J. D. Fieldhouse, Automotive Chassis Engineering, Springer 2018"
KKTSE = "kktse, Simplified lateral load transfer analysis, 2021, corrected 22 October 2022"
PLACE = "2002 Acura RSX, tables of inputs and results, repository commit 8989c57"
COUPE = source(KKTSE, PLACE, "read")


class Setup(NamedTuple):
    """One column of the page: inputs (mm, N/mm, deg/mm, front and rear), and printed results."""

    spring_rate: tuple[float, float]
    motion_ratio: tuple[float, float]
    bar_diameter: tuple[float, float]
    bar_ratio: tuple[float, float]
    cg_up: float
    roll_center: tuple[float, float]
    roll_stiffness: tuple[float, float, float]
    rear_spring: str
    rear_wheel: str
    rear_roll: str
    rear_transfer: str
    recomputed_bar: tuple[str, str]


SETUPS = {
    "stock": Setup(
        spring_rate=(48.9, 80.2),
        motion_ratio=(0.92, 0.59),
        bar_diameter=(23, 19),
        bar_ratio=(0.096, 0.201),
        cg_up=533,
        roll_center=(96, 168),
        roll_stiffness=(1027, 1004, 2031),
        rear_spring="62.1",
        rear_wheel="40.3",
        rear_roll="49.4",
        rear_transfer="50.2",
        recomputed_bar=("6.121", "12.277"),
    ),
    "modified": Setup(
        spring_rate=(65.7, 113.8),
        motion_ratio=(0.96, 0.56),
        bar_diameter=(23, 24),
        bar_ratio=(0.096, 0.184),
        cg_up=480,
        roll_center=(-64, 120),
        roll_stiffness=(1395, 1686, 3081),
        rear_spring="63.4",
        rear_wheel="37.1",
        rear_roll="54.7",
        rear_transfer="63.6",
        recomputed_bar=("6.121", "26.193"),
    ),
}
FRONT_SHARE = 0.61
BAR_LENGTH = (1.008, 1.026)
SHEAR_MODULUS = 80e9
BOTH = pytest.mark.parametrize("setup", SETUPS.values(), ids=SETUPS.keys())


def car_of(setup: Setup) -> Car:
    """Make the page's car; its wheelbase is not given there and plays no part."""
    twist = pi * (np.array(setup.bar_diameter) * 1e-3) ** 4 * SHEAR_MODULUS / 32 / BAR_LENGTH
    bar_ratio = np.array(setup.bar_ratio) * DEGREE * 1e3
    front, rear = setup.spring_rate
    car = plain_car(
        tracks=(1.482, 1.481),
        spring_rate=(front * 1e3, rear * 1e3),
        motion_ratio=setup.motion_ratio,
    )
    return replace(car, bar_rate=twist * bar_ratio**2)


def axle_roll_stiffness(car: Car, stiffness: Floats) -> Floats:
    """Give the moment for one radian between axle and ground, front and rear [N·m/rad]."""
    axles = np.array([car.left * [1, 1, 0, 0], car.left * [0, 0, 1, 1]])
    return np.asarray(np.einsum("ai,ij,aj->a", axles, stiffness, axles))


def rear_share(pair: Floats) -> float:
    return float(100 * pair[1] / pair.sum())


@BOTH
@COUPE
def test_rear_share_of_wheel_rate(setup: Setup) -> None:
    car = car_of(setup)
    assert rear_share(car.spring_rate[[0, 2]]) == printed(setup.rear_spring)
    rates = wheel_rate(car.spring_rate, car.motion_ratio)
    assert rear_share(rates[[0, 2]]) == printed(setup.rear_wheel)


@BOTH
@COUPE
def test_roll_stiffness_with_bars(setup: Setup) -> None:
    """The tolerance is 1.5 N·m/deg: the page rounds its ratios before it uses them.

    ½·(k_w + 2·k_b)·t² is what the package makes of a bar: this holds its factor 2.
    """
    car = car_of(setup)
    axles = axle_roll_stiffness(car, suspension_stiffness(car)) * DEGREE
    assert [*axles, axles.sum()] == pytest.approx(list(setup.roll_stiffness), rel=0, abs=1.5)


@BOTH
@COUPE
def test_bar_rate_at_the_wheel(setup: Setup) -> None:
    """Inputs were read, k_b is ours: it is what couples the two wheels of an axle."""
    stiffness = suspension_stiffness(car_of(setup)) * 1e-3
    coupling = [-stiffness[0, 1], -stiffness[2, 3]]
    assert coupling == [printed(each) for each in setup.recomputed_bar]


@BOTH
@COUPE
def test_rear_share_of_roll_stiffness(setup: Setup) -> None:
    car = car_of(setup)
    assert rear_share(axle_roll_stiffness(car, suspension_stiffness(car))) == printed(
        setup.rear_roll
    )


@BOTH
@COUPE
def test_the_body_shares_a_side_moment_by_roll_stiffness(setup: Setup) -> None:
    """A couple on a rigid body: what goes to the rear is the printed share of roll stiffness."""
    car = car_of(setup)
    pads = added_loads(car, 10, 0.8, 0.5) + added_loads(car, -10, 0.8, -0.5)
    couples = np.array([pads[:2] @ car.left[:2], pads[2:] @ car.left[2:]])
    assert rear_share(couples) == printed(setup.rear_roll)


@BOTH
@COUPE
def test_rear_share_of_load_transfer(setup: Setup) -> None:
    """ERRATUM: the page's equation has the front mass in the rear roll-center term.

    The printed results need the rear mass; with the misprint they would be 53.5 and 65.5 %.
    The part that goes through the springs is shared as the package shares it.
    """
    car = car_of(setup)
    pads = added_loads(car, 10, 0.8, 0.5) + added_loads(car, -10, 0.8, -0.5)
    elastic = np.array([pads[0] - pads[1], pads[2] - pads[3]]) * car.tracks
    masses = np.array([FRONT_SHARE, 1 - FRONT_SHARE])
    arm = setup.cg_up - masses @ setup.roll_center
    moments = elastic / elastic.sum() * arm + masses * setup.roll_center
    assert rear_share(moments / car.tracks) == printed(setup.rear_transfer)


def rolling_car(roll_stiffness: float, cg_up: float) -> Car:
    """Make a car, the same front and rear, of a given roll stiffness in all [N·m/rad]."""
    track = 1.46
    rate = roll_stiffness / track**2
    car = plain_car(tracks=(track, track), spring_rate=(rate, rate), motion_ratio=(1.0, 1.0))
    return replace(car, cg_up=cg_up)


def roll_of(car: Car, moment: float, roll_stiffness: float, loads: Floats) -> float:
    """Give the roll [rad] under a moment, put in as the lifts that make the same moment."""
    raised = height_change(car, moment / roll_stiffness * car.left, loads)
    return float((raised[0] - raised[1]) / car.tracks[0])


@pytest.mark.parametrize(
    ("acceleration", "unit", "digits"), [(1.0, 1.0, "0.0194"), (9.81, DEGREE, "10.9")]
)
@source(BARTON, "p. 174, worked example (b), eq. 3.18", "read")
def test_a_high_center_of_gravity_softens_roll(
    acceleration: float, unit: float, digits: str
) -> None:
    """Roll per unit of side acceleration, m·d/(k - m·g·d): 1280 kg at 0.365 m on 28,650 N·m/rad.

    Without the softening it would be 9.2 deg at 1 g (ours), as for a center on the ground.
    """
    mass, arm, stiffness = 1280.0, 0.365, 28_650.0
    loads = np.full(4, mass * 9.81 / 4)
    moment = mass * arm * acceleration
    high = rolling_car(stiffness, arm)
    assert roll_of(high, moment, stiffness, loads) / unit == printed(digits)
    low = rolling_car(stiffness, 0.0)
    assert roll_of(low, moment, stiffness, loads) == pytest.approx(moment / stiffness, rel=1e-12)


@source(BARTON, "eqs. 3.29-3.33, pp. 178-179", "formula read, numbers ours")
def test_wheel_rate_of_a_lever() -> None:
    """k_w = k_s·(c/b)² for a spring at c on an arm of b; virtual work gives the same force.

    A seat moved by p at a spring that can't give adds k_s·p there and (c/b) of it at the wheel.
    """
    spring, ratio, move = 80e3, 0.21 / 0.35, 2e-3
    car = plain_car(spring_rate=(spring, spring), motion_ratio=(ratio, ratio))
    rates = wheel_rate(car.spring_rate, car.motion_ratio)
    assert rates == pytest.approx(np.full(4, 28_800.0), rel=1e-12)
    raised = lift(car, np.full(4, move))
    assert rates * raised == pytest.approx(np.full(4, spring * move * ratio), rel=1e-12)


@pytest.mark.parametrize("tire", [inf, 252.1e3, 180e3])
@source(
    "UNC Asheville, suspension notes",
    "vehicle dynamics basics, roll stiffness",
    "formula read, numbers ours",
)
def test_axle_roll_stiffness_from_ride_rate(tire: float) -> None:
    """½·ride rate·track² for an axle without a bar, springs and tires together."""
    car = plain_car(tracks=(1.482, 1.441), tire_rate=(tire, tire))
    ride = ride_rate(wheel_rate(car.spring_rate, car.motion_ratio), car.tire_rate)
    stiffness = np.asarray(np.linalg.inv(compliance(car)), float)
    axles = axle_roll_stiffness(car, stiffness)
    assert axles == pytest.approx(ride[[0, 2]] * car.tracks**2 / 2, rel=1e-12)


@source(
    "T. D. Gillespie, Fundamentals of Vehicle Dynamics, SAE 1992; "
    "W. F. Milliken, D. L. Milliken, Race Car Vehicle Dynamics",
    "ch. 5; ch. 16: ride rate, and 1 Hz at 9.8 in of static deflection",
    "from memory",
)
def test_one_hertz_is_ten_inches_of_static_deflection() -> None:
    """The deflection that gives 1 Hz follows from any other: it goes with 1/f²."""
    car = plain_car(tire_rate=(210e3, 210e3))
    ride = 1 / np.diag(compliance(car))
    deflection = 4.0
    hertz = ride_frequency(car, ride * deflection * INCH)
    assert (deflection * hertz**2).tolist() == [printed("9.8")] * 4


@pytest.mark.parametrize(("setup", "digits"), [("stock", ("35.552", "25.134"))])
@source(
    KKTSE + "; tire rate of an RE-71R 255/40R17 measured 2021 (Formula Delta)",
    "post of 2021-07-18, 252.1 N/mm at 3560 N; repository commit 8989c57",
    "read",
)
def test_ride_rate_on_a_measured_tire(setup: str, digits: tuple[str, str]) -> None:
    """Inputs were read, output is ours."""
    car = car_of(SETUPS[setup])
    rates = ride_rate(wheel_rate(car.spring_rate, car.motion_ratio), np.full(4, 252.1e3)) * 1e-3
    assert rates[[0, 2]].tolist() == [printed(each) for each in digits]
