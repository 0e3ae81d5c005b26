"""What adjusters leave behind: lengths, travel, links, and which moves count, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import Any

import numpy as np
import pytest

from balancer.car.adjusters import adjusters_of, moved, ways_to_turn, with_travel_spent
from balancer.car.conventions import Floats
from balancer.car.corner import Corner, Link, Mount
from balancer.car.curves import RatioCurve
from balancer.car.linear import free_pattern, lift, load_change
from balancer.car.model import Car, plain_car
from balancer.car.statics import statics_of
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import PerchPlan, plan_perches, with_moves
from balancer.planning.perches.posed import step_limits
from balancer.planning.perches.question import PerchMoves
from balancer.planning.session.belief import Sigmas, prior
from balancer.planning.session.expected import expected_loads
from balancer.planning.session.plan import believed_plan
from balancer.planning.session.session import Session, weighed
from balancer.planning.session.step import step
from balancer.weighing.weigh import Readings, weigh
from tests.cars import can_reach, constant

LOADS = np.array([2950.0, 2850.0, 2350.0, 2350.0])


def real_car() -> Car:
    """Make a car whose corners all differ, with a mount at LF and RR, and two bars."""
    ratios = (0.5, 0.8, 0.6, 0.75)
    corners = [
        Corner(
            constant(60e3),
            RatioCurve(np.array([-0.02, 0.02]), np.full(2, ratio)),
            preload=0.02 + number / 1000,
            anchored=True,
        )
        for number, ratio in enumerate(ratios)
    ]
    for number in (0, 3):
        corners[number] = corners[number]._replace(mount=Mount(1e-3, 0.25, (-4.0, 6.0)))
    links = (Link(10e3, ratio=0.8, twist=1e-3), Link(8e3, ratio=0.5, twist=-2e-3))
    return replace(plain_car(), corners=tuple(corners), links=links)


def test_a_mount_moves_its_own_wheel_and_a_perch_its_own_preload() -> None:
    """A unit longer by 2 mm lets a wheel hang lower by 2 mm over the motion ratio: 4 and 2.5."""
    car = real_car()
    after = moved(car, np.array([0, 1e-3, 0, -3e-3]), np.array([2e-3, 0, 0, 1.5e-3]))
    preloads = [one.preload for one in after.corners]
    assert preloads == pytest.approx([0.020, 0.022, 0.022, 0.020], abs=1e-12)
    # Wheel travel counts from full droop, which is now lower: any place is at so much more.
    starts = [float(one.ratio.at[0]) for one in after.corners]
    assert starts == pytest.approx([-0.016, -0.020, -0.020, -0.018], abs=1e-12)


def test_a_lower_wheel_leaves_its_link_less_too_long() -> None:
    """Where the car stands the bar is as before: what droop has moved comes off, at the link."""
    car = real_car()
    after = moved(car, np.zeros(4), np.array([2e-3, 0, 0, 1.5e-3]))
    # Front: 1 mm - 0.8 × (4 - 0) mm. Rear: -2 mm - 0.5 × (0 - 2) mm.
    misfits = [link.twist for link in after.links]
    assert misfits == pytest.approx([-2.2e-3, -1e-3], abs=1e-12)


def test_turns_made_come_off_the_adjuster_that_was_turned() -> None:
    car = replace(real_car(), perch_travel=np.tile([-10.0, 8.0], (4, 1)))
    left = with_travel_spent(car, np.array([1.5, 2.0, -3.0, -2.0]))
    assert left.perch_travel.tolist() == [[-10, 8], [-12, 6], [-7, 11], [-10, 8]]
    assert [one.mount.travel for one in left.corners] == [
        (-5.5, 4.5),
        (-inf, inf),
        (-inf, inf),
        (-2.0, 8.0),
    ]


def test_no_travel_is_left_beyond_the_end() -> None:
    car = replace(real_car(), perch_travel=np.tile([-10.0, 8.0], (4, 1)))
    left = with_travel_spent(car, np.array([9.0, 9.0, -11.0, -5.0]))
    assert left.perch_travel.tolist() == [[-10, 8], [-19, 0], [0, 19], [-10, 8]]
    assert left.corners[0].mount.travel == (-13.0, 0.0)
    assert left.corners[3].mount.travel == (0.0, 11.0)


def moves(turns: list[float], **more: Any) -> PerchMoves:
    best = plan_perches(plain_car(), LOADS, PerchGoal.level(0.5)).best
    return best._replace(turns=np.array(turns), **more)


@pytest.mark.parametrize(
    ("turns", "links", "touched"),
    [
        ([0, 0, 0, 0], None, 0),
        ([0, -0.5, 0, 0], None, 1),
        ([0, -0.5, 0, 0], [0.5, 0], 2),
        ([0, -0.5, 1, 0], [0.5, -0.5], 4),
        ([0, 0, 0, 0], [0, 0.5], 1),
    ],
)
def test_links_count_as_corners_touched(
    turns: list[float], links: list[float] | None, touched: int
) -> None:
    turned = None if links is None else np.array(links)
    assert moves(turns, link_turns=turned).corners == touched


def test_moves_are_made_at_the_adjuster_they_were_planned_for() -> None:
    car = real_car()
    made = moves(
        [2, 3, 0, 0],
        perch=np.array([2e-3, 3e-3, 0, 0]),
        mounts=np.array([True, False, False, True]),
    )
    after = with_moves(car, made)
    assert after.corners[0].preload == car.corners[0].preload
    assert after.corners[0].ratio.at[0] == pytest.approx(-0.016, abs=1e-12)
    assert after.corners[1].preload == pytest.approx(car.corners[1].preload + 3e-3, abs=1e-12)
    assert after.corners[1].ratio.at[0] == -0.02
    # Planned for a linear car, there is nothing to move.
    assert with_moves(car, made._replace(mounts=None)) is car


def test_a_table_of_ratios_holds_beyond_its_ends() -> None:
    """Areas of trapezoids and rectangles: 0.02 × (0.7 + 0.8)/2 + 0.78 × 0.8, and so on."""
    ratio = RatioCurve(np.array([-0.02, 0.02]), np.array([0.6, 0.8]))
    travel = np.array([-0.5, -0.05, -0.02, 0.0, 0.01, 0.02, 0.05, 0.8])
    assert ratio.closing(travel) == pytest.approx(
        [-0.301, -0.031, -0.013, 0.0, 0.00725, 0.015, 0.039, 0.639], abs=1e-12
    )
    assert ratio.slope(travel) == pytest.approx([0, 0, 5, 5, 5, 0, 0, 0], abs=1e-12)
    assert ratio.travel(0.039) == pytest.approx(0.05, abs=1e-12)
    assert ratio.travel(-0.031) == pytest.approx(-0.05, abs=1e-12)


def only_right_front(goal: PerchGoal) -> PerchPlan:
    """Plan with the right front perch alone: it moves heights as well as cross weight."""
    return plan_perches(plain_car(), LOADS, replace(goal, keep=frozenset({"LF", "LR", "RR"})))


TURNS = np.arange(-40, 41) / 4
LOW = np.full(4, -20e-3)
"""Lower by more than one perch can bring all four stations."""


def misses(cross: float, rise: Floats) -> tuple[Floats, Floats]:
    """Give what any turns of the right front perch miss of the cross weight and the heights."""
    turned = statics_of(plain_car(), LOADS).per_turn()
    now = (LOADS[1] + LOADS[2]) / LOADS.sum()
    heights = np.abs(TURNS[:, None] * turned.heights[1] - rise).max(axis=1)
    return np.abs(now + TURNS * turned.cross[1] - cross), heights


def test_heights_that_can_be_held_go_before_the_cross_weight() -> None:
    """A quarter turn is more than these heights may give; a few turns would be right for cross."""
    cross, heights = misses(0.5, np.zeros(4))
    assert TURNS[heights <= 1e-4].tolist() == [0.0]
    assert (cross <= 0.002).any()
    plan = only_right_front(PerchGoal(0.5, 0.002, np.zeros(4), 1e-4))
    assert plan.status == "closest"
    assert not plan.best.corners
    assert plan.best.heights_met
    assert [one.cross_met for one in plan.alternatives] == [True]


def test_the_cross_weight_goes_first_where_no_turns_hold_the_heights() -> None:
    cross, heights = misses(0.5, LOW)
    assert heights.min() > 1.5e-3
    within = cross <= 0.002
    assert heights[within].min() > heights[TURNS == 0]
    plan = only_right_front(PerchGoal(0.5, 0.002, LOW, 1.5e-3))
    assert plan.best.cross_met
    assert plan.best.turns[1] == TURNS[within][heights[within].argmin()]


def test_the_closest_cross_weight_where_neither_can_be_had() -> None:
    cross, heights = misses(0.56, LOW)
    assert cross.min() > 0.002
    assert heights.min() > 1.5e-3
    plan = only_right_front(PerchGoal(0.56, 0.002, LOW, 1.5e-3))
    assert plan.best.turns.tolist() == [0.0, TURNS[cross.argmin()], 0.0, 0.0]
    assert TURNS[cross.argmin()] == 10.0


def test_what_can_be_reached_and_how_surely() -> None:
    """A cross weight in doubt by 0.1 points is so many turns in doubt, at the best corner."""
    most = np.abs(statics_of(plain_car(), LOADS).per_turn().cross).max()
    plan = plan_perches(plain_car(), LOADS, PerchGoal.level(0.5), cross_uncertainty=1e-3)
    assert plan.turns_uncertainty == pytest.approx(1e-3 / most, rel=1e-12)
    assert plan_perches(plain_car(), LOADS, PerchGoal.level(0.5)).turns_uncertainty == 0.0
    assert can_reach(plain_car(), LOADS, PerchGoal.level(0.5))
    assert not can_reach(plain_car(), LOADS, PerchGoal.level(0.7))
    stuck = replace(plain_car(), perch_lead=np.full(4, np.nan))
    assert np.isnan(plan_perches(stuck, LOADS, PerchGoal.level(0.5)).turns_uncertainty)


def test_what_one_turn_moves_by_hand() -> None:
    """1.5 mm of perch at a motion ratio of 0.5 lift a wheel by 3 mm, of 0.75 by 2 mm."""
    car = replace(
        plain_car(motion_ratio=(0.5, 0.75)), perch_lead=np.array([1.5e-3, np.nan, 1.5e-3, 1.5e-3])
    )
    turned = statics_of(car, LOADS).per_turn()
    assert turned.lifts == pytest.approx([3e-3, np.nan, 2e-3, 2e-3], rel=1e-12, nan_ok=True)
    assert np.isnan([turned.cross[1], *turned.loads[1], *turned.heights[1]]).all()
    best = plan_perches(car, LOADS, PerchGoal.level(0.51)).best
    assert best.turns[1] == 0
    assert best.corners
    assert best.lifts == pytest.approx(best.turns * [3e-3, 0.0, 2e-3, 2e-3], rel=1e-12)
    assert best.perch == pytest.approx(best.turns * [1.5e-3, 0.0, 1.5e-3, 1.5e-3], rel=1e-12)


def test_whole_steps_within_the_travel_and_ten_turns_where_none_is_stated() -> None:
    travel = np.array([[-inf, inf], [-2.9, 1.0], [-0.2, inf], [-inf, 0.6]])
    step = np.array([0.25, 0.5, 0.25, 1 / 3])
    car = replace(plain_car(), perch_travel=travel, perch_step=step)
    least, most = step_limits(adjusters_of(car))
    assert (least.tolist(), most.tolist()) == ([-40, -5, 0, -30], [40, 2, 40, 1])
    least, most = step_limits(adjusters_of(car), frozenset({"LF", "RR"}))
    assert (least.tolist(), most.tolist()) == ([0, -5, 0, 0], [0, 2, 40, 0])
    stuck = replace(car, perch_lead=np.array([np.nan, 1e-3, 1e-3, 1e-3]))
    assert step_limits(adjusters_of(stuck))[1].tolist() == [0, 2, 40, 1]


def test_perches_are_turned_where_mounts_will_not_do_and_only_if_they_may() -> None:
    """The lower mounts of this car are stuck; its spring perches would do it."""
    car = real_car()
    stuck = [one._replace(mount=Mount(1e-3, 0.25, (0.0, 0.0))) for one in car.corners]
    car = replace(car, corners=tuple(stuck), perch_travel=np.tile([-6.0, 6.0], (4, 1)))
    cross = float((LOADS[1] + LOADS[2]) / LOADS.sum()) + 0.01
    goal = replace(PerchGoal.level(cross), height_tolerance=0.02)
    plan = plan_perches(car, LOADS, goal)
    assert (plan.status, plan.best.corners) == ("reached", 1)
    assert plan.best.mounts is not None
    assert not plan.best.mounts[plan.best.turns != 0].any()
    assert plan_perches(car, LOADS, goal, fall_back=False).status == "closest"
    # What a session has turned at the mounts it does not take for turns of the perches.
    session = weighed(Session(car, prior(car, Sigmas()), goal), weigh(car, Readings.of(LOADS)))
    assert believed_plan(car, LOADS, goal, 0.0).status == "reached"
    assert step(session).plan.status == "closest"


def linked_car() -> Car:
    """Make a car whose links can be turned too; the rear ones hang."""
    car = real_car()
    front, rear = (one._replace(lead=1e-3, travel=(-4.0, 4.0)) for one in car.links)
    return replace(car, links=(front, rear._replace(hangs=True)))


TURNED = [np.array([1.0, 0, -0.5, 0, 2, -1]), np.array([0.0, 0, 0, 0, 0, 1.5])]


@pytest.mark.parametrize("turns", TURNED, ids=["both", "a link alone"])
def test_a_car_stands_as_its_links_were_turned(turns: Floats) -> None:
    """Turned back it stands as before, from where it stands after; and it could have come there."""
    car = linked_car()
    adjusters, before = next(ways_to_turn(car, links=True)), statics_of(car, LOADS)
    there = before.turned(adjusters, adjusters.in_order(turns)).loads
    assert abs(there - before.turned(adjusters, adjusters.in_order(turns[:4])).loads).max() > 1
    after = statics_of(before.after(turns), there)
    back = after.turned(adjusters, adjusters.in_order(-turns)).loads
    assert back == pytest.approx(LOADS, rel=1e-6)
    assert statics_of(car, there).loads_before(turns) == pytest.approx(LOADS, rel=1e-6)


@pytest.mark.parametrize("turns", TURNED, ids=["both", "a link alone"])
def test_turns_of_links_count_by_what_they_do(turns: Floats) -> None:
    car = linked_car()
    adjusters, statics = next(ways_to_turn(car, links=True)), statics_of(car, LOADS)
    done = statics.turned(adjusters, adjusters.in_order(turns)).loads - LOADS
    simple = statics.unstopped
    counted = statics.counted(turns, simple)
    pattern = free_pattern(simple.tracks)
    moved = load_change(simple, lift(simple, counted * simple.perch_lead))
    assert pattern @ moved == pytest.approx(pattern @ done, rel=1e-9)
    if not turns[:4].any():
        # As turns of the axle that the link is of.
        assert counted[:2].tolist() == [0, 0]
        assert counted[2] == -counted[3] != 0


@pytest.mark.parametrize("turns", [*TURNED, np.array([0.0, 0, 0, 0, 2, 0])])
def test_pads_are_to_show_next_what_turned_links_do(turns: Floats) -> None:
    """A link alone to the last digit; perches by what one turn of each does."""
    car = linked_car()
    session = Session(car, prior(car, Sigmas()), PerchGoal.level(0.5))
    session = weighed(session, weigh(car, Readings.of(LOADS)))
    adjusters = next(ways_to_turn(car, links=True))
    there = statics_of(car, LOADS).turned(adjusters, adjusters.in_order(turns)).loads
    moved_by = np.abs(there - LOADS).max()
    near = 1e-6 if not turns[:4].any() else 0.05
    assert expected_loads(session, turns) == pytest.approx(there, abs=near * moved_by)


def test_turns_of_a_car_that_leans_count_by_what_they_do() -> None:
    """As many turns of the same car without the lean come to the same cross weight.

    Links that it had when they were turned, and has no longer, leave it alone.
    """
    car, turns = plain_car(), np.array([2.0, -1.0, 0.5, 0.0])
    statics = statics_of(replace(car, cg_up=0.5), LOADS)
    counted, pattern = statics.counted(turns, car), free_pattern(car.tracks)
    done = statics.turned(adjusters_of(car), turns).loads - LOADS
    flat = load_change(car, lift(car, counted * car.perch_lead))
    assert pattern @ flat == pytest.approx(pattern @ done, rel=1e-9)
    assert counted / turns[0] == pytest.approx(turns * counted[0] / turns[0] ** 2, rel=1e-9)
    assert abs(counted[0] / turns[0] - 1) > 0.005

    linked = np.append(turns, [3.0, -2.0])
    assert statics.counted(linked, car).tolist() == counted.tolist()
    assert statics.loads_before(linked) == pytest.approx(LOADS - done, abs=1e-9)
    assert statics_of(car, LOADS).counted(linked, car).tolist() == turns.tolist()


def test_turns_of_links_come_off_their_travel() -> None:
    left = with_travel_spent(linked_car(), np.array([0, 0, 0, 0, 1.5, -5]))
    assert [one.travel for one in left.links] == [(-5.5, 2.5), (0.0, 9.0)]


@pytest.mark.parametrize("travel", [0.0, 1.0])
def test_drop_links_are_turned_only_if_they_may_and_never_six_adjusters(travel: float) -> None:
    car = real_car()
    left = (-travel, travel)
    corners = [one._replace(mount=Mount(1e-3, 1.0, left)) for one in car.corners]
    links = tuple(one._replace(lead=1e-3, step=1.0, travel=(-4.0, 4.0)) for one in car.links)
    perches = np.tile(left, (4, 1))
    car = replace(car, corners=tuple(corners), links=links, perch_travel=perches)
    cross = float((LOADS[1] + LOADS[2]) / LOADS.sum()) + 0.004
    goal = replace(PerchGoal.level(cross), tolerance=1e-3, height_tolerance=0.02)
    without = plan_perches(car, LOADS, goal, fall_back=False)
    assert without.status == ("reached" if travel else "closest")
    assert without.best.link_turns is not None
    assert not without.best.link_turns.any()
    assert believed_plan(car, LOADS, goal, 0.0, fall_back=False).status == without.status
    plan = plan_perches(car, LOADS, goal, links=True, fall_back=False)
    assert plan.status == "reached"
    assert plan.best.link_turns is not None
    assert plan.best.link_turns.tolist() == [0.0, 2.0]
    assert max(one.corners for one in (plan.best, *plan.alternatives)) <= 4
