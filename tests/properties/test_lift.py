"""A wheel that would pull on the ground is off it: no plan counts on that, no result hides it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balancer.car.conventions import GRAVITY
from balancer.car.model import plain_car
from balancer.perches.goal import PerchGoal
from balancer.perches.plan import can_reach, plan_perches

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
