"""Rules for ballast, one by one: what each is held against, and what is best among the legal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from balancer.ballast.goal import BallastGoal, met_rules
from balancer.ballast.plan import plan_ballast
from balancer.car.conventions import CORNERS, GRAVITY
from balancer.car.model import Place, plain_car

MASSES = (310.0, 290.0, 180.0, 240.0)
LOADS = np.array(MASSES) * GRAVITY
WHEELBASE = 2.4
VALUES = {
    "minimum": 1020.0,
    "axle_front": 600.0,
    "axle_rear": 420.0,
    **{f"wheel_{corner}": mass for corner, mass in zip(CORNERS, MASSES, strict=True)},
}


@pytest.mark.parametrize("off", [-1.0, 1.0])
@pytest.mark.parametrize("kind", VALUES)
def test_each_rule_is_held_against_what_it_is_about(kind: str, off: float) -> None:
    limit = VALUES[kind] + off
    goals = {
        "minimum": BallastGoal(minimum=limit),
        "axle_front": BallastGoal(axle_minimum=(limit, 0.0)),
        "axle_rear": BallastGoal(axle_minimum=(0.0, limit)),
    }
    rules = met_rules(goals.get(kind, BallastGoal(wheel_minimum=limit)), LOADS)
    found = {rule.kind: rule for rule in rules}
    assert found[kind].limit == limit
    assert found[kind].value == pytest.approx(VALUES[kind], rel=1e-12)
    assert found[kind].met == (off < 0)
    if kind.startswith("wheel"):
        assert {name: one.met for name, one in found.items()} == {
            f"wheel_{corner}": bool(mass >= limit)
            for corner, mass in zip(CORNERS, MASSES, strict=True)
        }


def test_only_rules_that_were_asked_for_are_told() -> None:
    assert met_rules(BallastGoal(), LOADS) == ()


@pytest.mark.parametrize("axle", [0, 1])
def test_an_axle_rule_that_ballast_can_not_meet_is_told_as_unmet(axle: int) -> None:
    car = replace(plain_car(WHEELBASE), places=(Place("floor", (1.2, 1.2), (0.0, 0.0), 0.2, 10.0),))
    least = (650.0, 0.0) if axle == 0 else (0.0, 470.0)
    plan = plan_ballast(car, LOADS, BallastGoal(axle_minimum=least))
    rule = next(one for one in plan.rules if one.kind == ("axle_front", "axle_rear")[axle])
    on_axle = plan.loads[2 * axle : 2 * axle + 2].sum() / GRAVITY
    assert plan.status == "closest"
    assert not rule.met
    assert rule.value == pytest.approx(on_axle, rel=1e-9)
    # All of the ten kilograms, half on either axle.
    assert rule.value == pytest.approx((600.0, 420.0)[axle] + 5.0, abs=1e-3)


@pytest.mark.parametrize("axle", [0, 1])
def test_the_least_ballast_for_an_axle_rule(axle: int) -> None:
    """At a quarter of the wheelbase the front axle takes three quarters of it."""
    car = replace(plain_car(WHEELBASE), places=(Place("floor", (0.6, 0.6), (0.0, 0.0), 0.2),))
    least = (615.0, 0.0) if axle == 0 else (0.0, 435.0)
    plan = plan_ballast(car, LOADS, BallastGoal(axle_minimum=least))
    assert plan.status == "met"
    assert plan.added == pytest.approx((20.0, 60.0)[axle], abs=1e-3)


@pytest.mark.parametrize("corner", range(4))
def test_the_least_ballast_for_a_wheel_rule(corner: int) -> None:
    """One wheel is light; the ballast stands on its contact patch, as far as springs let it."""
    masses = np.full(4, 250.0)
    masses[corner] = 240.0
    base = plain_car(WHEELBASE)
    aft, left = float(base.aft[corner]), float(base.left[corner])
    car = replace(base, places=(Place("wheel", (aft, aft), (left, left), 0.2),))
    plan = plan_ballast(car, masses * GRAVITY, BallastGoal(wheel_minimum=245.0))
    assert plan.status == "met"
    assert plan.loads[corner] / GRAVITY == pytest.approx(245.0, abs=1e-3)
    assert plan.loads.argmin() == corner


@pytest.mark.parametrize("parts", [(0.4, 0.7), (0.35, 0.55), (0.1, 0.95)])
def test_of_equal_ballast_the_most_central_is_taken(parts: tuple[float, float]) -> None:
    """Nothing else tells the places apart, so their common center is the middle of the car."""
    places = tuple(Place(f"at {part}", (part * WHEELBASE,) * 2, (0.0, 0.0), 0.2) for part in parts)
    car = replace(plain_car(WHEELBASE), places=places)
    plan = plan_ballast(car, np.full(4, 250.0) * GRAVITY, BallastGoal(minimum=1030.0))
    masses = {put.place: put.mass for put in plan.items}
    near, far = (0.5 - parts[0], parts[1] - 0.5)
    expected = 30.0 * np.array([far, near]) / (near + far)
    # As near as the grain of the aim: 1 % of a hundredth of the car's mass times a wheelbase.
    found = [masses.get(place.name, 0.0) for place in places]
    assert sum(found) == pytest.approx(30.0, abs=1e-3)
    moment = sum(m * (p - 0.5) * WHEELBASE for m, p in zip(found, parts, strict=True))
    assert abs(moment) <= 0.1 + 1e-3
    assert found == pytest.approx(expected.tolist(), abs=0.1 / WHEELBASE / min(near, far) + 1e-2)


@pytest.mark.parametrize("side", [0.3, -0.3])
def test_left_and_height_go_before_the_middle(side: float) -> None:
    """The lower place is taken, though it is farther from the middle of the car."""
    low = Place("low", (2.2, 2.2), (0.0, 0.0), 0.1)
    high = Place("high", (1.2, 1.2), (0.0, 0.0), 0.6)
    car = replace(plain_car(WHEELBASE), places=(high, low))
    goal = BallastGoal(minimum=1030.0)
    plan = plan_ballast(car, np.full(4, 250.0) * GRAVITY, goal)
    assert {put.place for put in plan.items if put.mass > 0.5} == {"low"}
    across = Place("across", (1.2, 1.2), (side, side), 0.6)
    car = replace(car, places=(across, low))
    loads = np.array([250.0, 250.0, 250.0, 250.0]) * GRAVITY
    loads += np.sign(side) * np.array([-10.0, 10.0, -10.0, 10.0]) * GRAVITY
    plan = plan_ballast(car, loads, goal)
    assert {put.place for put in plan.items if put.mass > 0.5} == {"across"}
