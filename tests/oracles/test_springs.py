"""Springs exchanged on simulated cars: the springs are really others there, no perch is touched."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest

from balancer.car.answers import Springs
from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.car.statics import statics_of
from balancer.planning.springs import SpringPlan, plan_springs
from tests.oracles import linkage_car, stopped_car
from tests.oracles.linkage_car import spring_load
from tests.oracles.real_cars import SWEEP, written_down
from tests.oracles.stopped_model import StoppedCar, compression_under
from tests.oracles.stopped_random import random_stopped_car
from tests.oracles.test_linkage import bench_of
from tests.seeds import seeds

CARS = seeds(20, 10)
LOAD_TRUTH = 0.003
"""Of the weight; the worst of linear cars is 0.0013 off, of real corners 0.00002."""
HEIGHT_TRUTH = 0.5e-3
"""[m]; the worst of linear cars is 0.02 mm off, of up to 25 mm."""


class Exchanged(NamedTuple):
    """A simulated car before and after, and how far its perches stand too high for that."""

    car: Car
    before: linkage_car.Equilibrium | stopped_car.Stopped
    changed: linkage_car.LinkageCar
    too_high: Floats
    springs: Springs

    def at_rest(self, perch: Floats) -> linkage_car.Equilibrium | stopped_car.Stopped:
        """Let the changed car come to rest, its perches moved [m]."""
        moved = (self.too_high + perch).tolist()
        if isinstance(self.changed, StoppedCar):
            return stopped_car.solve_equilibrium(self.changed, perch=moved)
        return linkage_car.solve_equilibrium(self.changed, perch=moved)


def drawn(old: Floats, seed: int) -> Springs:
    """Draw springs 20 % softer to 25 % stiffer, a little other left and right, of other lengths."""
    rng = np.random.default_rng([5, seed])
    rates = old * np.repeat(rng.uniform(0.8, 1.25, 2), 2) * rng.uniform(0.97, 1.03, 4)
    return Springs(rates, np.repeat(rng.uniform(-5e-3, 5e-3, 2), 2))


def linear(seed: int) -> Exchanged:
    """Exchange the springs of a car with linkages.

    The simulated spring is as long as it takes to carry the design load, whatever its rate; one
    that is to be so much longer than the old one stands too high by the difference of both.
    """
    old = bench_of(seed)
    springs = drawn(np.array(old.simulated.spring_rate), seed)
    load = np.array([spring_load(old.simulated, i) for i in range(4)])
    too_high = load / old.simulated.spring_rate - load / springs.rate + springs.longer
    changed = replace(old.simulated, spring_rate=tuple(springs.rate.tolist()))
    return Exchanged(old.car, old.before, changed, too_high, springs)


def real(seed: int) -> Exchanged:
    """Exchange the main springs of a car with stops, tenders and bars."""
    old = random_stopped_car(np.random.default_rng(seed))
    old = replace(old, spring_table=((),) * 4)
    measured = stopped_car.ratio_tables(old, SWEEP.tolist())
    springs = drawn(np.array(old.spring_rate), seed)
    changed = replace(old, spring_rate=tuple(springs.rate.tolist()))
    pressed = [
        compression_under(old, i, spring_load(old, i))
        - compression_under(changed, i, spring_load(old, i))
        for i in range(4)
    ]
    car = written_down(old, measured)
    return Exchanged(car, measured.rest, changed, np.array(pressed) + springs.longer, springs)


def hold(case: Exchanged, found: SpringPlan) -> None:
    """Hold the springs alone, and the turns after them, against the simulated car."""
    weight, start = case.before.loads.sum(), case.before.heights
    alone = case.at_rest(np.zeros(4))
    assert np.abs(found.resprung.loads - alone.loads).max() <= LOAD_TRUTH * weight
    assert np.abs(found.resprung.heights - (alone.heights - start)).max() <= HEIGHT_TRUTH
    turned = case.at_rest(found.plan.best.perch)
    assert np.abs(found.plan.best.loads - turned.loads).max() <= LOAD_TRUTH * weight
    assert np.abs(found.heights - (turned.heights - start)).max() <= HEIGHT_TRUTH


@pytest.mark.parametrize("seed", CARS)
def test_other_springs_and_the_turns_that_bring_loads_and_heights_back(seed: int) -> None:
    case = linear(seed)
    found = plan_springs(case.car, case.before.loads, case.springs)
    hold(case, found)
    assert found.plan.status == "reached"
    hold_back(case, found)


def hold_back(case: Exchanged, found: SpringPlan) -> None:
    """Hold the simulated car after the turns against cross weight and heights wanted."""
    after, goal = case.at_rest(found.plan.best.perch), found.aim.goal
    cross = (after.loads[1] + after.loads[2]) / after.loads.sum()
    assert abs(cross - 0.5) <= goal.tolerance + 0.0003
    assert np.abs(after.heights - case.before.heights).max() <= goal.height_tolerance + HEIGHT_TRUTH


@pytest.mark.parametrize("seed", CARS)
def test_other_springs_on_real_corners(seed: int) -> None:
    case = real(seed)
    found = plan_springs(case.car, case.before.loads, case.springs)
    hold(case, found)
    if found.plan.status == "reached":
        hold_back(case, found)


@pytest.mark.parametrize("make", [linear, real])
def test_the_same_springs_change_nothing(make: Callable[[int], Exchanged]) -> None:
    case = make(3)
    same = Springs(case.car.spring_rate, np.zeros(4))
    found = statics_of(case.car, case.before.loads).resprung(same)
    assert found.loads == pytest.approx(case.before.loads, rel=1e-9)
    assert found.heights == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("make", [linear, real])
def test_there_and_back_is_nothing(make: Callable[[int], Exchanged]) -> None:
    case = make(4)
    there = statics_of(case.car, case.before.loads).resprung(case.springs)
    old = Springs(case.car.spring_rate, -case.springs.longer)
    back = statics_of(there.car, there.loads).resprung(old)
    assert back.loads == pytest.approx(case.before.loads, abs=1e-3 * case.before.loads.sum())
    assert back.heights + there.heights == pytest.approx(0.0, abs=5e-5)
