"""A number that is not one is refused, never compared: no rule vanishes, no plan is made of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import inf, nan
from typing import Any

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY
from balancer.car.errors import InputError
from balancer.car.model import Rules, Scales, plain_car
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.margin import margin_for
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import plan_perches
from balancer.weighing.uncertainty import load_covariance
from balancer.weighing.weigh import Readings, weigh

EXACT_PADS = Scales(accuracy=0, common_accuracy=0, resolution=0, repeatability=0)


@pytest.mark.parametrize("count", [5, 8, 9, 16, 100])
@pytest.mark.parametrize("seed", range(20))
def test_a_steady_pad_among_others_has_no_scatter_and_no_correlation(count: int, seed: int) -> None:
    """Equal readings times 9.80665 have a spread of 1e-13 about their mean, which is nothing."""
    rng = np.random.default_rng([seed, count])
    masses = np.round(rng.uniform(200, 320, 4) + rng.normal(0, 0.8, (count, 4)), 1)
    masses[:, 2] = masses[0, 2]
    repeats = masses * GRAVITY
    covariance = load_covariance(EXACT_PADS, repeats.mean(axis=0), repeats)
    assert np.isfinite(covariance).all()
    assert covariance[2].tolist() == covariance[:, 2].tolist() == [0.0] * 4
    expected = masses.var(axis=0, ddof=1) * GRAVITY**2 / count
    assert np.diag(covariance) == pytest.approx(expected, rel=1e-9)
    assert np.linalg.eigvalsh(covariance).min() > -1e-9


NOT_FINITE = (nan, inf, -inf)


@pytest.mark.parametrize("value", NOT_FINITE)
def test_readings_that_are_no_numbers_are_refused(value: float) -> None:
    with pytest.raises(InputError, match="readings: holds a value that is no finite number"):
        weigh(plain_car(), Readings.of(np.array([2500.0, value, 2400.0, 2400.0])))


@pytest.mark.parametrize("value", NOT_FINITE)
def test_pads_of_no_finite_accuracy_are_refused(value: float) -> None:
    car = replace(plain_car(), scales=Scales(value, 0.0, 1.0, 1.0))
    with pytest.raises(InputError, match="uncertainty of the readings"):
        weigh(car, Readings.of(np.full(4, 2500.0)))


@pytest.mark.parametrize("value", [*NOT_FINITE, -1.0])
def test_a_minimum_from_a_uncertainty_that_is_none_is_refused(value: float) -> None:
    car = replace(plain_car(), rules=Rules(minimum=1000, shortfall_chance=0.01))
    with pytest.raises(
        InputError, match=r"total_uncertainty: is .*: an uncertainty is 0 or more, and finite"
    ):
        BallastGoal.of(car, value)
    with pytest.raises(InputError, match="own_uncertainty"):
        margin_for(0.01, value, 1.0)
    with pytest.raises(InputError, match="other_uncertainty"):
        margin_for(0.01, 1.0, value)


@pytest.mark.parametrize("name", ["minimum", "power", "mass_per_power", "margin"])
@pytest.mark.parametrize("value", [*NOT_FINITE, -1.0])
def test_rules_that_are_no_numbers_are_refused(name: str, value: float) -> None:
    stated: dict[str, Any] = {"minimum": 1000.0, "power": 1e5, "mass_per_power": 1e-3, name: value}
    rules = Rules(**stated)
    with pytest.raises(InputError, match=f"{name}: is"):
        BallastGoal.of(replace(plain_car(), rules=rules), 1.0)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"minimum": nan}, "minimum: is nan: give kg, and 0 for no such rule"),
        ({"minimum": inf}, "minimum: is inf"),
        ({"minimum": -5}, "minimum: is -5"),
        ({"maximum": nan}, "maximum: is nan: give kg, and inf for no such rule"),
        ({"most": nan}, "most: is nan"),
        ({"wheel_minimum": nan}, "wheel_minimum: is nan"),
        ({"axle_minimum": (0.0, nan)}, "axle_minimum: is nan"),
        ({"front": (51, 52)}, "front: is 51: give a fraction, 0.5 for 50 %"),
        ({"front": (nan, 0.5)}, "front: is nan"),
        ({"front": (0.6, 0.5)}, "front: runs backward, 0.6 to 0.5"),
        ({"minimum": -0.5}, "minimum: is -0.5"),
        ({"most": -0.5}, "most: is -0.5"),
        ({"left": -0.1}, "left: is -0.1"),
        ({"left": 1.1}, "left: is 1.1"),
        ({"left": 50}, "left: is 50: give a fraction, 0.5 for 50 %"),
    ],
)
def test_a_ballast_goal_that_no_car_could_mean(given: dict[str, Any], said: str) -> None:
    with pytest.raises(InputError, match=said):
        BallastGoal(**given)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"cross": 50}, "cross: is 50: give a fraction, 0.5 for 50 %"),
        ({"cross": nan}, "cross: is nan"),
        ({"cross": -0.5}, "cross: is -0.5"),
        ({"cross": 1.5}, "cross: is 1.5"),
        ({"tolerance": 1.5}, "tolerance: is 1.5"),
        ({"tolerance": -0.1}, "tolerance: is -0.1: give a fraction, 0.002 for 0.2 points"),
        ({"tolerance": nan}, "tolerance: is nan"),
        ({"height_tolerance": -1e-3}, "height_tolerance: is -0.001: give meters"),
        ({"height_tolerance": nan}, "height_tolerance: is nan"),
        ({"rise": np.array([0, nan, 0, 0])}, "rise RF: is nan"),
        ({"rise": np.zeros(3)}, "rise: has 3 values: give four"),
        ({"keep": frozenset({"FL"})}, "keep: “FL” is no corner"),
    ],
)
def test_a_perch_goal_that_no_car_could_mean(given: dict[str, Any], said: str) -> None:
    usual = {"cross": 0.5, "tolerance": 0.002, "rise": np.zeros(4), "height_tolerance": 1.5e-3}
    with pytest.raises(InputError, match=said):
        PerchGoal(**{**usual, **given})


def test_every_fault_of_a_goal_is_told_at_once() -> None:
    with pytest.raises(InputError) as refused:
        PerchGoal(50, -1, np.zeros(4), nan)
    assert [fault.where for fault in refused.value.faults] == [
        "cross",
        "tolerance",
        "height_tolerance",
    ]


LOADS = np.array([2950.0, 2850.0, 2350.0, 2350.0])
NOW = float((LOADS[1] + LOADS[2]) / LOADS.sum())
Zeroed = Callable[[PerchGoal], PerchGoal]
ZEROED: dict[str, Zeroed] = {
    "cross": lambda goal: replace(goal, tolerance=0.0),
    "heights": lambda goal: replace(goal, height_tolerance=0.0),
    "both": lambda goal: replace(goal, tolerance=0.0, height_tolerance=0.0),
}


@pytest.mark.parametrize("zeroed", ZEROED.values(), ids=ZEROED)
def test_a_tolerance_of_nothing_is_met_by_what_is_exact(zeroed: Zeroed) -> None:
    plan = plan_perches(plain_car(), LOADS, zeroed(PerchGoal.level(NOW)))
    assert plan.status == "reached"
    assert plan.best.turns.tolist() == [0.0] * 4


@pytest.mark.parametrize("zeroed", ZEROED.values(), ids=ZEROED)
def test_a_tolerance_of_nothing_gets_the_closest_there_is(zeroed: Zeroed) -> None:
    car = replace(plain_car(), perch_travel=np.tile([-1.0, 1.0], (4, 1)))
    plan = plan_perches(car, LOADS, zeroed(PerchGoal.level(0.5)))
    assert plan.status == "closest"
    none = zeroed(PerchGoal.level(0.5)).height_tolerance == 0
    assert bool(plan.best.turns.any()) != none


def test_two_repeats_scatter_by_half_their_difference() -> None:
    """The spread of two is d/√2 with one degree of freedom, and that of their mean d/2."""
    repeats = np.array([[2500.0, 2400.0, 2300.0, 2450.0], [2506.0, 2400.0, 2298.0, 2460.0]])
    covariance = load_covariance(EXACT_PADS, repeats.mean(axis=0), repeats)
    assert np.diag(covariance) == pytest.approx([9.0, 0.0, 1.0, 25.0], rel=1e-12)


def test_one_reading_has_no_scatter_of_its_own() -> None:
    assert not load_covariance(EXACT_PADS, np.full(4, 2500.0), np.full((1, 4), 2500.0)).any()


@pytest.mark.parametrize("count", [3, 4, 5, 9])
def test_scatter_of_the_mean_has_one_degree_of_freedom_less_than_readings(count: int) -> None:
    """Equal steps of 1: their squares sum to (n³ - n)/12, over n·(n - 1)."""
    repeats = np.full((count, 4), 2500.0)
    repeats[:, 1] += np.arange(count)
    covariance = load_covariance(EXACT_PADS, repeats.mean(axis=0), repeats)
    expected = (count**3 - count) / 12 / (count * (count - 1))
    assert covariance == pytest.approx(np.diag([0.0, expected, 0.0, 0.0]), rel=1e-12)
