"""Laws that hold for every car on real corners: springs, ratios, and where it comes to rest."""

from __future__ import annotations

from dataclasses import replace
from itertools import count, pairwise
from math import inf, isinf
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from balancer.car import equilibrium
from balancer.car.adjusters import Moves, moved
from balancer.car.answers import Contacts
from balancer.car.conventions import GRAVITY, Floats
from balancer.car.corner import Corner, Link
from balancer.car.curves import ForceCurve, RatioCurve, ramps, with_tender
from balancer.car.equilibrium import (
    Equilibrium,
    solve_equilibrium,
    solve_or_tip,
)
from balancer.car.errors import UnstableCarError
from balancer.car.linear import free_pattern, lift, load_change
from balancer.car.linearization import linear
from balancer.car.model import Car, Item, plain_car
from balancer.car.operating_point import OperatingPoint, operating_point
from balancer.car.resting import height_change
from balancer.car.statics import statics_of
from tests.cars import cornered, energy, of_perches
from tests.oracles.real_cars import random_real_car

law = settings(max_examples=60)

MIRROR = [1, 0, 3, 2]


def floats(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_subnormal=False)


def fours(low: float, high: float) -> st.SearchStrategy[Floats]:
    return st.tuples(*[floats(low, high)] * 4).map(np.array)


SEEDS = st.integers(0, 5000)
LENGTHS = fours(-6e-3, 6e-3)
LINK_LENGTHS = st.tuples(*[floats(-3e-3, 3e-3)] * 2).map(np.array)
PADS = st.one_of(st.just(np.zeros(4)), fours(0.0, 4e-3))


class Moved(NamedTuple):
    """What is moved at once: perches, mounts, links and pads [m]."""

    perch: Floats
    mount: Floats
    link: Floats
    pads: Floats

    def of(self, point: OperatingPoint) -> Equilibrium:
        return solve_equilibrium(
            point, Moves(self.perch[None], self.mount[None], self.link[None]), self.pads
        )


EVERYTHING = st.builds(Moved, LENGTHS, LENGTHS, LINK_LENGTHS, PADS)


def drawn(seed: int, **changes: object) -> OperatingPoint:
    car, loads, _, _ = random_real_car(seed)
    return operating_point(replace(car, **changes), loads)  # type: ignore[arg-type]


def cross_of(loads: Floats) -> Floats:
    return np.asarray((loads[:, 1] + loads[:, 2]) / loads.sum(axis=1))


# Springs and ratios.


@st.composite
def curves(draw: st.DrawFn) -> ForceCurve:
    gaps = draw(st.lists(floats(1e-3, 0.04), max_size=3))
    rates = draw(st.lists(floats(1e4, 3e5), min_size=len(gaps) + 1, max_size=len(gaps) + 1))
    at, rate = np.concatenate([[0.0], np.cumsum(gaps)]), np.array(rates)
    return ramps(at, rate) if draw(st.booleans()) and gaps else ForceCurve(at, rate)


@st.composite
def ratios(draw: st.DrawFn) -> RatioCurve:
    steps = draw(st.lists(floats(2e-3, 0.03), min_size=1, max_size=5))
    at = np.cumsum(steps) - draw(floats(0.0, 0.08))
    ratio = draw(st.lists(floats(0.5, 1.2), min_size=len(steps), max_size=len(steps)))
    return RatioCurve(at, np.array(ratio))


def between(low: float, high: float, cuts: Floats) -> list[tuple[float, float]]:
    """Cut an interval at these places."""
    inside = np.sort(cuts[(cuts > low) & (cuts < high)])
    ends = [low, *inside.tolist(), high]
    return list(pairwise(ends))


@law
@given(curves(), floats(-0.02, 0.15), floats(-0.02, 0.15))
def test_force_is_the_integral_of_rate_and_energy_that_of_force(
    one: ForceCurve, here: float, there: float
) -> None:
    """Both are polynomials between kinks, so Simpson's rule is exact there."""
    low, high = sorted((here, there))
    rise = work = 0.0
    for start, end in between(low, high, one.at):
        points = np.array([start, (start + end) / 2, end])
        rise += float(one.slope(points[1:2])[0]) * (end - start)
        work += float(one.force(points) @ [1, 4, 1]) / 6 * (end - start)
    ends = np.array([low, high])
    force, worked = one.force(ends), energy(one, ends)
    assert force[1] - force[0] == pytest.approx(rise, rel=1e-9, abs=1e-7)
    assert worked[1] - worked[0] == pytest.approx(work, rel=1e-9, abs=1e-9)


@law
@given(curves(), floats(0.0, 2e4))
def test_compression_inverts_force(one: ForceCurve, force: float) -> None:
    pressed = one.compression(force)
    assert pressed >= 0
    assert float(one.force(np.array(pressed))) == pytest.approx(force, rel=1e-12, abs=1e-9)
    assert one.compression(-force) == 0


@law
@example(ramps(np.array([0.0, 0.0156]), np.array([1e4, 155e3])), 11320.0, 0.03125, 80.0)
@example(ramps(np.array([0.0, 0.04]), np.array([3e5, 1e4])), 1e4, 0.05, 490.0)
@example(ramps(np.array([0.0, 0.04]), np.array([3e5, 1e4])), 2e5, 0.05, 5990.0)
@given(curves(), floats(1e4, 2e5), floats(1e-3, 0.05), floats(0.0, 2e4))
def test_a_tender_adds_its_own_compression_until_it_is_solid(
    main: ForceCurve, rate: float, travel: float, force: float
) -> None:
    both = with_tender(main, rate, travel)
    by_hand = main.compression(force) + min(force / rate, travel)
    # Under a ramp it is exact at some places; between them a hundredth of a millimeter is left, and
    # where that ramp is steep a newton.
    close, near = (2e-5, 2.0) if main.ramp.any() and force < rate * travel else (1e-11, 1e-6)
    assert both.compression(force) == pytest.approx(by_hand, rel=1e-9, abs=close)
    assert float(both.force(np.array(by_hand))) == pytest.approx(force, rel=1e-7, abs=near)
    solid = rate * travel
    solid_at = main.compression(solid) + travel
    assert float(both.force(np.array(solid_at))) == pytest.approx(solid, rel=1e-9)


@law
@given(ratios(), floats(-0.1, 0.1))
def test_closing_is_the_integral_of_the_ratio_and_travel_inverts_it(
    ratio: RatioCurve, travel: float
) -> None:
    low, high = sorted((0.0, travel))
    area = sum(
        float(ratio.value(np.array([start, end])).mean()) * (end - start)
        for start, end in between(low, high, ratio.at)
    )
    closed = float(ratio.closing(np.array(travel)))
    assert closed == pytest.approx(np.sign(travel) * area, rel=1e-9, abs=1e-14)
    assert ratio.travel(closed) == pytest.approx(travel, rel=1e-9, abs=1e-13)


@law
@given(ratios(), floats(-0.05, 0.05), floats(-0.05, 0.05))
def test_a_ratio_counted_from_elsewhere_is_the_same_ratio(
    ratio: RatioCurve, by: float, travel: float
) -> None:
    there, more = ratio.shifted(by), np.array(travel)
    assert float(there.value(more)) == pytest.approx(float(ratio.value(more + by)), abs=1e-9)
    closed = float(ratio.closing(more + by)) - float(ratio.closing(np.array(by)))
    assert float(there.closing(more)) == pytest.approx(closed, abs=1e-12)


# The car at rest.


def left_over(point: OperatingPoint, made: Moved, after: Equilibrium) -> Floats:
    """Give the forces and moments left over, worked out from the rates and nothing else."""
    car, number = point.car, range(4)
    axial = np.array([_axial(point, made, after, one) for one in number])
    travel = after.travel[0]
    leverage = np.array(
        [np.interp(travel[one], point.ratios[one].at, point.ratios[one].ratio) for one in number]
    )
    pushed = axial * leverage
    for axle, link in enumerate(car.links):
        if link.connected:
            left, right = 2 * axle, 2 * axle + 1
            twist = travel[left] - travel[right] + point.misfit[axle]
            twist += made.link[axle] / link.ratio
            pushed[[left, right]] += link.rate * twist * np.array([1.0, -1.0])
    hubs = pushed + car.unsprung_mass * GRAVITY - after.loads[0]
    # A solid stop holds back whatever its spring pushes too hard, and gives nothing for it.
    solid = np.isinf([corner.droop_rate for corner in car.corners])
    assert (after.shock[0][solid] >= -1e-12).all()
    assert (after.shock[0][solid & after.topped_out[0]] == 0).all()
    hubs = np.where(solid & after.topped_out[0], np.minimum(hubs, 0.0), hubs)
    return np.array([*hubs, *body_left_over(point, after.loads[0], after.heights[0])])


def body_left_over(point: OperatingPoint, loads: Floats, heights: Floats) -> Floats:
    """Give what total load and both moments have changed by, less weight times height times lean.

    Σ N = W; Σ N·x = Σ N₀·x - W·h·θ; Σ N·y = Σ N₀·y - h·(W_f·φ_f + W_r·φ_r), where θ and φ are how
    far the body leans: what its center of gravity moves sideways pulls it on.
    """
    car, before = point.car, point.loads
    pitch = (heights[2:].sum() - heights[:2].sum()) / (2 * car.wheelbase)
    rolls = (heights[[0, 2]] - heights[[1, 3]]) / car.tracks
    axles = np.array([before[:2].sum(), before[2:].sum()])
    change = loads - before
    return np.array(
        [
            change.sum(),
            change @ car.aft + axles.sum() * car.cg_up * pitch,
            change @ car.left + car.cg_up * axles @ rolls,
        ]
    )


def _axial(point: OperatingPoint, made: Moved, after: Equilibrium, one: int) -> float:
    corner, ratio = point.car.corners[one], point.ratios[one]
    travel = float(after.travel[0, one])
    low, high = sorted((0.0, travel))
    area = sum(
        float(np.interp([start, end], ratio.at, ratio.ratio).mean()) * (end - start)
        for start, end in between(low, high, ratio.at)
    )
    closed = np.sign(travel) * area + made.mount[one]
    shock = point.shock[one] + closed
    pressed = point.compression[one] + closed + made.perch[one]
    force = 0.0 if isinf(corner.droop_rate) else corner.droop_rate * min(shock, 0.0)
    for table, pressed_by in ((corner.spring, pressed), (corner.bump, shock - corner.bump_at)):
        if pressed_by > 0:
            rows = zip(
                table.at, [*table.at[1:], inf], table.rate, np.resize(table.ramp, len(table.at)),
                strict=True,
            )  # fmt: skip
            force += sum(
                rate * (min(pressed_by, end) - start)
                + ramp * (min(pressed_by, end) - start) ** 2 / 2
                for start, end, rate, ramp in rows
                if pressed_by > start
            )
    return float(force)


@law
@given(SEEDS, EVERYTHING)
def test_no_force_is_left_over_and_only_leaning_moves_moments(seed: int, made: Moved) -> None:
    point = drawn(seed)
    after = made.of(point)
    weight = point.loads.sum()
    assert after.loads[0].sum() == pytest.approx(weight, rel=2e-9)
    assert np.abs(left_over(point, made, after)).max() <= 4e-9 * weight


@law
@given(SEEDS, EVERYTHING)
def test_without_height_no_perch_moves_a_moment(seed: int, made: Moved) -> None:
    point = drawn(seed, cg_up=0.0)
    change = made.of(point).loads[0] - point.loads
    arms = np.column_stack([np.ones(4), point.car.aft, point.car.left])
    assert np.abs(change @ arms).max() <= 5e-9 * point.loads.sum()


@law
@given(SEEDS)
def test_where_nothing_is_moved_nothing_changes(seed: int) -> None:
    point = drawn(seed)
    after = solve_equilibrium(point, Moves.none())
    assert np.abs(after.loads - point.loads).max() <= 2e-9 * point.loads.sum()
    assert np.abs([after.heights, after.travel]).max() <= 1e-9
    assert np.abs(after.shock - point.shock).max() <= 1e-9
    assert np.abs(after.compression - point.compression).max() <= 1e-9


@settings(max_examples=200)
@given(SEEDS, LENGTHS, LENGTHS, LENGTHS, LENGTHS)
def test_two_steps_end_where_one_does(
    seed: int, perch: Floats, mount: Floats, more: Floats, longer: Floats
) -> None:
    """Through a car that is tied to its shocks, moved, and stands anew under what it then carries.

    A twisting chassis has weights on its axles that shift as it leans, and this counts anew from
    where it stands: with its center of gravity on the ground the law is exact.
    """
    car, loads, _, _ = random_real_car(seed)
    car = replace(car, cg_up=car.cg_up if np.isinf(car.torsional_stiffness) else 0.0)
    none = np.zeros(2)
    point = operating_point(car, loads)
    halfway = solve_equilibrium(point, Moves(perch[None], mount[None], none[None]))
    if halfway.loads.min() < 50.0:
        # What is in the air can't be told from loads.
        return
    again = operating_point(
        moved(statics_of(car, loads).anchored(), perch, mount), halfway.loads[0]
    )
    assert np.abs(again.shock - halfway.shock[0]).max() < 1e-8
    assert np.abs(again.compression - halfway.compression[0]).max() < 1e-8
    second = solve_equilibrium(again, Moves(more[None], longer[None], none[None]))
    once = solve_equilibrium(point, Moves((perch + more)[None], (mount + longer)[None], none[None]))
    assert np.abs(second.loads - once.loads).max() <= 1e-6 * loads.sum()
    heights = halfway.heights + second.heights
    assert np.abs(heights - once.heights).max() <= 1e-7


@law
@given(SEEDS, floats(0.9, 1.1))
def test_tied_to_its_shocks_a_car_stands_where_it_stood(seed: int, heavier: float) -> None:
    """And twice tied is tied once."""
    car, loads, _, _ = random_real_car(seed)
    point, tied = operating_point(car, loads), statics_of(car, loads).anchored()
    again = operating_point(tied, loads)
    assert np.abs(again.shock - point.shock).max() < 1e-9
    assert np.abs(again.misfit - point.misfit).max() < 1e-9
    twice = statics_of(tied, heavier * loads).anchored()
    for one, other in zip(tied.corners, twice.corners, strict=True):
        assert one.preload == pytest.approx(other.preload, abs=1e-9)
        assert np.abs(one.ratio.at - other.ratio.at).max() < 1e-9
    for link, other_link in zip(tied.links, twice.links, strict=True):
        assert not link.rate or link.twist == pytest.approx(other_link.twist, abs=1e-9)


def mirrored(car: Car) -> Car:
    """Swap left and right; a left link too long is then a right one, so a left one too short."""
    other = {
        name: getattr(car, name)[MIRROR]
        for name in ("spring_rate", "motion_ratio", "tire_rate", "unsprung_mass", "perch_lead")
    }
    corners: tuple[Corner, ...] = tuple(car.corners[one] for one in MIRROR)
    links: tuple[Link, ...] = tuple(one._replace(twist=-one.twist) for one in car.links)
    return replace(car, corners=corners, links=links, **other)


@law
@given(SEEDS, EVERYTHING)
def test_a_mirrored_car_gives_the_mirrored_result(seed: int, made: Moved) -> None:
    car, loads, _, _ = random_real_car(seed)
    ours = made.of(operating_point(car, loads))
    other = Moved(made.perch[MIRROR], made.mount[MIRROR], -made.link, made.pads[MIRROR])
    theirs = other.of(operating_point(mirrored(car), loads[MIRROR]))
    assert np.abs(ours.loads[:, MIRROR] - theirs.loads).max() <= 1e-7 * loads.sum()
    assert np.abs(ours.heights[:, MIRROR] - theirs.heights).max() <= 1e-8


@law
@given(SEEDS, LENGTHS, LENGTHS, LINK_LENGTHS, st.booleans())
@example(seed=484, perch=np.zeros(4), mount=np.zeros(4), link=np.zeros(2), on_mount=False)
def test_raising_a_corner_takes_the_cross_weight_one_way(
    seed: int, perch: Floats, mount: Floats, link: Floats, on_mount: bool
) -> None:
    """RF and LR up: not less cross weight; LF and RR up: not more. From anywhere, any far.

    Not a law to the last digit: of 1,000 such cars one, whose load walks from corner to corner over
    stops, goes the other way by 0.003 points where it turns round.
    """
    point = drawn(seed)
    up = np.linspace(-8e-3, 8e-3, 17)
    for corner, way in enumerate((-1, 1, 1, -1)):
        perches, mounts = np.tile(perch, (17, 1)), np.tile(mount, (17, 1))
        (mounts if on_mount else perches)[:, corner] += up
        after = solve_equilibrium(point, Moves(perches, mounts, np.tile(link, (17, 1))))
        assert (way * np.diff(cross_of(after.loads)) >= -5e-5).all()


def near_a_kink(point: OperatingPoint, by: float) -> bool:
    """Say whether a corner's law or ratio changes within so little of where it stands."""
    for number, (corner, ratio) in enumerate(zip(point.car.corners, point.ratios, strict=True)):
        gaps = [
            *(corner.spring.at - point.compression[number]),
            *(corner.bump.at + corner.bump_at - point.shock[number]),
            # How far a perch is from letting a spring of 100 N/mm off its stop.
            point.shock[number] or point.stop[number] / 1e5,
            *(ratio.at if len(ratio.at) > 1 else [inf]),
        ]
        if np.abs(gaps).min() < by:
            return True
    return False


@law
@given(SEEDS, LENGTHS)
def test_small_moves_are_those_of_linear_statics(seed: int, way: Floats) -> None:
    """A kink of the motion ratio where the car stands is what random cars have: drawn without."""
    drawn_cars = (random_real_car(one, constant_ratio=True)[:2] for one in count(seed))
    car, loads = next(one for one in drawn_cars if not near_a_kink(operating_point(*one), 2e-4))
    point, perch = operating_point(car, loads), way / 100
    level = replace(point, softening=np.zeros_like(point.softening))
    lifts = lift(linear(point), linear(point).perch_lead / car.perch_lead * perch)
    simple = load_change(replace(linear(point), cg_up=0.0), lifts)
    found = solve_equilibrium(level, of_perches(perch)).loads[0] - loads
    assert np.abs(found - simple).max() <= 1e-4 * np.abs(simple).max() + 1e-4
    heights = height_change(linear(point), lifts, loads)
    # There and back: half the difference leaves out what grows with the square of a move, and a
    # solver leaves a nanometer.
    there, back = solve_equilibrium(point, of_perches(np.stack([perch, -perch]))).heights
    off = np.abs((there - back) / 2 - heights).max()
    assert off <= 1e-4 * np.abs(heights).max() + 1e-9


@law
@given(SEEDS, fours(-1e-3, 1e-3))
def test_where_ratios_change_the_answer_bends_to_second_order(seed: int, way: Floats) -> None:
    """Half the move leaves at most a third of what linear statics misses.

    A perch pushes with its spring's rate against a wheel rate that holds F·dMR/dz too, so its move
    counts by the one over the other.
    """
    rng = np.random.default_rng([seed, 31])
    car = replace(plain_car(), tire_rate=np.full(4, 2e5))
    slope = rng.uniform(-3.0, 3.0, 4)
    corners = tuple(
        one._replace(
            ratio=RatioCurve(np.array([-0.2, 0.2]), 0.7 + np.array([-0.2, 0.2]) * tilt / 3)
        )
        for one, tilt in zip(cornered(car).corners, slope, strict=True)
    )
    point = operating_point(replace(car, corners=corners), np.full(4, 2600.0))
    simple = linear(point)
    counted = simple.perch_lead / car.perch_lead
    missed = []
    for part in (1.0, 0.5):
        told = load_change(simple, lift(simple, counted * part * way))
        found = solve_equilibrium(point, of_perches(part * way)).loads[0] - 2600.0
        missed.append(np.abs(found - told).max())
    assert missed[1] <= missed[0] / 3 + 1e-4


@law
@given(SEEDS, fours(-4e-3, 4e-3))
def test_a_linear_car_is_the_linear_car(seed: int, perch: Floats) -> None:
    """Far from its stops, with its center of gravity on the ground: to the last digits."""
    drawn_car, loads, _, _ = random_real_car(seed)
    plain = replace(
        drawn_car,
        cg_up=0.0,
        tire_rate=np.where(np.isfinite(drawn_car.tire_rate), drawn_car.tire_rate, 1e10),
        bar_rate=np.array([one.rate for one in drawn_car.links]),
        corners=(),
        links=(),
    )
    corners = tuple(one._replace(shock_travel=0.05) for one in cornered(plain).corners)
    links = tuple(Link(float(rate)) for rate in plain.bar_rate)
    point = operating_point(replace(plain, corners=corners, links=links), loads)
    found = solve_equilibrium(point, of_perches(perch))
    if (found.compression <= 0).any() or (found.loads <= 0).any():
        return
    told = load_change(plain, lift(plain, perch))
    assert np.abs(found.loads[0] - loads - told).max() <= 1e-9 * loads.sum() + 1e-9
    heights = height_change(plain, lift(plain, perch), loads)
    assert np.abs(found.heights[0] - heights).max() <= 1e-9


@law
@given(SEEDS, floats(-3e-3, 3e-3))
def test_perches_moved_along_the_free_pattern_alone_warp(seed: int, by: float) -> None:
    """With the center of gravity on the ground, loads change along the free pattern alone."""
    point = drawn(seed, cg_up=0.0)
    pattern = free_pattern(point.car.tracks)
    change = solve_equilibrium(point, of_perches(by * np.sign(pattern))).loads[0] - point.loads
    along = change @ pattern / (pattern @ pattern)
    assert np.abs(change - along * pattern).max() <= 5e-9 * point.loads.sum()


def test_too_high_a_weight_on_too_soft_springs_is_refused() -> None:
    car = replace(plain_car(spring_rate=(20e3, 20e3)), cg_up=3.0)
    point = operating_point(cornered(car), np.full(4, 2450.0))
    moves = of_perches(np.array([1e-3, 0.0, 0.0, 0.0]))
    for settles in (solve_equilibrium, solve_or_tip):
        with pytest.raises(UnstableCarError):
            settles(point, moves)


def test_a_first_case_that_lets_a_spring_loose_is_no_car_that_tips_over() -> None:
    """Nor does it spoil the guess for those after it."""
    point = operating_point(cornered(plain_car()), np.full(4, 2450.0))
    perch = np.array([[-0.2, 0.0, 0.0, -0.2], [1e-3, 0.0, 0.0, 0.0]])
    both = solve_equilibrium(point, of_perches(perch))
    second = solve_equilibrium(point, of_perches(perch[1]))
    assert (both.compression[0] <= 0).any()
    assert np.abs(both.loads[1] - second.loads[0]).max() < 1e-6 * 9800.0


def test_a_body_that_nothing_holds_up_falls_onto_its_springs() -> None:
    """From a guess where all springs are loose: no step is without an end."""
    point = operating_point(cornered(plain_car()), np.full(4, 2450.0))
    perch = np.tile([[-0.2], [0.01]], 4)
    after = solve_equilibrium(
        point, of_perches(perch), put_on=[Item("ballast", 1.0, 1.2, 0.0, 0.0)]
    )
    assert np.abs(after.loads - 2450.0 - GRAVITY / 4).max() < 1e-5
    assert after.heights == pytest.approx(np.repeat([[-0.2 / 0.7], [0.01 / 0.7]], 4, 1), rel=0.02)


def test_rest_is_a_few_steps_away(monkeypatch: pytest.MonkeyPatch) -> None:
    """Newton's steps with exact rates: 6 at most were counted here, wrong rates take 15."""
    monkeypatch.setattr(equilibrium, "_MOST_STEPS", 8)
    rng = np.random.default_rng(0)
    for seed in range(40):
        perch, mount = rng.uniform(-6e-3, 6e-3, (2, 4))
        made = Moved(perch, mount, rng.uniform(-3e-3, 3e-3, 2), rng.uniform(0, 4e-3, 4))
        made.of(drawn(seed))


@pytest.mark.parametrize("what", Contacts._fields)
def test_a_corner_that_is_not_free_is_stopped(what: str) -> None:
    """A tender that is solid makes the spring stiffer, no more."""
    free = {name: np.zeros(4, bool) for name in Contacts._fields}
    at_right_rear = np.array([False, False, False, True])
    stopped = Contacts(**{**free, what: at_right_rear}).stopped()
    assert stopped.tolist() == [False, False, False, what != "solid"]


def test_springs_without_stops_are_one_step_away(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing is touched the first guess is all but the answer."""
    monkeypatch.setattr(equilibrium, "_MOST_STEPS", 1)
    point = operating_point(cornered(plain_car()), np.full(4, 2450.0))
    solve_equilibrium(point, of_perches(np.array([5e-3, 0.0, 0.0, -2e-3])))


@pytest.mark.parametrize("seed", [54, 57, 63, 82, 92, 95, 126, 130])
def test_moves_far_beyond_all_stops_come_to_rest(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whole steps would go to and fro between stops for ever."""
    monkeypatch.setattr(equilibrium, "_MOST_STEPS", 12)
    rng = np.random.default_rng(seed)
    perch, mount = rng.uniform(-60e-3, 60e-3, (2, 4))
    made = Moved(perch, mount, rng.uniform(-30e-3, 30e-3, 2), rng.uniform(0, 4e-3, 4))
    point = drawn(seed)
    assert left_over(point, made, made.of(point)).max() < 1e-8 * point.loads.sum()
