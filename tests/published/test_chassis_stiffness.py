"""A chassis that twists between its axles: two rolling masses and three torsion springs.

The model, [[K_f + K_c, -K_c], [-K_c, K_r + K_c]]·φ = M, and its criterion of 80 % are those of
Deakin and others, as restated in an open student script; the closed form of the front load
transfer is that of Sampò and others, as coded in an open student repository. The papers' own
tables were not read: the numbers are ours.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from balancer.car.conventions import Floats
from balancer.car.linear import lift, load_change, warp_compliance
from balancer.car.model import Car, plain_car
from balancer.car.resting import added_loads, height_change
from balancer.files.units import METRIC
from tests.published.printed import printed
from tests.sources import source

DEAKIN = source(
    "A. Deakin, D. Crolla, J. P. Ramirez, R. Hanley, The Effect of Chassis Stiffness on Race Car "
    "Handling Balance, SAE 2000-01-3554",
    "two-mass model and the criterion of 80 %",
    "formula read, numbers ours",
)
SAMPO = source(
    "E. Sampò et al., Chassis Torsional Stiffness: Analysis of the Influence on Vehicle Dynamics, "
    "SAE 2010-01-0094 (authors and number from memory)",
    "elastic part of the front load transfer",
    "formula read, numbers ours",
)
FRONT, REAR = 1027.0, 1004.0
"""Roll stiffness of the axles [N·m/deg], those of test_roll_stiffness.py, stock."""
TO_FRONT = 0.61
LIMITS = [
    (500, "0.558229"),
    (1000, "0.540796"),
    (2000, "0.526786"),
    (5000, "0.515280"),
    (10_000, "0.510703"),
    (inf, "0.505662"),
]
STIFFNESSES = [500.0, 1000.0, 2000.0, 5000.0, 10_000.0]


def twisting_car(
    front: float, rear: float, chassis: float, tracks: tuple[float, float] = (1.5, 1.5)
) -> Car:
    """Make a car from two roll stiffnesses and a torsional stiffness [N·m/deg]."""
    rates = 2 * np.array([front, rear]) * METRIC.factors["torsion"] / np.array(tracks) ** 2
    car = plain_car(
        tracks=tracks, spring_rate=(float(rates[0]), float(rates[1])), motion_ratio=(1.0, 1.0)
    )
    return replace(car, torsional_stiffness=METRIC.to_si(chassis, "torsion"))


def couples(car: Car, pads: Floats) -> Floats:
    """Give the side moment that each axle carries [N·m]."""
    return np.array([pads[:2] @ car.left[:2], pads[2:] @ car.left[2:]])


def front_elastic_share(car: Car, to_front: float = TO_FRONT) -> float:
    """Put a pure couple on the body where `to_front` of it reaches the front axle's station."""
    aft = (1 - to_front) * car.wheelbase
    pads = added_loads(car, 20, aft, 0.6) + added_loads(car, -20, aft, -0.6)
    front, rear = couples(car, pads)
    return float(front / (front + rear))


@pytest.mark.parametrize(("chassis", "digits"), LIMITS)
@DEAKIN
def test_front_share_of_a_side_moment(chassis: float, digits: str) -> None:
    assert front_elastic_share(twisting_car(FRONT, REAR, chassis)) == printed(digits)


@DEAKIN
def test_a_chassis_without_stiffness_leaves_each_axle_its_own() -> None:
    assert front_elastic_share(twisting_car(FRONT, REAR, 1e-6)) == pytest.approx(TO_FRONT, abs=1e-9)


@DEAKIN
def test_a_very_stiff_chassis_is_a_rigid_one() -> None:
    stiff, rigid = (twisting_car(FRONT, REAR, chassis) for chassis in (1e10, inf))
    assert front_elastic_share(stiff) == pytest.approx(front_elastic_share(rigid), abs=1e-7)


@pytest.mark.parametrize("tracks", [(1.5, 1.5), (1.6, 1.35)])
@pytest.mark.parametrize("chassis", STIFFNESSES)
@SAMPO
def test_closed_form_of_the_front_load_transfer(
    chassis: float, tracks: tuple[float, float]
) -> None:
    """ΔF_f·t_f by its two parts, the front's own moment and what the rear's sends forward."""
    behind_front = REAR * chassis / (REAR + chassis)
    through = FRONT * chassis / (FRONT + chassis)
    own, other = FRONT / (FRONT + behind_front), through / (through + REAR)
    expected = TO_FRONT * own + (1 - TO_FRONT) * other
    found = front_elastic_share(twisting_car(FRONT, REAR, chassis, tracks))
    assert found == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("to_front", [0.45, 0.61])
@pytest.mark.parametrize(("share", "ratio"), [(0.55, "0.99"), (0.60, "0.96"), (0.70, "0.84")])
@DEAKIN
def test_chassis_that_delivers_80_percent(share: float, ratio: str, to_front: float) -> None:
    """Roll stiffness moved from a share λ at the front to 1 - λ, K_c = 4λ(1 - λ) of the whole.

    Then 80 % of the change arrives as load transfer, wherever the moment acts (derived here from
    the model): μ/(μ + λ(1 - λ)) with μ = K_c/(K_f + K_r).
    """
    whole = FRONT + REAR
    chassis = float(ratio) * whole
    shares = [
        front_elastic_share(twisting_car(part * whole, (1 - part) * whole, chassis), to_front)
        for part in (share, 1 - share)
    ]
    delivered = (shares[0] - shares[1]) / (2 * share - 1)
    assert delivered == pytest.approx(0.8, abs=1e-9)


def offset_lifts(car: Car, angle: float) -> Floats:
    """Give the lifts that turn the front axle's seat plane by an angle against the rear's."""
    return np.array([1.0, 1.0, 0.0, 0.0]) * car.left * angle


def roll_of_the_ends(front: float, rear: float, chassis: float, moments: Floats) -> Floats:
    """Solve the two-mass model: roll of the front and the rear of the body."""
    matrix = [[front + chassis, -chassis], [-chassis, rear + chassis]]
    return np.linalg.solve(np.array(matrix), moments)


@pytest.mark.parametrize("tracks", [(1.5, 1.5), (1.6, 1.35)])
@pytest.mark.parametrize("chassis", STIFFNESSES)
@DEAKIN
def test_a_perch_move_is_an_offset_between_the_axles(
    chassis: float, tracks: tuple[float, float]
) -> None:
    """No moment from outside, an angle between the seat planes: the model gives both answers."""
    angle = 0.25
    car = twisting_car(FRONT, REAR, chassis, tracks)
    lifts = offset_lifts(car, np.radians(angle))
    roll = roll_of_the_ends(FRONT, REAR, chassis, np.array([FRONT * angle, 0.0]))
    carried = FRONT * (angle - roll[0])
    assert couples(car, load_change(car, lifts)) == pytest.approx([carried, -carried], rel=1e-9)
    raised = height_change(car, lifts, np.full(4, 2500.0))
    ends = np.degrees((raised[[0, 2]] - raised[[1, 3]]) / car.tracks)
    assert ends == pytest.approx(roll, rel=1e-9)


@DEAKIN
def test_a_perch_on_a_rigid_chassis() -> None:
    """K to infinity: the two axles alone, in series."""
    angle = 0.25
    expected = angle / (1 / FRONT + 1 / REAR)
    for chassis, tolerance in ((1e10, 1e-6), (inf, 1e-12)):
        car = twisting_car(FRONT, REAR, chassis)
        change = load_change(car, offset_lifts(car, np.radians(angle)))
        assert couples(car, change) == pytest.approx([expected, -expected], rel=tolerance)


@DEAKIN
def test_a_perch_on_a_chassis_without_stiffness_does_nothing() -> None:
    """K to zero: loads stay, and the end whose perches were turned leans by all of the angle."""
    angle = np.radians(0.25)
    car = twisting_car(FRONT, REAR, 1e-6)
    lifts = offset_lifts(car, angle)
    assert load_change(car, lifts) == pytest.approx(np.zeros(4), abs=1e-6)
    raised = height_change(car, lifts, np.full(4, 2500.0))
    assert raised == pytest.approx(lifts, abs=1e-10)


@DEAKIN
def test_twist_adds_to_what_the_free_pattern_finds() -> None:
    """Three torsion springs in series: the compliance of chassis and axles adds up."""
    unit = METRIC.factors["torsion"]
    for chassis in STIFFNESSES:
        expected = 1 / FRONT + 1 / REAR + 1 / chassis
        found = warp_compliance(twisting_car(FRONT, REAR, chassis))
        assert found * unit == pytest.approx(expected, rel=1e-12, abs=0)


@DEAKIN
def test_one_perch_on_the_two_mass_model() -> None:
    """A single seat turned lifts its end and rolls it: only the roll is an offset."""
    car = twisting_car(FRONT, REAR, 2000.0)
    lifts = lift(car, np.array([1e-3, 0.0, 0.0, 0.0]))
    angle = float(np.degrees(1e-3 / car.tracks[0]))
    roll = roll_of_the_ends(FRONT, REAR, 2000.0, np.array([FRONT * angle, 0.0]))
    carried = FRONT * (angle - roll[0])
    assert couples(car, load_change(car, lifts)) == pytest.approx([carried, -carried], rel=1e-9)
