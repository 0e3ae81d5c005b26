"""Axles without springs against a frame solver, and against what can be worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.errors import UnstableCarError
from balancer.car.linear import (
    compliance,
    free_pattern,
    lift,
    load_change,
    ride_frequency,
    ride_rate,
    warp_compliance,
)
from balancer.car.model import Car, plain_car
from balancer.car.resting import added_loads, height_change
from balancer.car.statics import statics_of
from tests.conftest import random_car
from tests.oracles import frame_car
from tests.oracles.test_frame import ANY_LOADS, LEVEL

FRONT, REAR = np.array([True, True, False, False]), np.array([False, False, True, True])
KINDS = {
    "both solid, on tires": (FRONT | REAR, True, inf),
    "both solid, twisting, on tires": (FRONT | REAR, True, 4e3),
    "both solid, twisting, rigid tires": (FRONT | REAR, False, 4e3),
    "front solid, on tires": (FRONT, True, inf),
    "rear solid, twisting, on tires": (REAR, True, 5e4),
    "front solid, rigid tires": (FRONT, False, inf),
    "rear solid, twisting, rigid tires": (REAR, False, 5e4),
}


def _car(kind: str, seed: int, bars: bool = False) -> Car:
    solid, on_tires, torsion = KINDS[kind]
    rng = np.random.default_rng([seed, *kind.encode()])
    car = random_car(rng)
    return replace(
        car,
        spring_rate=np.where(solid, inf, car.spring_rate),
        motion_ratio=np.where(solid, 1.0, car.motion_ratio),
        tire_rate=car.tire_rate if on_tires else np.full(4, inf),
        torsional_stiffness=torsion,
        bar_rate=rng.uniform(5e3, 40e3, 2) if bars else np.zeros(2),
    )


def _settle(
    car: Car,
    perch: Floats,
    pads: Floats = LEVEL,
    masses: tuple[tuple[float, float, float], ...] = (),
) -> frame_car.Equilibrium:
    return frame_car.solve_equilibrium(
        car.wheelbase,
        car.tracks,
        car.spring_rate * car.motion_ratio**2,
        masses,
        perch / car.motion_ratio,
        bars=car.bar_rate,
        torsion=car.torsional_stiffness,
        tire_rate=None if np.isinf(car.tire_rate).all() else car.tire_rate,
        pads=pads,
    )


def _close(found: Floats, expected: Floats) -> bool:
    return bool(np.abs(found - expected).max() <= 2e-6 * np.abs(expected).max())


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("kind", KINDS)
def test_spacers_and_pads_against_the_frame(kind: str, seed: int) -> None:
    car, rng = _car(kind, seed), np.random.default_rng(seed)
    perch, pads = rng.uniform(-8e-3, 8e-3, 4), rng.uniform(-6e-3, 6e-3, 4)
    equilibrium, lifts = _settle(car, perch, pads), lift(car, perch) + pads
    assert _close(load_change(car, lifts), equilibrium.loads)
    assert _close(height_change(car, lifts, ANY_LOADS), equilibrium.heights)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("kind", [kind for kind in KINDS if "rigid" not in kind])
def test_a_bar_does_nothing_on_a_solid_axle(kind: str, seed: int) -> None:
    car = _car(kind, seed, bars=True)
    perch = np.random.default_rng(seed).uniform(-8e-3, 8e-3, 4)
    lifts = lift(car, perch)
    assert _close(load_change(car, lifts), _settle(car, perch).loads)
    off = replace(car, bar_rate=np.where(car.solid[[0, 2]], 0.0, car.bar_rate))
    assert load_change(off, lift(off, perch)) == pytest.approx(load_change(car, lifts), rel=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_added_masses_against_the_frame(kind: str) -> None:
    car = _car(kind, 1)
    # On the axles, where the frame's spine takes them as the model does.
    masses = ((70.0, 0.0, 0.3), (25.0, car.wheelbase, -0.4), (12.0, car.wheelbase + 0.5, 0.1))
    added = np.sum([added_loads(car, *mass) for mass in masses], axis=0)
    assert _close(added, _settle(car, LEVEL, masses=masses).loads)


@pytest.mark.parametrize("kind", KINDS)
def test_one_spacer_at_each_corner_against_the_frame(kind: str) -> None:
    car = _car(kind, 2)
    turned = statics_of(car, ANY_LOADS).per_turn()
    for corner in range(4):
        perch = np.where(np.arange(4) == corner, car.perch_lead, 0.0)
        equilibrium = _settle(car, perch)
        assert _close(turned.loads[corner], equilibrium.loads)
        assert _close(turned.heights[corner], equilibrium.heights)


@pytest.mark.parametrize("kind", KINDS)
def test_the_stiffest_springs_come_to_no_springs(kind: str) -> None:
    car = _car(kind, 3)
    stiff = replace(
        car,
        spring_rate=np.where(car.solid, 1e10, car.spring_rate),
        cg_up=0.5,
    )
    car = replace(car, cg_up=0.5)
    perch = np.array([1e-3, -2e-3, 3e-3, 1e-3])
    lifts = lift(car, perch)
    assert lift(stiff, perch) == pytest.approx(lifts, rel=1e-9)
    assert load_change(stiff, lifts) == pytest.approx(load_change(car, lifts), rel=1e-4)
    raised = height_change(car, np.array([lifts, 2 * lifts]), ANY_LOADS)
    assert raised == pytest.approx(
        height_change(stiff, np.array([lifts, 2 * lifts]), ANY_LOADS), abs=1e-7
    )
    assert raised[1] == pytest.approx(2 * raised[0], rel=1e-9)
    mass = (20.0, 0.6, 0.3)
    # Of 200 N in all; one pad may well be left near nothing.
    assert added_loads(car, *mass) == pytest.approx(added_loads(stiff, *mass), abs=2e-2)


def test_a_frame_on_four_tires_by_hand() -> None:
    # A spacer of 2 mm under one of four tires of 120 N/mm, tracks of 1.2 m: the frame warps by
    # 2 mm / 1.2 m = 1/600 rad, and gives way 4/(1.44 m² · 120 kN/m) = 1/43.2 kN·m by its tires and
    # 1/5.4 kN·m by its twist, together 1/4.8 kN·m: λ = 8 N·m, so 8/1.2 = 20/3 N on each pad.
    car = replace(
        plain_car(
            wheelbase=1.0,
            tracks=(1.2, 1.2),
            spring_rate=(inf, inf),
            motion_ratio=(1.0, 1.0),
            tire_rate=(120e3, 120e3),
        ),
        torsional_stiffness=5400.0,
    )
    assert 1 / warp_compliance(car) == pytest.approx(4800.0)
    spacer = lift(car, np.array([2e-3, 0, 0, 0]))
    assert spacer.tolist() == [2e-3, 0, 0, 0]
    third = 20 / 3
    assert load_change(car, spacer) == pytest.approx([third, -third, -third, third])
    # √(120 000 / 30) / 2π: without a spring the wheel rides on the tire with all the rest.
    heavy = replace(car, unsprung_mass=np.full(4, 8.0))
    assert ride_frequency(heavy, np.full(4, 30 * GRAVITY)) == pytest.approx(
        np.full(4, 4000**0.5 / (2 * np.pi))
    )


def test_a_frame_that_alone_gives_way_by_hand() -> None:
    # Rigid tires, solid axles: λ is the warp times the torsional stiffness, and heights follow the
    # spacers to the last hair.
    car = replace(
        plain_car(tracks=(1.2, 1.0), spring_rate=(inf, inf), motion_ratio=(1.0, 1.0)),
        torsional_stiffness=5000.0,
        cg_up=0.3,
    )
    assert not compliance(car).any()
    lifts = np.array([0.0, 0.0, 0.0, 1e-3])
    assert load_change(car, lifts) == pytest.approx(5.0 * free_pattern(car.tracks))
    assert height_change(car, lifts, ANY_LOADS) == pytest.approx(lifts, abs=1e-15)
    assert np.isinf(ride_rate(np.full(4, inf), car.tire_rate)).all()
    assert np.isinf(ride_frequency(car, ANY_LOADS)).all()


def test_a_solid_car_that_falls_over_is_told() -> None:
    car = plain_car(
        spring_rate=(inf, inf), motion_ratio=(1.0, 1.0), tire_rate=(100e3, 100e3), tracks=(0.6, 0.6)
    )
    # Roll stiffness 4·100 kN/m·(0.3 m)² = 36 kN·m/rad against 10 kN·h.
    point, falls = (replace(car, cg_up=up) for up in (3.5, 3.7))
    height_change(point, LEVEL, ANY_LOADS)
    with pytest.raises(UnstableCarError):
        height_change(falls, LEVEL, ANY_LOADS)


def test_one_solid_corner_beside_a_spring_across_a_bar() -> None:
    car = _car("front solid, on tires", 4, bars=True)
    car = replace(car, spring_rate=np.where([False, True, False, False], 60e3, car.spring_rate))
    perch = np.array([4e-3, -2e-3, 1e-3, 0.0])
    assert _close(load_change(car, lift(car, perch)), _settle(car, perch).loads)
