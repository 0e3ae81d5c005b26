"""How far apart a car comes to rest: what is believed of it, and what is worth doing about it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from balancer.car.conventions import Floats
from balancer.car.linear import lift, load_change
from balancer.car.model import Scales, plain_car
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.session.belief import Belief, Sigmas, prior
from balancer.planning.session.learning import Learned
from balancer.planning.session.lessons import _density, _learned, lessons
from balancer.planning.session.scatter import (
    EXACTLY,
    SETTLING,
    SLIP,
    SUREST,
    SUSPECTED,
    USUAL,
    Mixed,
    below,
    repeated,
    seen,
    suspected,
)
from balancer.planning.session.session import Session, weighed
from balancer.planning.session.step import step
from balancer.planning.session.worth import SETTLE, TURN, Turning, _ahead, within, worth_most
from balancer.weighing.weigh import Readings, weigh

GOAL = PerchGoal.level(0.5)
LOADS = np.array([2950.0, 2850.0, 2350.0, 2350.0])
STILL = np.zeros(4)


def car_read(scatter: float = 2.0):  # type: ignore[no-untyped-def]
    pads = Scales(accuracy=0, common_accuracy=0, resolution=0, repeatability=scatter)
    return replace(plain_car(), scales=pads)


def test_a_mixture_by_drawing_from_it() -> None:
    rng = np.random.default_rng(3)
    mixed = Mixed(np.array([0.7, 0.3]), np.array([0.5, 0.502]), np.array([0.001, 0.004]))
    which = rng.random(400_000) < 0.3
    drawn = rng.normal(mixed.means[which.astype(int)], mixed.sds[which.astype(int)])
    assert mixed.mean == pytest.approx(drawn.mean(), abs=3e-5)
    assert mixed.sd == pytest.approx(drawn.std(), rel=0.01)
    inside = (drawn > 0.498) & (drawn < 0.502)
    assert mixed.chance(0.498, 0.502) == pytest.approx(inside.mean(), abs=0.003)
    near = np.abs(drawn - mixed.mean) < mixed.uncertainty
    assert near.mean() == pytest.approx(0.6827, abs=0.003)


def test_one_normal_has_its_standard_deviation_for_uncertainty() -> None:
    one = Mixed(EXACTLY, np.full(9, 0.5), np.full(9, 0.0013))
    assert one.uncertainty == pytest.approx(0.0013, rel=1e-4)
    assert one.sd == pytest.approx(0.0013, rel=1e-12)
    off = one._replace(means=np.full(9, 0.001))
    assert off.density == pytest.approx(norm.pdf(0.001, scale=0.0013), rel=1e-12)


def test_what_is_believed_before_adds_up_and_is_mostly_little() -> None:
    assert USUAL.sum() == pytest.approx(1.0)
    assert USUAL[SETTLING <= 5e-4].sum() > 0.8
    assert 0.05 < USUAL[SETTLING >= 2e-3].sum() < 0.15
    # One car in seven binds: a tenth of a point, or more.
    assert USUAL[SETTLING >= 1e-3].sum() == pytest.approx(1 / 7, abs=0.025)


def test_what_is_known_to_the_last_digit_has_no_uncertainty_to_speak_of() -> None:
    assert 0 <= Mixed(EXACTLY, np.full(9, 0.5), np.zeros(9)).uncertainty < 1e-11


def test_a_normal_by_a_printed_table() -> None:
    """Φ of 0, 1 and 1.645, as tables have it."""
    table = below(np.array([-1.0, 0.0, 1.0, 1.645]))
    assert table == pytest.approx([0.1587, 0.5, 0.8413, 0.9500], abs=5e-5)


@pytest.mark.parametrize("turned", [0.0, -1 / 300, -1 / 600, 0.002])
def test_a_miss_by_bayes(turned: float) -> None:
    """Two values, a miss of a third of a point: densities by hand, three slips beside them.

    The middle ones are turns that were not made, and turns that were made the wrong way.
    """
    weights = np.zeros(9)
    weights[[0, 6]] = 0.8, 0.2
    sds = np.hypot(SETTLING, 0.001)
    off = 1 / 300

    def density(off: float, sd: float) -> float:
        return float(np.exp(-((off / sd) ** 2) / 2) / sd)

    likely = [
        (1 - 3 * SLIP) * density(off, sd)
        + SLIP * density(off, np.hypot(sd, 0.03))
        + SLIP * density(off + turned, sd)
        + SLIP * density(off + 2 * turned, sd)
        for sd in (sds[0], sds[6])
    ]
    told = seen(weights, np.full(9, off), sds, np.full(9, turned))
    assert told[6] / told[0] == pytest.approx(0.2 / 0.8 * likely[1] / likely[0], rel=1e-9)
    assert told[[0, 6]].sum() == pytest.approx(1.0)


def test_a_slip_tells_little_of_the_settling() -> None:
    """Ten points off is nobody's settling; nor is what was there before the turns, to a hair."""
    for off, turned in ((0.1, 0.0), (0.008, -0.008), (0.016, -0.008)):
        told = seen(USUAL, np.full(9, off), np.hypot(SETTLING, 0.001), np.full(9, turned))
        assert 0.5 < told[0] / USUAL[0] < 2


def test_a_miss_beyond_all_bounds_tells_nothing() -> None:
    told = seen(USUAL, np.full(9, 5.0), np.hypot(SETTLING, 0.001), np.zeros(9))
    assert told == pytest.approx(USUAL, rel=1e-9)


def test_repeats_that_are_all_alike_on_pads_that_do_not_scatter() -> None:
    told = repeated(USUAL, np.full(3, 0.5), SETTLING)
    assert told == pytest.approx(EXACTLY, abs=1e-6)


def test_no_repeats_make_of_a_car_what_it_is_known_not_to_be() -> None:
    """Two points apart, where pads tell a thousandth of one."""
    told = repeated(EXACTLY, np.array([0.49, 0.51]), np.hypot(SETTLING, 1e-5))
    assert told.tolist() == EXACTLY.tolist()


def test_repeats_find_the_settling_of_a_car() -> None:
    rng = np.random.default_rng(5)
    for true in (0.0, 0.002, 0.008):
        crosses = 0.5 + rng.normal(0, np.hypot(true, 0.0005), 60)
        told = repeated(USUAL, crosses, np.hypot(SETTLING, 0.0005))
        likeliest = SETTLING[told.argmax()]
        assert abs(likeliest - true) <= 0.3 * true + 3e-4


def test_a_first_weigh_in_on_target_is_told_as_of_a_car_that_may_bind() -> None:
    """Half of what is suspected rests half a point apart, and what is wanted is ± 0.2 points."""
    bound = SUSPECTED[SETTLING >= 1e-3]
    assert bound.sum() == pytest.approx(0.5, abs=0.03)
    assert np.exp(bound @ np.log(SETTLING[-5:]) / bound.sum()) == pytest.approx(5e-3, rel=0.1)
    # Normal in octaves: 0.4 points are 0.32 below, 1.6 points 1.68 above.
    assert SUSPECTED[6] / SUSPECTED[8] == pytest.approx(np.exp((1.678**2 - 0.322**2) / 2), rel=0.01)
    even = np.array([2900.0, 2900.0, 2350.0, 2350.0])
    found = step(of_readings(even))
    scatter = 2.0 * np.hypot(0.5, 0.5) * np.sqrt(2) / even.sum()
    by_hand = SUSPECTED @ (2 * norm.cdf(0.002 / np.hypot(SETTLING, scatter)) - 1)
    assert found.confidence == pytest.approx(by_hand, rel=1e-3)
    assert found.stop == "in_tolerance"
    exactly = Mixed(EXACTLY, np.full(9, 0.5), np.full(9, 0.001))
    assert suspected(exactly).weights == pytest.approx(EXACTLY)


def test_no_number_of_settlings_makes_surer_than_is_said_of_any() -> None:
    """Cars that bind rest alike by chance, too: one did four times, 1.4 points off."""
    even = np.array([2900.0, 2900.0, 2350.0, 2350.0])
    for count in (2, 10):
        assert step(of_readings(*count * [even])).confidence == SUREST == 0.9


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("off", [0.0, 0.0015, 0.004])
def test_what_is_worth_most_by_playing_it_out(off: float, turned: bool) -> None:
    """The best of stop, settle and turn is within what draws tell of it of the best there is."""
    rng = np.random.default_rng(7)
    weights = np.zeros(9)
    weights[[1, 5, 6]] = 0.5, 0.3, 0.2
    sds = np.hypot(SETTLING, 0.0003)
    now, noise = Mixed(weights, np.full(9, 0.5 + off), sds), np.hypot(SETTLING, 0.0005)
    turning = Turning(np.full(9, -off), np.full(9, 0.0004), 0.0) if turned else None
    chosen = worth_most(now, noise, 0.0, turning, GOAL)

    def played(means: np.ndarray, sds: np.ndarray, later: np.ndarray, cost: float) -> float:
        kinds = rng.choice(9, 20_000, p=weights)
        truth = rng.normal(means[kinds], sds[kinds])
        read = truth + rng.normal(0, noise[kinds])
        shown = np.hypot(sds, noise)
        held = weights > 0
        z = (read[:, None] - means[held]) / shown[held]
        post = weights[held] * np.exp(-(z**2) / 2) / shown[held]
        post /= post.sum(axis=1, keepdims=True)
        part = (sds[held] / shown[held]) ** 2
        middle = means[held] + part * (read[:, None] - means[held])
        left = sds[held] * np.sqrt(1 - part)
        stay = Mixed(post, middle, np.broadcast_to(left, post.shape)).chance(0.498, 0.502)
        wide = np.broadcast_to(np.hypot(left, later[held]), post.shape)
        turn = Mixed(post, np.full_like(middle, 0.5), wide).chance(0.498, 0.502) - TURN
        return float(np.mean(np.maximum(stay, turn) if turning else stay)) - cost

    worth = {"stop": within(now, 0.0, GOAL)}
    unsure = turning.sds if turning else np.zeros(9)
    worth["settle"] = played(now.means, now.sds, unsure, SETTLE)
    if turning:
        moved = np.hypot(now.sds, turning.sds)
        worth["turn"] = played(now.means + turning.by, moved, np.zeros(9), TURN)
    assert worth[chosen] >= max(worth.values()) - 0.01


def in_doubt(stop: float, turned: float, noise: float) -> str:
    """Say what to do in tolerance with a chance, that one set of turns leaves so far off (σ).

    The tolerance is 20 times what is not known of where the car is.
    """
    off = 0.002 - 1e-4 * norm.ppf(stop)
    now = Mixed(EXACTLY, np.full(9, 0.5 + off), np.full(9, 1e-4))
    return worth_most(
        now, np.full(9, noise), 0.0, Turning(np.full(9, -off), np.full(9, turned), 0.0), GOAL
    )


def test_turning_is_to_bring_a_tenth() -> None:
    """Turns that surely land, on pads that tell nothing: from a chance of nine tenths on not."""
    assert in_doubt(0.88, 0.0, 1.0) == "turn"
    assert in_doubt(0.92, 0.0, 1.0) == "stop"


def test_pads_that_tell_all_are_read_again_before_what_may_be_right_is_turned() -> None:
    """Turn only if it turns out to be off: p + (1 - p)·0.9 - 0.05, or 0.9 now, or p."""
    assert in_doubt(0.2, 0.0, 1e-6) == "turn"
    assert in_doubt(0.8, 0.0, 1e-6) == "settle"
    assert in_doubt(0.99, 0.0, 1e-6) == "stop"


def test_what_turns_leave_the_next_ones_set_right() -> None:
    """Turns as unsure as 3/2 tolerances land by Φ(2/3) - Φ(-2/3) = 0.495; a second set then does.

    So turning now is worth 0.495 + 0.505·0.9 - 0.1 = 0.85, reading again first at 0.65 no more
    than 0.65 + 0.35·(0.495 - 0.1) - 0.05 = 0.74.
    """
    assert in_doubt(0.65, 0.003, 1e-6) == "turn"


def test_another_weigh_in_by_playing_it_out() -> None:
    """A car that was turned, or slipped: the next reading tells which."""
    rng = np.random.default_rng(11)
    weights, means = np.array([0.6, 0.4]), np.array([0.499, 0.5025])
    sds, noise = np.full(2, 0.0008), np.full(2, 0.0006)
    which = (rng.random(200_000) < 0.4).astype(int)
    truth = rng.normal(means[which], sds[which])
    read = truth + rng.normal(0, noise[which])
    # The chance that it is in tolerance, read so: counted among those that read alike.
    inside = np.abs(truth - 0.5) < 0.002
    cell = np.floor(read / 2e-5).astype(int)
    cell -= cell.min()
    chance = np.bincount(cell, inside) / np.maximum(np.bincount(cell), 1)
    # Read once more the truth is known to 0.8·0.6 thousandths; turns are unsure by 2.
    landing = 2 * norm.cdf(0.002 / np.hypot(0.00048, 0.002)) - 1
    now, turning = Mixed(weights, means, sds), Turning(np.zeros(2), np.full(2, 0.002), 0.0)
    played = np.maximum(chance, landing - TURN)[cell].mean()
    assert _ahead(now, noise, 0.0, turning, (0.498, 0.502)) == pytest.approx(played, abs=0.004)
    # With nothing to turn a reading tells which it is, and makes it no likelier.
    assert _ahead(now, noise, 0.0, None, (0.498, 0.502)) == pytest.approx(inside.mean(), abs=0.004)


def of_readings(*readings: np.ndarray) -> Session:
    car = car_read()
    session = Session(car, prior(car, Sigmas()), GOAL)
    for loads in readings:
        session = weighed(session, weigh(car, Readings.of(loads)), STILL)
    return session


def test_weighed_again_with_nothing_turned_tells_the_same_as_a_repeat() -> None:
    """Two weigh-ins, or two readings of one: the car settled twice."""
    pattern = np.array([1.0, -1, -1, 1])
    apart = of_readings(LOADS, LOADS + 15 * pattern)
    car = apart.car
    rows = np.array([LOADS, LOADS + 15 * pattern])
    together = weighed(
        Session(car, prior(car, Sigmas()), GOAL),
        weigh(car, Readings(rows, np.zeros(4), np.zeros(4))),
    )
    one, other = (lessons(each)[-1].learned for each in (apart, together))
    # But for the slip that one of two weigh-ins may be, and a repeat is not.
    assert one.belief.settling == pytest.approx(other.belief.settling, abs=0.02)
    assert one.diagonal == pytest.approx(other.diagonal, rel=1e-3)
    assert one.diagonal_uncertainty == pytest.approx(other.diagonal_uncertainty, rel=0.05)


def test_repeats_tell_the_settling_as_the_pads_scatter() -> None:
    """Pads of 2 N: a cross weight of 2/W on even tracks, √4 pads over half of what they show."""
    car = replace(car_read(), tracks=np.array([1.5, 1.5]))
    rows = LOADS + 15 * np.outer([0, 1, 1.5], [-1.0, 1, 1, -1])
    session = weighed(
        Session(car, prior(car, Sigmas()), GOAL),
        weigh(car, Readings(rows, np.zeros(4), np.zeros(4))),
    )
    crosses = rows[:, 1:3].sum(axis=1) / LOADS.sum()
    by_hand = repeated(USUAL, crosses, np.hypot(SETTLING, 2 / LOADS.sum()))
    assert lessons(session)[-1].learned.belief.settling == pytest.approx(by_hand, rel=1e-6)


def test_where_a_car_stands_is_the_mean_over_what_is_believed_of_its_settling() -> None:
    car = car_read()
    start = of_readings(LOADS)
    moved = LOADS + 17 * np.array([1.0, -1, -1, 1])
    last = lessons(weighed(start, weigh(car, Readings.of(moved)), np.array([0.5, 0, 0, 0])))[-1]
    each = np.array([one.diagonal for one in last.each])
    assert np.ptp(each) > 1
    assert last.learned.diagonal == pytest.approx(last.learned.belief.settling @ each, rel=1e-9)


def told(mean: float) -> Belief:
    return Belief(np.array([mean, 0, 0]), np.diag([0.01, 0.02, 0.03]))


@pytest.mark.parametrize(("anew", "often"), [(0, 16 / 17), (1, 1.0)])
def test_weigh_ins_teach_as_much_as_they_do_on_average_by_how_dense_beliefs_are(
    anew: int, often: float
) -> None:
    """Two beliefs far apart: as dense as 0.8 and 0.2 at their own middles, so 16 to 1 in all; or
    the likelier alone where the other began anew."""
    asked: list[tuple[int, float]] = []

    def learn_with(first: int, scatters: Floats) -> Learned:
        asked.append((first, float(scatters[0])))
        return Learned(told(float(scatters[0] > 2)), 0.0, 1.0, 1.0, np.zeros(0))

    settling = np.zeros(9)
    settling[[0, 6]] = 0.8, 0.2
    scatters = np.full((1, 9), 1.0)
    scatters[0, 6] = 4.0
    since = np.where(settling == 0.2, anew, 0)
    _learned(learn_with, since, scatters, settling)
    assert asked[:2] == [(0, 1.0), (anew, 4.0)]
    assert asked[2][0] == 0
    assert asked[2][1] == pytest.approx(1 / np.sqrt(often + (1 - often) / 16), rel=1e-9)


def test_how_dense_a_mixture_of_beliefs_is() -> None:
    settling = np.array([0.5, 0.3, 0.2])
    each = [told(0.0), told(0.1)._replace(covariance=np.diag([0.02, 0.01, 0.05])), told(0.3)]
    dense = [
        sum(
            weight * multivariate_normal(other.mean, other.covariance).pdf(one.mean)
            for weight, other in zip(settling, each, strict=True)
        )
        for one in each
    ]
    assert _density(each, settling) / dense == pytest.approx((2 * np.pi) ** 1.5, rel=1e-9)


def test_a_car_that_binds_is_less_sure_and_asked_to_settle_again() -> None:
    """A miss of a third of a point at the re-weigh may be the settling: it is weighed again."""
    car = car_read()
    start = of_readings(LOADS)
    turns = step(start).plan.best.turns
    moved = LOADS + load_change(car, lift(car, car.perch_lead * turns))
    pattern = np.array([1.0, -1, -1, 1])
    well, badly = (
        step(weighed(start, weigh(car, Readings.of(moved + off * pattern)), turns))
        for off in (0.0, 17.0)
    )
    assert well.stop == "in_tolerance"
    assert badly.settling > 3 * well.settling
    assert badly.cross_uncertainty > 2 * well.cross_uncertainty
    assert badly.confidence < well.confidence == 0.9
    assert badly.settle_again or badly.plan.best.turns.any()


@pytest.mark.parametrize("part", [0.0, 0.4, -1.0])
def test_a_miss_is_the_settling_or_a_slip_whichever_is_likelier(part: float) -> None:
    """Turns made by this part of what was said, for 1.2 points: not at all and the wrong way are
    slips, and the pads are believed; 0.7 points short may be the settling, and all readings count.
    """
    start = of_readings(LOADS + 63 * np.array([1.0, -1, -1, 1]))
    turns, before = step(start).plan.best.turns, start.weigh_ins[0].loads
    moved = before + part * load_change(start.car, lift(start.car, start.car.perch_lead * turns))
    found = step(weighed(start, weigh(start.car, Readings.of(moved)), turns))
    read, slip = (moved[1] + moved[2]) / moved.sum(), part != 0.4
    assert found.disbelieved == ((1,) if slip else ())
    if slip:
        assert found.cross == pytest.approx(read, abs=1e-9)
    else:
        assert read + 5e-4 < found.cross < 0.5 - 5e-4
    assert found.learned.belief.mean == pytest.approx(np.zeros(6), abs=1e-9 if slip else 0.05)
