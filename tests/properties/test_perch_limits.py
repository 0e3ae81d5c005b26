"""What stands between a car and its cross weight: one corner or two that can turn, by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from balancer.car.conventions import CORNERS
from balancer.car.model import Car, plain_car
from balancer.car.statics import statics_of
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.limits import Limit
from balancer.planning.perches.plan import plan_perches

LOADS = np.array([2950.0, 2850.0, 2350.0, 2350.0])
NOW = (LOADS[1] + LOADS[2]) / LOADS.sum()
WIDE = 0.05
"""Height tolerance that nothing here comes near [m]."""

Told = tuple[tuple[str, ...], tuple[str, ...], tuple[float, ...]]


def car_with(step: float = 0.25, **travel: tuple[float, float]) -> Car:
    """Make a car whose perches have the travel that is given, and none where none is."""
    left = np.array([travel.get(corner, (0.0, 0.0)) for corner in CORNERS])
    return replace(plain_car(), perch_travel=left, perch_step=np.full(4, step))


def goal_of(turns: float, height: float = WIDE, keep: tuple[str, ...] = ()) -> PerchGoal:
    """Want the cross weight that so many turns up at the right front make, and no other."""
    cross = NOW + turns * statics_of(plain_car(), LOADS).per_turn().cross[1]
    return PerchGoal(cross, 1e-6, np.zeros(4), height, frozenset(keep))


def limits(car: Car, goal: PerchGoal) -> tuple[Limit, ...]:
    plan = plan_perches(car, LOADS, goal)
    assert plan.status == ("closest" if plan.limits else "reached")
    return plan.limits


def only(car: Car, goal: PerchGoal) -> tuple[Told, list[float]]:
    """Give the one limit, and the turns that would be without it."""
    (limit,) = limits(car, goal)
    assert limit.would is not None
    assert limit.would.cross_met
    told = limit.kinds, limit.corners, limit.turns_left
    return told, np.round(limit.would.turns, 12).tolist()


@pytest.mark.parametrize(
    ("travel", "turns", "left"),
    [
        ((-10.0, 0.5), 3.0, 0.5),
        ((-0.75, 10.0), -2.0, 0.75),
        ((-10.0, 0.0), 0.25, 0.0),
        ((0.0, 10.0), -0.25, 0.0),
        ((-10.0, 2.75), 3.0, 2.75),
    ],
)
def test_travel_that_is_used_up(travel: tuple[float, float], turns: float, left: float) -> None:
    car = car_with(RF=travel)
    assert only(car, goal_of(turns)) == ((("travel",), ("RF",), (left,)), [0, turns, 0, 0])


def test_the_fewest_corners_would_do_it() -> None:
    """Half a turn and a quarter are left, three are needed: at one corner, not shared by two."""
    car = car_with(RF=(-10.0, 0.5), LR=(-10.0, 0.25))
    assert only(car, goal_of(3.0)) == ((("travel",), ("LR",), (0.25,)), [0, 0, 3, 0])


def test_a_corner_that_is_kept() -> None:
    car = car_with(RF=(-10.0, 10.0))
    assert only(car, goal_of(2.0, keep=("RF",))) == ((("keep",), (), ()), [0, 2, 0, 0])


def test_heights_that_one_corner_can_not_hold() -> None:
    """Two corners share the turns then, for that lifts the car the least."""
    assert only(car_with(RF=(-10.0, 10.0)), goal_of(2.0, 1e-4)) == (
        (("heights",), (), ()),
        [0, 2, 0, 0],
    )
    car = car_with(RF=(-10.0, 10.0), LR=(-10.0, 10.0))
    told, turns = only(car, goal_of(2.0, 1e-4))
    assert told == (("heights",), (), ())
    assert turns[1] > 0
    assert turns[2] > 0


def test_a_kept_corner_with_too_little_travel() -> None:
    car = car_with(RF=(-10.0, 0.5))
    told = (("keep", "travel"), ("RF",), (0.5,))
    assert only(car, goal_of(0.75, keep=("RF",))) == (told, [0, 0.75, 0, 0])


@pytest.mark.parametrize("turns", [0.375, -0.375])
def test_steps_that_are_too_coarse(turns: float) -> None:
    car = car_with(0.5, RF=(-10.0, 10.0))
    assert only(car, goal_of(turns)) == ((("grid",), (), ()), [0, turns, 0, 0])


@pytest.mark.parametrize("turns", [-0.375, -0.75])
def test_steps_too_coarse_where_no_travel_is_left(turns: float) -> None:
    car = car_with(0.5, RF=(0.0, 10.0))
    told = (("grid", "travel"), ("RF",), (0.0,))
    # An eighth of a step, a sixteenth of a turn, is the finest that is tried.
    assert only(car, goal_of(turns)) == (told, [0, turns, 0, 0])


def test_travel_and_heights_at_once() -> None:
    car = car_with(RF=(-10.0, 0.5))
    told = (("travel", "heights"), ("RF",), (0.5,))
    assert only(car, goal_of(3.0, 1e-4)) == (told, [0, 3, 0, 0])


def test_each_limit_that_would_do_alone_is_told_alone() -> None:
    """Three turns at the right front, which is kept; the left rear has half of what it takes."""
    car = car_with(RF=(-10.0, 10.0), LR=(-10.0, 1.5))
    found = limits(car, goal_of(3.0, keep=("RF",)))
    assert [(one.kinds, one.corners, one.turns_left) for one in found] == [
        (("keep",), (), ()),
        (("travel",), ("LR",), (1.5,)),
    ]


def test_nothing_helps_where_nothing_turns() -> None:
    (limit,) = limits(car_with(), goal_of(1.0))
    assert limit == Limit((), (), (), None)


def test_nothing_is_in_the_way_of_what_is_reached() -> None:
    assert limits(car_with(RF=(-10.0, 10.0)), goal_of(3.0)) == ()
