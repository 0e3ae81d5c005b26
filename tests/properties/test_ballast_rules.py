"""Rules for ballast, one by one: what each is held against, and what is best among the legal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from balancer.car.conventions import CORNERS, GRAVITY
from balancer.car.model import Piece, Place, Rules, plain_car
from balancer.planning.ballast.goal import BallastGoal, met_rules
from balancer.planning.ballast.plan import plan_ballast

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
    # Half a kilogram on each wheel is not much of a rule, and one nonetheless.
    assert len(met_rules(BallastGoal(wheel_minimum=0.5), LOADS)) == 4


@pytest.mark.parametrize(
    ("goal", "met"),
    [
        (BallastGoal(minimum=1020 + 0.5e-5), True),
        (BallastGoal(minimum=1020 + 2e-5), False),
        (BallastGoal(maximum=1020 - 0.5e-5), True),
        (BallastGoal(maximum=1020 - 2e-5), False),
        (BallastGoal(front=(0.0, 600 / 1020 - 0.5e-7)), True),
        (BallastGoal(front=(0.0, 600 / 1020 - 2e-7)), False),
        (BallastGoal(front=(600 / 1020 + 0.5e-7, 1.0)), True),
        (BallastGoal(front=(600 / 1020 + 2e-7, 1.0)), False),
    ],
)
def test_a_hundredth_of_a_gram_is_the_solvers_own_and_more_is_not(
    goal: BallastGoal, met: bool
) -> None:
    assert all(rule.met for rule in met_rules(goal, LOADS)) == met


def test_no_ballast_at_all_may_be_all_there_may_be() -> None:
    car = replace(plain_car(WHEELBASE), places=(Place("floor", (1.2, 1.2), (0.0, 0.0), 0.2),))
    for most in (0.0, 0.5):
        plan = plan_ballast(car, LOADS, BallastGoal(minimum=1030.0, most=most))
        assert plan.status == "closest"
        assert plan.added == pytest.approx(most, abs=1e-4)


def test_a_goal_is_what_the_class_asks_for() -> None:
    rules = Rules(
        minimum=1000.0,
        margin=3.0,
        maximum=1100.0,
        front=(0.5, 0.5),
        axle_minimum=(480.0, 470.0),
        wheel_minimum=230.0,
        most_ballast=60.0,
    )
    any_mass = replace(plain_car(), rules=rules)
    goal = BallastGoal.of(any_mass)
    assert (goal.minimum, goal.maximum, goal.most) == (1003.0, 1100.0, 60.0)
    assert (goal.axle_minimum, goal.wheel_minimum) == ((480.0, 470.0), 230.0)
    assert goal.front == (0.5, 0.5)
    assert BallastGoal.of(any_mass, front=(0.4, 0.45)).front == (0.4, 0.45)
    # Whole pieces can't meet a single number: within 0.2 points they do. A band stays as it is.
    pieces = replace(any_mass, pieces=(Piece(5.0, None),))
    assert BallastGoal.of(pieces).front == (0.498, 0.502)
    assert BallastGoal.of(pieces, front=(0.4, 0.45)).front == (0.4, 0.45)
    assert BallastGoal.of(plain_car()).minimum == 0.0


def test_a_goal_adds_the_margin_that_a_chance_asks_for() -> None:
    """2.326348 is the quantile of one in a hundred, as in any table; scales here are sure."""
    rules = Rules(minimum=1000.0, shortfall_chance=0.01, scale_accuracy=0.0)
    car = replace(plain_car(), rules=rules)
    assert BallastGoal.of(car).minimum == 1000.0
    assert BallastGoal.of(car, 2 * GRAVITY).minimum == pytest.approx(1004.652696, abs=1e-5)


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


def test_the_middle_of_a_front_band_goes_before_a_lower_place() -> None:
    """0.49 of 1100 kg is 539: 39 on the nose though the boot is lower, within 0.001 points."""
    places = (
        Place("nose", (0.0, 0.0), (0.0, 0.0), 0.6),
        Place("boot", (WHEELBASE,) * 2, (0.0, 0.0), 0.1),
    )
    car = replace(plain_car(WHEELBASE), places=places)
    goal = BallastGoal(minimum=1100.0, front=(0.48, 0.50))
    plan = plan_ballast(car, np.full(4, 250.0) * GRAVITY, goal)
    assert plan.shares.front == pytest.approx(0.49, abs=1.01e-5)
    masses = {put.place: put.mass for put in plan.items}
    assert masses == {"nose": pytest.approx(39, abs=0.02), "boot": pytest.approx(61, abs=0.02)}


def of_twenty(
    first: Place, second: Place, front: tuple[float, float] | None = None
) -> dict[str, float]:
    """Give what of 20 kg goes to either place of a car of 1000 kg, a half on each axle and side."""
    car = replace(plain_car(WHEELBASE), places=(first, second))
    plan = plan_ballast(car, np.full(4, 250.0) * GRAVITY, BallastGoal(minimum=1020.0, front=front))
    return {put.place: put.mass for put in plan.items}


@pytest.mark.parametrize(("aft", "masses"), [(0.00096, {"low": 20}), (0.00144, {"low": 50 / 3})])
def test_a_thousandth_of_a_point_of_front_share_is_a_tie(
    aft: float, masses: dict[str, float]
) -> None:
    """0.01 kg of 1000: 20 kg times 0.96 mm over 2.4 m are 0.008, times 1.44 mm 0.012.

    Half a meter lower, 0.2 kg more or less on the shelf are a tie of their own.
    """
    low = Place("low", (1.2 + aft,) * 2, (0.0, 0.0), 0.1)
    high = Place("high", (1.2, 1.2), (0.0, 0.0), 0.6)
    rest = 20 - masses["low"]
    found = of_twenty(low, high, (0.4, 0.6))
    assert found.get("low") == pytest.approx(masses["low"], abs=0.201)
    assert found.get("high", 0.0) == pytest.approx(rest, abs=0.201)


@pytest.mark.parametrize(("left", "masses"), [(0.0058, {"low": 20}), (0.0087, {"low": 50 / 3})])
def test_a_hundredth_of_a_point_of_left_share_is_a_tie(
    left: float, masses: dict[str, float]
) -> None:
    """0.1 kg of 1000: 20 kg times 5.8 mm over a track of 1.45 m are 0.08, times 8.7 mm 0.12.

    Half a meter lower, 0.2 kg more or less on the shelf are a tie of their own here too.
    """
    low = Place("low", (1.2, 1.2), (left, left), 0.1)
    high = Place("high", (1.2, 1.2), (0.0, 0.0), 0.6)
    found = of_twenty(low, high)
    assert found.get("low") == pytest.approx(masses["low"], abs=0.201)
    assert found.get("high", 0.0) == pytest.approx(20 - masses["low"], abs=0.201)


@pytest.mark.parametrize(("higher", "masses"), [(0.004, {"mid": 20}), (0.008, {"mid": 12.5})])
def test_a_tenth_of_a_kilogram_times_a_meter_of_height_is_a_tie(
    higher: float, masses: dict[str, float]
) -> None:
    low = Place("low", (0.2, 0.2), (0.0, 0.0), 0.1)
    mid = Place("mid", (1.2, 1.2), (0.0, 0.0), 0.1 + higher)
    rest = 20 - masses["mid"]
    assert of_twenty(low, mid) == pytest.approx(
        {**masses, **({"low": rest} if rest else {})}, abs=1e-3
    )


@pytest.mark.parametrize("parts", [(0.4, 0.7), (0.35, 0.55), (0.1, 0.95)])
def test_of_as_many_pieces_the_most_central_are_taken(parts: tuple[float, float]) -> None:
    """Half a kilogram a piece: their common center is as near the middle as whole pieces let it."""
    places = tuple(Place(f"at {part}", (part * WHEELBASE,) * 2, (0.0, 0.0), 0.2) for part in parts)
    car = replace(plain_car(WHEELBASE), places=places, pieces=(Piece(0.5, None),))
    plan = plan_ballast(car, np.full(4, 250.0) * GRAVITY, BallastGoal(minimum=1030.0))
    assert plan.added == 30.0
    moment = sum(put.mass * (put.aft - WHEELBASE / 2) for put in plan.items)
    first = 0.5 * np.arange(61)
    every = (first * (parts[0] - 0.5) + (30 - first) * (parts[1] - 0.5)) * WHEELBASE
    assert abs(moment) <= np.abs(every).min() + 0.1


def test_pieces_stand_at_the_very_best_spot() -> None:
    """Nothing tells spots on this floor apart but left share and middle, not even to a tie."""
    floor = Place("floor", (0.2, 2.0), (-0.5, 0.5), 0.1)
    car = replace(plain_car(WHEELBASE), places=(floor,), pieces=(Piece(7.0, 5), Piece(3.0, 5)))
    loads = np.array([250.3, 249.7, 250.3, 249.7]) * GRAVITY
    plan = plan_ballast(car, loads, BallastGoal(minimum=1010.0))
    (put,) = plan.items
    assert dict(put.pieces) == {7.0: 1, 3.0: 1}
    # 0.3 kg on each axle from right to left, over tracks of 1.45 m.
    assert put.left == pytest.approx(-2 * 0.3 * 1.45 / 10, abs=1e-5)
    assert put.aft == pytest.approx(1.2, abs=1e-5)
