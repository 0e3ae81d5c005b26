"""Ballast that is as sure as can be, and the least: for several race trims, and as a body leans."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from statistics import NormalDist
from unittest.mock import Mock

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.curves import ForceCurve
from balancer.car.leaning import leaned_loads
from balancer.car.model import Car, Place, Rules
from balancer.car.statics import statics_of
from balancer.planning.ballast import plan as planning
from balancer.planning.ballast.constraints import lightest
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.plan import plan_ballast, plan_for_class
from tests.cars import cornered
from tests.properties.test_share_margins import BOOT, EVEN, NOSE, car_with, sure

LIGHT = np.array([230.0, 270, 250, 250]) * GRAVITY
HEAVY = LIGHT + np.array([20.0, 20, 60, 60]) * GRAVITY
TRIMS = [(LIGHT, HEAVY), (HEAVY, LIGHT)]


def test_two_axles_that_can_not_both_be_sure_are_as_sure_as_each_other() -> None:
    """Of 12 kg each axle needs 5 and a margin: a kilogram over each is the best for the worse."""
    goal = BallastGoal(axle_minimum=(505, 505), most=12, other_scale=sure())
    plan = plan_ballast(car_with(BOOT, NOSE), EVEN, goal)
    assert plan.status == "closest"
    assert {put.place: pytest.approx(put.mass, abs=0.01) for put in plan.items} == {
        "boot": 6,
        "nose": 6,
    }
    assert [(bind.bounds[0].kind, bind.needed > 12) for bind in plan.bindings] == [("most", True)]


def test_a_band_too_narrow_to_be_sure_of_and_out_of_reach_too() -> None:
    """With a nose only, nothing brings the front share down: it stays where it is."""
    plan = plan_ballast(car_with(NOSE), EVEN, BallastGoal(front=(0.479, 0.481), other_scale=sure()))
    assert plan.status == "closest"
    assert plan.items == ()
    assert [(rule.kind, rule.within) for rule in plan.rules] == [
        ("front_low", True),
        ("front_high", False),
    ]
    assert [(bind.bounds, bind.needed) for bind in plan.bindings] == [((), inf)]


@pytest.mark.parametrize(
    ("band", "brought"),
    [((0.49, 0.4999), True), ((0.5002, 0.52), True), ((0.503, 0.52), False)],
    ids=["down", "up", "too far"],
)
def test_ballast_brings_the_cross_weight_of_the_class_where_it_takes_no_more(
    band: tuple[float, float], brought: bool
) -> None:
    """Two front corners: 20 kg in one of them move the cross weight by less than 0.1 points."""
    corners = [Place(str(side), (0.0, 0.0), (side, side), 0.2) for side in (-0.75, 0.75)]
    car = replace(car_with(*corners), rules=Rules(cross=band))
    plan = plan_for_class(car, EVEN, BallastGoal(minimum=1020))
    assert plan.status == "met"
    assert plan.added == pytest.approx(20, abs=2e-3)
    assert plan.left_to_turns is not brought
    assert (band[0] - 1e-7 <= plan.shares.cross <= band[1] + 1e-7) is brought


@pytest.mark.parametrize(
    ("minimum", "chance", "plans"),
    [(1020, 1e-30, 1), (1020, 0.02, 1), (1020, 0.03, 2), (1000, 0.03, 1)],
    ids=["far inside", "inside", "near", "near without ballast"],
)
def test_only_what_another_uncertainty_could_spare_ballast_is_planned_again(
    minimum: float, chance: float, plans: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Near is beyond half the chance of 5 %: 20 kg or none in the boot, the front share just so."""
    front = 500 / minimum
    deviation = 0.9 / minimum * (2 * ((1 - front) ** 2 + front**2)) ** 0.5
    low = front + NormalDist().inv_cdf(chance) * deviation
    goal = BallastGoal(minimum=minimum, front=(low, 0.7), other_scale=sure())
    asked = Mock(wraps=planning._planned)
    monkeypatch.setattr(planning, "_planned", asked)
    plan = plan_ballast(car_with(BOOT), EVEN, goal)
    assert plan.status == "met"
    assert plan.added == pytest.approx(minimum - 1000, abs=1e-3)
    assert [rule.chance for rule in plan.rules if rule.kind == "front_low"] == [
        pytest.approx(chance, rel=1e-2)
    ]
    assert asked.call_count == plans


def test_a_cross_weight_too_narrow_to_be_sure_of_is_left_to_the_perches() -> None:
    corners = [Place(str(side), (0.0, 0.0), (side, side), 0.2) for side in (-0.75, 0.75)]
    car = replace(car_with(*corners), rules=Rules(cross=(0.5002, 0.5003)))
    plan = plan_for_class(car, EVEN, BallastGoal(minimum=1020, other_scale=sure()))
    assert plan.status == "met"
    assert plan.added == pytest.approx(20, abs=2e-3)
    assert plan.left_to_turns


def test_whether_ballast_may_bring_the_cross_weight_is_asked_of_the_first_race_trim() -> None:
    """Front springs go hard under the other: there the same ballast moves it the other way.

    The other has cross weight to spare, so that the first alone needs a little on the right.
    """
    places = Place("right", (0.0, 0.0), (-0.75, -0.75), 0.2), NOSE
    car = cornered(replace(car_with(*places), rules=Rules(cross=(0.48, 0.4999))))
    harder = ForceCurve(np.array([0.0, 0.095]), np.array([40e3, 200e3]))
    front, rear = car.corners[:2], car.corners[2:]
    car = replace(car, corners=(*(one._replace(spring=harder) for one in front), *rear))
    other = np.array([315.0, 305, 245, 255]) * GRAVITY
    shifts = [
        per_mass(statics_of(car, loads).linear, loads, (0.0, -0.75))[1:3].sum() - 0.5
        for loads in (EVEN, other)
    ]
    assert shifts[0] < -0.05
    assert shifts[1] > 0.05
    plan = plan_for_class(car, EVEN, BallastGoal(minimum=1020), [other])
    assert plan.status == "met"
    assert plan.added == pytest.approx(20, abs=2e-3)
    assert not plan.left_to_turns
    assert all(0.48 <= stand.shares.cross <= 0.4999 for stand in (plan.first, *plan.others))


def side_car(most: float = inf) -> tuple[Car, tuple[float, float]]:
    """Make a car whose body leans on as it leans, and give where all its ballast is."""
    side = Place("side", (0.4, 0.4), (0.6, 0.6), 0.2, most=most)
    return replace(car_with(side), cg_up=1.5), (0.4, 0.6)


def per_mass(car: Car, loads: Floats, spot: tuple[float, float]) -> Floats:
    return leaned_loads(car, loads, 1.0, *spot) / GRAVITY


@pytest.mark.parametrize(("first", "other"), TRIMS, ids=["light first", "heavy first"])
def test_the_least_for_a_wheel_as_the_body_leans_in_the_first_race_trim(
    first: Floats, other: Floats
) -> None:
    """The wheel comes to its minimum and not beyond; the other trim would lean otherwise."""
    car, spot = side_car()
    plan = plan_ballast(car, first, BallastGoal(wheel_minimum=238), [other])
    least, wrong = (8 / per_mass(car, loads, spot)[0] for loads in (first, other))
    assert plan.status == "met"
    assert abs(least - wrong) > 0.2
    assert plan.added == pytest.approx(least, abs=1e-3)
    lighter = min(float(stand.loads[0]) for stand in (plan.first, *plan.others))
    assert lighter == pytest.approx(238 * GRAVITY, abs=1e-3 * GRAVITY)


@pytest.mark.parametrize(("first", "other"), TRIMS, ids=["light first", "heavy first"])
def test_all_goes_in_where_a_wheel_can_not_be_sure_in_the_lighter_race_trim(
    first: Floats, other: Floats
) -> None:
    car, spot = side_car(most=20.0)
    plan = plan_ballast(car, first, BallastGoal(wheel_minimum=243.5, other_scale=sure()), [other])
    assert plan.status == "closest"
    assert plan.added == pytest.approx(20, abs=5e-3)
    assert 243.5 < 230 + 20 * per_mass(car, first, spot)[0] < 245


FLOOR = Place("floor", (0.2, 2.2), (0.2, 0.6), 0.2)


@pytest.mark.parametrize("at_most", [0.0, 5.0], ids=["floor", "floor and a point"])
@pytest.mark.parametrize(("first", "other"), TRIMS, ids=["light first", "heavy first"])
def test_the_least_for_a_wheel_is_proved_as_a_body_that_twists_leans(
    first: Floats, other: Floats, at_most: float
) -> None:
    """At the outer front corner of a rectangle; no other trim says what may be the least."""
    point = Place("point", (0.0, 0.0), (0.7, 0.7), 0.2, most=at_most)
    car = replace(car_with(FLOOR, point), cg_up=1.2, torsional_stiffness=40e3)
    corner, better = (per_mass(car, first, spot)[0] for spot in ((0.2, 0.6), (0.0, 0.7)))
    assert better > 1.1 * corner
    plan = plan_ballast(car, first, BallastGoal(wheel_minimum=240), [other])
    assert plan.status == "met"
    assert plan.added == pytest.approx(at_most + (10 - at_most * better) / corner, abs=1e-3)


def test_what_binds_in_two_race_trims_is_told_as_the_body_leans_in_the_first() -> None:
    car, spot = side_car(most=5.0)
    for first, other in TRIMS:
        plan = plan_ballast(car, first, BallastGoal(wheel_minimum=238), [other])
        assert plan.status == "closest"
        (binding,) = plan.bindings
        assert [(one.kind, one.name) for one in binding.bounds] == [("place", "side")]
        assert binding.needed == pytest.approx(8 / per_mass(car, first, spot)[0], abs=1e-3)


@pytest.mark.parametrize("side", [-1, 1])
def test_the_least_for_a_cross_weight_of_a_car_that_twists(side: int) -> None:
    """Against points tried all over the rectangle, on either side of the car."""
    left = tuple(sorted((side * 0.2, side * 0.6)))
    floor = FLOOR._replace(left=(left[0], left[1]))
    car = replace(car_with(floor), torsional_stiffness=40e3)
    spots = [(aft, beside) for aft in np.linspace(0.2, 2.2, 41) for beside in left]
    most = max(float(per_mass(car, EVEN, spot)[1:3].sum()) for spot in spots)
    plan = plan_ballast(car, EVEN, BallastGoal(cross=(0.503, 0.52)))
    assert plan.status == "met"
    # (500 + c·m)/(1000 + m) = 0.503
    assert plan.added == pytest.approx(3 / (most - 0.503), abs=2e-3)


@pytest.mark.parametrize(
    ("minimum", "status"), [(230.0, "met"), (230.2, "gave_up"), (240.0, "gave_up")]
)
def test_a_bound_that_is_not_proved_proves_nothing(
    minimum: float, status: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where the solver's time is up: what meets the rules is told, but not as the lightest.

    But nothing is less than no ballast at all.
    """
    car = replace(car_with(FLOOR), torsional_stiffness=40e3)
    goal = BallastGoal(wheel_minimum=minimum)
    proved = plan_ballast(car, LIGHT, goal)
    monkeypatch.setattr(planning, "lightest", lambda *asked: (lightest(*asked)[0], False))
    unproved = plan_ballast(car, LIGHT, goal)
    assert (proved.status, unproved.status) == ("met", status)
    assert unproved.added == pytest.approx(proved.added, abs=2e-3)
    assert all(rule.met for rule in unproved.rules)


@pytest.mark.parametrize(
    "goal",
    [
        BallastGoal(wheel_minimum=5),
        BallastGoal(wheel_minimum=1),
        BallastGoal(wheel_minimum=5, other_scale=sure()),
        BallastGoal(wheel_minimum=5, front=(0.4999, 0.5001), other_scale=sure()),
    ],
    ids=["as weighed", "a kilogram", "in doubt", "in doubt of a narrow band too"],
)
def test_a_wheel_that_hardly_stands_is_no_proof_either(goal: BallastGoal) -> None:
    """Where a chassis twists nothing is said to be impossible for a wheel, however light it is."""
    car = replace(car_with(FLOOR._replace(most=1.0)), torsional_stiffness=40e3)
    loads = np.array([0.0, 500, 500, 0]) * GRAVITY
    plan = plan_ballast(car, loads, goal)
    assert plan.status == "gave_up"
    assert plan.bindings == ()


@pytest.mark.parametrize(("cross", "status"), [(None, "met"), ((0.9, 0.95), "closest")])
def test_a_plan_is_judged_as_the_car_stands_on_pads_that_only_push(
    cross: tuple[float, float] | None, status: str
) -> None:
    """20 kg in the tail, 10 a side; the wheel that would pull 20 kg takes 40 off the other two."""
    tail = Place("tail", (2.4, 2.4), (0.0, 0.0), 0.2)
    loads = np.array([-20.0, 520, 400, 100]) * GRAVITY
    goal = BallastGoal(minimum=1020, cross=cross)
    tied, stands = (ask(car_with(tail), loads, goal) for ask in (plan_ballast, plan_for_class))
    assert tied.status == "met"
    assert tied.loads / GRAVITY == pytest.approx([-20, 520, 410, 110], abs=1e-3)
    assert stands.status == status
    assert stands.loads / GRAVITY == pytest.approx([0, 500, 390, 130], abs=1e-3)
    assert [rule.met for rule in stands.rules] == [True] if cross is None else [True, False, True]
