"""The least-energy oracle against hand calculation, and against the simulated car."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import Any

import numpy as np
import pytest

from tests.oracles.energy_cvxpy import GRAVITY, EnergyCar, Table, least_energy
from tests.oracles.stopped_car import (
    BUMP_STOP,
    DROOP_STOP,
    SOLID,
    StoppedCar,
    ratio_tables,
    solve_equilibrium,
)
from tests.oracles.stopped_random import random_stopped_car
from tests.seeds import seeds

BASE, TRACK = 2.4, 1.5
RATE, RATIO, LOAD, HUB = 50e3, 0.7, 2200.0, 250.0
WHEEL = RATE * RATIO**2
COMPRESSION = (LOAD - HUB) / RATIO / RATE
WARP = np.array([1.0, -1.0, -1.0, 1.0])


def _square(**changes: Any) -> EnergyCar:
    """Four equal corners on rigid tires; without changes nothing but springs."""
    plain = EnergyCar(
        aft=(0.0, 0.0, BASE, BASE),
        left=(TRACK / 2, -TRACK / 2, TRACK / 2, -TRACK / 2),
        loads=(LOAD,) * 4,
        motion_ratio=(RATIO,) * 4,
        spring=(((0.0, RATE),),) * 4,
        compression=(COMPRESSION,) * 4,
        tire_rate=(inf,) * 4,
    )
    return replace(plain, **changes)


def _all(value: float) -> tuple[float, float, float, float]:
    return (value, value, value, value)


def _central(kilograms: float) -> list[tuple[float, float, float]]:
    return [(kilograms, BASE / 2, 0.0)]


@pytest.mark.parametrize("tire", [200e3, inf])
def test_nothing_done_nothing_moves(tire: float) -> None:
    rest = least_energy(_square(tire_rate=_all(tire)))
    assert rest.loads == pytest.approx([LOAD] * 4, rel=1e-8)
    assert rest.heights == pytest.approx([0.0] * 4, abs=1e-9)


@pytest.mark.parametrize("tire", [200e3, inf])
def test_four_perches_lift_the_car(tire: float) -> None:
    rest = least_energy(_square(tire_rate=_all(tire)), perch=_all(3e-3))
    assert rest.loads == pytest.approx([LOAD] * 4, rel=1e-8)
    assert rest.heights == pytest.approx([3e-3 / RATIO] * 4, abs=1e-9)
    assert rest.shock_travel - 1.0 == pytest.approx([-3e-3] * 4, abs=1e-9)


@pytest.mark.parametrize("tire", [200e3, inf])
@pytest.mark.parametrize("torsion", [3e4, inf])
def test_one_perch_twists_the_loads(tire: float, torsion: float) -> None:
    """Springs in series around the car: four corners, and the chassis."""
    car = _square(tire_rate=_all(tire), torsion=torsion)
    rest = least_energy(car, perch=(3e-3, 0.0, 0.0, 0.0))
    give = 4.0 * (1.0 / WHEEL + 1.0 / tire) + TRACK**2 / torsion
    assert rest.loads - LOAD == pytest.approx(3e-3 / RATIO / give * WARP, abs=1e-5)


def test_a_longer_link() -> None:
    car = _square(bar_rate=(20e3, 0.0), link_ratio=(0.5, 1.0))
    rest = least_energy(car, link=(2e-3, 0.0))
    pushed = WHEEL * 20e3 * 4e-3 / (2.0 * (WHEEL + 20e3))
    assert rest.loads - LOAD == pytest.approx(pushed * WARP, abs=1e-5)
    assert rest.travels == pytest.approx(-pushed / WHEEL * np.array([1, -1, 1, -1]), abs=1e-9)


def test_the_same_link_on_a_bar_that_was_loaded() -> None:
    plain = _square(bar_rate=(20e3, 0.0))
    loaded = replace(plain, bar_twist=(5e-3, 0.0))
    for car in (plain, loaded):
        rest = least_energy(car, link=(2e-3, 0.0))
        assert rest.loads - LOAD == pytest.approx(WHEEL * 10e3 * 2e-3 / (WHEEL + 20e3) * WARP)


def test_an_axle_on_the_droop_stop() -> None:
    """Stops of 4.5 MN/m hold 1.8 kN of preload; turns of less hardly move the car."""
    past = 0.4e-3
    car = _square(
        shock_travel=_all(-past),
        droop_rate=_all(4.5e6),
        compression=_all(COMPRESSION + 4.5e6 * past / RATE),
    )
    little = least_energy(car, perch=_all(-10e-3))
    assert little.heights == pytest.approx([-10e-3 * RATE / (RATE + 4.5e6) / RATIO] * 4, abs=1e-8)
    # 36 mm are the preload; by the other 4 mm, and what the stop gave, the shock closes.
    plenty = least_energy(car, perch=_all(-40e-3))
    assert plenty.shock_travel == pytest.approx([4e-3 - past] * 4, abs=1e-8)
    assert plenty.heights == pytest.approx([-4e-3 / RATIO] * 4, abs=1e-8)


def test_into_the_bump_stop() -> None:
    """400 N more on each wheel: springs alone for 3 mm of shock, then the rows of the table."""
    table: Table = ((0.0, 40e3), (1e-3, 120e3))
    car = _square(shock_travel=_all(0.05), bump_stop=_all(0.053), bump=(table,) * 4)
    rest = least_energy(car, added=_central(1600.0 / GRAVITY))
    closed = rest.shock_travel - 0.05
    past = closed - 3e-3
    assert (past > 1e-3).all()
    pushed = RATE * closed + 40e3 * 1e-3 + 120e3 * (past - 1e-3)
    assert RATIO * pushed == pytest.approx([400.0] * 4, abs=1e-4)
    assert rest.loads == pytest.approx([LOAD + 400.0] * 4, abs=1e-5)


def test_a_tender_goes_solid() -> None:
    """400 N more on each wheel; the tender has 2 mm left, then the main spring is alone."""
    force, tender = (LOAD - HUB) / RATIO, 40e3
    car = _square(
        compression=_all(force / RATE + force / tender),
        tender_rate=_all(tender),
        tender_travel=_all(force / tender + 2e-3),
    )
    for more, closed in (
        (40.0, 40.0 / RATIO * (1.0 / RATE + 1.0 / tender)),
        (400.0, 400.0 / RATIO / RATE + 2e-3),
    ):
        rest = least_energy(car, added=_central(4.0 * more / GRAVITY))
        assert rest.shock_travel - 1.0 == pytest.approx([closed] * 4, abs=1e-8)
    # Back off a solid tender: weighed solid, half a millimeter past.
    solid = replace(car, compression=_all(force / RATE + 0.02), tender_travel=_all(0.02))
    rest = least_energy(solid, added=_central(-4.0 * 1900.0 / GRAVITY))
    left = force - 1900.0 / RATIO
    expected = left / RATE + left / tender - (force / RATE + 0.02)
    assert rest.shock_travel - 1.0 == pytest.approx([expected] * 4, abs=1e-8)


def test_a_progressive_spring() -> None:
    table: Table = ((0.0, RATE), (COMPRESSION + 2e-3, 3 * RATE))
    rest = least_energy(_square(spring=(table,) * 4), added=_central(4.0 * 140.0 / GRAVITY))
    # 200 N at the spring: 100 N over 2 mm, the rest at the second rate.
    assert rest.shock_travel - 1.0 == pytest.approx([2e-3 + 100.0 / (3 * RATE)] * 4, abs=1e-8)


def test_mount_moves_shock_and_spring() -> None:
    """Free corners can't tell it from a perch; topped out the body rides on it in full."""
    free = least_energy(_square(), mount=_all(2e-3))
    assert free.heights == pytest.approx([2e-3 / RATIO] * 4, abs=1e-9)
    assert free.shock_travel == pytest.approx([1.0] * 4, abs=1e-9)
    topped = _square(shock_travel=_all(0.0))
    down = least_energy(topped, mount=_all(-2e-3))
    assert down.heights == pytest.approx([-2e-3 / RATIO] * 4, abs=1e-8)
    up = least_energy(topped, perch=_all(2e-3))
    assert up.heights == pytest.approx([2e-3 * RATE / (RATE + 5e6) / RATIO] * 4, abs=1e-8)


@pytest.mark.parametrize("tire", [200e3, inf])
def test_a_diagonal_without_load(tire: float) -> None:
    """One corner far up: loose springs leave the hubs' own weight, droop stops take them along."""
    car = _square(tire_rate=_all(tire))
    loose = least_energy(car, pads=(0.5, 0.0, 0.0, 0.0)).loads
    assert loose[[1, 2]] == pytest.approx([HUB] * 2, abs=1e-3)
    assert loose[[0, 3]] == pytest.approx([2.0 * LOAD - HUB] * 2, abs=1e-3)
    stopped = replace(car, shock_travel=_all(0.03))
    hanging = least_energy(stopped, pads=(0.5, 0.0, 0.0, 0.0)).loads
    assert hanging[[1, 2]] == pytest.approx([0.0] * 2, abs=1e-3)
    assert hanging[[0, 3]] == pytest.approx([2.0 * LOAD] * 2, abs=1e-3)


def test_a_high_center_of_gravity_leans_out() -> None:
    """Roll stiffness of four springs, less weight times height; pitch likewise."""
    height = 0.4 * 4.0 * LOAD
    car = _square(softening=(height, height))
    moment = 50.0 * GRAVITY * 0.3
    rest = least_energy(car, added=[(50.0, BASE / 2, 0.3)])
    assert rest.body[2] == pytest.approx(-moment / (WHEEL * TRACK**2 - height), rel=1e-6)
    rest = least_energy(car, added=[(50.0, BASE / 2 - 0.3, 0.0)])
    assert rest.body[1] == pytest.approx(moment / (WHEEL * BASE**2 - height), rel=1e-6)


def test_a_chassis_that_twists_takes_a_mass_where_it_sits() -> None:
    car = _square(torsion=3e4)
    rest = least_energy(car, added=[(40.0, 0.0, 0.3)])
    moment = 40.0 * GRAVITY * 0.3
    axle = WHEEL * TRACK**2 / 2.0
    system = np.array([[axle + 3e4, -3e4], [-3e4, axle + 3e4]])
    assert rest.body[2:] == pytest.approx(np.linalg.solve(system, [-moment, 0.0]), rel=1e-6)


def test_a_car_that_tips_over() -> None:
    height = 1.1 * WHEEL * TRACK**2
    with pytest.raises(RuntimeError):
        least_energy(_square(softening=(0.0, height)), added=[(50.0, BASE / 2, 0.3)])


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"spring": (((0.0, 5e4), (1e-3, 4e4)),) * 4}, "rate falls"),
        ({"softening": (1.0,)}, "softening"),
    ],
)
def test_what_it_refuses(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        least_energy(_square(**changes))


# Against the simulated car ------------------------------------------------------------------------


def _weighed(car: StoppedCar) -> EnergyCar:
    measured = ratio_tables(car, [])
    rest = measured.rest
    lean = float(rest.loads.sum() * measured.cg[2])
    return EnergyCar(
        aft=np.repeat([0.0, car.wheelbase], 2),
        left=np.repeat(car.tracks, 2) / 2.0 * [1.0, -1.0, 1.0, -1.0],
        loads=rest.loads,
        motion_ratio=measured.motion_ratio,
        spring=[
            _table(own or rate) for own, rate in zip(car.spring_table, car.spring_rate, strict=True)
        ],
        compression=rest.spring_compression,
        tire_rate=car.tire_rate,
        shock_travel=rest.shock_travel,
        droop_rate=_all(car.droop_rate),
        bump_stop=car.bump_stop,
        bump=[_table(rate) for rate in car.bump_rate],
        tender_rate=car.tender_rate,
        tender_travel=car.tender_travel,
        bar_rate=car.bar_rate,
        link_ratio=car.link_ratio,
        bar_twist=measured.bar_twist,
        softening=(lean, lean),
    )


def _table(rate: Any) -> Table:
    return rate if isinstance(rate, tuple) else ((0.0, rate),)


@pytest.mark.parametrize("seed", seeds(40, 13))
def test_agrees_with_the_simulated_car_at_constant_ratio(seed: int) -> None:
    """Small moves, so that the arcs of the links are worth little."""
    car = replace(random_stopped_car(np.random.default_rng(seed)), seat_up=_all(0.0))
    rng = np.random.default_rng([14, seed])
    moves: dict[str, Any] = {
        "perch": rng.uniform(-3e-3, 3e-3, 4),
        "mount": rng.uniform(-1e-3, 1e-3, 4),
        "link": rng.uniform(-1e-3, 1e-3, 2),
        "pads": rng.uniform(-1e-3, 1e-3, 4),
    }
    before, simulated = solve_equilibrium(car), solve_equilibrium(car, **moves)
    found = least_energy(_weighed(car), **moves)
    assert np.abs(found.loads - simulated.loads).max() < 5e-5 * simulated.loads.sum()
    risen = simulated.heights - before.heights
    assert np.abs(found.heights - risen).max() < 1e-5
    assert np.abs(found.shock_travel - simulated.shock_travel).max() < 1e-5


def test_moves_of_the_comparison_change_what_is_active() -> None:
    """Else the comparison above would say nothing of kinks."""
    changed = set[str]()
    for seed in range(40):
        car = replace(random_stopped_car(np.random.default_rng(seed)), seat_up=_all(0.0))
        perch = np.random.default_rng([14, seed]).uniform(-3e-3, 3e-3, 4)
        pairs = zip(
            solve_equilibrium(car).active, solve_equilibrium(car, perch=perch).active, strict=True
        )
        changed.update(*(before ^ after for before, after in pairs))
    assert {DROOP_STOP, BUMP_STOP, SOLID} <= changed
