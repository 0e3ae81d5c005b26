"""Ballast that can be worked out on paper: a car of 1000 kg, half of it on each axle."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import count
from math import inf
from typing import Any

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Car, Piece, Place, plain_car
from balancer.car.resting import added_loads
from balancer.planning.ballast import closest, joint, program
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.joint import (
    ballast_with_turns,
    bindings_with_turns,
    least_with_turns,
)
from balancer.planning.ballast.outcome import BallastItem, BallastPlan, held_against
from balancer.planning.ballast.plan import plan_ballast
from balancer.planning.ballast.turns import Turns
from balancer.planning.solver import Bounds, LinearConstraint, Solved, solve

EVEN = np.full(4, 250 * GRAVITY)
BOOT = Place("boot", (2.4, 2.4), (0.0, 0.0), 0.3)
NOSE = Place("nose", (0.0, 0.0), (0.0, 0.0), 0.3)


def car_with(*places: Place, pieces: tuple[Piece, ...] = ()) -> Car:
    return replace(plain_car(2.4, (1.5, 1.5)), places=places, pieces=pieces)


def bound(plan: BallastPlan) -> list[tuple[list[tuple[str, str]], object]]:
    return [([(one.kind, one.name) for one in each.bounds], each.needed) for each in plan.bindings]


@pytest.mark.parametrize(
    ("goal", "places", "masses"),
    [
        # 500/(1000 + m) = 0.48, and the other way round on the nose.
        (BallastGoal(front=(0.0, 0.48)), (BOOT, NOSE), {"boot": 500 / 0.48 - 1000}),
        (BallastGoal(front=(0.52, 1.0)), (BOOT, NOSE), {"nose": 500 / 0.48 - 1000}),
        (BallastGoal(minimum=1030, front=(0.49, 0.49)), (BOOT, NOSE), {"boot": 25.3, "nose": 4.7}),
        (BallastGoal(axle_minimum=(510, 0)), (BOOT, NOSE), {"nose": 10}),
        (BallastGoal(axle_minimum=(510, 507)), (BOOT, NOSE), {"nose": 10, "boot": 7}),
        (BallastGoal(wheel_minimum=255), (BOOT, NOSE), {"nose": 10, "boot": 10}),
        (BallastGoal(minimum=990), (BOOT, NOSE), {}),
        # Each place takes what it can where all of it is needed.
        (
            BallastGoal(minimum=1030, front=(0.5, 0.5)),
            (
                BOOT._replace(most=12),
                NOSE._replace(most=12),
                Place("floor", (1.2, 1.2), (0, 0), 0.4, most=6),
            ),
            {"boot": 12, "nose": 12, "floor": 6},
        ),
    ],
    ids=["rear", "front", "both", "axle", "axles", "wheels", "enough", "full"],
)
def test_least_mass(goal: BallastGoal, places: tuple[Place, ...], masses: dict[str, float]) -> None:
    plan = plan_ballast(car_with(*places), EVEN, goal)
    assert plan.status == "met"
    assert all(rule.met for rule in plan.rules)
    assert {put.place: pytest.approx(put.mass, abs=1e-3) for put in plan.items} == masses
    assert plan.added == pytest.approx(sum(masses.values()), abs=1e-3)
    assert plan.bindings == ()
    assert plan.loads == pytest.approx(EVEN + plan.change, rel=1e-12)
    assert plan.shares.total == pytest.approx((1000 + plan.added) * GRAVITY, rel=1e-9)


PIECES = (Piece(10.0, 2), Piece(7.0, 1), Piece(4.0, 3))


@pytest.mark.parametrize(
    ("minimum", "pieces"),
    [
        (1023, {10.0: 2, 4.0: 1}),
        (1025, {10.0: 1, 7.0: 1, 4.0: 2}),
        (1026, {10.0: 2, 7.0: 1}),
        (1039, {10.0: 2, 7.0: 1, 4.0: 3}),
    ],
)
@pytest.mark.parametrize("many", [program._MANY, 1], ids=["all", "few first"])
def test_whole_pieces(
    many: int, minimum: float, pieces: dict[float, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two of 10 kg, one of 7, three of 4: 24, 25, 27 and all 39 are the least that do."""
    monkeypatch.setattr(program, "_MANY", many)
    plan = plan_ballast(car_with(BOOT, pieces=PIECES), EVEN, BallastGoal(minimum=minimum))
    (put,) = plan.items
    assert plan.status == "met"
    assert dict(put.pieces) == pieces
    assert put.mass == plan.added == sum(mass * count for mass, count in pieces.items())


@pytest.mark.parametrize("many", [program._MANY, 1], ids=["all", "few first"])
def test_a_place_that_parts_of_pieces_would_not_need(
    many: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """25 kg fit in the boot, in parts; of tens one goes on the nose, where two were too many.

    With one the front share is 49.5 %, with two 50.5, and 49 is the middle.
    """
    monkeypatch.setattr(program, "_MANY", many)
    car = car_with(BOOT._replace(most=25), NOSE, pieces=(Piece(10.0, None),))
    plan = plan_ballast(car, EVEN, BallastGoal(minimum=1025, front=(0.47, 0.51)))
    assert plan.status == "met"
    assert {put.place: put.pieces for put in plan.items} == {
        "boot": ((10.0, 2),),
        "nose": ((10.0, 1),),
    }
    none = plan_ballast(car, EVEN, BallastGoal(minimum=1025, front=(0.47, 0.471)))
    assert none.status == "closest"


@pytest.mark.parametrize(
    "pieces", [(Piece(10.0, 1), Piece(4.0, 1)), (Piece(4.0, 1), Piece(10.0, 1))]
)
def test_no_piece_is_taken_off_where_none_is(pieces: tuple[Piece, ...]) -> None:
    """Ten at one end make 49.5 or 50.5 %, and four more at the other no more than 49.7 or 50.3."""
    car = car_with(BOOT, NOSE, pieces=pieces)
    plan = plan_ballast(car, EVEN, BallastGoal(minimum=1010, front=(0.498, 0.502)))
    assert (plan.status, plan.added) == ("closest", 14.0)


def test_a_piece_of_half_a_kilogram_has_its_very_best_spot_too() -> None:
    floor = Place("floor", (0.2, 2.0), (-0.5, 0.4), 0.1)
    plan = plan_ballast(car_with(floor, pieces=(Piece(0.5, 1),)), EVEN, BallastGoal(minimum=1000.5))
    (put,) = plan.items
    assert put.aft == pytest.approx(1.2, abs=1e-5)
    assert put.left == pytest.approx(0.0, abs=1e-5)


@pytest.mark.parametrize("end", [NOSE, BOOT], ids=["nose", "boot"])
@pytest.mark.parametrize("low_first", [True, False])
def test_the_lower_place_is_taken_though_the_front_share_is_off(
    low_first: bool, end: Place
) -> None:
    """All there is goes to one end: as far from the middle whichever of the two places it is."""
    low, high = end._replace(name="low", up=0.1), end._replace(name="high", up=0.6)
    car = car_with(*((low, high) if low_first else (high, low)))
    plan = plan_ballast(car, EVEN, BallastGoal(minimum=1030, front=(0.4, 0.6)))
    assert {put.place: pytest.approx(put.mass, abs=0.3) for put in plan.items} == {"low": 30}


def test_pieces_stay_where_they_are_if_no_better_spot_is_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def in_parts_never(cost: Floats, whole: Floats, *asked: Any) -> Solved:
        return solve(cost, whole, *asked) if whole.any() else Solved(None, proved=False)

    floor = Place("floor", (0.2, 2.0), (-0.5, 0.4), 0.1)
    monkeypatch.setattr(program, "solve", in_parts_never)
    plan = plan_ballast(car_with(floor, pieces=(Piece(10.0, 1),)), EVEN, BallastGoal(minimum=1010))
    (put,) = plan.items
    assert (plan.status, put.pieces) == ("met", ((10.0, 1),))
    # Within the ties: 0.1 kg of left share and 0.1 kg·m to the middle.
    assert put.aft == pytest.approx(1.2, abs=0.011)
    assert put.left == pytest.approx(0.0, abs=0.016)


def test_all_is_searched_where_a_look_at_parts_came_to_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(program, "_MANY", 1)
    monkeypatch.setattr(program, "solve", asked_twice({0: Solved(None, proved=False)}))
    car = car_with(BOOT, NOSE, pieces=(Piece(10.0, 2),))
    plan = plan_ballast(car, EVEN, BallastGoal(minimum=1010))
    assert (plan.status, plan.added) == ("met", 10.0)


def test_a_place_takes_as_many_light_pieces_as_it_holds() -> None:
    car = car_with(BOOT._replace(most=20), pieces=(Piece(0.5, None),))
    plan = plan_ballast(car, EVEN, BallastGoal(minimum=1015))
    assert (plan.status, plan.added) == ("met", 15.0)
    assert plan_ballast(car, EVEN, BallastGoal(minimum=1020)).status == "met"


@pytest.mark.parametrize(("front", "place"), [(498.5, "nose"), (501.5, "boot")])
def test_a_piece_goes_where_the_front_share_is_nearer_the_middle(front: float, place: str) -> None:
    """One of 10 kg: 3.5 kg off half of 1010 at one end, 6.5 at the other, which is lower."""
    loads = np.repeat([front / 2, 500 - front / 2], 2) * GRAVITY
    ends = [end._replace(up=0.6 if end.name == place else 0.1) for end in (NOSE, BOOT)]
    car = car_with(*ends, pieces=(Piece(10.0, 1),))
    plan = plan_ballast(car, loads, BallastGoal(minimum=1010, front=(0.45, 0.55)))
    assert [put.place for put in plan.items] == [place]


def test_a_place_takes_so_many_pieces() -> None:
    places = (BOOT._replace(most_pieces=1), NOSE._replace(most_pieces=2))
    plan = plan_ballast(car_with(*places, pieces=PIECES), EVEN, BallastGoal(minimum=1027))
    assert plan.added == 27
    counts = {put.place: sum(count for _, count in put.pieces) for put in plan.items}
    assert counts == {"boot": 1, "nose": 2}


def test_pieces_at_points_are_put_there_without_asking(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where on a floor they go is one question more an aim; at a point there is nothing to ask."""
    asked = []

    def record(cost: Floats, whole: Floats, *rest: Any) -> Solved:
        asked.append(bool(whole.any()))
        return solve(cost, whole, *rest)

    monkeypatch.setattr(program, "solve", record)
    goal = BallastGoal(minimum=1027)
    at_points = plan_ballast(car_with(BOOT, NOSE, pieces=PIECES), EVEN, goal)
    assert all(asked)
    assert at_points.status == "met"
    floor = Place("floor", (0.0, 2.4), (0.0, 0.0), 0.3)
    assert plan_ballast(car_with(floor, pieces=PIECES), EVEN, goal).status == "met"
    assert not all(asked)


def test_what_binds_a_place_that_is_full() -> None:
    plan = plan_ballast(car_with(BOOT._replace(most=30)), EVEN, BallastGoal(minimum=1050))
    assert plan.status == "closest"
    assert plan.added == pytest.approx(30, abs=1e-4)
    assert bound(plan) == [([("place", "boot")], pytest.approx(50, abs=1e-4))]


def test_what_binds_together() -> None:
    goal = BallastGoal(minimum=1050, most=40)
    plan = plan_ballast(car_with(BOOT._replace(most=30)), EVEN, goal)
    assert bound(plan) == [([("most", ""), ("place", "boot")], pytest.approx(50, abs=1e-4))]
    assert [(one.kind, one.limit) for one in plan.bindings[0].bounds] == [
        ("most", 40.0),
        ("place", 30.0),
    ]


def test_what_binds_with_pieces() -> None:
    """39 kg there are: more of them, or any mass, would make the 41 that are wanted."""
    plan = plan_ballast(car_with(BOOT, pieces=PIECES), EVEN, BallastGoal(minimum=1041))
    assert plan.added == 39
    assert bound(plan) == [
        ([("grid", "")], pytest.approx(41, abs=1e-4)),
        ([("stock", "")], pytest.approx(41, abs=1e-4)),
    ]


def test_nothing_helps_a_car_that_is_too_heavy() -> None:
    plan = plan_ballast(car_with(BOOT), EVEN, BallastGoal(maximum=990))
    assert plan.status == "closest"
    assert plan.added == 0
    assert bound(plan) == [([], inf)]


def test_a_car_without_places() -> None:
    met = plan_ballast(car_with(), EVEN, BallastGoal(minimum=1000))
    assert (met.status, met.added, met.bindings) == ("met", 0.0, ())
    missed = plan_ballast(car_with(), EVEN, BallastGoal(minimum=1001))
    assert (missed.status, bound(missed)) == ("closest", [([], inf)])
    assert missed.loads.tolist() == EVEN.tolist()
    assert missed.change.tolist() == [0.0] * 4
    assert missed.items == ()


@pytest.mark.parametrize(
    ("front", "minimum", "masses"),
    [
        ((0.40, 0.40), 1000, {"boot": 30}),
        ((0.60, 0.70), 1000, {"nose": 20}),
        ((0.55, 0.60), 1015, {"nose": 20}),
        ((0.60, 0.70), 1030, {"boot": 10, "nose": 20}),
        ((0.30, 0.40), 1040, {"boot": 30, "nose": 10}),
    ],
)
def test_the_front_share_as_near_as_can_be(
    front: tuple[float, float], minimum: float, masses: dict[str, float]
) -> None:
    """The minimum first; then all that one end takes, and no more of the other than is needed."""
    car = car_with(BOOT._replace(most=30), NOSE._replace(most=20))
    plan = plan_ballast(car, EVEN, BallastGoal(minimum=minimum, front=front))
    assert plan.status == "closest"
    assert {put.place: pytest.approx(put.mass, abs=0.02) for put in plan.items} == masses
    share = (500 + masses.get("nose", 0)) / (1000 + sum(masses.values()))
    assert plan.shares.front == pytest.approx(share, abs=1e-5)


@pytest.mark.parametrize(("mass", "left"), [(20, -0.5), (40, -0.375), (60, -0.25)])
def test_left_share_comes_to_its_target(mass: float, left: float) -> None:
    """15 mm left of the middle, 15 kg·m: over the ballast on the other side, no more than 0.5.

    0.01 points of left share are as good: 0.15 kg·m.
    """
    loads = EVEN + np.array([1.0, -1, 1, -1]) * 15 / 1.5 / 2 * GRAVITY
    floor = Place("floor", (1.2, 1.2), (-0.5, 0.5), 0.1)
    plan = plan_ballast(car_with(floor), loads, BallastGoal(minimum=1000 + mass))
    (put,) = plan.items
    assert put.left == pytest.approx(left, abs=0.16 / mass)
    assert put.aft == pytest.approx(1.2)


def test_the_lowest_place_is_taken_and_the_middle_of_it() -> None:
    low = Place("floor", (0.2, 2.0), (-0.5, 0.5), 0.1)
    plan = plan_ballast(car_with(low._replace(name="shelf", up=0.6), low), EVEN, BallastGoal(1020))
    (put,) = plan.items
    assert (put.place, put.up) == ("floor", 0.1)
    # The car's own center is at 1.2, 0; 0.15 kg·m to the side are as good.
    assert put.aft == pytest.approx(1.2, abs=1e-3)
    assert put.left == pytest.approx(0, abs=0.16 / 20)


@pytest.mark.parametrize("stiffness", [20e3, 60e3])
def test_a_wheel_of_a_car_that_twists(stiffness: float) -> None:
    """Where along a sill the mass sits matters twice, to its axle and to the twist."""
    sill = Place("sill", (0.2, 2.2), (0.6, 0.6), 0.2)
    car = replace(car_with(sill), torsional_stiffness=stiffness)
    loads: Floats = np.array([240.0, 260, 260, 280]) * GRAVITY
    plan = plan_ballast(car, loads, BallastGoal(wheel_minimum=250))
    (put,) = plan.items
    assert plan.status == "met"
    assert plan.loads.min() >= 250 * GRAVITY - 1e-3
    told = loads + added_loads(car, put.mass, put.aft, put.left)
    assert plan.loads == pytest.approx(told, rel=1e-9)
    # The load per mass is linear along the sill, so one of its ends needs the least.
    each = [10 / (added_loads(car, 1.0, aft, 0.6)[0] / GRAVITY) for aft in (0.2, 2.2)]
    assert put.mass == pytest.approx(min(each), abs=1e-3)
    assert min(each) < 0.95 * max(each)


def light_at(wheel: int) -> Floats:
    loads = np.full(4, 280 * GRAVITY)
    loads[wheel] = 240 * GRAVITY
    return loads


def lightest(car: Car, place: Place, wheel: int, needed: float) -> float:
    """Give the least mass [kg] in a rectangle that brings a wheel so much, by trying points."""
    points = [
        (aft, left) for aft in np.linspace(*place.aft, 41) for left in np.linspace(*place.left, 21)
    ]
    per_mass = max(added_loads(car, 1.0, *point)[wheel] / GRAVITY for point in points)
    return float(needed / per_mass)


@pytest.mark.parametrize("wheel", range(4))
@pytest.mark.parametrize(
    "place",
    [
        Place("floor", (0.2, 2.2), (-0.6, 0.6), 0.2),
        Place("floor", (0.4, 2.1), (0.1, 0.6), 0.2),
        Place("floor", (-0.5, 1.0), (0.2, 0.6), 0.2),
        Place("sill", (1.2, 3.0), (0.6, 0.6), 0.2),
        Place("sill", (-0.4, 2.9), (-0.5, -0.5), 0.2),
        Place("bar", (1.0, 1.0), (-0.6, 0.6), 0.2),
        Place("tail", (2.5, 2.9), (-0.6, 0.6), 0.2),
    ],
    ids=["floor", "left floor", "over the front axle", "over the rear", "over both", "bar", "tail"],
)
def test_the_least_for_a_wheel_of_a_car_that_twists(place: Place, wheel: int) -> None:
    car = replace(car_with(place), torsional_stiffness=40e3)
    least = lightest(car, place, wheel, 10)
    plan = plan_ballast(car, light_at(wheel), BallastGoal(wheel_minimum=250))
    if not 0 < least < 500:
        assert plan.status != "met"
        return
    assert plan.status == "met"
    assert plan.added == pytest.approx(least, abs=2e-3)
    assert plan.loads[wheel] == pytest.approx(250 * GRAVITY, rel=1e-6)


def test_pieces_for_a_wheel_of_a_car_that_twists() -> None:
    floor = Place("floor", (0.2, 2.2), (-0.6, 0.6), 0.2)
    car = replace(car_with(floor, pieces=(Piece(1.0, 40),)), torsional_stiffness=40e3)
    for wheel in range(4):
        plan = plan_ballast(car, light_at(wheel), BallastGoal(wheel_minimum=250))
        assert plan.status == "met"
        assert plan.added == np.ceil(lightest(car, floor, wheel, 10))


@pytest.mark.parametrize("wheel", [0, 2])
def test_the_end_of_a_sill_where_nothing_else_will_do(wheel: int) -> None:
    """A place that takes just enough at its best end, on a chassis that twists."""
    car = replace(car_with(), torsional_stiffness=40e3)
    stations = np.array([0.2, 1.2, 2.2])
    masses = np.array([10 * GRAVITY / added_loads(car, 1.0, aft, 0.6)[wheel] for aft in stations])
    least = masses.min()
    assert (masses <= 1.005 * least).sum() == 1
    sill = Place("sill", (0.2, 2.2), (0.6, 0.6), 0.2, most=1.005 * least)
    loads = np.full(4, 280 * GRAVITY)
    loads[wheel] = 240 * GRAVITY
    plan = plan_ballast(replace(car, places=(sill,)), loads, BallastGoal(wheel_minimum=250))
    assert plan.status == "met"
    (put,) = plan.items
    assert put.aft == pytest.approx(stations[masses.argmin()], abs=1e-5)
    assert least * (1 - 1e-6) <= put.mass <= 1.005 * least * (1 + 1e-6)


def test_a_front_share_that_can_be_had_goes_to_its_middle_though_the_minimum_is_out_of_reach() -> (
    None
):
    floor = Place("floor", (0.4, 2.0), (0.0, 0.0), 0.2, most=30)
    plan = plan_ballast(car_with(floor), EVEN, BallastGoal(minimum=1050, front=(0.495, 0.505)))
    (put,) = plan.items
    assert plan.status == "closest"
    assert put.mass == pytest.approx(30, abs=1e-4)
    assert put.aft == pytest.approx(1.2, abs=0.02)
    assert [rule.kind for rule in plan.rules if not rule.met] == ["minimum"]
    # In two race trims the middle is that of the first, if the other stays within its band.
    other = np.array([248.0, 248, 252, 252]) * GRAVITY
    goal = BallastGoal(minimum=1050, front=(0.495, 0.505))
    for first, then, aft in ((EVEN, other, 1.2), (other, EVEN, 0.88)):
        (put,) = plan_ballast(car_with(floor), first, goal, [then]).items
        assert put.aft == pytest.approx(aft, abs=0.02)


def test_what_would_only_thin_the_front_share_stays_out() -> None:
    """Of the seat's ballast 50.5 % is on the front axle: less than 520 of 1020 kg."""
    seat = Place("seat", (1.188, 1.188), (0.0, 0.0), 0.2, most=30)
    car = car_with(NOSE._replace(most=20), seat)
    plan = plan_ballast(car, EVEN, BallastGoal(front=(0.60, 0.70)))
    assert plan.status == "closest"
    assert {put.place: pytest.approx(put.mass, abs=0.02) for put in plan.items} == {"nose": 20}


@pytest.mark.parametrize(
    ("band", "mass"),
    [
        *(((0.501, 0.5012), 0), ((0.5028, 0.503), 10), ((0.5018, 0.502), 0), ((0.5038, 0.504), 10)),
        # Bands so wide that the far end of one is no measure of what is near.
        *(((0.5004, 0.5044), 0), ((0.5006, 0.5046), 10)),
        *(((0.5055, 0.5070), 10), ((0.5055, 0.5095), 20)),
    ],
)
def test_the_nearer_side_of_a_band_that_pieces_jump_over(
    band: tuple[float, float], mass: float
) -> None:
    """50 % without, 510 of 1010 kg with one piece, 50.495 %, and 50.98 % with both there are."""
    car = car_with(NOSE, pieces=(Piece(10.0, 2),))
    plan = plan_ballast(car, EVEN, BallastGoal(front=band))
    assert (plan.status, plan.added) == ("closest", mass)


@pytest.mark.parametrize("goal", [BallastGoal(1030), BallastGoal(1030, front=(0.3, 0.4), most=20)])
def test_what_a_solver_has_not_proved_is_not_called_so(
    goal: BallastGoal, monkeypatch: pytest.MonkeyPatch
) -> None:
    def out_of_time(*asked: Any) -> Solved:
        return solve(*asked)._replace(proved=False)

    car = car_with(BOOT._replace(most=20 if goal.front else inf), NOSE)
    assert plan_ballast(car, EVEN, goal).status != "gave_up"
    monkeypatch.setattr(program, "solve", out_of_time)
    assert plan_ballast(car, EVEN, goal).status == "gave_up"


def test_one_step_that_is_not_proved_leaves_the_closest_unproved(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The first of the rules that can be met, and no other."""
    found, car = count(), car_with(BOOT._replace(most=20))

    def say(*asked: Any) -> program.Solution | None:
        one = program.lexicographic(*asked)
        return one and one._replace(proved=one.proved and next(found) > 0)

    assert plan_ballast(car, EVEN, BallastGoal(1030)).status == "closest"
    monkeypatch.setattr(closest, "lexicographic", say)
    assert plan_ballast(car, EVEN, BallastGoal(1030)).status == "gave_up"


def asked_twice(answers: dict[int, Solved]) -> Callable[..., Solved]:
    """Solve, but at some calls, counted from 0, say what is given."""
    calls = count()

    def say(*asked: Any) -> Solved:
        return answers.get(next(calls)) or solve(*asked)

    return say


def test_a_solver_out_of_time_with_nothing_in_hand_has_proved_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = program.build(car_with(BOOT), [BOOT], [], 50, np.full(4, 2500.0))
    total = made.mass.sum(axis=0)
    rules = [LinearConstraint(total, 20, inf)]
    monkeypatch.setattr(program, "solve", asked_twice({0: Solved(None, proved=False)}))
    found = program.lexicographic(made, [program.Aim(total)], rules)
    assert found is not None
    assert not found.proved
    monkeypatch.setattr(program, "solve", asked_twice({0: Solved(None, proved=True)}))
    assert program.lexicographic(made, [program.Aim(total)], rules) is None


@pytest.mark.parametrize("proved", [True, False])
def test_ties_that_can_not_be_told_apart_leave_what_was_found(
    proved: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second aim among ties that are there can't fail but by the solver's own tolerance."""
    made = program.build(car_with(BOOT), [BOOT], [], 50, np.full(4, 2500.0))
    total = made.mass.sum(axis=0)
    aims = [program.Aim(total), program.Aim(-total)]
    monkeypatch.setattr(program, "solve", asked_twice({1: Solved(None, proved)}))
    found = program.lexicographic(made, aims, [LinearConstraint(total, 20, inf)])
    assert found is not None
    assert float(total @ found.values) == pytest.approx(20, abs=1e-6)
    assert found.proved == proved


def test_places_enough_by_themselves_spare_the_search_through_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Three of 10.5 kg on the rear axle: the boot alone has the best, among a hundred places."""
    searched = []

    def record(cost: Floats, whole: Floats, bounds: Bounds, rules: Any) -> Solved:
        searched.append(int(np.count_nonzero(np.asarray(bounds.ub)[whole > 0])))
        return solve(cost, whole, bounds, rules)

    monkeypatch.setattr(program, "solve", record)
    shelf = [BOOT._replace(name=f"shelf {up}", up=0.3 + up / 100) for up in range(1, 100)]
    car = car_with(BOOT, *shelf, pieces=(Piece(10.5, None), Piece(4.0, 1), Piece(2.5, 1)))
    plan = plan_ballast(car, EVEN, BallastGoal(minimum=1031.5))
    assert [(put.place, put.pieces) for put in plan.items] == [("boot", ((10.5, 3),))]
    assert 0 < max(searched) < 30


def test_a_solver_may_stop_where_what_is_left_is_a_tie(monkeypatch: pytest.MonkeyPatch) -> None:
    """It calls a gap of a millionth nothing, so the cost is in so many grains."""
    costs = []

    def record(cost: Floats, whole: Floats, *asked: Any) -> Solved:
        costs.append((bool(whole.any()), float(np.abs(cost).max())))
        return solve(cost, whole, *asked)

    monkeypatch.setattr(program, "solve", record)
    for pieces in ([], [Piece(10.0, 3)]):
        made = program.build(car_with(BOOT), [BOOT], pieces, 50, np.full(4, 2500.0))
        total = made.mass.sum(axis=0)
        aims = [program.Aim(total), program.Aim(total, size=True, grain=0.1)]
        program.lexicographic(made, aims, [LinearConstraint(total, 15, inf)])
    assert [cost for whole, cost in costs if whole] == pytest.approx([1.0, 1e-5], rel=1e-12)
    assert {cost for whole, cost in costs if not whole} == {1.0}


def test_a_front_share_not_proved_nearest_is_not_called_so(monkeypatch: pytest.MonkeyPatch) -> None:
    nearest = closest._nearest_share
    monkeypatch.setattr(
        closest, "_nearest_share", lambda *asked: nearest(*asked)._replace(proved=False)
    )
    car = car_with(NOSE._replace(most=20))
    assert plan_ballast(car, EVEN, BallastGoal(front=(0.6, 0.7))).status == "gave_up"


def test_a_minimum_out_of_reach_is_proved_though_the_chassis_twists() -> None:
    floor = Place("floor", (0.2, 2.2), (-0.6, 0.6), 0.2, most=5)
    car = replace(car_with(floor), torsional_stiffness=40e3)
    plan = plan_ballast(car, EVEN, BallastGoal(minimum=1050, wheel_minimum=240))
    assert plan.status == "closest"
    assert bound(plan) == [([("place", "floor")], pytest.approx(50, abs=1e-4))]


def test_what_binds_a_place_with_room_for_one_piece() -> None:
    car = car_with(BOOT._replace(most_pieces=1), pieces=(Piece(10.0, None),))
    plan = plan_ballast(car, EVEN, BallastGoal(minimum=1020))
    assert bound(plan) == [
        ([("grid", "")], pytest.approx(20, abs=1e-4)),
        ([("place", "boot")], pytest.approx(20, abs=1e-4)),
    ]


def test_a_solver_s_sliver_is_not_bolted_in_but_what_a_rule_needs_is() -> None:
    boot, sliver = (
        BallastItem("boot", 20.0, 2.4, 0, 0.3, ()),
        BallastItem("nose", 2e-6, 0, 0, 0, ()),
    )
    car, goal = car_with(BOOT, NOSE), BallastGoal(1020)
    assert held_against(car, [EVEN], goal, (sliver, boot), True).items == (boot,)
    short = boot._replace(mass=20 - 5e-4)
    needed = sliver._replace(mass=5e-4)
    assert held_against(car, [EVEN], goal, (needed, short), True).items == (needed, short)


def test_of_two_race_trims_the_first_says_where_ballast_is_best() -> None:
    """One is nose-heavy, the other tail-heavy; 30 kg bring either nearer the middle of the band."""
    shift = np.array([25.0, 25, -25, -25]) * GRAVITY
    nose_heavy, tail_heavy = EVEN + shift, EVEN - shift
    goal = BallastGoal(minimum=1030, front=(0.4, 0.6))
    for first, other, place in ((nose_heavy, tail_heavy, "boot"), (tail_heavy, nose_heavy, "nose")):
        plan = plan_ballast(car_with(BOOT, NOSE), first, goal, [other])
        assert plan.status == "met"
        # Front shares closer than 0.001 points count as the same: ten grams may be elsewhere.
        masses = {put.place: put.mass for put in plan.items}
        assert (masses[place], sum(masses.values())) == pytest.approx((30, 30), abs=0.02)
        assert plan.loads == pytest.approx(first + plan.change)
        assert plan.others[0].loads == pytest.approx(other + plan.change)


def still(cross: float = 0.5, trims: int = 1, near: float = 1.0) -> Turns:
    """Give turns of nothing."""
    return Turns(
        np.zeros((4, 0)), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64),
        np.zeros((4, 0)), np.full(4, -1e-3), np.full(4, 1e-3), (cross,) * trims, 1.0, near,
    )  # fmt: skip


@pytest.mark.parametrize("stiffness", [inf, 1e10])
def test_ballast_with_turns_leans_as_in_the_first_race_trim(stiffness: float) -> None:
    """LF lacks 5 kg, and the body leans on: weight times height is off the springs' stiffness.

    The second trim, twice as heavy, would have it lean twice as far.
    """
    track, long, rate, weight = 1.5, 2.4, 70e3 * 0.7**2, 1020 * GRAVITY
    shelf = Place("shelf", (0.6, 1.2), (0.2, 0.4), 0.3)
    car = replace(
        plain_car(long, (track, track), spring_rate=(70e3, 70e3)),
        places=(shelf,), cg_up=0.5, torsional_stiffness=stiffness,
    )  # fmt: skip
    pitch, roll = rate * long**2, rate * track**2
    nose = (1.2 - 0.6) / (2 * long) * pitch / (pitch - weight * 0.5)
    side = 0.4 / (2 * track) * roll / (roll - weight * 0.5)
    mass = 5 / (0.25 + nose + side)
    trims = [np.array([240.0, 260, 260, 260]) * GRAVITY, np.full(4, 510 * GRAVITY)]
    goal = BallastGoal(wheel_minimum=245)
    least, proved = least_with_turns(car, trims, goal, still(trims=2))
    assert least == pytest.approx(mass, rel=1e-4)
    assert proved
    (plan, *_) = ballast_with_turns(car, trims, goal, still(trims=2))
    assert plan.added == pytest.approx(mass, rel=1e-4)
    small = replace(car, places=(shelf._replace(most=1.0),))
    (binding,) = bindings_with_turns(small, trims, goal, still(trims=2))
    assert binding.needed == pytest.approx(mass, rel=1e-4)


@pytest.mark.parametrize(("cross", "name"), [(0.45, "LF"), (0.55, "RF")])
def test_ballast_with_turns_goes_to_the_side_of_the_cross_weight(cross: float, name: str) -> None:
    places = [Place(at, (0.0, 0.0), (left, left), 0.3) for at, left in (("LF", 0.7), ("RF", -0.7))]
    goal = BallastGoal(minimum=1020)
    asked = car_with(*places), [EVEN], goal, still(cross, near=1e-4)._replace(tolerance=1e-3)
    (plan,) = ballast_with_turns(*asked, landing=False)
    # What is nearest to a thousandth of its unit leaves the rest to how it is spread.
    (most,) = [item.place for item in plan.items if item.mass > 19.5]
    assert most == name
    # 20 kg are one point, and it is to be five.
    assert not [*ballast_with_turns(*asked)]
    assert least_with_turns(*asked) == (inf, True)


def test_ballast_with_turns_is_spread_for_the_first_race_trim() -> None:
    """5 kg too much at its left, 5 too few in the second: 20 kg at a quarter of the track."""
    shelf = Place("shelf", (1.2, 1.2), (-0.7, 0.7), 0.3)
    trims = [np.array([252.5 + off, 252.5 - off] * 2) * GRAVITY for off in (2.5, -2.5)]
    goal = BallastGoal(minimum=1030)
    (plan,) = ballast_with_turns(car_with(shelf), trims, goal, still(trims=2))
    assert plan.items[0].left == pytest.approx(-0.375, abs=0.01)


def test_ballast_with_turns_is_tried_at_stations_where_a_chassis_twists() -> None:
    """As planned first, then at its ends and its middle."""
    shelf = Place("shelf", (1.5, 2.0), (-0.6, -0.4), 0.3)
    twisting = replace(car_with(shelf), torsional_stiffness=8e4)
    loads = np.array([250.0, 250.0, 250.0, 240.0]) * GRAVITY
    first, *others = ballast_with_turns(twisting, [loads], BallastGoal(wheel_minimum=245), still())
    stations = [plan.items[0].aft for plan in others]
    assert stations == pytest.approx([first.items[0].aft, 1.5, 1.75, 2.0])
    assert first.items[0].aft != pytest.approx(1.75)
    assert not [*ballast_with_turns(twisting, [loads], BallastGoal(minimum=1e3, most=1), still())]


def test_ballast_with_turns_is_proved_only_if_its_spread_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def out_of_time(*asked: Any) -> Any:
        found = program.lexicographic(*asked)
        return found and found._replace(proved=len(asked[1]) == 1)

    monkeypatch.setattr(joint, "lexicographic", out_of_time)
    (plan,) = ballast_with_turns(car_with(BOOT), [EVEN], BallastGoal(minimum=1020), still())
    assert plan.status == "gave_up"
