"""Laws of what comes and goes: states, parts, stints, and two weigh-ins beside each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.errors import TippedOverError
from balancer.car.ground import off_the_ground
from balancer.car.linear import compliance
from balancer.car.model import Car, Item, Scales, plain_car
from balancer.car.resting import added_loads, item_loads
from balancer.car.statics import statics_of
from balancer.planning.ballast.margin import margin_for
from balancer.weighing.comparison import Difference, center_of, compare
from balancer.weighing.load_states import Trim, carry, stint
from balancer.weighing.parts import Change, variant
from balancer.weighing.uncertainty import shares
from balancer.weighing.weigh import Readings, WeighIn, weigh
from tests.cars import cornered
from tests.properties.test_linear import LOADS, cars, floats, law, slopes, sums

SURE = 1e-9
"""Of the total: where only rounding may differ."""

MASSES = floats(0.0, 120.0)
AFT = floats(-1.0, 4.0)
LEFT = floats(-0.9, 0.9)


@st.composite
def items(draw: st.DrawFn) -> Item:
    name = draw(st.sampled_from(["driver", "fuel", "spares", "seat"]))
    return Item(name, draw(MASSES), draw(AFT), draw(LEFT), draw(floats(0.05, 1.0)))


STATES = st.lists(items(), max_size=4)


def assert_same_loads(found: Floats, expected: Floats) -> None:
    assert np.abs(found - expected).max() <= SURE * np.abs(expected).sum()


def tied(car: Car, loads: Floats, was: Sequence[Item], now: Sequence[Item]) -> Floats:
    """Carry loads as if all wheels were tied to the ground, which is what laws of sums hold of."""
    return statics_of(car, loads).carried(put_on=now, taken_off=was)


def assume_on_four_wheels(car: Car, loads: Floats, changes: Sequence[Change]) -> None:
    each = statics_of(car, loads).each_carried([(one.on, one.off) for one in changes])
    assume(not off_the_ground(loads + each.sum(axis=0)))


@law
@given(cars(), LOADS, STATES, STATES)
def test_no_wheel_pulls_at_the_ground(
    car: Car, loads: Floats, was: list[Item], now: list[Item]
) -> None:
    """What stands is the one rest: the sums' own loads, or 0 at one wheel, and the same sums.

    Without a known height nothing leans, so the moments are those of the sums too.
    """
    sums_only = tied(car, loads, was, now)
    try:
        stands = statics_of(car, sums_only).standing
    except TippedOverError:
        assert off_the_ground(sums_only)
        return
    lifted = bool(off_the_ground(sums_only))
    assert stands.loads.min() >= -SURE * loads.sum()
    assert stands.loads.sum() == pytest.approx(sums_only.sum(), rel=SURE)
    assert np.count_nonzero(stands.loads == 0) == int(lifted)
    if not lifted:
        assert_same_loads(stands.loads, sums_only)
    if not car.cg_up:
        assert sums(car, stands.loads) == pytest.approx(sums(car, sums_only), abs=SURE * 1e4)


def assert_same_trim(found: Trim, expected: Trim) -> None:
    assert_same_loads(found.loads, expected.loads)
    assert found.on_board == expected.on_board
    assert list(found.shares) == pytest.approx(list(expected.shares), rel=SURE, abs=SURE)


@law
@given(cars(), LOADS, STATES)
def test_the_same_state_is_nothing(car: Car, loads: Floats, state: list[Item]) -> None:
    stayed = carry(car, loads, state, state)
    assert_same_loads(stayed.loads, loads)
    assert stayed.on_board == tuple(state)
    assert stayed.shares == shares(car, stayed.loads)


@law
@given(cars(), LOADS, STATES, STATES)
def test_there_and_back_is_nothing(
    car: Car, loads: Floats, one: list[Item], other: list[Item]
) -> None:
    there = tied(car, loads, one, other)
    assert_same_loads(tied(car, there, other, one), loads)


@law
@given(cars(), LOADS, STATES, STATES, STATES)
def test_by_way_of_another_state_is_straight_there(
    car: Car, loads: Floats, first: list[Item], second: list[Item], third: list[Item]
) -> None:
    by_way = tied(car, tied(car, loads, first, second), second, third)
    assert_same_loads(by_way, tied(car, loads, first, third))


@law
@given(cars(), LOADS, STATES, STATES, st.randoms(use_true_random=False))
def test_the_order_of_items_does_not_matter(
    car: Car, loads: Floats, was: list[Item], now: list[Item], shuffler: Random
) -> None:
    shuffled = [shuffler.sample(state, len(state)) for state in (was, now)]
    assert_same_loads(tied(car, loads, *shuffled), tied(car, loads, was, now))


@law
@given(cars(), LOADS, STATES, STATES)
def test_total_and_moments_are_those_of_the_items(
    car: Car, loads: Floats, was: list[Item], now: list[Item]
) -> None:
    """Whatever the springs: the sum, and both moments where all centers of gravity lean to."""
    bare = tied(car, loads, was, [])
    assert_same_loads(tied(car, bare, [], was), loads)
    change = tied(car, bare, [], now) - bare
    pitch, rolls = slopes(car, -compliance(car) @ change)
    # How far each mass moves over the ground: it leans with the part of the car that it sits on.
    high = [(bare[:2].sum(), 0.0, car.cg_up), (bare[2:].sum(), 1.0, car.cg_up)]
    high += [
        (item.mass * GRAVITY, min(max(item.aft / car.wheelbase, 0.0), 1.0), item.up)
        for item in now
        if car.cg_up
    ]
    leaned = np.zeros(3)
    for weight, rearward, up in high:
        roll = np.array([1 - rearward, rearward]) @ rolls
        leaned -= weight * up * np.array([0.0, pitch, roll])
    weighed = sum(
        (item.mass * GRAVITY * np.array([1.0, item.aft, item.left]) for item in now), leaned
    )
    assert sums(car, change) == pytest.approx(weighed, abs=SURE * loads.sum())


@law
@given(cars(), LOADS, items())
def test_a_part_off_and_on_again_is_nothing(car: Car, loads: Floats, part: Item) -> None:
    off, on = Change("off", part, None), Change("on", None, part)
    for changes in ([off, on], [on, off], [Change("exchanged for its like", part, part)]):
        assert_same_loads(variant(car, loads, "same", changes).loads, loads)


@law
@given(cars(), LOADS, STATES, st.randoms(use_true_random=False))
def test_the_order_of_changes_does_not_matter(
    car: Car, loads: Floats, parts: list[Item], shuffler: Random
) -> None:
    changes = [
        Change(f"{number}", part if number % 2 else None, None if number % 2 else part)
        for number, part in enumerate(parts)
    ]
    assume_on_four_wheels(car, loads, changes)
    found = variant(car, loads, "in order", changes)
    assert_same_loads(found.loads, loads + found.each.sum(axis=0))
    shuffled = shuffler.sample(changes, len(changes))
    other = variant(car, loads, "in another", shuffled)
    assert_same_loads(other.loads, found.loads)
    for change, each in zip(changes, found.each, strict=True):
        assert_same_loads(other.each[shuffled.index(change)], each)


@law
@given(cars(), LOADS, STATES)
def test_parts_and_states_agree(car: Car, loads: Floats, parts: list[Item]) -> None:
    changes = [Change("on", None, part) for part in parts]
    assume_on_four_wheels(car, loads, changes)
    assert_same_loads(variant(car, loads, "on", changes).loads, carry(car, loads, [], parts).loads)


@law
@given(cars(), LOADS, items(), AFT, LEFT)
def test_a_mass_moved_along_the_wheelbase(
    car: Car, loads: Floats, part: Item, aft: float, left: float
) -> None:
    """By L: the front share falls by m·L / (W·l), wherever to the side it ends up.

    But for what a center of gravity that is known to be high adds.
    """
    car = replace(car, cg_up=0.0)
    moved = part._replace(aft=aft, left=left)
    found = variant(car, loads, "moved", [Change("moved", part, moved)]).shares
    before = shares(car, loads)
    length = aft - part.aft
    expected = -part.mass * GRAVITY * length / (before.total * car.wheelbase)
    assert found.total == pytest.approx(before.total, rel=SURE)
    assert found.front - before.front == pytest.approx(expected, rel=0, abs=SURE)


@law
@given(cars(), LOADS, STATES, items(), st.integers(2, 8), floats(0.0, 1.0), floats(0.45, 0.55))
def test_a_stint_loses_the_fuel_it_uses(
    car: Car,
    loads: Floats,
    was: list[Item],
    tank: Item,
    rows: int,
    left_over: float,
    cross: float,
) -> None:
    fuel = tank._replace(name="gasoline")
    burnt = stint(car, loads, was, [*was, fuel], "gasoline", left_over * fuel.mass, cross, rows)
    assert burnt.masses[0] == fuel.mass
    assert burnt.masses[-1] == pytest.approx(left_over * fuel.mass)
    totals = np.array([trim.shares.total for trim in burnt.trims])
    used = burnt.masses[0] - burnt.masses
    assert totals[0] - totals == pytest.approx(used * GRAVITY, abs=SURE * totals[0])
    last = carry(car, loads, was, [*was, fuel._replace(mass=float(burnt.masses[-1]))])
    assert_same_trim(burnt.trims[-1], last)
    off = [abs(trim.shares.cross - cross) for trim in burnt.trims]
    assert off[burnt.worst] == max(off)


@law
@given(cars(), LOADS, items(), floats(1.0, 3.0))
def test_a_reserve_above_what_is_on_board_uses_nothing(
    car: Car, loads: Floats, tank: Item, more: float
) -> None:
    burnt = stint(car, loads, [], [tank], tank.name, tank.mass * more, 0.5)
    assert burnt.masses == pytest.approx(np.full(6, tank.mass))


def test_a_stint_on_what_is_not_on_board_is_refused() -> None:
    fuel = Item("fuel", 30, 2.4, 0.2, 0.3)
    with pytest.raises(ValueError, match="methanol"):
        stint(plain_car(), np.full(4, 2500.0), [], [fuel], "methanol", 5, 0.5)


def weigh_ins(car: Car, *loads: Floats) -> Sequence[WeighIn]:
    return [weigh(car, Readings.of(each)) for each in loads]


def assert_opposite(one: Difference, other: Difference) -> None:
    assert other.loads == pytest.approx(-one.loads, rel=1e-12)
    assert other.load_uncertainties == pytest.approx(one.load_uncertainties, rel=1e-12)
    assert list(other.shares) == pytest.approx([-each for each in one.shares], rel=1e-12)
    assert list(other.uncertainties) == pytest.approx(list(one.uncertainties), rel=1e-12)
    assert other.added.mass == pytest.approx(-one.added.mass, rel=1e-12)
    assert other.added[2:] == pytest.approx(one.added[2:], rel=1e-9)
    assert other.rest == pytest.approx(-one.rest, rel=1e-12)
    for name in one.shares._fields:
        assert other.real(name) == one.real(name)


@law
@given(cars(), LOADS, LOADS, st.none() | LOADS)
def test_compared_the_other_way_round(
    car: Car, one: Floats, other: Floats, predicted: Floats | None
) -> None:
    first, second = weigh_ins(car, one, other)
    found = compare(car, first, second, predicted)
    assert_opposite(found, compare(car, second, first, None if predicted is None else -predicted))


@law
@given(cars(), LOADS)
def test_a_weigh_in_and_itself_differ_by_nothing_real(car: Car, loads: Floats) -> None:
    (weighed,) = weigh_ins(car, loads)
    found = compare(car, weighed, weighed)
    assert list(found.shares) == [0.0] * 6
    assert not any(found.real(name) for name in found.shares._fields)
    assert found.added.mass == 0
    assert found.added.aft_uncertainty == found.added.left_uncertainty == np.inf


@law
@given(cars(), LOADS, items())
def test_what_was_predicted_leaves_no_rest(car: Car, loads: Floats, part: Item) -> None:
    change = item_loads(car, [part])
    first, second = weigh_ins(car, loads, loads + change)
    rest = compare(car, first, second, predicted=change).rest
    assert rest == pytest.approx(np.zeros(4), abs=SURE * loads.sum())


@law
@given(cars(), floats(0.1, 120.0), AFT, LEFT, st.sampled_from([1, -1]), LOADS)
def test_the_place_of_an_added_mass_is_found(
    car: Car, mass: float, aft: float, left: float, sign: int, loads: Floats
) -> None:
    """Exactly, aft and left, whatever the springs, the bars, the twist and the two tracks.

    Aft because both wheels of an axle have the same arm; left because each moment is taken with
    the half track of its own axle. The free pattern that the springs decide has neither moment.
    """
    upright = added_loads(car, sign * mass, aft, left)
    found = center_of(car.aft, car.left, upright, 1e-6 * np.eye(4))
    assert found.mass == pytest.approx(sign * mass, rel=SURE)
    assert found.aft == pytest.approx(aft, rel=0, abs=1e-8)
    assert found.left == pytest.approx(left, rel=0, abs=1e-8)
    # How a chassis that twists shares out its lean is known to first order.
    leaning = replace(car, cg_up=car.cg_up if np.isinf(car.torsional_stiffness) else 0.0)
    put = [Item("part", mass, aft, left, 0.0)]
    now, was = (put, []) if sign > 0 else ([], put)
    first, second = weigh_ins(car, loads, carry(leaning, loads, was, now).loads)
    added = compare(leaning, first, second).added
    # Two large loads are taken from each other: what is left of the digits.
    assert added.aft == pytest.approx(aft, rel=0, abs=1e-11 * loads.sum() / mass)
    assert added.left == pytest.approx(left, rel=0, abs=1e-11 * loads.sum() / mass)


@law
@given(cars(), floats(5.0, 120.0), AFT, LEFT, floats(1.02, 1.3))
def test_with_unequal_tracks_the_left_share_alone_does_not_tell_the_side(
    car: Car, mass: float, aft: float, left: float, wider: float
) -> None:
    """One track for both axles gives the place aft all the same, and the wrong side of it.

    The miss is what the two wheels of the rear axle carry of the difference between the tracks.
    """
    true = replace(car, tracks=car.tracks[0] * np.array([1.0, wider]))
    change = added_loads(true, mass, aft, left)
    taken = replace(true, tracks=np.full(2, true.tracks[0]))
    found = center_of(taken.aft, taken.left, change, np.eye(4))
    assert found.aft == pytest.approx(aft, rel=0, abs=1e-8)
    miss = (change[2] - change[3]) * true.tracks[0] * (wider - 1) / 2 / change.sum()
    assert left - found.left == pytest.approx(miss, rel=0, abs=1e-8)


@law
@given(cars(), AFT, LEFT, floats(0.0, 5.0))
def test_a_mass_within_its_own_uncertainty_has_no_place(
    car: Car, aft: float, left: float, newtons: float
) -> None:
    change = added_loads(car, newtons / GRAVITY, aft, left)
    lost = center_of(car.aft, car.left, change, (2.6**2 / 4) * np.eye(4))
    assert lost.aft_uncertainty == lost.left_uncertainty == np.inf
    known = center_of(car.aft, car.left, change + 10.0, (2.6**2 / 4) * np.eye(4))
    assert 0 < known.aft_uncertainty < np.inf
    assert 0 < known.left_uncertainty < np.inf


def test_a_gain_common_to_all_pads_leaves_the_place_of_a_like_car_alone() -> None:
    """The second car is the first, a tenth heavier all over: the place of that tenth is sure."""
    pads = Scales(accuracy=0, common_accuracy=3e-3, resolution=0, repeatability=0)
    car = replace(plain_car(), scales=pads)
    for extra in np.arange(0.0, 50.0, 0.5):
        loads = np.array([269.0 + extra, 218.0, 185.5, 182.5]) * GRAVITY
        first, second = weigh_ins(car, loads, 1.1 * loads)
        added = compare(car, first, second).added
        assert added.aft_uncertainty == pytest.approx(0.0, abs=1e-7)
        assert added.left_uncertainty == pytest.approx(0.0, abs=1e-7)


def test_added_mass_of_a_car_with_a_longer_wheelbase() -> None:
    """Both cars carry a mass at one place; the second another 100 kg at 2 m behind the axle."""
    short, long = plain_car(wheelbase=2.4), plain_car(wheelbase=2.6)
    (first,) = weigh_ins(short, added_loads(short, 900, 1.2, 0.0))
    second = weigh(
        long, Readings.of(added_loads(long, 900, 1.2, 0.0) + added_loads(long, 100, 2.0, 0.1))
    )
    found = compare(short, first, second, second_car=long)
    assert found.added.mass == pytest.approx(100)
    assert found.added.aft == pytest.approx(2.0)
    assert found.added.left == pytest.approx(0.1)


@pytest.mark.parametrize("chance", [-0.1, 0.0, 0.5, 1.0, 5.0, float("nan")])
def test_a_chance_that_no_margin_keeps_is_refused(chance: float) -> None:
    with pytest.raises(ValueError, match=r"not between 0 and 0\.5"):
        margin_for(chance, 0.8, 1.0)


@law
@given(floats(0.001, 0.499), floats(0.0, 5.0), floats(0.0, 5.0), floats(1.0, 1e3))
def test_margins_scale_and_do_not_care_which_scale_is_whose(
    chance: float, own: float, other: float, factor: float
) -> None:
    margin = margin_for(chance, own, other).mass
    assert margin >= 0
    assert margin_for(chance, other, own).mass == pytest.approx(margin, rel=1e-12)
    assert margin_for(chance, factor * own, factor * other).mass == pytest.approx(
        factor * margin, rel=1e-9
    )
    assert margin_for(chance / 2, own, other).mass >= margin


@pytest.mark.parametrize("seat", [-0.34, 0.34])
def test_a_car_described_by_its_corners_is_carried_like_the_same_car_by_its_rates(
    seat: float,
) -> None:
    plain, loads = plain_car(), np.array([260.0, 240, 250, 250]) * GRAVITY
    driver = Item("driver", 80.0, 1.3, seat, 0.4)
    fuel = Item("fuel", 30.0, 2.2, 0.0, 0.3)
    expected = loads + added_loads(plain, 80.0, 1.3, seat) - added_loads(plain, 30.0, 2.2, 0.0)
    # Real corners are settled until 1e-9 of the weight is left over.
    found = carry(cornered(plain), loads, [fuel], [driver]).loads
    assert found == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize(("mass", "lifts"), [(20.0, False), (80.0, True)])
def test_what_takes_a_wheel_off_and_comes_off_again_leaves_the_car_as_it_was(
    mass: float, lifts: bool
) -> None:
    """A light left front wheel, and something in the right rear corner."""
    car, loads = plain_car(2.4, (1.5, 1.5)), np.array([10.0, 400, 400, 250]) * GRAVITY
    crate = Item("crate", mass, 2.4, -0.8, 0.4)
    there = carry(car, loads, [], [crate])
    assert bool(there.loads.min() == 0.0) is lifts
    assert bool(there.held.min() < 0.0) is lifts
    assert carry(car, there.held, [crate], []).held == pytest.approx(loads, rel=1e-9)
    assert Trim((), loads, shares(car, loads)).held is loads
