"""What turns made only to learn are said to bring, and what they bring."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from balancer.car.linear import free_pattern, lift, load_change
from balancer.car.model import Car, Item, Scales, plain_car
from balancer.car.resting import item_loads
from balancer.planning.perches.aim import aimed_plan
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.session.belief import Belief, Sigmas, prior
from balancer.planning.session.diagonal import (
    answer_uncertainty,
    gain,
    gain_uncertainty,
    scatter_of,
)
from balancer.planning.session.identified import (
    answer,
    identified,
    open_after,
    told_ratios,
    up_and_down,
)
from balancer.planning.session.identify import lessons_to_be_had
from balancer.planning.session.learning import learn
from balancer.planning.session.session import Session, weighed
from balancer.planning.session.step import step
from balancer.weighing.weigh import Readings, weigh

LOADS = np.array([2950.0, 2850.0, 2350.0, 2350.0])
POORLY = Sigmas(0.15, 0.12, 0.20)


def begun(car: Car, loads: np.ndarray = LOADS) -> Session:
    session = Session(car, prior(car, POORLY), PerchGoal.level(0.5))
    return weighed(session, weigh(car, Readings.of(loads)))


def coupe() -> Car:
    pads = Scales(accuracy=0, common_accuracy=0, resolution=0, repeatability=2.0)
    return replace(plain_car(tracks=(1.5, 1.4)), scales=pads)


def seasoned(car: Car) -> Session:
    """Weigh a car without its driver and with far more on board; turn it to where it is now."""
    even = np.array([0.5, -0.5, -0.5, 0.5])
    driver = Item("driver", 80.0, 1.3, 0.36, 0.0)
    heavy = LOADS + 500 - load_change(car, lift(car, car.perch_lead * even))
    session = Session(car, prior(car, POORLY), PerchGoal.level(0.5), state=(driver,))
    alone = weigh(car, Readings.of(heavy - item_loads(car, [driver])))
    session = weighed(session, alone, None, [])
    session = weighed(session, weigh(car, Readings.of(LOADS + 500)), even)
    return weighed(session, weigh(car, Readings.of(LOADS)), np.zeros(4))


@pytest.mark.parametrize("axle", [0, 1])
@pytest.mark.parametrize("weighed_so", [begun, seasoned])
def test_what_is_promised_is_what_turning_and_weighing_brings(
    axle: int, weighed_so: Callable[[Car], Session]
) -> None:
    car = coupe()
    session = weighed_so(car)
    lesson = lessons_to_be_had(session, step(session))[axle]
    alone = np.where(np.arange(4) // 2 == axle, lesson.turns, 0.0)
    assert (alone == lesson.turns).all()
    assert sorted(np.abs(lesson.turns).tolist()) == [0, 0, 2, 2]
    after = LOADS + load_change(car, lift(car, car.perch_lead * lesson.turns))
    # Towards the target, so that less is left to turn.
    crosses = [(each[1] + each[2]) / each.sum() for each in (LOADS, after)]
    assert crosses[0] < 0.5
    assert crosses[1] > crosses[0]
    found = step(weighed(session, weigh(car, Readings.of(after)), lesson.turns)).learned.belief
    for unsure, index in ((lesson.front, 0), (lesson.rear, 1)):
        only = np.where(np.arange(4) // 2 == index, np.array([1.0, -1, -1, 1]), 0.0)
        # The free pattern puts 1/track of its amount on the left front.
        answer = abs(1.5 * float(load_change(car, lift(car, car.perch_lead * only))[0]))
        share = gain_uncertainty(car, found, only, turn_sd=0.0) / answer
        assert unsure.then == pytest.approx(share, rel=0.05)
    told, other = (lesson.front, lesson.rear)[:: 1 if axle == 0 else -1]
    if weighed_so is begun:
        assert told.then < 0.7 * told.now
        assert 0.9 * other.now < other.then <= other.now
    else:
        # What both do together is known: what tells of one tells of the other.
        assert max(told.then / told.now, other.then / other.now) < 0.9
    # The target is so far off, and the turns there as unsure as all four corners are.
    learned = step(session).learned
    to_do = step(session).plan.best.turns
    unsure = (
        np.hypot(learned.diagonal_uncertainty, gain_uncertainty(car, learned.belief, to_do))
        * (1 / 1.5 + 1 / 1.4)
        / LOADS.sum()
    )
    landing = 2 * norm.cdf(session.goal.tolerance / unsure) - 1
    assert lesson.landing.now == pytest.approx(landing, rel=1e-6)


@pytest.mark.parametrize("off", [-0.03, -0.005, 0.01])
def test_turns_taken_for_what_they_tell_tell_more(off: float) -> None:
    """As told by weighing what they do, beside those of a plan that does not ask for it."""
    car = coupe()
    pattern = free_pattern(car.tracks)
    loads = LOADS.reshape(2, 2).mean(axis=1).repeat(2)
    loads = loads + pattern * off * loads.sum() / pattern[1:3].sum()
    session = begun(car, loads)
    found = step(session)
    covariance = found.learned.belief.covariance
    unsure = answer_uncertainty(car, loads, covariance)
    usual = aimed_plan(car, loads, session.goal, found.repeatable, unsure)
    assert (found.plan.tells_more, usual.tells_more) == (True, False)
    plans = found.plan.best, usual.best
    assert len({(plan.corners, plan.turns_in_all, plan.met) for plan in plans}) == 1

    def left(turns: np.ndarray) -> float:
        after = loads + load_change(car, lift(car, car.perch_lead * turns))
        taught = step(weighed(session, weigh(car, Readings.of(after)), turns)).learned
        return answer(car, taught.belief)[1]

    assert left(plans[0].turns) < 0.995 * left(plans[1].turns)


@pytest.mark.parametrize("repeatability", [1.0, 4.0, 400.0])
def test_what_turns_would_leave_open_is_what_they_leave_open(repeatability: float) -> None:
    """By learning from what they are believed to do, of a car that is as its file says."""
    car = replace(coupe(), scales=Scales(0.0, 0.0, 0.0, repeatability))
    belief = Belief(np.zeros(6), prior(car, Sigmas()).covariance)
    left = open_after(car, LOADS, belief.covariance)
    scatters = [scatter_of(car, car.scales, 1)] * 2
    for turns in np.array([[1.0, -1, 0, 0], [0, 0, -2, 0.5], [-3, 3, 3, -3]]):
        learned = learn(car, belief, [0.0, gain(car, np.zeros(3), turns)], scatters, [turns])
        assert left(turns) == pytest.approx(answer(car, learned.belief)[1], rel=1e-6)
    assert left(np.zeros(4)) == pytest.approx(answer(car, belief)[1])
    assert open_after(car, LOADS)(np.zeros(4)) == pytest.approx(answer(car, belief)[1])


def test_of_a_car_that_nothing_can_turn_nothing_is_open() -> None:
    fixed = replace(coupe(), perch_lead=np.full(4, np.nan), scales=Scales(0.0, 0.0, 0.0, 0.0))
    assert open_after(fixed, LOADS)(np.zeros(4)) == 0.0
    exact = replace(coupe(), scales=Scales(0.0, 0.0, 0.0, 0.0))
    belief = Belief(np.zeros(6), prior(exact, Sigmas()).covariance)
    assert open_after(exact, LOADS)(np.zeros(4)) == pytest.approx(answer(exact, belief)[1])


def test_no_turns_but_those_there_are() -> None:
    travel = np.array([[-8.0, 8], [-8, 8], [-0.6, 8], [-8, 0.6]])
    one = replace(coupe(), perch_travel=travel)
    turns = [each.turns for each in lessons_to_be_had(begun(one), step(begun(one)))]
    # More on LF and RR, or less: of one of the two there is only half a turn.
    assert max(np.abs(turns[0])) == 2.0
    assert max(np.abs(turns[1])) in (0.5, 2.0)
    fixed = replace(coupe(), perch_lead=np.array([np.nan, 1.5e-3, 1.5e-3, 1.5e-3]))
    (rear,) = lessons_to_be_had(begun(fixed), step(begun(fixed)))
    assert not rear.turns[:2].any()


def test_a_ratio_is_told_from_two_of_its_own_uncertainties_on() -> None:
    told = Belief(np.array([0.3, 0.05, 0.09]), np.diag([0.01, 0.02, 0.05]) ** 2)
    assert told_ratios(told).tolist() == [True, False]
    assert told_ratios(told._replace(mean=np.array([0.3, 0.039, -0.11]))).tolist() == [False, True]


def test_what_is_told_is_kept_and_the_rest_put_on_how_the_whole_car_gives_way() -> None:
    """The car answers to the same turn at all corners as it is believed to."""
    car = coupe()
    mean = np.array([0.1, -0.08, 0.05, 0.0, 0.0, 0.0])
    belief = prior(car, POORLY)._replace(
        mean=mean, covariance=np.diag([0.05, 0.03, 0.04, 1, 1, 1]) ** 2
    )
    found = identified(car, belief)
    assert found[1:].tolist() == [-0.08, 0.0]
    other = belief._replace(mean=np.array([0.1, 0.05, 0.2, 0, 0, 0]))
    assert identified(car, other)[1:].tolist() == [0.0, 0.2]
    even = np.array([1.0, -1.0, -1.0, 1.0])
    assert up_and_down(car).tolist() == even.tolist()
    # On tracks of 1.5 and 1.4 the axles do 1.4 and 1.5 parts of 2.9; ratios and leads are alike.
    parts = np.array([1.4, 1.5]) / 2.9
    whole = np.exp(-mean[0]) * (parts @ np.exp(-mean[1:3]))
    assert np.exp(-found[0]) * (parts @ np.exp(-found[1:])) == pytest.approx(whole, rel=1e-9)
    ratio, unsure = answer(car, belief)
    assert ratio == pytest.approx(whole, rel=1e-9)
    slopes = np.array([1.0, *(parts * np.exp(-mean[1:3]) * np.exp(-mean[0]) / whole)])
    assert unsure == pytest.approx(whole * np.linalg.norm(slopes * [0.05, 0.03, 0.04]), rel=1e-6)


def test_a_car_that_nothing_turns_answers_as_its_file_has_it() -> None:
    fixed = replace(coupe(), perch_lead=np.full(4, np.nan))
    assert answer(fixed, prior(fixed, POORLY)) == (1.0, 0.0)
    one = replace(coupe(), perch_lead=np.array([1.5e-3, np.nan, 1.5e-3, 1.5e-3]))
    assert up_and_down(one).tolist() == [1, 0, -1, 1]
