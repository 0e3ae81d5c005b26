"""`compare` on pads that err: how often something is called real where nothing has changed."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.linear import load_change
from balancer.car.model import Car, Scales, plain_car
from balancer.weighing.comparison import JUDGED, Pads, compare
from balancer.weighing.false_alarms import ALARM, limit_of
from balancer.weighing.weigh import Readings, weigh
from tests.seeds import seeds

LOADS = np.array([302.0, 288.5, 231.0, 244.0]) * GRAVITY
POOR = Scales(5e-3, 2e-3, 0.2 * GRAVITY, 0.5 * GRAVITY, 1e-3)
FINE = Scales(2e-4, 0.0, 0.05 * GRAVITY, 0.2 * GRAVITY, 0.5e-3)
TRIALS = 4000


class Set:
    """Four pads on a floor: what they get wrong each time alike is drawn once."""

    def __init__(self, car: Car, rng: np.random.Generator) -> None:
        self.car, self.rng, scales = car, rng, car.scales
        self.gain = (1 + scales.accuracy * rng.standard_normal(4)) * (
            1 + scales.common_accuracy * rng.standard_normal()
        )
        self.set_up()

    def set_up(self) -> None:
        self.heights = self.car.scales.level * self.rng.standard_normal(4)

    def read(self, loads: Floats, count: int) -> Readings:
        """Read once or several times, rolled off and on, in steps of the display."""
        scales = self.car.scales
        shown = (loads + load_change(self.car, self.heights)) * self.gain
        each = shown + scales.repeatability * self.rng.standard_normal((count, 4))
        step = scales.resolution
        return Readings(np.round(each / step) * step, np.zeros(4), np.zeros(4))


def alarms(scales: Scales, pads: Pads, count: int, trials: range) -> float:
    """Weigh the same car twice, again and again: the part of all tables with a false alarm."""
    car = replace(plain_car(tracks=(1.45, 1.43), tire_rate=(210e3, 220e3)), scales=scales)
    found = 0
    for seed in trials:
        first = Set(car, np.random.default_rng(seed))
        second = first if pads != "other" else Set(car, np.random.default_rng(seed + 10**6))
        before = weigh(car, first.read(LOADS, count))
        if pads == "moved":
            first.set_up()
        difference = compare(car, before, weigh(car, second.read(LOADS, count)), pads=pads)
        found += any(difference.real(name) for name in JUDGED)
    return found / len(trials)


@pytest.mark.parametrize(
    ("pads", "scales", "count"),
    [
        *((pads, scales, 1) for pads in ("same", "moved", "other") for scales in (POOR, FINE)),
        ("same", FINE, 3),
        ("other", POOR, 6),
    ],
)
def test_one_table_in_twenty_has_a_false_alarm(pads: Pads, scales: Scales, count: int) -> None:
    trials = seeds(TRIALS, TRIALS // 8)
    # Three standard deviations of a share of so many tables; with all of them 1.03 points.
    slack = 3 * (ALARM * (1 - ALARM) / len(trials)) ** 0.5
    rate = alarms(scales, pads, count, trials)
    print(f"{pads} pads, {count} readings: {100 * rate:.2f} % of {len(trials)} tables")
    assert rate == pytest.approx(ALARM, abs=slack)


def test_repeats_that_contradict_the_stated_scatter_are_believed() -> None:
    """Pads that scatter three times as much as their file says: not an alarm in every table."""
    car, found = replace(plain_car(), scales=FINE), 0
    worse = FINE._replace(repeatability=3 * FINE.repeatability)
    trials = seeds(1000, 125)
    for seed in trials:
        pads = Set(replace(car, scales=worse), np.random.default_rng(seed))
        before, after = (weigh(car, pads.read(LOADS, 4)) for _ in "ab")
        difference = compare(car, before, after)
        found += any(difference.real(name) for name in JUDGED)
    assert found / len(trials) <= 3 * ALARM


def test_what_the_scatter_would_show_is_seen_on_the_same_pads() -> None:
    """Pads of 0.5 % that scatter by 0.5 kg see 4 kg at a wheel, which other pads do not."""
    car = replace(plain_car(), scales=POOR)
    more = np.array([0.0, 0.0, 0.0, 4.0 * GRAVITY])
    before, after = (weigh(car, Readings.of(loads)) for loads in (LOADS, LOADS + more))
    assert compare(car, before, after).real("total")
    assert not compare(car, before, after, pads="other").real("total")


def test_pads_whose_heights_are_said_otherwise_have_moved() -> None:
    car = replace(plain_car(), scales=FINE)
    level, high = np.zeros(4), np.array([0, 0, 1e-3, 0])

    def spread(first: Floats, second: Floats, pads: Pads) -> float:
        one, other = (
            weigh(car, Readings(LOADS[None], np.zeros(4), heights)) for heights in (first, second)
        )
        return compare(car, one, other, pads=pads).uncertainties.cross

    assert spread(level, level, "same") < 0.2 * spread(level, level, "moved")
    assert spread(level, high, "same") == pytest.approx(spread(level, high, "moved"), rel=1e-9)


@pytest.mark.parametrize("count", [1, 2, 4])
def test_independent_numbers_have_the_limit_of_sidak(count: int) -> None:
    single = 1 - (1 - ALARM) ** (1 / count)
    expected = NormalDist().inv_cdf(1 - single / 2)
    assert limit_of(np.diag(np.arange(1.0, count + 1))) == pytest.approx(expected, abs=0.015)


def test_numbers_that_go_together_are_one() -> None:
    assert limit_of(np.ones((4, 4))) == pytest.approx(1.96, abs=0.015)
    assert limit_of(np.diag([1.0, 0.0, 0.0, 0.0])) == pytest.approx(1.96, abs=0.015)
    assert limit_of(np.zeros((4, 4))) == 0.0
