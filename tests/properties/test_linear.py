"""Laws that hold for every car: statics, symmetry, scaling and limiting cases."""

from __future__ import annotations

from dataclasses import replace
from math import inf, isfinite

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from balancer.car.adjusters import adjusters_of
from balancer.car.conventions import GRAVITY, Floats
from balancer.car.errors import InputError
from balancer.car.linear import lift, load_change
from balancer.car.model import Car, Place, Target, plain_car
from balancer.car.resting import added_loads, height_change
from balancer.car.statics import statics_of, taken_for_linear
from balancer.files.car_file import CarFile
from balancer.files.readings import readings_of
from balancer.files.units import SYSTEMS
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.plan import plan_ballast
from balancer.planning.perches.goal import (
    Asked,
    PerchGoal,
    aim_of,
    cross_for_equal_pair,
    cross_for_loads,
)
from balancer.planning.perches.plan import PerchPlan, plan_perches
from balancer.planning.perches.question import PerchMoves
from balancer.weighing.uncertainty import shares
from tests.cars import cornered
from tests.conftest import random_car, random_loads

law = settings(max_examples=50)

MIRROR = [1, 0, 3, 2]


def floats(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_subnormal=False)


def fours(low: float, high: float) -> st.SearchStrategy[Floats]:
    return st.tuples(*[floats(low, high)] * 4).map(np.array)


def twos(low: float, high: float) -> st.SearchStrategy[Floats]:
    return st.tuples(*[floats(low, high)] * 2).map(np.array)


# On springs and motion ratios any softer, the highest and heaviest of these cars would tip over.
RATES = fours(4e4, 2e5)
RATIOS = fours(0.5, 1.2)
TIRES = st.one_of(st.just(np.full(4, inf)), fours(1.2e5, 5e5))
BARS = st.one_of(st.just(np.zeros(2)), twos(0.0, 8e4))
CHASSIS = st.one_of(st.just(inf), floats(3e4, 3e6))
LOADS = fours(1200.0, 3500.0)
PERCHES = fours(-0.03, 0.03)
STEPS = st.tuples(*[st.sampled_from([1.0, 0.5, 1 / 3, 0.25])] * 4).map(np.array)
TRAVELS = st.tuples(
    *[st.tuples(st.integers(-6, 0), st.integers(0, 6)).map(lambda pair: np.array(pair, float))] * 4
).map(np.array)


@st.composite
def cars(draw: st.DrawFn) -> Car:
    return Car(
        name="any car",
        wheelbase=draw(floats(1.8, 3.2)),
        tracks=draw(twos(1.1, 1.8)),
        spring_rate=draw(RATES),
        motion_ratio=draw(RATIOS),
        tire_rate=draw(TIRES),
        unsprung_mass=draw(fours(10.0, 45.0)),
        bar_rate=draw(BARS),
        perch_lead=draw(fours(1e-3, 3e-3)),
        perch_step=draw(STEPS),
        perch_travel=draw(TRAVELS),
        cg_up=draw(floats(0.0, 0.45)),
        torsional_stiffness=draw(CHASSIS),
    )


@st.composite
def goals(draw: st.DrawFn) -> PerchGoal:
    return PerchGoal(
        cross=draw(floats(0.46, 0.54)),
        tolerance=draw(floats(5e-4, 5e-3)),
        rise=draw(st.one_of(st.just(np.zeros(4)), fours(-6e-3, 6e-3))),
        height_tolerance=draw(floats(5e-4, 4e-3)),
    )


def slopes(car: Car, rise: Floats) -> tuple[float, Floats]:
    """Give the slope of the body along the car, and across it at front and rear."""
    pitch = float(rise[2:].sum() - rise[:2].sum()) / (2 * car.wheelbase)
    return pitch, (rise[[0, 2]] - rise[[1, 3]]) / car.tracks


def sums(car: Car, loads: Floats) -> Floats:
    """Total and both moments [N, N·m], which only mass can change."""
    return np.array([loads.sum(), loads @ car.aft, loads @ car.left])


def all_moves(plan: PerchPlan) -> tuple[PerchMoves, ...]:
    return (plan.best, *plan.alternatives)


@law
@given(cars(), PERCHES)
def test_perches_leave_total_and_moments_alone(car: Car, perch: Floats) -> None:
    change = load_change(car, lift(car, perch))
    assert sums(car, change) == pytest.approx(np.zeros(3), abs=1e-11 * np.abs(change).sum())


@law
@given(cars(), LOADS, goals())
def test_loads_of_every_plan_add_up_to_the_weight(car: Car, loads: Floats, goal: PerchGoal) -> None:
    """The moments about where the center of gravity has moved to, as high as it leans."""
    high, axles = car.cg_up * loads.sum(), loads.reshape(2, 2).sum(axis=1)
    for moves in all_moves(plan_perches(car, loads, goal)):
        pitch, rolls = slopes(car, moves.height_change)
        leaned = np.array([0.0, high * pitch, car.cg_up * axles @ rolls])
        after = sums(car, moves.loads) + leaned
        assert after == pytest.approx(sums(car, loads), rel=1e-9, abs=1e-9)
        assert moves.shares.total == pytest.approx(loads.sum(), rel=1e-9)


@law
@given(cars(), LOADS, floats(0.0, 80.0), floats(0.0, 1.8), floats(-0.5, 0.5))
def test_loads_with_ballast_add_up_to_the_weight(
    car: Car, loads: Floats, more: float, aft: float, left: float
) -> None:
    car = replace(car, places=(Place("floor", (aft, aft + 0.3), (left, left + 0.1), 0.1),))
    plan = plan_ballast(car, loads, BallastGoal(minimum=loads.sum() / GRAVITY + more))
    assert plan.status == "met"
    put = sum(one.mass for one in plan.items)
    assert plan.added == pytest.approx(more, abs=1e-5)
    assert plan.loads.sum() == pytest.approx(loads.sum() + put * GRAVITY, rel=1e-9)
    assert plan.loads == pytest.approx(loads + plan.change, rel=1e-12)


@law
@given(cars(), floats(-200.0, 200.0), floats(-1.5, 4.5), floats(-1.2, 1.2))
def test_a_mass_is_carried_where_it_is(car: Car, mass: float, aft: float, left: float) -> None:
    added = added_loads(car, mass, aft, left)
    weight = mass * GRAVITY
    # A flexible chassis and stiff springs make the system a thousand times worse to solve.
    assert sums(car, added) == pytest.approx(
        weight * np.array([1.0, aft, left]), rel=1e-9, abs=1e-9 * (1 + abs(weight))
    )


@law
@given(cars(), floats(0.1, 200.0), floats(-1.5, 4.5), floats(-1.2, 1.2))
def test_a_mass_put_on_and_taken_off_is_nothing(
    car: Car, mass: float, aft: float, left: float
) -> None:
    both = added_loads(car, mass, aft, left) + added_loads(car, -mass, aft, left)
    assert both == pytest.approx(np.zeros(4), abs=1e-9 * mass)


@law
@given(cars(), LOADS, floats(0.05, 20.0))
def test_shares_do_not_know_the_unit_of_the_loads(car: Car, loads: Floats, factor: float) -> None:
    one, other = shares(car, loads), shares(car, factor * loads)
    assert other.total == pytest.approx(factor * one.total)
    assert other[1:] == pytest.approx(one[1:], rel=1e-12, abs=1e-12)


def reachable(car: Car, loads: Floats, share: Floats, off: tuple[float, float]) -> PerchGoal:
    """Want what whole steps within the travel come to, missed by a part of each tolerance."""
    limits = np.where(share < 0, -car.perch_travel[:, 0], car.perch_travel[:, 1])
    turns = np.trunc(share * limits / car.perch_step) * car.perch_step
    turned = statics_of(car, loads).per_turn()
    cross = (loads[1] + loads[2]) / loads.sum() + turns @ turned.cross
    return PerchGoal(cross + off[0] * 2e-3, 2e-3, turns @ turned.heights + off[1] * 2e-3, 2e-3)


@law
@given(cars(), LOADS, goals())
def test_reached_is_both_tolerances_met(car: Car, loads: Floats, goal: PerchGoal) -> None:
    plan = plan_perches(car, loads, goal)
    assert (plan.status == "reached") == (plan.best.cross_met and plan.best.heights_met)


@law
@given(cars(), LOADS, fours(-1.0, 1.0), st.tuples(floats(-0.9, 0.9), floats(-0.9, 0.9)))
def test_plan_from_a_reached_plan_is_no_move(
    car: Car, loads: Floats, share: Floats, off: tuple[float, float]
) -> None:
    goal = reachable(car, loads, share, off)
    plan = plan_perches(car, loads, goal)
    assert plan.status == "reached"
    left = replace(goal, rise=goal.rise - plan.best.height_change)
    again = plan_perches(car, plan.best.loads, left)
    assert again.status == "reached"
    assert again.best.turns.tolist() == [0.0] * 4


def mirrored(car: Car) -> Car:
    return replace(
        car,
        spring_rate=car.spring_rate[MIRROR],
        motion_ratio=car.motion_ratio[MIRROR],
        tire_rate=car.tire_rate[MIRROR],
        unsprung_mass=car.unsprung_mass[MIRROR],
        perch_lead=car.perch_lead[MIRROR],
        perch_step=car.perch_step[MIRROR],
        perch_travel=car.perch_travel[MIRROR],
    )


def assert_as_good(goal: PerchGoal, one: PerchMoves, other: PerchMoves, mirror: bool) -> None:
    assert one.corners == other.corners
    assert (one.cross_met, one.heights_met) == (other.cross_met, other.heights_met)
    rise, cross = (goal.rise[MIRROR], 1 - goal.cross) if mirror else (goal.rise, goal.cross)
    assert np.abs(one.turns).sum() == pytest.approx(np.abs(other.turns).sum(), abs=1e-9)
    assert abs(one.shares.cross - goal.cross) == pytest.approx(
        abs(other.shares.cross - cross), abs=1e-11
    )
    assert np.abs(one.height_change - goal.rise).max() == pytest.approx(
        np.abs(other.height_change - rise).max(), abs=1e-11
    )


@law
@given(cars(), LOADS, goals())
def test_plan_of_the_mirrored_car_is_as_good(car: Car, loads: Floats, goal: PerchGoal) -> None:
    """Only as good, for a car that is its own mirror image has pairs of plans that tie."""
    plan = plan_perches(car, loads, goal)
    opposite = replace(goal, cross=1 - goal.cross, rise=goal.rise[MIRROR])
    other = plan_perches(mirrored(car), loads[MIRROR], opposite)
    assert other.status == plan.status
    assert len(other.limits) == len(plan.limits)
    for one, image in zip(all_moves(plan), all_moves(other), strict=True):
        assert_as_good(goal, one, image, mirror=True)


@pytest.mark.parametrize("seed", range(30))
def test_plan_of_the_mirrored_car_is_the_mirrored_plan(seed: int) -> None:
    rng = np.random.default_rng([seed, 4])
    car = replace(random_car(rng), cg_up=0.45, perch_travel=rng.uniform([-4, 0], [0, 4], (4, 2)))
    loads = random_loads(rng)
    goal = PerchGoal(0.5 + rng.uniform(-0.02, 0.02), 0.002, rng.uniform(-3e-3, 3e-3, 4), 1.5e-3)
    plan = plan_perches(car, loads, goal)
    opposite = replace(goal, cross=1 - goal.cross, rise=goal.rise[MIRROR])
    other = plan_perches(mirrored(car), loads[MIRROR], opposite)
    for one, image in zip(all_moves(plan), all_moves(other), strict=True):
        assert image.turns[MIRROR].tolist() == one.turns.tolist()
        assert image.shares.cross == pytest.approx(1 - one.shares.cross)


@law
@given(cars(), LOADS, goals(), floats(0.2, 5.0))
def test_heavier_and_stiffer_alike_is_the_same_plan(
    car: Car, loads: Floats, goal: PerchGoal, factor: float
) -> None:
    other = replace(
        car,
        spring_rate=factor * car.spring_rate,
        tire_rate=factor * car.tire_rate,
        bar_rate=factor * car.bar_rate,
        torsional_stiffness=factor * car.torsional_stiffness,
    )
    plan = plan_perches(car, loads, goal)
    scaled = plan_perches(other, factor * loads, goal)
    assert scaled.status == plan.status
    for one, same in zip(all_moves(plan), all_moves(scaled), strict=True):
        assert same.turns.tolist() == one.turns.tolist()
        assert same.loads == pytest.approx(factor * one.loads, rel=1e-9)


def test_closest_plans_that_tie_touch_the_fewest_corners() -> None:
    """Turn the left front up or the right front down: here it is the same for all that counts."""
    car = Car(
        name="a step at either front corner does the same",
        wheelbase=2.0,
        tracks=np.array([1.5, 1.5]),
        spring_rate=np.array([32974.0, 39192.0, 34905.0, 43406.0]),
        motion_ratio=np.array([1.0, 1.0, 1.0, 0.4375]),
        tire_rate=np.full(4, inf),
        unsprung_mass=np.full(4, 10.0),
        bar_rate=np.zeros(2),
        perch_lead=np.array([1e-3, 1e-3, 1.953125e-3, 1e-3]),
        perch_step=np.ones(4),
        perch_travel=np.array([[0.0, 2.0], [-1.0, 0.0], [-1.0, 0.0], [0.0, 1.0]]),
    )
    goal = PerchGoal(0.46875, 0.00390625, np.zeros(4), 0.001953125)
    for factor in (1.0, 1.25, 1.5, 2.0):
        scaled = replace(car, spring_rate=factor * car.spring_rate)
        plan = plan_perches(scaled, np.full(4, factor * 1200.0), goal)
        assert plan.status == "closest"
        assert plan.best.turns.tolist() == [2.0, 0.0, -1.0, 1.0]


@law
@given(
    st.tuples(floats(3e4, 2e5), floats(3e4, 2e5)),
    twos(1.1, 1.8),
    st.tuples(floats(1200, 4500), floats(1200, 4500)),
)
def test_symmetric_car_at_even_cross_weight_needs_no_move(
    rates: tuple[float, float], tracks: Floats, axles: tuple[float, float]
) -> None:
    car = plain_car(spring_rate=rates, tracks=tuple(tracks.tolist()))
    car = replace(car, cg_up=0.4, perch_travel=np.tile([-1.5, 1.5], (4, 1)))
    loads = np.repeat(axles, 2)
    plan = plan_perches(car, loads, PerchGoal(0.5, 1e-9, np.zeros(4), 1e-9))
    assert plan.status == "reached"
    assert plan.best.turns.tolist() == [0.0] * 4


def all_answers(car: Car, loads: Floats) -> tuple[Floats, ...]:
    """Give what each perch does by itself, and what masses at two places do."""
    lifts = np.array([lift(car, perch) for perch in 1e-3 * np.eye(4)])
    return (
        lifts,
        load_change(car, lifts),
        height_change(car, lifts, loads),
        added_loads(car, 50.0, 0.4 * car.wheelbase, 0.3),
        added_loads(car, 50.0, -0.2 * car.wheelbase, -0.1),
    )


def assert_close(car: Car, limit: Car, loads: Floats, relative: float) -> None:
    found, expected = all_answers(car, loads), all_answers(limit, loads)
    for values, wanted in zip(found, expected, strict=True):
        assert np.abs(values - wanted).max() <= relative * np.abs(wanted).max()


@law
@given(cars(), LOADS)
def test_very_stiff_chassis_is_a_rigid_one(car: Car, loads: Floats) -> None:
    rigid = replace(car, torsional_stiffness=inf)
    assert_close(replace(car, torsional_stiffness=1e12), rigid, loads, 1e-5)


@law
@given(cars(), LOADS)
def test_very_stiff_tires_are_rigid_ones(car: Car, loads: Floats) -> None:
    rigid = replace(car, tire_rate=np.full(4, inf))
    assert_close(replace(car, tire_rate=np.full(4, 1e12)), rigid, loads, 1e-5)


@law
@given(cars(), LOADS)
def test_very_soft_bars_are_none(car: Car, loads: Floats) -> None:
    off = replace(car, bar_rate=np.zeros(2))
    assert_close(replace(car, bar_rate=np.full(2, 1e-3)), off, loads, 1e-5)


@law
@given(cars(), PERCHES)
def test_without_bars_each_corner_is_on_its_own(car: Car, perch: Floats) -> None:
    car = replace(car, bar_rate=np.zeros(2))
    lifts = perch / car.motion_ratio
    front, rear = 1 / car.tracks
    pattern = np.array([front, -front, -rear, rear])
    give = 1 / (car.spring_rate * car.motion_ratio**2) + 1 / car.tire_rate
    warp = pattern**2 @ give + 1 / car.torsional_stiffness
    size = np.abs(lifts).max()
    assert lift(car, perch) == pytest.approx(lifts, rel=1e-12, abs=1e-12 * size)
    assert load_change(car, lift(car, perch)) == pytest.approx(
        pattern * (pattern @ lifts) / warp, rel=1e-9, abs=1e-9 * size / give.min()
    )


@law
@example((1e308,) * 4, "metric")
@given(
    st.tuples(*[st.one_of(floats(20.0, 900.0), st.floats())] * 4), st.sampled_from(sorted(SYSTEMS))
)
def test_readings_are_loads_of_a_car_or_refused(loads: tuple[float, ...], units: str) -> None:
    file = CarFile("any.toml", plain_car(), SYSTEMS[units], ())
    try:
        readings = readings_of(file, loads)
    except InputError:
        return
    assert all(isfinite(load) and load > 0 for load in loads)
    assert readings.repeats[0] == pytest.approx(np.array(loads) * file.units.factors["load"])


def test_a_perch_goal_has_the_usual_tolerances() -> None:
    """0.2 points and 1.5 mm, as README.md says."""
    goal = PerchGoal.level(0.52)
    assert (goal.cross, goal.tolerance, goal.height_tolerance) == (0.52, 0.002, 0.0015)
    assert (goal.rise.tolist(), goal.keep) == ([0.0] * 4, frozenset())


def test_cross_weights_for_other_wishes_by_hand() -> None:
    """Of 1000 on tracks of 1.5 and 1.2: what leaves one axle by its moment comes on the other's.

    20 less on LF and more on RF are 25 the other way at the rear; 30 at the rear 24 in front.
    """
    car = plain_car(tracks=(1.5, 1.2))
    loads = np.array([320.0, 280.0, 230.0, 170.0])
    assert cross_for_equal_pair(car, loads, "front") == pytest.approx(0.555, abs=1e-12)
    assert cross_for_equal_pair(car, loads, "rear") == pytest.approx(0.456, abs=1e-12)
    there = loads + np.array([-20.0, 20.0, 25.0, -25.0])
    assert cross_for_loads(car, loads, there) == pytest.approx(0.555, abs=1e-12)
    # What no perch can do leaves the nearest alone: a fifth more on every wheel, say.
    assert cross_for_loads(car, loads, there + 40.0) == pytest.approx(0.555, abs=1e-12)


@pytest.mark.parametrize(
    ("target", "asked", "cross", "source"),
    [
        (Target(), Asked(), 0.5, "usual"),
        (Target(cross=0.51), Asked(), 0.51, "file"),
        (Target(equal="front"), Asked(), 0.555, "file"),
        (Target(cross=0.51), Asked(cross=0.49), 0.49, "said"),
        (Target(cross=0.51), Asked(equal="rear"), 0.456, "said"),
        (Target(cross=0.51), Asked(loads=np.array([300.0, 300, 255, 145])), 0.555, "said"),
        (Target(), Asked(cross=0.0), 0.0, "said"),
        (Target(), Asked(cross=1.0), 1.0, "said"),
    ],
)
def test_what_is_asked_goes_before_the_file_and_that_before_the_usual(
    target: Target, asked: Asked, cross: float, source: str
) -> None:
    car = replace(plain_car(tracks=(1.5, 1.2)), target=target)
    aim = aim_of(car, np.array([320.0, 280.0, 230.0, 170.0]), asked)
    assert aim.goal.cross == pytest.approx(cross, abs=1e-12)
    assert aim.source == source


@pytest.mark.parametrize(("cross", "said"), [(-0.25, "−25.0 %"), (1.5, "150.0 %")])
def test_a_cross_weight_of_no_car_is_refused(cross: float, said: str) -> None:
    with pytest.raises(InputError, match=f"cross weight of {said}"):
        aim_of(plain_car(), np.full(4, 2500.0), Asked(cross=cross))


@pytest.mark.parametrize("seed", range(20))
def test_turns_and_pads_there_and_back(seed: int) -> None:
    rng = np.random.default_rng(seed)
    car, turns = random_car(rng), np.array(rng.integers(-3, 4, 4) * 0.5, dtype=float)
    loads = random_loads(rng)
    start = statics_of(car, loads)
    after = start.turned(adjusters_of(car), turns).loads
    assert statics_of(car, after).loads_before(turns) == pytest.approx(loads, rel=1e-12)
    high = np.array([2e-3, 0.0, 0.0, 0.0])
    raised = start.on_pads(high)
    # Whoever stands on the higher pad carries more, and the diagonal with it.
    assert ((raised - loads) * [1, -1, -1, 1] > 0).all()
    assert raised - start.pad_effect(high) == pytest.approx(loads, rel=1e-12)
    assert start.excess().tolist() == [0.0] * 4


def test_a_car_taken_for_linear_has_no_corners() -> None:
    assert taken_for_linear(cornered(plain_car())).corners == ()
    assert taken_for_linear(plain_car()).corners == ()
