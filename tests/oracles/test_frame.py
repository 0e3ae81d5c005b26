"""Loads and heights against a general frame solver that draws the car and knows no closed form."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pytest

from balancer.car.conventions import Floats
from balancer.car.linear import lift, load_change
from balancer.car.model import Car
from balancer.car.resting import added_loads, height_change
from balancer.car.statics import statics_of
from tests.conftest import random_car
from tests.oracles import frame_car
from tests.seeds import seeds

LEVEL = np.zeros(4)
ANY_LOADS = np.full(4, 2500.0)
"""Only a high center of gravity makes heights depend on the loads, and here it lies at 0."""

Feature = Callable[[Car, np.random.Generator], Car]


@dataclass(frozen=True)
class Problem:
    """A car and what is done to it: perches turned [m], pads raised [m], masses put on."""

    car: Car
    perch: Floats
    pads: Floats
    masses: tuple[tuple[float, float, float], ...]


def _plain(car: Car, rng: np.random.Generator) -> Car:
    return car


def _rigid_tires(car: Car, rng: np.random.Generator) -> Car:
    return replace(car, tire_rate=np.full(4, np.inf))


def _bars(car: Car, rng: np.random.Generator) -> Car:
    return replace(car, bar_rate=rng.uniform(5e3, 40e3, 2))


def _front_bar(car: Car, rng: np.random.Generator) -> Car:
    return replace(car, bar_rate=np.array([rng.uniform(5e3, 40e3), 0.0]))


def _twisting(car: Car, rng: np.random.Generator) -> Car:
    return replace(car, torsional_stiffness=rng.uniform(6e4, 6e5))


def _twisting_with_bars(car: Car, rng: np.random.Generator) -> Car:
    return _twisting(_bars(car, rng), rng)


FEATURES: dict[str, Feature] = {
    "plain": _plain,
    "rigid tires": _rigid_tires,
    "bars": _bars,
    "front bar": _front_bar,
    "twisting": _twisting,
    "twisting with bars": _twisting_with_bars,
}


def _problems(done: str, cars: int = 15) -> Sequence[object]:
    problems = []
    for feature, build in FEATURES.items():
        for seed in seeds(cars, 3):
            rng = np.random.default_rng([seed, *feature.encode()])
            car = build(random_car(rng), rng)
            perch = rng.uniform(-8e-3, 8e-3, 4) if "perch" in done else LEVEL
            pads = rng.uniform(-6e-3, 6e-3, 4) if "pads" in done else LEVEL
            count = 3 if "masses" in done else 0
            masses = tuple(
                (
                    float(rng.uniform(-20, 90)),
                    float(rng.uniform(-0.6, car.wheelbase + 0.9)),
                    float(rng.uniform(-0.7, 0.7)),
                )
                for _ in range(count)
            )
            problem = Problem(car, perch, pads, masses)
            problems.append(pytest.param(problem, id=f"{feature}, car {seed}"))
    return problems


def _by_frame(problem: Problem) -> frame_car.Equilibrium:
    car = problem.car
    rigid = bool(np.isinf(car.tire_rate).all())
    return frame_car.solve_equilibrium(
        car.wheelbase,
        car.tracks,
        car.spring_rate * car.motion_ratio**2,
        list(_on_hubs(problem)),
        problem.perch / car.motion_ratio,
        bars=car.bar_rate,
        torsion=car.torsional_stiffness,
        tire_rate=None if rigid else car.tire_rate,
        pads=problem.pads,
    )


def _on_hubs(problem: Problem) -> Iterator[tuple[float, float, float]]:
    """Put masses where the frame's spine can take them.

    The frame hangs a mass on its front or its rear hub. One that sits along a twisting chassis is
    shared by the two, in the proportion that leaves total and moments as they are.
    """
    base = problem.car.wheelbase
    for mass, aft, left in problem.masses:
        if np.isinf(problem.car.torsional_stiffness) or not 0 < aft < base:
            yield mass, aft, left
        else:
            yield mass * (1 - aft / base), 0.0, left
            yield mass * aft / base, base, left


def _close(found: Floats, expected: Floats) -> bool:
    return bool(np.abs(found - expected).max() <= 1e-6 * np.abs(expected).max())


@pytest.mark.parametrize("problem", _problems("perch"))
def test_perch_moves_against_the_frame(problem: Problem) -> None:
    equilibrium = _by_frame(problem)
    lifts = lift(problem.car, problem.perch)
    assert _close(load_change(problem.car, lifts), equilibrium.loads)
    assert _close(height_change(problem.car, lifts, ANY_LOADS), equilibrium.heights)


@pytest.mark.parametrize("problem", _problems("pads"))
def test_uneven_pads_against_the_frame(problem: Problem) -> None:
    equilibrium = _by_frame(problem)
    assert _close(load_change(problem.car, problem.pads), equilibrium.loads)
    assert _close(height_change(problem.car, problem.pads, ANY_LOADS), equilibrium.heights)


@pytest.mark.parametrize("problem", _problems("masses"))
def test_added_masses_against_the_frame(problem: Problem) -> None:
    added = np.sum([added_loads(problem.car, *mass) for mass in problem.masses], axis=0)
    assert _close(added, _by_frame(problem).loads)


@pytest.mark.parametrize("problem", _problems("perch, pads and masses"))
def test_all_at_once_against_the_frame(problem: Problem) -> None:
    lifts = lift(problem.car, problem.perch) + problem.pads
    added = np.sum([added_loads(problem.car, *mass) for mass in problem.masses], axis=0)
    assert _close(added + load_change(problem.car, lifts), _by_frame(problem).loads)


@pytest.mark.parametrize("problem", _problems("nothing", cars=3))
def test_one_turn_at_each_corner_against_the_frame(problem: Problem) -> None:
    car = problem.car
    turned = statics_of(car, ANY_LOADS).per_turn()
    for corner in range(4):
        perch = np.where(np.arange(4) == corner, car.perch_lead, 0.0)
        equilibrium = _by_frame(replace(problem, perch=perch))
        cross = (equilibrium.loads[1] + equilibrium.loads[2]) / ANY_LOADS.sum()
        assert _close(turned.loads[corner], equilibrium.loads)
        assert _close(turned.heights[corner], equilibrium.heights)
        assert turned.cross[corner] == pytest.approx(cross, rel=1e-6)
