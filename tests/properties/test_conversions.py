"""Conversions against pint; uncertainties against a library for them, and against draws."""

from __future__ import annotations

from collections.abc import Iterable
from math import sqrt
from typing import Any

import numpy as np
import pint
import pytest
from uncertainties import UFloat, correlated_values, ufloat

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Car, Scales
from balancer.files.units import DEGREE, FOOT, GALLON, HORSEPOWER, INCH, POUND, SYSTEMS, Dimension
from balancer.weighing.uncertainty import Shares, load_covariance, share_uncertainties, shares
from tests.conftest import random_car, random_loads

REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry()

OUTSIDE: dict[tuple[str, Dimension], tuple[str, str]] = {
    ("metric", "mass"): ("kg", "kg"),
    ("metric", "load"): ("kg * standard_gravity", "N"),
    ("metric", "force"): ("N", "N"),
    ("metric", "length"): ("mm", "m"),
    ("metric", "rate"): ("N / mm", "N / m"),
    ("metric", "torsion"): ("N * m / degree", "N * m / radian"),
    ("metric", "number"): ("dimensionless", "dimensionless"),
    ("metric", "volume"): ("liter", "m ** 3"),
    ("metric", "density"): ("kg / liter", "kg / m ** 3"),
    ("metric", "power"): ("kW", "W"),
    ("metric", "per_power"): ("kg / kW", "kg / W"),
    ("us", "mass"): ("lb", "kg"),
    ("us", "load"): ("lbf", "N"),
    ("us", "force"): ("lbf", "N"),
    ("us", "length"): ("inch", "m"),
    ("us", "rate"): ("lbf / inch", "N / m"),
    ("us", "torsion"): ("lbf * foot / degree", "N * m / radian"),
    ("us", "number"): ("dimensionless", "dimensionless"),
    ("us", "volume"): ("US_liquid_gallon", "m ** 3"),
    ("us", "density"): ("lb / US_liquid_gallon", "kg / m ** 3"),
    ("us", "power"): ("horsepower", "W"),
    ("us", "per_power"): ("lb / horsepower", "kg / W"),
}
CONSTANTS = {
    "gravity": (GRAVITY, "standard_gravity", "m / s ** 2"),
    "pound": (POUND, "lb", "kg"),
    "inch": (INCH, "inch", "m"),
    "foot": (FOOT, "foot", "m"),
    "gallon": (GALLON, "US_liquid_gallon", "m ** 3"),
    "horsepower": (HORSEPOWER, "horsepower", "W"),
    "degree": (DEGREE, "degree", "radian"),
}
SCALES = {
    "independent": Scales(1e-3, 0.0, 5.0, 4.0),
    "common gain too": Scales(5e-4, 2e-3, 10.0, 2.5),
    "mostly common gain": Scales(1e-5, 3e-3, 0.0, 0.01),
}


def test_every_factor_is_listed() -> None:
    factors = {(name, one) for name, units in SYSTEMS.items() for one in units.factors}
    assert factors == set(OUTSIDE)


@pytest.mark.parametrize(("system", "dimension"), OUTSIDE)
def test_factors_against_pint(system: str, dimension: Dimension) -> None:
    outside, inside = OUTSIDE[system, dimension]
    expected = REGISTRY.Quantity(1.0, outside).to(inside).magnitude
    units = SYSTEMS[system]
    assert units.factors[dimension] == pytest.approx(expected, rel=1e-12)
    assert units.to_si(2.5, dimension) == pytest.approx(2.5 * expected, rel=1e-12)
    assert units.from_si(2.5, dimension) == pytest.approx(2.5 / expected, rel=1e-12)


@pytest.mark.parametrize("name", CONSTANTS)
def test_constants_against_pint(name: str) -> None:
    value, outside, inside = CONSTANTS[name]
    expected = REGISTRY.Quantity(1.0, outside).to(inside).magnitude
    assert value == pytest.approx(expected, rel=1e-12)


def _quantities(car: Car, loads: Iterable[Any]) -> tuple[Any, ...]:
    """Work out total, front, left, cross, aft and left offset of four loads of any kind."""
    lf, rf, lr, rr = loads
    total = lf + rf + lr + rr
    front, rear = car.tracks / 2
    return (
        total,
        (lf + rf) / total,
        (lf + lr) / total,
        (rf + lr) / total,
        car.wheelbase * (lr + rr) / total,
        (front * (lf - rf) + rear * (lr - rr)) / total,
    )


def _about(value: float, uncertainty: float) -> UFloat | float:
    """Doubt a value; one that is sure stays a plain number, as uncertainties wants it."""
    return ufloat(value, uncertainty) if uncertainty else value


def _uncertaintyed(scales: Scales, loads: Floats, scatter: Floats) -> list[UFloat]:
    gain = _about(1, scales.common_accuracy)
    return [
        load * (gain + _about(0, scales.accuracy))
        + _about(0, scales.resolution / sqrt(12))
        + _about(0, scattered)
        for load, scattered in zip(loads.tolist(), scatter.tolist(), strict=True)
    ]


@pytest.mark.parametrize("scales", SCALES.values(), ids=SCALES)
@pytest.mark.parametrize("seed", range(10))
def test_uncertainties_of_one_reading_against_uncertainties(seed: int, scales: Scales) -> None:
    rng = np.random.default_rng(seed)
    car, loads = random_car(rng), random_loads(rng)
    covariance = load_covariance(scales, loads, loads[None])
    uncertaintyed = _uncertaintyed(scales, loads, np.full(4, scales.repeatability))
    expected = [value.std_dev for value in _quantities(car, uncertaintyed)]
    assert share_uncertainties(car, loads, covariance) == pytest.approx(expected, rel=1e-9)


def scattered(seed: int, count: int) -> tuple[Car, Floats, Floats]:
    """Read four pads several times: a car, the readings, and the scatter of their mean.

    More than the scales are known for at two pads, less at the other two.
    """
    rng = np.random.default_rng(seed)
    car, loads = random_car(rng), random_loads(rng)
    repeats = loads + np.array([60.0, 0.1, 50.0, 0.2]) * rng.standard_normal((count, 4))
    off = repeats - repeats.mean(axis=0)
    observed = np.sqrt((off**2).sum(axis=0) / (count - 1))
    known = SCALES["common gain too"].repeatability
    assert (observed > known).tolist() == [True, False, True, False]
    return car, repeats, np.maximum(observed, known) / sqrt(count)


@pytest.mark.parametrize("count", [3, 4, 6, 12])
@pytest.mark.parametrize("seed", range(4))
def test_uncertainties_of_repeats_against_uncertainties(seed: int, count: int) -> None:
    """Scatter of settling and of the pads: what part is which is half, as two readings would say.

    The correlation seen counts by readings beside twelve.
    """
    scales = SCALES["common gain too"]
    car, repeats, scatter = scattered(seed, count)
    mean = repeats.mean(axis=0)
    off = repeats - mean
    length = np.sqrt((off**2).sum(axis=0))
    around, settling = off / length, np.array([0.5, -0.5, -0.5, 0.5])
    part = (1 + (count - 1) * np.sum((around @ settling) ** 2) / 4) / (count + 1)
    across = np.eye(4) - np.outer(settling, settling)
    usual = 4 * (part * np.outer(settling, settling) + (1 - part) / 3 * across)
    told = (count - 1) / (count + 11)
    correlation = told * around.T @ around + (1 - told) * usual
    noise = correlated_values(np.zeros(4), np.outer(scatter, scatter) * correlation)
    pads = zip(_uncertaintyed(scales, mean, np.zeros(4)), noise, strict=True)
    expected = [value.std_dev for value in _quantities(car, [one + other for one, other in pads])]
    covariance = load_covariance(scales, mean, repeats)
    assert share_uncertainties(car, mean, covariance) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6, 8, 12])
@pytest.mark.parametrize(
    "settling", [0.0, 0.5, 1.0], ids=["pads alone", "half and half", "settling"]
)
def test_scatter_of_the_cross_weight_is_what_is_stated(settling: float, count: int) -> None:
    """Standardized errors of means of drawn repeats, on pads that are known to scatter so.

    By the pads alone where there were four and by their correlation where five, they were 0.9 and
    1.4 where pads scatter alone, 1.8 and 1.4 where all is settling.
    """
    rng = np.random.default_rng(count)
    car, loads, kg = random_car(rng), np.full(4, 2500.0), 9.80665
    own = sqrt(1 - settling) * kg * rng.standard_normal((1500, count, 4))
    whole = sqrt(settling) * kg * rng.standard_normal((1500, count, 1))
    repeats = loads + own + whole * np.array([1.0, -1.0, -1.0, 1.0])
    scales, means = Scales(0.0, 0.0, 0.0, kg), repeats.mean(axis=1)
    errors = [
        (shares(car, mean).cross - 0.5)
        / share_uncertainties(car, mean, load_covariance(scales, mean, each)).cross
        for mean, each in zip(means, repeats, strict=True)
    ]
    assert 0.68 <= np.sqrt(np.mean(np.square(errors))) <= 1.2


@pytest.mark.parametrize("seed", range(10))
def test_a_gain_that_all_pads_share_leaves_the_shares_sure(seed: int) -> None:
    rng = np.random.default_rng(seed)
    car, loads = random_car(rng), random_loads(rng)
    scales = Scales(0.0, 0.004, 0.0, 0.0)
    uncertainties = share_uncertainties(car, loads, load_covariance(scales, loads, loads[None]))
    assert uncertainties.total == pytest.approx(0.004 * loads.sum(), rel=1e-12)
    assert uncertainties[1:] == pytest.approx([0.0] * 5, abs=1e-9)


@pytest.mark.parametrize("scales", SCALES.values(), ids=SCALES)
@pytest.mark.parametrize("seed", range(3))
def test_uncertainties_against_draws(seed: int, scales: Scales) -> None:
    rng = np.random.default_rng([seed, 5])
    car, loads = random_car(rng), random_loads(rng)
    count = 100_000
    drawn = loads[:, None] * (
        1
        + scales.accuracy * rng.standard_normal((4, count))
        + scales.common_accuracy * rng.standard_normal(count)
    )
    drawn += scales.resolution * rng.uniform(-0.5, 0.5, (4, count))
    drawn += scales.repeatability * rng.standard_normal((4, count))
    found = Shares(*(float(values.std(ddof=1)) for values in _quantities(car, drawn)))
    # The standard deviation of so many draws is itself sure to 1/√(2·count); four of these.
    sampling = 4 / sqrt(2 * count)
    covariance = load_covariance(scales, loads, loads[None])
    assert share_uncertainties(car, loads, covariance) == pytest.approx(found, rel=sampling)
