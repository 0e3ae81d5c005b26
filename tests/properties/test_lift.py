"""A wheel that would pull on the ground is off it: no plan counts on that, no result hides it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balancer.car.adjusters import adjusters_of
from balancer.car.conventions import GRAVITY
from balancer.car.model import plain_car
from balancer.car.statics import statics_of
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import _held_to, _on_four_wheels, held_to, plan_perches
from balancer.planning.perches.question import PerchMoves
from tests.cars import can_reach

law = settings(deadline=None, max_examples=25)
FAR = replace(plain_car(), perch_travel=np.tile([-40.0, 40.0], (4, 1)))


@law
@given(
    st.tuples(*[st.floats(60.0, 400.0)] * 4), st.floats(0.05, 0.95), st.sampled_from([1.5e-3, 1.0])
)
def test_no_plan_counts_on_a_pad_that_pulls(
    masses: tuple[float, ...], cross: float, height: float
) -> None:
    loads = np.array(masses) * GRAVITY
    goal = replace(PerchGoal.level(cross), height_tolerance=height)
    plan = plan_perches(FAR, loads, goal)
    least = -1e-9 * loads.sum()
    for moves in (plan.best, *plan.alternatives):
        assert moves.loads.min() >= least
        met = abs(moves.shares.cross - cross) <= goal.tolerance * (1 + 1e-9) + 1e-12
        assert moves.cross_met == met
    assert can_reach(FAR, loads, goal) == (plan.status == "reached")
    if any("lift" in limit.kinds for limit in plan.limits):
        assert plan.status == "closest"


def test_the_closest_on_four_wheels_is_near_where_a_wheel_lifts() -> None:
    """With 50 of 1000 kg at RF and none at LR the cross weight is 0.05; below it LR pulls."""
    loads = np.array([300.0, 250.0, 200.0, 250.0]) * GRAVITY
    goal = replace(PerchGoal.level(0.02), height_tolerance=1.0)
    plan = plan_perches(FAR, loads, goal)
    assert plan.status == "closest"
    assert [(limit.kinds, limit.corners) for limit in plan.limits] == [(("lift",), ("LR",))]
    assert plan.best.shares.cross == pytest.approx(0.05, abs=0.005)
    assert 0 <= plan.best.loads[2] < 5 * GRAVITY
    assert not plan.best.cross_met


def test_limits_that_would_lift_a_wheel_are_not_offered() -> None:
    """More travel would bring the cross weight to 0, with LR and RF in the air."""
    car = replace(FAR, perch_travel=np.tile([-30.0, 30.0], (4, 1)))
    loads = np.array([300.0, 250.0, 200.0, 250.0]) * GRAVITY
    goal = replace(PerchGoal.level(0.0), height_tolerance=1.0)
    assert not can_reach(car, loads, goal)
    plan = plan_perches(car, loads, goal)
    assert [(limit.kinds, limit.would) for limit in plan.limits] == [(("lift",), None)]


@pytest.mark.parametrize(
    ("cross", "tolerance", "expected"),
    [
        # RF can lose 2 kg, and LR 2.5 with it, on tracks of 1.5 and 1.2; LF 1 and RR 1.25.
        (0.2, 1e-3, (297.5 / 703 + 1e-3, 1e-3)),
        (0.9, 1e-3, (304.25 / 703 - 1e-3, 1e-3)),
        # All there is, where the tolerance is wider than that.
        (0.9, 0.1, (300.875 / 703, 3.375 / 703)),
        (0.43, 1e-3, None),
    ],
)
def test_a_goal_goes_to_where_all_wheels_are_down(
    cross: float, tolerance: float, expected: tuple[float, float] | None
) -> None:
    car = plain_car(tracks=(1.5, 1.2))
    loads = np.array([1.0, 2.0, 300.0, 400.0]) * GRAVITY
    goal = _on_four_wheels(car, loads, replace(PerchGoal.level(cross), tolerance=tolerance))
    found = None if goal is None else (goal.cross, goal.tolerance)
    assert found == (None if expected is None else pytest.approx(expected, abs=1e-12))


def test_a_car_with_a_wheel_in_the_air_at_either_end_has_nowhere_to_go() -> None:
    loads = np.array([-1.0, -1.0, 350.0, 352.0]) * GRAVITY
    assert _on_four_wheels(plain_car(), loads, PerchGoal.level(0.5)) is None


def at(cross: float) -> PerchMoves:
    best = plan_perches(FAR, np.full(4, 2500.0), PerchGoal.level(0.5)).best
    return best._replace(shares=best.shares._replace(cross=cross))


@pytest.mark.parametrize(
    ("cross", "target", "tolerance", "met"),
    [
        (0.5 * (1 + 0.9e-9), 0.0, 0.5, True),
        (0.5 * (1 + 1.5e-9), 0.0, 0.5, False),
        (1e-9 + 0.9e-12, 0.0, 1e-9, True),
        (1e-9 + 1.5e-12, 0.0, 1e-9, False),
        (0.501, 0.5, 0.002, True),
        (0.499, 0.5, 0.002, True),
        (0.503, 0.5, 0.002, False),
    ],
)
def test_a_plan_on_four_wheels_is_held_to_what_was_wanted(
    cross: float, target: float, tolerance: float, met: bool
) -> None:
    """However far off it had to be planned, to the edge of the tolerance."""
    goal = replace(PerchGoal.level(target), tolerance=tolerance)
    assert _held_to(at(cross)._replace(cross_met=not met), goal).cross_met == met


def test_a_body_on_three_wheels_by_hand() -> None:
    """Three wheels share a weight one way; a corner then goes up by its turns and its spring."""
    car = plain_car(spring_rate=(700e3, 600e3))
    loads = np.array([300.0, 250.0, 200.0, 250.0]) * GRAVITY
    adjusters, up = adjusters_of(car), 0.0015 / 0.7
    tips = statics_of(car, loads).turned(adjusters, np.array([0.0, 20.0, 0.0, 0.0]))
    # RR hangs, so LR carries the rear, LF the rest of the left side, and RF the rest of the front.
    stands = np.array([50.0, 500.0, 450.0, 0.0]) * GRAVITY
    assert tips.loads == pytest.approx(stands, abs=1e-6)
    springs = np.array([700e3, 700e3, 600e3]) * 0.7**2
    rises = [0.0, 20 * up, 0.0] - (stands - loads)[:3] / springs
    # A rigid body on tracks alike.
    hangs = rises[2] + rises[1] - rises[0]
    assert tips.heights == pytest.approx([*rises, hangs], abs=1e-9)

    tied = loads + 20 * statics_of(car, loads).per_turn().loads[1]
    further = statics_of(car, tied).turned(adjusters, np.array([0.0, 2.0, 0.0, 0.0]))
    assert further.loads == pytest.approx(stands, abs=1e-6)
    assert further.heights == pytest.approx([0.0, 2 * up, 0.0, 2 * up], abs=1e-9)


@pytest.mark.parametrize("status", ["reached", "gave_up", "closest"])
def test_a_plan_for_another_goal_stays_as_sure_as_it_was(status: str) -> None:
    best = plan_perches(FAR, np.full(4, 2500.0), PerchGoal.level(0.5))
    made = replace(best, best=at(0.51), status="gave_up" if status == "gave_up" else "closest")
    held = held_to(made, PerchGoal.level(0.51 if status == "reached" else 0.5))
    assert held.status == status


def test_other_ways_are_told_if_they_meet_the_goal_on_fewer_corners_or_by_fewer_turns() -> None:
    plan = plan_perches(FAR, np.full(4, 2500.0), PerchGoal.level(0.5))
    assert (plan.nothing_closer, plan.fewer_corners, plan.fewest_turns) == (True, None, None)

    def way(*turns: float) -> PerchMoves:
        return plan.best._replace(turns=np.array(turns), cross_met=True, heights_met=True)

    best, less, more, fails = way(1, 1, 1, 0), way(1, 1, 0, 0), way(9, 0, 0, 0), way(0, 0, 0, 0.5)
    fails = fails._replace(cross_met=False)
    told = replace(plan, best=best, alternatives=(way(2, 2, 2, 2), fails, less, more))
    assert told.fewest_turns is told.alternatives[2]
    assert told.fewer_corners is None
    assert replace(told, as_near=3).fewer_corners is told.alternatives[3]
    none = replace(told, alternatives=(way(2, 2, 2, 2), fails), as_near=3)
    assert (none.fewer_corners, none.fewest_turns) == (None, None)
