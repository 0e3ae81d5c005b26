"""The uncertainty of a weigh-in against the Guide to the Expression of Uncertainty (JCGM 100, GUM).

The package has no general propagation: what of the Guide's examples is a ratio of two readings is
put on two pads, V on the left front and I on the left rear, so that the front share is V/(V + I)
and Z = V/I is share/(1 - share). Examples with other formulas (R and X of H.2, H.1, and JCGM 101,
9.3) have nothing here to exercise.

H.2, approach 1, was read as the GUM Tree Calculator restates it, commit 1c165fce:
https://github.com/MSLNZ/GTC/blob/v1.4.0/docs/API/GUM_H2.rst
The raw data of table H.2 are from memory; they reproduce the means and uncertainties that were
read.
"""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import GTC
import numpy as np
import pytest

from balancer.car.conventions import GRAVITY
from balancer.car.model import Scales, plain_car
from balancer.weighing.uncertainty import load_covariance, share_uncertainties, shares
from balancer.weighing.weigh import Readings, weigh
from tests.published.printed import printed
from tests.sources import source

GUM = "JCGM 100:2008, Guide to the Expression of Uncertainty in Measurement"
VOLT = [5.007, 4.994, 5.005, 4.990, 4.999]
MILLIAMPERE = [19.663, 19.639, 19.640, 19.685, 19.678]


def impedance(front: float, uncertainty: float) -> tuple[float, float]:
    """Give Z [Ω] and its uncertainty from the front share V/(V + I) and its own, I in mA."""
    return 1e3 * front / (1 - front), 1e3 * uncertainty / (1 - front) ** 2


@source(GUM, "H.2, approach 1, Z = V/I with r(V, I) = -0.36", "read")
def test_a_ratio_of_correlated_readings() -> None:
    """Printed as 254.26(24)."""
    volt, ampere, correlation = 0.0032, 9.5e-3, -0.36
    covariance = np.zeros((4, 4))
    covariance[0, 0], covariance[2, 2] = volt**2, ampere**2
    covariance[0, 2] = covariance[2, 0] = correlation * volt * ampere
    car, loads = plain_car(), np.array([4.999, 0.0, 19.661, 0.0])
    ohm, uncertainty = impedance(
        shares(car, loads).front, share_uncertainties(car, loads, covariance).front
    )
    assert ohm == printed("254.26")
    assert uncertainty == printed("0.24")


def weighed_impedance() -> tuple[float, float]:
    """Share out the means of table H.2 between two pads, with the covariance observed there."""
    repeats = np.zeros((5, 4))
    repeats[:, 0], repeats[:, 2] = VOLT, MILLIAMPERE
    car, means, covariance = plain_car(), repeats.mean(axis=0), np.cov(repeats.T) / 5
    uncertainty = share_uncertainties(car, means, covariance)
    return impedance(shares(car, means).front, uncertainty.front)


@source(GUM, "H.2, table H.2, Z", "from memory")
def test_mean_of_simultaneous_repeats() -> None:
    assert weighed_impedance()[0] == printed("254.260")


@source(GUM, "H.2, table H.2, u(Z) with the observed correlation", "from memory")
def test_uncertainty_of_simultaneous_repeats() -> None:
    assert weighed_impedance()[1] == printed("0.236")


@source(
    GUM, "4.3.7 and F.2.2.1: u = a/√3 for a half-width a, 0.29 of the last digit", "from memory"
)
def test_resolution_is_a_rectangle() -> None:
    step = 0.5 * GRAVITY
    pads = Scales(accuracy=0, common_accuracy=0, resolution=step, repeatability=0)
    loads = np.array([3000.0, 2900.0, 2300.0, 2400.0])
    covariance = load_covariance(pads, loads, loads[None, :])
    uncertainties = np.sqrt(np.diag(covariance))
    assert (uncertainties / step).tolist() == [printed("0.29")] * 4
    assert uncertainties == pytest.approx(np.full(4, step / 2 / sqrt(3)), rel=1e-12)
    assert np.count_nonzero(covariance - np.diag(np.diag(covariance))) == 0


COMMON = Scales(accuracy=0, common_accuracy=3e-3, resolution=0, repeatability=0)
PADS = {
    "nearly all in common": Scales(1e-5, 3e-3, 0.0, 0.0),
    "own gain only": Scales(1e-3, 0.0, 0.0, 0.0),
    "all of it": Scales(1e-3, 3e-3, 0.5 * GRAVITY, 0.4 * GRAVITY),
}


@pytest.mark.parametrize("pads", PADS.values(), ids=PADS.keys())
@source(
    GUM,
    "5.1.2 and 5.2.2, carried out by the GUM Tree Calculator; numbers ours",
    "from memory",
)
def test_weigh_in_against_gtc(pads: Scales) -> None:
    """Four pads that share one gain error: every uncertainty of a weigh-in, by another program."""
    car = replace(plain_car(wheelbase=2.405, tracks=(1.45, 1.43)), scales=pads)
    masses = [302.0, 288.5, 231.0, 244.0]
    weighed = weigh(car, Readings.of(np.array(masses) * GRAVITY))
    shared = GTC.ureal(1.0, pads.common_accuracy)
    loads = [
        mass * GRAVITY * shared * GTC.ureal(1.0, pads.accuracy)
        + GTC.ureal(0.0, pads.resolution / sqrt(12))
        + GTC.ureal(0.0, pads.repeatability)
        for mass in masses
    ]
    total = sum(loads)
    aft = sum(load * float(x) for load, x in zip(loads, car.aft, strict=True))
    left = sum(load * float(y) for load, y in zip(loads, car.left, strict=True))
    sums = [loads[0] + loads[1], loads[0] + loads[2], loads[1] + loads[2], aft, left]
    expected = [total, *(each / total for each in sums)]
    assert list(weighed.shares) == pytest.approx([GTC.value(each) for each in expected], rel=1e-12)
    uncertainties = [GTC.uncertainty(each) for each in expected]
    assert list(weighed.uncertainties) == pytest.approx(uncertainties, rel=1e-9, abs=0)


@source(GUM, "5.2.2: the doubt of a gain common to all adds up; numbers ours", "from memory")
def test_a_gain_common_to_all_pads_is_a_gain_of_the_total() -> None:
    loads = np.array([302.0, 288.5, 231.0, 244.0]) * GRAVITY
    covariance = load_covariance(COMMON, loads, loads[None, :])
    assert np.sqrt(covariance.sum()) == pytest.approx(3e-3 * loads.sum(), rel=1e-12)


@source(GUM, "5.2.2: a gain common to all cancels in a ratio; numbers ours", "from memory")
def test_a_gain_common_to_all_pads_leaves_every_share_alone() -> None:
    car = replace(plain_car(), scales=COMMON)
    for extra in np.arange(0.0, 50.0, 0.5):
        loads = np.array([269.0 + extra, 218.0, 185.5, 182.5]) * GRAVITY
        uncertainties = weigh(car, Readings.of(loads)).uncertainties
        # The root of a rounding error of 1e-16 of the squares that cancel.
        assert list(uncertainties[1:]) == pytest.approx([0.0] * 5, abs=1e-9)
