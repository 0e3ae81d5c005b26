"""What a weigh-in makes of its readings: uneven pads, tare, repeats and strays, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from balancer.car.adjusters import Moves
from balancer.car.conventions import Floats
from balancer.car.equilibrium import solve_equilibrium
from balancer.car.linear import load_change
from balancer.car.model import Car, Scales, plain_car
from balancer.car.operating_point import operating_point
from balancer.car.statics import statics_of
from balancer.weighing.uncertainty import sampled_uncertainties
from balancer.weighing.weigh import Readings, weigh
from tests.cars import cornered

LOADS = np.array([2950.0, 2850.0, 2350.0, 2350.0])
HEIGHTS = np.array([0.0, 3e-3, 0.0, 0.0])
SURE = Scales(0.0, 0.0, 0.0, 0.0)


@pytest.mark.parametrize("car", [plain_car(), cornered(plain_car())], ids=["linear", "real"])
def test_a_high_pad_reads_too_much(car: Car) -> None:
    """3 mm at RF put λ = h/(t·Σ(1/t²)(1/k_w + 1/k_t)) over the track on RF and LR.

    On level pads the car carries that much less there than was read.
    """
    give = 1 / (car.spring_rate * car.motion_ratio**2) + 1 / car.tire_rate
    each = 1 / np.repeat(car.tracks, 2)
    warp = (each**2 * give).sum()
    effect = 3e-3 * each[1] / warp * np.array([-1.0, 1, 1, -1]) * each
    found = weigh(car, Readings(LOADS[None, :], np.zeros(4), HEIGHTS))
    assert found.pad_effect == pytest.approx(effect, rel=1e-5)
    assert found.loads == pytest.approx(LOADS - effect, rel=1e-6)
    assert found.shares.cross == pytest.approx((5200 - effect[1] - effect[2]) / 10_500, rel=1e-7)


def test_level_pads_of_a_car_on_real_corners_are_exact() -> None:
    """Put back on the uneven pads, the car reads what it read."""
    car = cornered(plain_car())
    corners = tuple(one._replace(shock_travel=0.05) for one in car.corners)
    car = replace(car, corners=corners)
    effect = statics_of(car, LOADS).pad_effect(HEIGHTS)
    again = solve_equilibrium(
        operating_point(car, LOADS - effect), Moves.none(), pads=HEIGHTS
    ).loads[0]
    assert again == pytest.approx(LOADS, abs=1e-3)
    assert effect[1] > 10
    assert statics_of(car, LOADS).pad_effect(np.zeros(4)).tolist() == [0.0] * 4


def test_tare_comes_off_every_reading() -> None:
    tare = np.array([10.0, 20.0, 30.0, 40.0])
    repeats = np.array([LOADS, LOADS + 6.0])
    found = weigh(plain_car(), Readings(repeats, tare, np.zeros(4)))
    assert found.loads.tolist() == (LOADS + 3.0 - tare).tolist()
    assert found.repeats == 2


def outliers(scales: Scales, *column: float) -> tuple[tuple[int, str], ...]:
    """Say which readings are told as strays where all pads scatter by this, and LR twice so."""
    repeats = LOADS + np.array(column)[:, None] * np.array([1.0, 1.0, 2.0, 1.0])
    car = replace(plain_car(), scales=scales)
    # The covariance is given: whether readings scatter alike is no matter here.
    readings = Readings(repeats, np.zeros(4), np.zeros(4), covariance=np.eye(4))
    return weigh(car, readings).outliers


@pytest.mark.parametrize(
    ("column", "told"),
    [
        ((-1.0, 0.0, 1.0, 0.0, 3.7), ()),
        ((-1.0, 0.0, 1.0, 0.0, 3.72), ((5, "LR"),)),
        ((-3.72, 0.0, 1.0, 0.0, 1.0), ((1, "LR"),)),
        ((0.0, 1.0, 4.7), ()),
        ((0.0, 1.0, 4.72), ((3, "LR"),)),
        ((0.0, 1000.0), ()),
    ],
)
def test_strays_are_five_usual_scatters_off(
    column: tuple[float, ...], told: tuple[tuple[int, str], ...]
) -> None:
    """The usual scatter of a Gaussian is 1.4826 times its median deviation (any table has it).

    All four pads speak: the middle of all their distances from their medians is 1, so LR may be
    5 × 1.4826 = 7.413 away, which is 3.7065 doubled. Two readings disagree with each other, and
    none of them can be called the stray.
    """
    assert outliers(SURE, *column) == told


def test_readings_that_agree_have_no_strays() -> None:
    assert outliers(SURE, 0.0, 0.0, 0.0) == ()
    once = np.stack([LOADS, LOADS + np.array([0.0, 0.0, 50.0, 0.0])])
    readings = Readings(once, np.zeros(4), np.zeros(4), covariance=np.eye(4))
    assert weigh(replace(plain_car(), scales=SURE), readings).outliers == ()


@pytest.mark.parametrize(
    "scales", [SURE._replace(repeatability=2.0), SURE._replace(resolution=2.0)]
)
def test_scatter_that_the_pads_are_known_for_is_no_stray(scales: Scales) -> None:
    assert outliers(scales, 0.0, 0.0, 0.0, 4.99) == ()
    assert outliers(scales, 0.0, 0.0, 0.0, 5.01) == ((4, "LR"),)


def test_what_pads_do_is_what_lifts_of_the_tires_do() -> None:
    car = plain_car()
    heights: Floats = np.array([1e-3, 0.0, 2e-3, 4e-3])
    assert statics_of(car, LOADS).pad_effect(heights).tolist() == load_change(car, heights).tolist()


def test_draws_scatter_as_the_first_order_says() -> None:
    """Four loads of 250 N, each ± 1: the total ± 2, a share of a thousand ± 0.001."""
    drawn = sampled_uncertainties(plain_car(), np.full(4, 250.0), np.eye(4), 20000)
    assert drawn.total == pytest.approx(2.0, rel=0.02)
    assert [drawn.front, drawn.left, drawn.cross] == pytest.approx([1e-3] * 3, rel=0.02)
