"""The stiffness of a chassis from weigh-ins: uncertainty against draws, limits, slips."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.linear import lift, load_change, warp_compliance
from balancer.car.model import Car, Scales, plain_car
from balancer.files.units import METRIC
from balancer.planning.session.chassis_stiffness import Torsion, applied_warp, torsion
from balancer.weighing.weigh import Readings, WeighIn, weigh
from tests.conftest import random_car, random_loads

TWIST = np.array([2.0, -2.0, -2.0, 2.0])
PERFECT = Scales(0.0, 0.0, 0.0, 0.0)
PADS = Scales(1e-3, 5e-4, 0.5 * GRAVITY, 0.5 * GRAVITY)
RIGID = 2 / 1.45**2 * (1 / (70e3 * 0.68**2) + 1 / 210e3)
RIGID += 2 / 1.43**2 * (1 / (62e3 * 0.74**2) + 1 / 220e3)
"""What gives way of the coupe but its chassis [1/(N·m)]."""
ARM = 4 * 1.5e-3 * (1 / 0.68 / 1.45 + 1 / 0.74 / 1.43)
"""What its TWIST puts into the free pattern [rad]."""
PATTERN = np.array([1 / 1.45, -1 / 1.45, -1 / 1.43, 1 / 1.43])


def coupe(stiffness: float, scales: Scales = PERFECT) -> Car:
    """Make a coupe of 1100 kg with a chassis of so many N·m/deg."""
    car = plain_car(2.4, (1.45, 1.43), (70e3, 62e3), (0.68, 0.74), (210e3, 220e3))
    return replace(car, torsional_stiffness=METRIC.to_si(stiffness, "torsion"), scales=scales)


def kart(stiffness: float, scales: Scales = PERFECT) -> Car:
    """Make a frame on four tires."""
    car = plain_car(1.05, (1.08, 1.14), (inf, inf), (1.0, 1.0), (110e3, 125e3))
    return replace(car, torsional_stiffness=METRIC.to_si(stiffness, "torsion"), scales=scales)


def weighed(car: Car, made: list[Floats], loads: Floats) -> list[WeighIn]:
    """Weigh a car before and after each set of turns on perfect pads."""
    found = [loads]
    for turns in made:
        found.append(found[-1] + load_change(car, lift(car, car.perch_lead * turns)))
    return [weigh(car, Readings.of(one)) for one in found]


def drawn(
    car: Car, made: list[Floats], repeats: int, rng: np.random.Generator, rates: float
) -> Torsion:
    """Draw pads, hands and rates, and estimate: nothing here is taken from the package."""
    rigid = replace(car, torsional_stiffness=inf)
    scale = 1 + rates * rng.standard_normal()
    true = replace(car, spring_rate=car.spring_rate / scale, tire_rate=car.tire_rate / scale)
    scales = car.scales
    errors = 1 + scales.accuracy * rng.standard_normal(4)
    errors = errors + scales.common_accuracy * rng.standard_normal()

    def read(loads: Floats) -> WeighIn:
        rows = loads * errors + scales.repeatability * rng.standard_normal((repeats, 4))
        rows = np.round(rows / scales.resolution) * scales.resolution
        return weigh(rigid, Readings(rows, np.zeros(4), np.zeros(4)))

    loads = np.array([2960.0, 2830.0, 2260.0, 2390.0]) * (1.0 if rigid.solid.sum() == 0 else 0.15)
    found = [read(loads)]
    for turns in made:
        real = turns + 0.02 * rng.standard_normal(4) * (turns != 0)
        loads = loads + load_change(true, lift(true, car.perch_lead * real))
        found.append(read(loads))
    return torsion(rigid, found, made, rates)


@pytest.mark.parametrize(
    ("car", "made", "repeats"),
    [
        (coupe(3000, PADS), [TWIST], 1),
        (coupe(5200, PADS), [1.5 * TWIST], 3),
        (coupe(9000, PADS), [TWIST, -2 * TWIST, TWIST], 1),
        (coupe(4000, PADS), [np.array([3.0, 0.0, 0.0, 0.0])], 3),
        (kart(90, PADS), [TWIST], 1),
        (kart(60, PADS), [np.array([2.0, -2.0, 0.0, 0.0]), np.array([0.0, 0.0, -1.0, 1.0])], 3),
    ],
    ids=["soft", "usual, repeats", "stiff, to and fro", "one corner", "kart", "kart, axles apart"],
)
def test_the_interval_holds_the_truth_nine_times_in_ten(
    car: Car, made: list[Floats], repeats: int
) -> None:
    rng = np.random.default_rng(20)
    found = [drawn(car, made, repeats, rng, 0.03) for _ in range(300)]
    inside = np.mean([one.low <= car.torsional_stiffness <= one.high for one in found])
    # Few repeats are taken for those of a car that settles, which moves the pads together; these
    # are drawn pad by pad, so that the interval is wider than they ask for.
    assert 0.85 <= inside <= (0.97 if repeats == 3 else 0.95)
    # And the standard uncertainty is the scatter of what is found.
    off = np.array([one.flexibility - 1 / car.torsional_stiffness for one in found])
    told = np.median([one.uncertainty for one in found])
    assert (0.75 if repeats == 3 else 0.85) < off.std() / told < 1.15
    assert abs(off.mean()) < 0.25 * told


@given(
    seed=st.integers(0, 2**32 - 1),
    stiffness=st.floats(1e4, 1e7),
    turns=st.lists(
        st.tuples(*[st.integers(-12, 12).map(lambda steps: steps / 4)] * 4), min_size=1, max_size=3
    ),
)
@example(seed=577, stiffness=1e4, turns=[(2.25,) * 4])
def test_perfect_weigh_ins_give_the_stiffness_back(
    seed: int, stiffness: float, turns: list[tuple[float, ...]]
) -> None:
    """From exact turns always; from turns by hand unless what they twist is lost in 0.02 of one.

    The pads being perfect, each set tells by its arm over that arm's own uncertainty. Below
    1.644854 of it in all, a chassis that does not answer at all is within the interval.
    """
    rng = np.random.default_rng(seed)
    car = replace(random_car(rng), torsional_stiffness=stiffness, scales=PERFECT)
    made = [np.array(each) for each in turns]
    weigh_ins = weighed(car, made, random_loads(rng))
    if np.abs(np.cumsum([applied_warp(car, each) for each in made])).max() < 1e-4:
        return
    # K is a difference: the stiffer the chassis, the more digits of the loads it takes.
    digits = 1e-7 * stiffness * warp_compliance(car)
    told = clearness(car, made)
    assume(abs(told - 1.644854) > 1e-4)
    by_hand = torsion(car, weigh_ins, made, 0.0)
    exact = torsion(car, weigh_ins, made, 0.0, turn_sd=0.0)
    assert (by_hand.status == "unclear") == (told < 1.644854)
    for found in [exact] if told < 1.644854 else [exact, by_hand]:
        assert found.stiffness == pytest.approx(stiffness, rel=max(digits, 1e-8))
        assert found.share == pytest.approx(1 / stiffness / warp_compliance(car), abs=1e-7)
    assert by_hand.answer == pytest.approx(exact.answer, rel=1e-7)
    assert not by_hand.strange


def clearness(car: Car, made: list[Floats]) -> float:
    """Give how many uncertainties of theirs the arms of turns by hand are away from none."""
    ratios = []
    for turns in made:
        each = [applied_warp(car, corner) for corner in np.diag(turns != 0) * 0.02]
        if any(each):
            ratios.append(applied_warp(car, turns) / np.linalg.norm(each))
    return float(np.linalg.norm(ratios))


def test_a_stiff_chassis_has_no_upper_end_and_a_soft_one_has() -> None:
    for stiffness, status in ((2000, "found"), (50_000, "at_least")):
        car = coupe(stiffness, PADS)
        found = torsion(car, weighed(car, [TWIST], np.full(4, 2700.0)), [TWIST])
        assert found.status == status
        assert found.low < car.torsional_stiffness < found.high
        assert (found.high == inf) == (status == "at_least")


def test_what_no_chassis_does_is_told() -> None:
    car = coupe(1e6, PADS)
    before, after = weighed(car, [TWIST], np.full(4, 2700.0))
    # Turned a third less than said: even a rigid chassis would not answer so much.
    much = torsion(car, [before, after], [TWIST / 1.5])
    assert (much.status, much.stiffness, much.low, much.high) == ("contradiction", inf, 0.0, inf)
    assert much.answer == pytest.approx(1.5, rel=0.02)
    wrong = torsion(car, [before, after], [-TWIST])
    assert wrong.status == "contradiction"
    assert wrong.answer == pytest.approx(-1, rel=0.02)
    nothing = torsion(car, [before, before], [TWIST / 100])
    assert (nothing.status, nothing.uncertainty) == ("unclear", inf)


def test_a_rigid_chassis_is_seldom_blamed() -> None:
    car, rng = replace(coupe(1, PADS), torsional_stiffness=inf), np.random.default_rng(3)
    found = [drawn(car, [TWIST], 3, rng, 0.03) for _ in range(300)]
    assert sum(one.status == "contradiction" for one in found) <= 3
    assert np.mean([one.high == inf for one in found]) > 0.9
    assert all(one.low > 0 for one in found if one.status == "at_least")


def test_something_else_that_changed_is_told() -> None:
    car = coupe(5000, PADS)
    first, second, third = weighed(car, [TWIST, -TWIST], np.full(4, 2700.0))
    fuel = weigh(car, Readings.of(second.loads - np.array([5.0, 5.0, 60.0, 60.0])))
    ((which, rest),) = torsion(car, [first, second, third], [TWIST, -TWIST]).strange or (
        (None, None),
    )
    assert (which, rest) == (None, None)
    ((which, rest),) = torsion(car, [first, fuel], [TWIST]).strange
    assert which == 0
    assert rest.sum() == pytest.approx(-130)


def test_more_repeats_more_turns_and_surer_rates_narrow_it() -> None:
    car = coupe(5000, PADS)
    loads = np.full(4, 2700.0)

    def uncertainty(made: list[Floats], rates: float = 0.03, repeats: int = 1) -> float:
        readings = [
            Readings(np.tile(one.loads, (repeats, 1)), np.zeros(4), np.zeros(4))
            for one in weighed(car, made, loads)
        ]
        return torsion(car, [weigh(car, one) for one in readings], made, rates).uncertainty

    usual = uncertainty([TWIST])
    assert uncertainty([2 * TWIST]) < usual
    assert uncertainty([TWIST], repeats=4) < usual
    assert uncertainty([TWIST], rates=0.01) < usual
    assert uncertainty([TWIST, -TWIST]) < usual


@pytest.mark.parametrize(
    "made", [[], [np.zeros(4)], [np.array([1.0, 1.0, 0.0, 0.0])], [TWIST, TWIST]]
)
def test_turns_that_tell_nothing_are_refused(made: list[Floats]) -> None:
    car = coupe(5000)
    weigh_ins = weighed(car, [TWIST], np.full(4, 2700.0))
    with pytest.raises(ValueError, match="twist"):
        torsion(car, weigh_ins, made)


def test_each_set_of_turns_counts_alike_where_hands_are_what_is_unsure() -> None:
    # Two turns at each of four corners, each within 0.02: 1 % of a corner, 0.5 % of a set; and
    # three sets on perfect pads are √3 surer than one, wherever they leave the car.
    car = replace(plain_car(), torsional_stiffness=3e5, scales=PERFECT)
    car = replace(car, spring_rate=np.full(4, 60e3))
    for signs in ((1,), (1, 1), (1, -1), (1, 1, -1), (1, -1, -1)):
        made = [sign * TWIST for sign in signs]
        found = torsion(car, weighed(car, made, np.full(4, 2700.0)), made)
        assert found.causes["turns"] == pytest.approx(0.005 / len(made) ** 0.5, rel=1e-3)
    once = torsion(car, weighed(car, [TWIST / 2], np.full(4, 2700.0)), [TWIST / 2])
    assert once.causes["turns"] == pytest.approx(0.01, rel=1e-3)


@pytest.mark.parametrize("stiffness", [1500, 4000])
def test_the_interval_is_that_of_nine_tenths(stiffness: float) -> None:
    """1.644854 uncertainties of the answer each way, 0.05 of a Gaussian beyond (any table has it).

    With rates that are sure, 1/K = R·(1/a - 1), R = nᵀCn and a the answer over a rigid chassis'.
    """
    car = coupe(stiffness, PADS)
    found = torsion(car, weighed(car, [TWIST], np.full(4, 2700.0)), [TWIST], 0.0)
    assert found.answer == pytest.approx(RIGID / (RIGID + 1 / car.torsional_stiffness), rel=1e-6)
    low, high = (
        1 / (RIGID * (1 / (found.answer + times * found.answer_uncertainty) - 1))
        for times in (-1.644854, 1.644854)
    )
    assert found.low == pytest.approx(low, rel=1e-4)
    assert found.high == pytest.approx(high, rel=1e-4)


def test_rates_are_taken_to_be_three_percent_sure() -> None:
    """Where nothing else is unsure, 1/K is known to 3 % of what springs and tires give way."""
    car = coupe(4000)
    found = torsion(car, weighed(car, [TWIST], np.full(4, 2700.0)), [TWIST], turn_sd=0.0)
    assert found.uncertainty == pytest.approx(0.03 * RIGID, rel=1e-6)
    assert 1 / found.low - 1 / found.stiffness == pytest.approx(1.6449 * 0.03 * RIGID, rel=1e-4)
    assert found.causes["rates"] == pytest.approx(0.03 * found.answer, rel=1e-6)


@pytest.mark.parametrize(("off", "told"), [(2.9, False), (3.1, True)])
def test_three_uncertainties_are_strange(off: float, told: bool) -> None:
    """A pad of two that scatter alike is off by √2 of one; all four alike is no perch's doing."""
    pads = Scales(0.0, 0.0, 0.0, 2.0)
    car = coupe(4000, pads)
    first, second = weighed(car, [TWIST], np.full(4, 2700.0))
    more = weigh(car, Readings.of(second.loads + off * np.sqrt(2) * 2.0))
    assert bool(torsion(car, [first, more], [TWIST]).strange) == told


@pytest.mark.parametrize(
    ("off", "uncertainties", "status"),
    [
        (0.0, 1.0, "unclear"),
        (0.0, -2.9, "unclear"),
        (0.0, -3.1, "contradiction"),
        (1.0, 2.9, "at_least"),
        (1.0, 3.1, "contradiction"),
    ],
)
def test_nobody_is_blamed_before_three_uncertainties(
    off: float, uncertainties: float, status: str
) -> None:
    """Below no answer at all, and beyond that of a rigid chassis; on pads that scatter by 2 N."""
    car = coupe(4000, Scales(0.0, 0.0, 0.0, 2.0))
    unsure = np.sqrt(2) * 2.0 / np.linalg.norm(PATTERN)
    loads = np.full(4, 2700.0)
    changed = (off * ARM / RIGID + uncertainties * unsure) * PATTERN
    weigh_ins = [weigh(car, Readings.of(one)) for one in (loads, loads + changed)]
    found = torsion(car, weigh_ins, [TWIST], 0.0, turn_sd=0.0)
    assert (found.status, found.low > 0) == (status, status == "at_least")
    assert found.answer == pytest.approx(off + uncertainties * unsure * RIGID / ARM)
    if not off:
        assert (found.low, found.share) == (0.0, 0.0)


def test_sets_of_turns_are_weighed_by_hands_and_pads() -> None:
    """Against the variance of generalized least squares (Aitken): the second of (XᵀV⁻¹X)⁻¹.

    Hands off by 0.02 of a turn at each corner stay in all later loads.
    """
    stiffness = METRIC.to_si(4000, "torsion")
    car = coupe(4000, Scales(0.0, 0.0, 0.0, 10.0))
    made = [TWIST, -TWIST / 2, 1.5 * TWIST]
    found = torsion(car, weighed(car, made, np.full(4, 2700.0)), made, 0.0)
    answer = 1 / (RIGID + 1 / stiffness)
    later = np.tril(np.ones((4, 3)), -1)
    rows = np.column_stack([np.ones(4), later @ [ARM, -ARM / 2, 1.5 * ARM]])
    hands = 0.02 * 1.5e-3 * np.sqrt(2 / (0.68 * 1.45) ** 2 + 2 / (0.74 * 1.43) ** 2)
    pads = 10.0**2 / (PATTERN @ PATTERN) * np.eye(4)
    variance = np.linalg.inv(
        rows.T @ np.linalg.inv(pads + (answer * hands) ** 2 * later @ later.T) @ rows
    )
    assert found.answer_uncertainty == pytest.approx(RIGID * np.sqrt(variance[1, 1]), rel=1e-6)
