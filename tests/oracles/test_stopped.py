"""The simulated car with stops, tenders and bars, held against hand calculation."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, inf
from typing import Any

import numpy as np
import pytest

from tests.oracles import linkage_car
from tests.oracles.linkage_car import CORNERS, GRAVITY, HUB_UP, LINK_LENGTH, SPRING_LENGTH
from tests.oracles.stopped_car import (
    BUMP_STOP,
    DROOP_STOP,
    IN_AIR,
    LOOSE,
    SOLID,
    Stopped,
    StoppedCar,
    ratio_tables,
    solve_equilibrium,
)
from tests.oracles.stopped_random import random_stopped_car, stopped
from tests.oracles.stopped_rest import come_to_rest
from tests.seeds import seeds

SEEDS = seeds(40, 13)
RATE, RATIO = 50e3, 0.7
NOTHING: frozenset[str] = frozenset()


def _square(**changes: object) -> StoppedCar:
    """A car with four equal corners: each of them is a case by itself."""
    plain = linkage_car.LinkageCar(
        wheelbase=2.4,
        tracks=(1.5, 1.5),
        sprung_mass=800.0,
        sprung_cg=(1.2, 0.0, 0.45),
        unsprung_mass=(25.0,) * 4,
        spring_rate=(RATE,) * 4,
        motion_ratio=(RATIO,) * 4,
        tire_rate=(5e7,) * 4,
        misset=(0.0,) * 4,
    )
    return stopped(plain, **changes)


SPRING_LOAD = 200.0 * GRAVITY / RATIO
"""What each spring of that car carries at design [N]."""


def _all(value: float) -> tuple[float, float, float, float]:
    return (value, value, value, value)


def _moves(seed: int) -> dict[str, Any]:
    rng = np.random.default_rng([11, seed])
    return {
        "perch": rng.uniform(-5e-3, 5e-3, 4),
        "mount": rng.uniform(-3e-3, 3e-3, 4),
        "link": rng.uniform(-2e-3, 2e-3, 2),
        "pads": rng.uniform(-3e-3, 3e-3, 4),
    }


# Nothing but springs ------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(10))
def test_is_the_linkage_car_where_no_stop_is_in_reach(seed: int) -> None:
    rng = np.random.default_rng([12, seed])
    plain = replace(linkage_car.random_car(rng), bar_rate=tuple(rng.uniform(0.0, 25e3, 2).tolist()))
    perch, pads = rng.uniform(-5e-3, 5e-3, 4), rng.uniform(-3e-3, 3e-3, 4)
    added = [(60.0, 0.8, 0.3, 0.4)] if seed % 2 else []
    expected = linkage_car.solve_equilibrium(plain, perch, pads, added)
    found = solve_equilibrium(stopped(plain), perch, pads=pads, added=added)
    assert found.active == (NOTHING,) * 4
    assert np.abs(found.loads - expected.loads).max() < 1e-3
    assert np.abs(found.heights - expected.heights).max() < 1e-9


# Random cars --------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", SEEDS)
def test_forces_and_moments_balance(seed: int) -> None:
    car = random_stopped_car(np.random.default_rng(seed))
    moves = _moves(seed)
    resting = come_to_rest(car, **moves, added=[(50.0, 1.0, 0.2, 0.3)])
    data, model = resting.data, resting.model
    loads = linkage_car.pad_loads(model, data)
    weight = GRAVITY * (car.sprung_mass + sum(car.unsprung_mass) + 50.0)
    feet = np.array([data.geom(f"foot_{corner}").xpos[:2] for corner in CORNERS])
    assert loads.sum() == pytest.approx(weight, rel=1e-6)
    assert loads @ (feet - data.subtree_com[0][:2]) == pytest.approx([0.0, 0.0], abs=1e-6 * weight)
    assert np.abs(resting.leftover(data.qpos.copy())).max() < 1e-7 * weight


@pytest.mark.parametrize("seed", SEEDS)
def test_each_hub_is_held_by_what_pushes_it(seed: int) -> None:
    car = random_stopped_car(np.random.default_rng(seed))
    measured = ratio_tables(car, [], **_moves(seed))
    rest = measured.rest
    past_stop = np.maximum(rest.shock_travel - measured.bump_stop, 0.0)
    unit = rest.spring_force - car.droop_rate * np.maximum(-rest.shock_travel, 0.0)
    unit += [_force(car.bump_rate[i], past_stop[i]) for i in range(4)]
    bars = np.repeat(measured.bar_force, 2) * [1.0, -1.0, 1.0, -1.0]
    held = measured.motion_ratio * unit + bars + GRAVITY * np.array(car.unsprung_mass)
    assert np.abs(held - rest.loads).max() < 5e-4 * rest.loads.max()  # the body isn't quite level


@pytest.mark.parametrize("seed", SEEDS)
def test_main_spring_and_tender_are_in_series(seed: int) -> None:
    car = random_stopped_car(np.random.default_rng(seed))
    rest = solve_equilibrium(car, **_moves(seed))
    for i in range(4):
        force, tender = rest.spring_force[i], 0.0
        if car.tender_rate[i]:
            tender = min(force / car.tender_rate[i], car.tender_travel[i])
            assert (SOLID in rest.active[i]) == (tender == car.tender_travel[i])
        main = rest.spring_compression[i] - tender
        table = car.spring_table[i] or car.spring_rate[i]
        assert _force(table, main) == pytest.approx(force, abs=0.2)  # 3e-6 m


def _force(rate: object, compression: float) -> float:
    table = rate if isinstance(rate, tuple) else ((0.0, rate),)
    starts, rates = np.array(table, dtype=float).T
    return float(np.diff(rates, prepend=0.0) @ np.maximum(compression - starts, 0.0))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_random_car_is_out_of_its_linear_range_or_close(seed: int) -> None:
    car = random_stopped_car(np.random.default_rng(seed))
    assert car == random_stopped_car(np.random.default_rng(seed))
    rest = solve_equilibrium(car)
    on_stop = [DROOP_STOP in words for words in rest.active]
    near_bump = np.array(car.bump_stop) - rest.shock_travel < 4.5e-3
    solid_at = np.array(car.tender_rate) * car.tender_travel
    near_solid = (solid_at > 0.0) & (np.abs(rest.spring_force - solid_at) < 400.0)
    assert np.any(on_stop) or near_bump.any() or near_solid.any()
    assert abs((rest.loads[1] + rest.loads[2]) / rest.loads.sum() - 0.5) < 0.04


def test_random_cars_show_every_kind() -> None:
    cars = [random_stopped_car(np.random.default_rng(seed)) for seed in range(40)]
    seen = frozenset[str]().union(
        *(words for car in cars for words in solve_equilibrium(car).active)
    )
    assert {DROOP_STOP, BUMP_STOP, SOLID} <= seen
    assert any(any(car.link_longer) and all(car.bar_rate) for car in cars)
    assert any(any(car.spring_table) for car in cars)
    change = [ratio_tables(car, [-0.03, 0.03]).motion_ratios for car in cars]
    assert max(np.abs(ratios[:, 1] / ratios[:, 0] - 1.0).max() for ratios in change) > 0.05


# By hand ------------------------------------------------------------------------------------------


def _closed(rest: Stopped, car: StoppedCar) -> np.ndarray:
    return rest.shock_travel - car.shock_travel


def test_topped_out_by_preload() -> None:
    """The stop takes what the spring has too much, and turns less than that do nothing."""
    car = _square(shock_travel=_all(0.0), misset=_all(6e-3))
    rest = solve_equilibrium(car)
    assert rest.active == ({DROOP_STOP},) * 4
    too_much = RATE * 6e-3
    assert rest.spring_force == pytest.approx([SPRING_LOAD + too_much] * 4, rel=1e-3)
    droop = -rest.shock_travel * car.droop_rate
    assert droop == pytest.approx(rest.spring_force - SPRING_LOAD, rel=1e-3)
    turned = solve_equilibrium(car, perch=_all(-5e-3))
    assert turned.active == ({DROOP_STOP},) * 4
    assert turned.heights - rest.heights == pytest.approx([-5e-5 / RATIO] * 4, rel=0.02)  # 1/101
    assert turned.loads == pytest.approx(rest.loads, abs=0.1)


def test_coming_off_the_droop_stop() -> None:
    """Preload 6 mm, perch down 10 mm: 4 mm of shock travel."""
    car = _square(shock_travel=_all(0.0), misset=_all(6e-3))
    measured = ratio_tables(car, [], perch=_all(-10e-3))
    force = SPRING_LOAD * RATIO / measured.motion_ratio
    assert measured.rest.active == (NOTHING,) * 4
    assert measured.rest.spring_force == pytest.approx(force, rel=1e-5)
    expected = (force - SPRING_LOAD) / RATE + 4e-3
    assert measured.rest.shock_travel == pytest.approx(expected, abs=1e-7)
    assert measured.rest.heights == pytest.approx([0.12 - 4e-3 / RATIO] * 4, abs=4e-5)


def test_on_bump_stops() -> None:
    """2 mm past the stop: the spring force and the table make up the load between them."""
    table = ((0.0, 40e3), (1e-3, 120e3))
    car = _square(bump_stop=_all(0.058), bump_rate=(table,) * 4)
    measured = ratio_tables(car, [])
    rest = measured.rest
    assert rest.active == ({BUMP_STOP},) * 4
    past = rest.shock_travel - 0.058
    assert (past > 1e-3).all()
    pushed = RATE * (SPRING_LOAD / RATE + rest.shock_travel - 0.06) + 40e3 * past
    pushed += 80e3 * (past - 1e-3)
    assert measured.motion_ratio * pushed == pytest.approx([RATIO * SPRING_LOAD] * 4, rel=1e-5)


@pytest.mark.parametrize("tender_rate", [0.0, 20e3])
def test_standing_on_bump_stops_with_springs_loose(tender_rate: float) -> None:
    car = _square(
        misset=_all(-0.12),
        tender_rate=_all(tender_rate),
        tender_travel=_all(0.02),
        bump_stop=_all(0.062),
        bump_rate=_all(2e5),
    )
    measured = ratio_tables(car, [])
    assert measured.rest.active == ({BUMP_STOP, LOOSE},) * 4
    assert measured.rest.spring_force == pytest.approx([0.0] * 4, abs=0.02)  # the part's weight
    assert (measured.rest.spring_compression < 0.0).all()
    past = measured.rest.shock_travel - 0.062
    assert measured.motion_ratio * 2e5 * past == pytest.approx([RATIO * SPRING_LOAD] * 4, rel=1e-5)


@pytest.mark.parametrize(("travel", "words"), [(0.06, NOTHING), (0.04, {SOLID})])
def test_tender_open_and_solid(travel: float, words: frozenset[str]) -> None:
    """The load takes 56 mm of this tender: 60 mm is open, 40 mm is solid."""
    tender_rate = 50e3
    car = _square(tender_rate=_all(tender_rate), tender_travel=_all(travel))
    for perch in (0.0, -2e-3):
        measured = ratio_tables(car, [], perch=_all(perch))
        force = SPRING_LOAD * RATIO / measured.motion_ratio
        assert measured.rest.active == (words,) * 4
        expected = force / RATE + min(force[0] / tender_rate, travel)
        assert measured.rest.spring_compression == pytest.approx(
            expected, abs=2e-6
        )  # coils on coils
        assert measured.rest.heights - 0.12 == pytest.approx([perch / RATIO] * 4, abs=1e-5)


def test_a_tender_goes_solid_on_the_way() -> None:
    """100 kg more on each corner: open for the first 1 mm of the tender, then solid."""
    at_rest = SPRING_LOAD / 40e3
    car = _square(tender_rate=_all(40e3), tender_travel=_all(at_rest + 1e-3))
    added = [(400.0, 1.2, 0.0, 0.45)]
    before, after = ratio_tables(car, []), ratio_tables(car, [], added=added)
    assert before.rest.active == (NOTHING,) * 4
    assert after.rest.active == ({SOLID},) * 4
    force = 300.0 * GRAVITY / after.motion_ratio
    closed = (force - SPRING_LOAD) / RATE + 1e-3
    assert after.rest.shock_travel - before.rest.shock_travel == pytest.approx(closed, abs=2e-6)


@pytest.mark.parametrize("seat_up", [-0.1, 0.15])
@pytest.mark.parametrize("perch", [-15e-3, 15e-3])
def test_main_spring_and_tender_lean_with_the_shock(seat_up: float, perch: float) -> None:
    """20 mm from design, where ratio times spring force still has to carry the body."""
    car = _square(tender_rate=_all(60e3), tender_travel=_all(0.1), seat_up=_all(seat_up))
    measured = ratio_tables(car, [], perch=_all(perch))
    carried = measured.motion_ratio * measured.rest.spring_force
    assert carried == pytest.approx([RATIO * SPRING_LOAD] * 4, rel=2e-5)
    series = measured.rest.spring_force * (1.0 / RATE + 1.0 / 60e3)
    assert measured.rest.spring_compression == pytest.approx(series, abs=2e-6)


def test_a_wheel_in_the_air_hangs_on_its_droop_stop() -> None:
    car = _square(shock_travel=_all(0.0), misset=_all(0.03), tire_rate=_all(2e5))
    rest = solve_equilibrium(car, pads=(0.15, 0.0, 0.0, 0.0))
    assert rest.active[2] == {DROOP_STOP, IN_AIR} or rest.active[1] == {DROOP_STOP, IN_AIR}
    i = int(np.argmin(rest.loads))
    assert rest.loads[i] == 0.0
    droop = -car.droop_rate * rest.shock_travel[i]
    assert RATIO * (droop - rest.spring_force[i]) == pytest.approx(25.0 * GRAVITY, rel=0.02)


@pytest.mark.parametrize("seed", range(8))
def test_mount_is_perch_and_shock_at_once(seed: int) -> None:
    car = random_stopped_car(np.random.default_rng(seed))
    mount = np.random.default_rng([13, seed]).uniform(-4e-3, 4e-3, 4)
    longer = replace(car, shock_travel=tuple((car.shock_travel + mount).tolist()))
    found, expected = solve_equilibrium(car, mount=mount), solve_equilibrium(longer, perch=mount)
    assert found.active == expected.active
    assert found.loads == pytest.approx(expected.loads, abs=2e-3)
    assert found.shock_travel == pytest.approx(expected.shock_travel, abs=1e-8)


def test_a_longer_left_link_pushes_the_left_hub_down() -> None:
    """Equal corners on rigid tires: the body rolls, by -a at each left wheel.

    No moment is left over where 2·(k_w + k_b)·a = k_b·e/r, and the rear carries k_w·a. The center
    of gravity of the whole car lies on the ground, so that it doesn't add to it.
    """
    ground = -100.0 * HUB_UP / 800.0
    car = _square(bar_rate=(20e3, 0.0), link_ratio=(0.5, 1.0), sprung_cg=(1.2, 0.0, ground))
    measured = ratio_tables(car, [], link=(2e-3, 0.0))
    before = solve_equilibrium(car).loads
    wheel_rate = RATE * RATIO**2
    pushed = wheel_rate * 20e3 * 4e-3 / (2.0 * (wheel_rate + 20e3))
    change = measured.rest.loads - before
    assert change == pytest.approx(pushed * np.array([1.0, -1.0, -1.0, 1.0]), rel=0.01)
    assert measured.bar_force[0] == pytest.approx(2.0 * pushed, rel=0.02)
    assert measured.bar_force[1] == 0.0
    longer = solve_equilibrium(replace(car, link_longer=(2e-3, 0.0))).loads
    assert longer == pytest.approx(measured.rest.loads, abs=1e-3)


# The linkage --------------------------------------------------------------------------------------


@pytest.mark.parametrize("seat_up", [-0.05, 0.0, 0.15])
def test_ratio_and_shock_travel_by_geometry(seat_up: float) -> None:
    """Seat on the link by its two coordinates, turned with it; distance to the body mount."""
    car = _square(seat_up=_all(seat_up))
    travels = np.linspace(-0.03, 0.03, 7)
    measured = ratio_tables(car, travels)
    angle_at_rest = np.arcsin((HUB_UP - _hub_below(car)) / LINK_LENGTH)

    def closed(travel: float) -> float:
        angle = np.arcsin(np.sin(angle_at_rest) + travel / LINK_LENGTH)
        out = RATIO * LINK_LENGTH
        y = out * np.cos(angle) - seat_up * np.sin(angle)
        z = out * np.sin(angle) + seat_up * np.cos(angle)
        return SPRING_LENGTH - hypot(out - y, seat_up + SPRING_LENGTH - z)

    expected = [0.06 + closed(travel) for travel in travels]
    slopes = [(closed(travel + 1e-5) - closed(travel - 1e-5)) / 2e-5 for travel in travels]
    for i in range(4):
        assert measured.shock_travels[i] == pytest.approx(expected, abs=1e-8)
        assert measured.motion_ratios[i] == pytest.approx(slopes, abs=1e-7)
    assert measured.motion_ratio == pytest.approx([RATIO] * 4, rel=1e-4)
    fall = (seat_up + seat_up**2 / SPRING_LENGTH) / LINK_LENGTH**2
    middle = (measured.motion_ratios[0, 4] - measured.motion_ratios[0, 2]) / 0.02
    assert middle == pytest.approx(-fall, abs=0.03)


def _hub_below(car: StoppedCar) -> float:
    """Height over the body's zero of the wheel centers at rest, as the model has it [m]."""
    resting = come_to_rest(car, _all(0.0), _all(0.0), (0.0, 0.0), _all(0.0), ())
    angle = resting.data.joint("link_LF").qpos[0]
    return float(HUB_UP - LINK_LENGTH * np.sin(angle))


def test_what_is_measured_of_the_unit() -> None:
    car = _square(misset=_all(3e-3), bump_stop=(inf, 0.1, inf, inf))
    measured = ratio_tables(car, [0.0], perch=_all(1e-3), mount=_all(2e-3))
    # At full extension the unit has lost its 60 mm, and mount shows in both.
    assert measured.preload == pytest.approx([SPRING_LOAD / RATE + 4e-3 - 0.06] * 4, abs=1e-9)
    assert measured.bump_stop.tolist() == [inf, 0.1, inf, inf]
    assert measured.motion_ratios[:, 0] == pytest.approx(measured.motion_ratio, rel=1e-9)
    assert measured.shock_travels[:, 0] == pytest.approx(measured.rest.shock_travel, abs=1e-9)
    assert measured.cg == pytest.approx([1.2, 0.0, 0.438], abs=1e-2)


# What it refuses ----------------------------------------------------------------------------------


def test_a_car_that_tips_over_has_no_rest() -> None:
    car = _square(sprung_cg=(1.2, 0.0, 9.0))
    with pytest.raises(RuntimeError, match=r"no rest|tip over"):
        solve_equilibrium(car)


@pytest.mark.parametrize("table", [((0.0, 5e4), (1e-3, 4e4)), ((0.0, 4e4), (0.0, 5e4))])
def test_a_table_may_not_fall(table: tuple[tuple[float, float], ...]) -> None:
    with pytest.raises(ValueError, match="may fall"):
        solve_equilibrium(_square(bump_stop=_all(0.1), bump_rate=(table,) * 4))


def test_a_tire_softer_than_its_contact() -> None:
    with pytest.raises(ValueError, match="too stiff"):
        solve_equilibrium(_square(tire_rate=_all(1e8)))
