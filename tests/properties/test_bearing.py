"""How masses bear on a car: against its statics, and what a weigh-in with them on board teaches."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balancer.car.conventions import Floats
from balancer.car.model import Car, Item, plain_car
from balancer.car.resting import item_loads
from balancer.planning.session.bearing import arms, bearing, bearing_slopes
from balancer.planning.session.belief import Belief, Sigmas, believed, carry_uncertainty, prior
from balancer.planning.session.diagonal import diagonal_load, gain
from balancer.planning.session.learning import learn
from tests.conftest import random_car

law = settings(max_examples=40)
SEEDS = st.integers(0, 10**6)
DRIVER = Item("driver", 80.0, 1.3, 0.36, 0.35)
FUEL = Item("fuel", 20.0, 2.1, -0.2, 0.3)
EVEN = np.array([1.0, -1.0, -1.0, 1.0])


def a_car(seed: int) -> Car:
    rng = np.random.default_rng(seed)
    car = random_car(rng)
    return replace(car, motion_ratio=np.repeat(rng.uniform(0.55, 0.95, 2), 2))


def off_by(car: Car, sigmas: Sigmas, rng: np.random.Generator) -> Car:
    """Draw a car whose file has its rates wrong by so much."""
    return replace(
        car,
        spring_rate=car.spring_rate * np.exp(rng.normal(0, sigmas.spring, 4)),
        tire_rate=car.tire_rate * np.exp(rng.normal(0, sigmas.tire, 4)),
        motion_ratio=car.motion_ratio * np.repeat(np.exp(rng.normal(0, sigmas.motion_ratio, 2)), 2),
    )


def sure_of_the_file(car: Car) -> Belief:
    return prior(car, Sigmas())._replace(file=None)


@law
@given(SEEDS)
def test_three_numbers_say_what_any_masses_do_to_the_diagonal(seed: int) -> None:
    car = a_car(seed)
    both = item_loads(car, [DRIVER]) - item_loads(car, [FUEL])
    moved = arms([DRIVER], [FUEL])
    assert float(moved @ bearing(car)) == pytest.approx(diagonal_load(car, both), rel=1e-9)
    assert not arms([DRIVER, FUEL], [FUEL, DRIVER]).any()


def test_an_even_car_bears_on_no_diagonal_but_by_what_is_beside_its_middle() -> None:
    """Equal rates all round: the side moment is shared evenly, 1/2 to each axle.

    So each axle's loads differ by m/t from side to side, and the diagonals by nothing.
    """
    assert bearing(plain_car(2.4, (1.5, 1.5), (60e3, 60e3), (0.7, 0.7))) == pytest.approx(
        np.zeros(3), abs=1e-12
    )


def test_slopes_of_bearing_against_cars_a_percent_softer_and_stiffer() -> None:
    """Each rate's in its column; without tires and bars a ratio is worth twice a spring rate."""
    car = replace(plain_car(2.4, (1.5, 1.4)), torsional_stiffness=1e5)
    slopes = bearing_slopes(car)

    def found(name: str, wheels: Floats | float) -> Floats:
        one, other = (
            bearing(replace(car, **{name: getattr(car, name) * np.exp(by * np.asarray(wheels))}))
            for by in (0.01, -0.01)
        )
        return (one - other) / 0.02

    for corner, wheels in enumerate(np.eye(4)):
        assert slopes[:, corner] == pytest.approx(found("spring_rate", wheels), abs=1e-4)
    assert not slopes[:, 4:8].any()
    for axle in (0, 2):
        both = 2 * slopes[:, axle : axle + 2].sum(axis=1)
        assert slopes[:, 8 + axle // 2] == pytest.approx(both, abs=1e-4)
    assert slopes[:, 10] == pytest.approx(found("torsional_stiffness", 1.0), abs=1e-4)
    assert np.abs(slopes[2, 8:]).min() > 0.005


@pytest.mark.parametrize("seed", range(4))
def test_the_prior_of_bearing_against_draws(seed: int) -> None:
    """Small uncertainties, so that first order is all there is."""
    car, sigmas = a_car(seed), Sigmas(0.008, 0.005, 0.015)
    rng = np.random.default_rng(seed + 1)
    drawn = np.array([bearing(off_by(car, sigmas, rng)) for _ in range(1500)]) - bearing(car)
    stated = prior(car, sigmas).covariance[3:, 3:]
    scale = np.sqrt(np.diag(stated))
    assert np.cov(drawn.T) / np.outer(scale, scale) == pytest.approx(
        stated / np.outer(scale, scale), abs=0.12
    )


@pytest.mark.parametrize("seed", range(3))
def test_what_carrying_leaves_open_against_draws(seed: int) -> None:
    """What RF and LR carry of a driver put on and fuel taken off, of cars drawn around the file."""
    car, rng = a_car(seed), np.random.default_rng(seed + 1)
    drawn = [
        item_loads(each, [DRIVER]) - item_loads(each, [FUEL])
        for each in (off_by(car, Sigmas(), rng) for _ in range(800))
    ]
    both = np.array([each[1] + each[2] for each in drawn])
    unsure = carry_uncertainty(car, [DRIVER], [FUEL])
    assert unsure == pytest.approx(both.std(), rel=0.12)
    # By what is believed before anything was learned it is the same, to first order.
    believed_so = carry_uncertainty(car, [DRIVER], [FUEL], prior(car, Sigmas()).covariance)
    assert believed_so == pytest.approx(both.std(), rel=0.12)
    # A diagonal is 1/t of the pattern at either end, and each number unsure on its own.
    weight, aft, left = arms([DRIVER], [FUEL])
    known = np.diag([0.0, 0, 0, 1e-2, 2e-2, 3e-2]) ** 2
    apart = carry_uncertainty(replace(car, tracks=np.array([1.6, 1.2])), [DRIVER], [FUEL], known)
    alone = np.linalg.norm([1e-2 * weight, 2e-2 * aft, 3e-2 * left])
    assert apart == pytest.approx((1 / 1.6 + 1 / 1.2) * alone, rel=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_a_car_as_it_is_believed_to_be_bears_masses_so(seed: int) -> None:
    car = a_car(seed)
    file = prior(car, Sigmas())
    mean = np.random.default_rng(seed + 1).multivariate_normal(np.zeros(6), file.covariance)
    found = believed(car, file._replace(mean=mean))
    sure = np.sqrt(np.diag(file.covariance))
    off = (bearing(found) - bearing(car) - mean[3:]) / sure[3:]
    assert off == pytest.approx(np.zeros(3), abs=0.02)
    assert _log_compliance(found, car) == pytest.approx(mean[0], abs=1e-6)


@law
@given(SEEDS, st.floats(-3, 3))
def test_one_weigh_in_with_the_driver_teaches_what_carrying_left_open(
    seed: int, times: float
) -> None:
    """The textbook update of a Gaussian by one reading, on perfect pads."""
    car, carried = a_car(seed), arms([DRIVER], [])
    before = sure_of_the_file(car)
    unsure = float(np.sqrt(carried @ before.covariance[3:, 3:] @ carried))
    alone = learn(car, before, [0.0], [1e-3], [], carried=[carried])
    assert alone.diagonal_uncertainty == pytest.approx(unsure, rel=1e-5)
    assert alone.read_uncertainty == pytest.approx(1e-3, rel=1e-6)
    level = times * unsure
    both = learn(car, before, [0.0, level], [1e-3] * 2, [np.zeros(4)], 0.0, [carried, np.zeros(3)])
    assert both.diagonal == pytest.approx(level, abs=1e-4)
    assert both.diagonal_uncertainty == pytest.approx(1e-3, rel=1e-3)
    assert float(carried @ both.belief.mean[3:]) == pytest.approx(level, rel=1e-3, abs=1e-4)
    # The next weigh-in without the driver is carried by what was learned.
    again = learn(car, both.belief, [5.0], [1e-3], [], carried=[carried])
    assert again.diagonal == pytest.approx(5.0 + level, rel=1e-3, abs=1e-4)


@law
@given(SEEDS)
def test_what_pads_will_show_without_the_driver_is_as_sure_as_it_was(seed: int) -> None:
    """What bearing leaves open of the estimate is the same that it leaves open of a reading."""
    car, carried = a_car(seed), arms([DRIVER], [])
    alone = learn(car, sure_of_the_file(car), [7.0], [2.0], [], carried=[carried])
    level, unsure = alone.shown(carried)
    assert (level, unsure) == pytest.approx((7.0, 2.0), rel=1e-6)
    assert alone.shown(np.zeros(3)) == pytest.approx((alone.diagonal, alone.diagonal_uncertainty))


def test_bearing_learned_from_drawn_cars_is_as_sure_as_is_said() -> None:
    """Cars weighed without and with the driver, turned in between: standardized errors of 1."""
    sigmas, errors = Sigmas(), []
    for seed in range(150):
        rng = np.random.default_rng([seed, 9])
        car = a_car(seed)
        true, carried = off_by(car, sigmas, rng), arms([DRIVER], [])
        off = bearing(true) - bearing(car)
        ratio = np.log(true.motion_ratio / car.motion_ratio)[[0, 2]]
        theta = np.array([_log_compliance(true, car), *ratio])
        start = rng.normal(0, 50)
        levels = start + np.array([0.0, gain(car, theta, 2 * EVEN)])
        read = levels - np.array([float(carried @ off), 0.0]) + rng.normal(0, 3, 2)
        found = learn(
            car, prior(car, sigmas), read.tolist(), [3.0] * 2, [2 * EVEN], 1e-9,
            [carried, np.zeros(3)],
        )  # fmt: skip
        unsure = np.sqrt(carried @ found.belief.covariance[3:, 3:] @ carried)
        errors.append(float(carried @ (off - found.belief.mean[3:]) / unsure))
    assert 0.85 <= np.sqrt(np.mean(np.square(errors))) <= 1.15


def _log_compliance(one: Car, other: Car) -> float:
    def gives(car: Car) -> float:
        pattern: Floats = 1 / car.tracks[[0, 0, 1, 1]]
        rates = car.spring_rate * car.motion_ratio**2
        return float(np.sum(pattern**2 * (1 / rates + 1 / car.tire_rate)))

    return float(np.log(gives(one) / gives(other)))
