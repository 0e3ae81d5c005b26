"""Plans carried out on a simulated car with real linkages, free to lean by any angle."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Car
from balancer.car.resting import added_loads
from balancer.planning.perches.goal import PerchGoal, cross_for_equal_pair
from balancer.planning.perches.plan import PerchPlan, plan_perches
from balancer.report.guide.pages import page
from tests.oracles import linkage_car

CARS = range(10)
CROSS_TOLERANCE = 0.002
CROSS_TRUTH = 0.0001
"""How far simulated and promised cross weight may be apart, as README.md says: 0.01 points. The
worst of these plans is 0.0025 off; it was 0.024 without the weight that shifts as a body leans."""
HEIGHT_TRUTH = 0.02e-3
"""The same for heights [m]; the worst is 0.009 mm off. At 0.5 mm a model without the softening by a
high center of gravity would pass too."""

LOAD_TRUTH = 0.0001
"""The same for a load, of the weight; the worst of these is 0.00002 off."""
SIDEWAYS = 0.0005
"""How unequal turns may leave a pair by leaning, of the weight; the worst of these is 0.00048."""


@dataclass(frozen=True)
class Bench:
    """A simulated car on its pads, and what its car file would say of it."""

    simulated: linkage_car.LinkageCar
    before: linkage_car.Equilibrium
    car: Car


def bench_of(seed: int, bars: bool = False) -> Bench:
    """Draw a simulated car, and write its car file."""
    rng = np.random.default_rng([2024, seed])
    simulated = linkage_car.random_car(rng)
    if bars:
        simulated = replace(simulated, bar_rate=tuple(rng.uniform(5e3, 25e3, 2)))
    unsprung = np.array(simulated.unsprung_mass)
    total = simulated.sprung_mass + unsprung.sum()
    cg_up = simulated.sprung_mass * simulated.sprung_cg[2] + unsprung.sum() * linkage_car.HUB_UP
    car = Car(
        name=f"simulated car {seed}",
        wheelbase=simulated.wheelbase,
        tracks=np.array(simulated.tracks),
        spring_rate=np.array(simulated.spring_rate),
        motion_ratio=np.array(simulated.motion_ratio),
        tire_rate=np.array(simulated.tire_rate),
        unsprung_mass=unsprung,
        bar_rate=np.array(simulated.bar_rate),
        perch_lead=np.full(4, 1.5e-3),
        perch_step=np.full(4, 0.25),
        perch_travel=np.tile([-12.0, 12.0], (4, 1)),
        cg_up=cg_up / total,
        torsional_stiffness=inf,
    )
    return Bench(simulated, linkage_car.solve_equilibrium(simulated), car)


def _cross(loads: Floats) -> float:
    return float((loads[1] + loads[2]) / loads.sum())


def _plan(bench: Bench, cross: float, rise: Floats | None = None) -> PerchPlan:
    goal = PerchGoal(cross, CROSS_TOLERANCE, np.zeros(4) if rise is None else rise, 1.5e-3)
    return plan_perches(bench.car, bench.before.loads, goal)


def _assert_kept(bench: Bench, plan: PerchPlan) -> linkage_car.Equilibrium:
    """Turn the simulated car's perches by every plan shown, and hold it against its promise."""
    for moves in (*plan.alternatives, plan.best):
        after = linkage_car.solve_equilibrium(bench.simulated, perch=moves.perch)
        assert abs(_cross(after.loads) - moves.shares.cross) <= CROSS_TRUTH
        assert np.abs(after.loads - moves.loads).max() <= LOAD_TRUTH * after.loads.sum()
        risen = after.heights - bench.before.heights
        assert np.abs(risen - moves.height_change).max() <= HEIGHT_TRUTH
    return after


@pytest.mark.parametrize("bars", [False, True])
@pytest.mark.parametrize("seed", CARS)
def test_even_cross_weight_on_the_simulated_car(seed: int, bars: bool) -> None:
    bench = bench_of(seed, bars)
    plan = _plan(bench, 0.5)
    after = _assert_kept(bench, plan)
    assert plan.status == "reached"
    assert abs(_cross(after.loads) - 0.5) <= CROSS_TOLERANCE + CROSS_TRUTH


def test_what_the_guide_says_of_it() -> None:
    """The tolerances here are the figures there."""
    told = " ".join(page("words").split())
    cross, height = f"{100 * CROSS_TRUTH:.2f} points", f"{1e3 * HEIGHT_TRUTH:.2f} mm"
    assert f"cross weight is right to {cross} and its heights to {height}" in told


@pytest.mark.parametrize("seed", CARS)
def test_equal_fronts_on_the_simulated_car(seed: int) -> None:
    bench = bench_of(seed)
    plan = _plan(bench, cross_for_equal_pair(bench.car, bench.before.loads, "front"))
    after = _assert_kept(bench, plan)
    assert plan.status == "reached"
    front, rear = bench.car.tracks
    # A cross weight that is off by c leaves the fronts unequal by 2·c/(1 + t_f/t_r) of the weight;
    # what shifts sideways as the body leans comes on top.
    unequal = 2 * CROSS_TOLERANCE / (1 + front / rear) + SIDEWAYS
    assert abs(after.loads[0] - after.loads[1]) <= unequal * after.loads.sum()


@pytest.mark.parametrize("seed", CARS)
def test_lowering_and_rake_on_the_simulated_car(seed: int) -> None:
    bench = bench_of(seed)
    rise = np.array([-12e-3, -12e-3, -6e-3, -6e-3])
    plan = _plan(bench, 0.5, rise)
    after = _assert_kept(bench, plan)
    assert plan.status == "reached"
    assert abs(_cross(after.loads) - 0.5) <= CROSS_TOLERANCE + CROSS_TRUTH
    assert np.abs(after.heights - bench.before.heights - rise).max() <= 1.5e-3 + HEIGHT_TRUTH


@pytest.mark.parametrize("seed", CARS)
def test_mass_put_on_the_simulated_car(seed: int) -> None:
    bench = bench_of(seed)
    rng = np.random.default_rng([77, seed])
    mass, aft, left, up = (
        rng.uniform(20, 90),
        rng.uniform(-0.4, bench.car.wheelbase + 0.6),
        rng.uniform(-0.5, 0.5),
        rng.uniform(0.2, 0.6),
    )
    after = linkage_car.solve_equilibrium(bench.simulated, added=[(mass, aft, left, up)])
    expected = bench.before.loads + added_loads(bench.car, mass, aft, left)
    weight = after.loads.sum()
    assert weight == pytest.approx(bench.before.loads.sum() + mass * GRAVITY, rel=1e-5)
    assert np.abs(after.loads - expected).max() <= 0.002 * weight
