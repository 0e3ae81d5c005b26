"""Sessions that plan for a car with somebody else on board than sits in it on the pads."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from balancer.car.conventions import Floats
from balancer.car.model import Item
from balancer.car.resting import item_loads
from balancer.planning.perches.goal import OtherTrim, PerchGoal
from balancer.planning.session.belief import carry_uncertainty
from balancer.planning.session.expected import expected, expected_loads
from balancer.planning.session.learning import Learned
from balancer.planning.session.lessons import lessons
from balancer.planning.session.scatter import SETTLING
from balancer.planning.session.session import Session, until, weighed
from balancer.planning.session.step import _carried_uncertainty, step
from balancer.planning.session.trims import Elsewhere, elsewhere, good_in_all
from balancer.weighing.comparison import carried
from balancer.weighing.weigh import Readings, WeighIn, weigh
from tests.cars import cornered
from tests.properties.test_sessions import EVEN, LOADS, PADS, after, begun, car_with, exact

DRIVER = Item("driver", 80.0, 1.3, 0.36, 0.0)
FUEL = Item("fuel", 20.0, 2.1, -0.2, 0.0)
CAR = car_with((-10, 10))
ALL_BUT_RF = frozenset({"LF", "LR", "RR"})


def read(loads: Floats) -> WeighIn:
    return weigh(CAR, Readings.of(loads))


def planned_for(*state: Item) -> Session:
    return Session(CAR, exact(CAR), PerchGoal.level(0.5), state=state)


def test_each_weigh_in_is_kept_as_read_and_carried() -> None:
    """Without a driver, with one and no fuel, and as planned for; the loads of a linear car add."""
    shown = [LOADS, LOADS + 1.0, LOADS + 2.0]
    session = planned_for(DRIVER, FUEL)
    missing = []
    for loads, was in zip(shown, ([], [DRIVER], [FUEL, DRIVER]), strict=True):
        session = weighed(session, read(loads), None, was)
        missing.append(session.missing)
    assert missing == [(DRIVER, FUEL), (FUEL,), ()]
    added = [item_loads(CAR, items) for items in ([DRIVER, FUEL], [FUEL], [])]
    for there, pads, loads, more in zip(session.weigh_ins, session.pads, shown, added, strict=True):
        assert pads.loads == pytest.approx(loads)
        assert there.loads == pytest.approx(loads + more, rel=1e-9)
    assert session.last_read.loads == pytest.approx(shown[-1])
    weights = [float(moved[0]) for moved in session.moved]
    assert weights == pytest.approx([9.80665 * 100, 9.80665 * 20, 0.0])


def test_who_does_not_say_what_was_on_board_is_taken_at_the_plan() -> None:
    session = weighed(planned_for(DRIVER), read(LOADS))
    assert session.missing == ()
    assert session.aboard == (None,)
    assert session.weigh_ins[0].loads == pytest.approx(LOADS)
    assert not session.moved[0].any()
    whatever = Session(CAR, exact(CAR), PerchGoal.level(0.5))
    whatever = weighed(whatever, read(LOADS), None, [DRIVER])
    assert (whatever.aboard, whatever.missing) == ((None,), ())
    assert whatever.weigh_ins[0].loads == pytest.approx(LOADS)
    assert expected_loads(whatever, None, [DRIVER]) == pytest.approx(LOADS)


def test_a_session_of_readings_alone_has_the_last_of_them() -> None:
    """As one that was learned from before pads were told apart from what is carried."""
    session = replace(begun(CAR, LOADS, LOADS + 1.0, LOADS + 2.0), pads=())
    assert session.last_read.loads == pytest.approx(LOADS + 2.0)
    assert session.at_first(CAR).loads == pytest.approx(LOADS)


def test_weigh_ins_taken_back_take_all_that_is_theirs() -> None:
    session = planned_for(DRIVER)
    for nth in range(3):
        session = weighed(session, read(LOADS + nth), EVEN * nth, [DRIVER][: nth % 2])
    left = until(session, 2)
    assert [one.loads[0] for one in left.pads] == pytest.approx([LOADS[0], LOADS[0] + 1])
    assert left.aboard == ((), (DRIVER,))
    assert [one.tolist() for one in left.made] == [EVEN.tolist()]
    assert (until(session, 0).made, until(session, 0).weigh_ins) == ((), ())


def test_real_corners_stand_where_the_first_weigh_in_found_them() -> None:
    """Its shocks were measured on the pads; what a driver adds presses them from there."""
    car = cornered(CAR)
    corners = tuple(one._replace(shock_travel=0.05) for one in car.corners)
    car = replace(car, corners=corners)
    session = Session(car, exact(car), PerchGoal.level(0.5), state=(DRIVER,))
    for loads, was in ((LOADS, []), (LOADS + 50.0, [DRIVER])):
        session = weighed(session, weigh(car, Readings.of(loads)), None, was)
    more = session.weigh_ins[0].loads - session.pads[0].loads
    assert more.sum() == pytest.approx(80.0 * 9.80665)
    statics = session.at_first(car)
    assert statics.point is not None
    pressed = 0.05 + more / CAR.motion_ratio / CAR.spring_rate
    assert statics.point.shock == pytest.approx(pressed, abs=1e-9)
    loads = item_loads(CAR, [DRIVER])
    assert session.weigh_ins[0].loads - session.pads[0].loads == pytest.approx(loads, rel=1e-3)


@pytest.mark.parametrize("was", [None, [DRIVER], []], ids=["unsaid", "driver", "nobody"])
def test_pads_show_next_what_is_on_them_after_the_turns(was: list[Item] | None) -> None:
    session, driver = planned_for(DRIVER), item_loads(CAR, [DRIVER])
    for loads, on_board in ((LOADS + 30, []), (LOADS + 15 + driver, [DRIVER]), (LOADS, [])):
        session = weighed(session, read(loads), np.zeros(4), on_board)
    there = LOADS if was == [] else LOADS + driver
    shown = expected_loads(session, None, was)
    assert shown.sum() == pytest.approx(there.sum())
    assert shown == pytest.approx(there, abs=1.0)
    turned = expected_loads(session, EVEN, was)
    assert turned - shown == pytest.approx(after(CAR, LOADS, EVEN) - LOADS, rel=0.02)


def test_readings_apart_with_nothing_turned_are_averaged() -> None:
    """A car that always comes to rest in one place, on pads that scatter alike."""
    session = Session(CAR, exact(CAR), PerchGoal.level(0.5))
    for off in (0.0, 0.0, 0.0, 2.0):
        session = weighed(session, read(LOADS + off * EVEN), np.zeros(4))
    mean = LOADS + 0.5 * EVEN
    wanted = (mean[1] + mean[2]) / mean.sum()
    assert step(session).cross == pytest.approx(wanted, abs=1e-6)
    last = session.weigh_ins[-1].shares.cross

    def confidence(cross: float) -> float:
        goal = replace(PerchGoal.level(cross), tolerance=1e-4)
        return step(replace(session, goal=goal, taught=())).confidence

    assert confidence(wanted) > 1.2 * confidence(last)


def test_all_but_the_diagonal_is_as_last_weighed() -> None:
    """Fuel went in unsaid: what the pads carry in all is what they showed last."""
    session = begun(CAR, LOADS, LOADS + np.array([10.0, 10.0, 20.0, 20.0]))
    found = step(session)
    assert found.plan.best.loads.sum() == pytest.approx(LOADS.sum() + 60.0)
    assert found.cross == pytest.approx(5230.0 / 10560.0, abs=1e-6)
    assert expected(session, np.zeros(4))[0] == pytest.approx(found.cross)


def test_pads_show_next_what_a_car_that_answers_less_would() -> None:
    session, shown = begun(CAR, LOADS, LOADS), after(CAR, LOADS, 4 * EVEN, 0.8)
    session = weighed(session, read(shown), 4 * EVEN)
    moved = expected_loads(session, EVEN) - shown
    assert moved == pytest.approx(after(CAR, LOADS, EVEN, 0.8) - LOADS, rel=0.03)


@pytest.mark.parametrize(("off", "stop"), [(1.5, "out_of_reach"), (3.0, "")])
def test_what_can_not_be_seen_is_not_turned_for(off: float, stop: str) -> None:
    """A tolerance of nothing is never reached; beyond two uncertainties it is come nearer to."""
    car = replace(car_with((-0.6, 0.6)), perch_step=np.full(4, 0.03))
    sd = 2.0 / LOADS.sum()
    goal = replace(PerchGoal.level((LOADS[1] + LOADS[2]) / LOADS.sum() + off * sd), tolerance=1e-12)
    found = step(weighed(Session(car, exact(car), goal), read(LOADS)))
    assert (found.plan.status, found.plan.best.corners > 0) == ("closest", True)
    assert found.stop == stop


def test_a_tolerance_too_small_to_be_likely_is_turned_for_all_the_same() -> None:
    car = replace(CAR, perch_step=np.full(4, 0.003))
    goal = replace(PerchGoal.level((LOADS[1] + LOADS[2]) / LOADS.sum() + 0.004), tolerance=2e-5)
    found = step(weighed(Session(car, exact(car), goal), read(LOADS)))
    assert found.plan.status == "reached"
    assert (found.stop, found.settle_again) == ("", False)


@pytest.mark.parametrize(
    ("repeatability", "settling", "stop"),
    [
        (2.0, {1: 1.0}, "below_the_scales"),
        (2.0, {2: 1.0}, "below_its_settling"),
        (10.0, {3: 0.5, 4: 0.5}, "below_the_scales"),
        (10.0, {4: 1.0}, "below_its_settling"),
    ],
)
def test_what_hides_the_rest_is_named(
    repeatability: float, settling: dict[int, float], stop: str
) -> None:
    """On target, with a tolerance that neither would let anybody see.

    Four pads that scatter by r let the cross weight of equal tracks scatter by r / total.
    """
    car = replace(CAR, scales=PADS._replace(repeatability=repeatability))
    weights = np.zeros(9)
    weights[list(settling)] = list(settling.values())
    spread = float(np.sqrt(weights @ SETTLING**2))
    assert (spread > repeatability / LOADS.sum()) == (stop == "below_its_settling")
    goal = replace(PerchGoal.level((LOADS[1] + LOADS[2]) / LOADS.sum()), tolerance=1e-4)
    session = Session(car, exact(car)._replace(settling=weights), goal)
    assert step(weighed(session, weigh(car, Readings.of(LOADS)))).stop == stop


@pytest.mark.parametrize("state", [None, (DRIVER,)], ids=["as it is", "driver"])
def test_pads_that_plainly_show_a_car_out_of_tolerance_are_read_three_times(
    state: tuple[Item, ...] | None,
) -> None:
    """Weighed well six times; then a little is turned, and pads of 8 N read 0.29 points off.

    That is 3.8 of what they scatter: with seven weigh-ins taken together the car is where it ought
    to be, and two more such readings bring it no further than 0.11 points off.
    """
    car = replace(CAR, scales=PADS._replace(repeatability=8.0))
    level = np.array([2650.0, 2650, 2600, 2600])
    session = Session(car, exact(car), PerchGoal.level(0.5), state=state)
    for _ in range(6):
        before = weigh(car, Readings.of(after(car, level, -EVEN / 50)))
        session = weighed(session, before, None, state)
    off, session_before = level + 0.0029 * level.sum() / 2 * EVEN, session
    found = []
    for turns in (EVEN / 50, None, None):
        session = weighed(session, weigh(car, Readings.of(off)), turns, state)
        found.append(step(session))
    assert [one.in_tolerance for one in found] == [True] * 3
    assert [one.settle_again for one in found] == [True, True, False]
    assert [one.stop for one in found] == ["", "", "in_tolerance"]
    # Two readings of one weigh-in count as two.
    twice = Readings(np.stack([off, off]), np.zeros(4), np.zeros(4))
    once_more = weighed(
        weighed(session_before, weigh(car, twice), EVEN / 50, state),
        weigh(car, Readings.of(off)),
        None,
        state,
    )
    assert step(once_more).stop == "in_tolerance"
    # The third from the start is the third too.
    assert step(begun(car, level, level, off)).stop == "in_tolerance"


def test_rounding_leaves_nothing_open_where_nothing_was_carried() -> None:
    learned = Learned(exact(CAR), 0.0, 1.0, 1.0 + 1e-12, np.zeros(0))
    assert _carried_uncertainty(CAR, read(LOADS), learned) == 0.0


def test_who_bears_on_the_car_is_asked_aboard_and_a_pair_of_gloves_is_not() -> None:
    gloves = DRIVER._replace(name="gloves", mass=0.5)
    for item, asked in ((DRIVER, (DRIVER,)), (gloves, ())):
        session = Session(CAR, exact(CAR), PerchGoal.level(0.5), state=(item,))
        found = step(weighed(session, read(LOADS), None, []))
        assert found.aboard_first == asked
        assert not found.settle_again


def test_what_carrying_leaves_open_is_in_what_is_told_of_a_weigh_in() -> None:
    session = weighed(planned_for(DRIVER), read(LOADS), None, [])
    pads, there = session.last_read, session.weigh_ins[-1]
    unsure = carry_uncertainty(CAR, [DRIVER], []) / (LOADS.sum() + 80 * 9.80665)
    assert there.carried == pytest.approx(unsure, rel=1e-9)
    as_read = carried(CAR, pads, [], [DRIVER])
    for known, was in (
        (there.uncertainties, as_read.uncertainties),
        (there.repeatable, as_read.repeatable),
    ):
        assert known.cross == pytest.approx(np.hypot(was.cross, unsure), rel=1e-9)


def test_another_race_trim_is_where_the_file_carries_it_and_then_where_it_was_weighed() -> None:
    """The file is unsure by what its rates leave open; it has the driver bear 10 N too few."""
    driver = item_loads(CAR, [DRIVER])
    session = replace(planned_for(DRIVER), others=((),))
    session = replace(session, goal=replace(session.goal, others=(OtherTrim(LOADS, 0.5),)))
    session = weighed(session, read(LOADS + driver), None, [DRIVER])
    (there,) = elsewhere(session, LOADS + driver, lessons(session)[-1].learned)
    assert there.trim.loads == pytest.approx(LOADS, rel=1e-9)
    unsure = carry_uncertainty(CAR, [], [DRIVER]) / LOADS.sum()
    assert there.carried == pytest.approx(unsure, rel=0.1)
    session = weighed(session, read(LOADS + 10 * EVEN), np.zeros(4), [])
    (there,) = elsewhere(session, LOADS + driver, lessons(session)[-1].learned)
    assert there.trim.loads == pytest.approx(LOADS + 10 * EVEN, abs=0.2)
    # As sure as two weighings on pads of 2 N, and what the file had left open is gone.
    assert there.carried < 0.1 * unsure


@pytest.mark.parametrize("scatter", [2.0, 30.0])
def test_what_another_race_trim_leaves_open_does_not_hang_on_the_pads(scatter: float) -> None:
    """Of the same that is on board nothing is open; of nobody, what the file's rates leave."""
    car = replace(CAR, scales=PADS._replace(repeatability=scatter))
    goal = replace(PerchGoal.level(0.5), others=(OtherTrim(LOADS, 0.5),) * 2)
    state = (DRIVER,)
    session = Session(car, exact(car), goal, state=state, others=(state, ()))
    loads = LOADS + item_loads(CAR, [DRIVER])
    session = weighed(session, weigh(car, Readings.of(loads)), None, [DRIVER])
    same, without = elsewhere(session, loads, lessons(session)[-1].learned)
    assert same.carried == pytest.approx(0, abs=1e-9)
    unsure = carry_uncertainty(CAR, [], [DRIVER]) / LOADS.sum()
    assert without.carried == pytest.approx(unsure, rel=0.1)


@pytest.mark.parametrize(
    ("cross", "others", "wanted", "left"),
    [
        (0.500, [0.501], 0.4995, 0.0015),
        (0.501, [0.500, 0.503], 0.4995, 0.0005),
        (0.501, [0.498], 0.5015, 0.0005),
        (0.501, [0.496], 0.5025, 0.0),
        (0.501, [], 0.5, 0.002),
    ],
)
def test_what_is_good_in_all_race_trims_is_midway(
    cross: float, others: list[float], wanted: float, left: float
) -> None:
    """The tolerance of 0.2 points, less half of what they are apart."""
    loads = [
        1e4 * np.array([0.5 - each / 2, each / 2, each / 2, 0.5 - each / 2]) for each in others
    ]
    there = [Elsewhere(OtherTrim(each, 0.5), 0.0) for each in loads]
    found = good_in_all(PerchGoal.level(0.5), cross, there)
    assert (found.cross, found.tolerance) == pytest.approx((wanted, left), abs=1e-12)
