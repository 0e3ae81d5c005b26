"""A car weighed three times at four corners: the only such open data that was found.

A model car of 13.5 kg, in grams and meters: parameters.m of the repository
https://github.com/dajmannetje/Amazing-controller-RCcar at commit 0a297c96. One reading of the
right front is far from its two repeats.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from GTC import type_a

from balancer.car.conventions import GRAVITY
from balancer.car.model import Scales, plain_car
from balancer.weighing.uncertainty import share_uncertainties
from balancer.weighing.weigh import Readings, WeighIn, weigh
from tests.published.printed import printed
from tests.sources import source

GRAMS = [
    [2855, 2985, 3880, 3814],
    [2873, 2972, 3850, 3834],
    [2875, 2725, 3920, 3909],
]
WORK = "Open data: parameters.m, repository dajmannetje/Amazing-controller-RCcar"
PLACE = "commit 0a297c96, three weighings of four corners, wheelbase 0.535 m, track 0.38 m"
READ = source(WORK, PLACE, "read")
NO_STATED_UNCERTAINTY = Scales(accuracy=0, common_accuracy=0, resolution=0, repeatability=0)


@pytest.fixture(name="weighed")
def _weighed() -> WeighIn:
    car = replace(plain_car(wheelbase=0.535, tracks=(0.38, 0.38)), scales=NO_STATED_UNCERTAINTY)
    repeats = np.array(GRAMS) * 1e-3 * GRAVITY
    return weigh(car, Readings(repeats, np.zeros(4), np.zeros(4)))


@READ
def test_mass_and_center(weighed: WeighIn) -> None:
    """Inputs and formulas were read (a = l·m_r/m); the file prints no result, so it is ours."""
    assert weighed.shares.total / GRAVITY * 1e3 == printed("13497.33")
    assert 100 * (1 - weighed.shares.front) == printed("57.3126")
    assert weighed.shares.aft == printed("0.306622")
    assert 0.535 - weighed.shares.aft == printed("0.228378")


@READ
def test_cross_weight_and_left_offset(weighed: WeighIn) -> None:
    """Inputs were read, output is ours."""
    assert 100 * weighed.shares.cross == printed("50.2124")
    assert 1e3 * weighed.shares.left_offset == printed("0.066")


@READ
def test_uncertainty_of_each_corner(weighed: WeighIn) -> None:
    """Inputs were read, output is ours: s/√3 of the repeats."""
    uncertainties = np.sqrt(np.diag(weighed.covariance)) / GRAVITY * 1e3
    assert uncertainties.tolist() == [printed(each) for each in ("6.36", "84.58", "20.28", "28.92")]


@READ
def test_uncertainty_of_each_corner_against_gtc(weighed: WeighIn) -> None:
    """Inputs were read; the reference is the type A estimate of another program."""
    uncertainties = np.sqrt(np.diag(weighed.covariance)) / GRAVITY * 1e3
    expected = [type_a.standard_uncertainty(corner) for corner in np.array(GRAMS, float).T]
    assert uncertainties.tolist() == pytest.approx(expected, rel=1e-9)


@READ
def test_uncertainty_of_center_and_cross_weight(weighed: WeighIn) -> None:
    """Inputs were read, output is ours, with the scatter of the pads taken as independent."""
    alone = np.diag(np.diag(weighed.covariance))
    car = plain_car(wheelbase=0.535, tracks=(0.38, 0.38))
    found = share_uncertainties(car, weighed.loads, alone)
    assert 1e3 * found.aft == printed("2.02")
    assert 100 * found.cross == printed("0.339")


@READ
def test_the_reading_that_disagrees_is_named(weighed: WeighIn) -> None:
    """Inputs were read; that 2725 beside 2985 and 2972 is a slip is our judgment."""
    assert weighed.outliers == ((3, "RF"),)
