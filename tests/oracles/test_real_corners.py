"""Real corners against two outside models: linkages in mujoco, and least energy by cvxpy."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import count
from math import inf
from typing import NamedTuple

import numpy as np
import pytest

from balancer.car.adjusters import Moves
from balancer.car.answers import Contacts
from balancer.car.conventions import GRAVITY, Floats
from balancer.car.curves import ForceCurve, ramps
from balancer.car.equilibrium import solve_equilibrium
from balancer.car.model import Car, Item, Piece, Place, Rules
from balancer.car.operating_point import operating_point
from balancer.car.statics import statics_of
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.plan import plan_ballast
from balancer.planning.perches.bar_links import bar_fits
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import PerchPlan, plan_perches
from balancer.weighing.load_states import carry
from balancer.weighing.weigh import Readings, WeighIn, weigh
from tests.oracles import stopped_car
from tests.oracles.energy_cvxpy import EnergyCar, least_energy
from tests.oracles.real_cars import SWEEP, random_real_car, written_down
from tests.oracles.stopped_car import BUMP_STOP, DROOP_STOP, IN_AIR, LOOSE, SOLID, Stopped
from tests.oracles.stopped_model import StoppedCar
from tests.oracles.stopped_random import random_stopped_car
from tests.seeds import seeds

CARS = range(20)
WORDS = dict(zip(Contacts._fields, (DROOP_STOP, BUMP_STOP, SOLID, LOOSE, IN_AIR), strict=True))
GOAL = PerchGoal.level(0.5)


class Planned(NamedTuple):
    """A simulated car, weighed on pads that may not be level, with a plan."""

    simulated: StoppedCar
    car: Car
    weighed: WeighIn
    level: Stopped
    plan: PerchPlan


@cache
def planned(seed: int) -> Planned:
    simulated = random_stopped_car(np.random.default_rng(seed))
    pads = np.zeros(4)
    if seed % 3 == 0:
        warped = np.array([3e-3, 0.0, 0.0, 3e-3])
        pads = warped + np.random.default_rng([seed, 7]).uniform(0, 1e-3, 4)
    measured = stopped_car.ratio_tables(simulated, SWEEP.tolist(), pads=pads.tolist())
    car = written_down(simulated, measured)
    shown = measured.rest.loads
    weighed = weigh(car, Readings(np.atleast_2d(shown), np.zeros(4), pads))
    tied = statics_of(car, shown).anchored()
    level = stopped_car.solve_equilibrium(simulated)
    return Planned(simulated, tied, weighed, level, plan_perches(tied, weighed.loads, GOAL))


def active(contacts: Contacts) -> list[frozenset[str]]:
    return [
        frozenset(word for name, word in WORDS.items() if getattr(contacts, name)[corner])
        for corner in range(4)
    ]


def cross_of(loads: Floats) -> float:
    return float((loads[1] + loads[2]) / loads.sum())


@pytest.mark.parametrize("seed", CARS)
def test_a_plan_lands_where_it_says(seed: int) -> None:
    """As README.md says: loads to 0.005 % of the weight, cross weight to 0.005 points."""
    case = planned(seed)
    best = case.plan.best
    assert case.plan.status == "reached"
    after = stopped_car.solve_equilibrium(case.simulated, perch=best.perch.tolist())
    assert np.abs(after.loads - best.loads).max() < 5e-5 * after.loads.sum()
    assert abs(cross_of(after.loads) - best.shares.cross) < 0.005e-2
    assert np.abs(after.heights - case.level.heights - best.height_change).max() < 0.02e-3
    assert best.contacts is not None
    assert case.plan.contacts is not None
    assert active(best.contacts) == list(after.active)
    assert active(case.plan.contacts) == list(case.level.active)


@pytest.mark.parametrize("seed", [seed for seed in CARS if seed % 3 == 0])
def test_uneven_pads_are_taken_off_exactly(seed: int) -> None:
    case = planned(seed)
    assert np.abs(case.weighed.loads - case.level.loads).max() < 2e-5 * case.level.loads.sum()
    assert np.abs(case.weighed.pad_effect).max() > 1e-3 * case.level.loads.sum()


def test_a_linear_plan_misses(capsys: pytest.CaptureFixture[str]) -> None:
    """What a plan that takes these cars for linear really comes to, beside ours."""
    rows, missed = [], 0
    for seed in CARS:
        case = planned(seed)
        best, linear = case.plan.best, case.plan.linear
        ours = stopped_car.solve_equilibrium(case.simulated, perch=best.perch.tolist())
        row = [seed, 100 * case.weighed.shares.cross, 100 * cross_of(ours.loads)]
        assert linear is not None
        theirs = stopped_car.solve_equilibrium(case.simulated, perch=linear.perch.tolist())
        assert abs(cross_of(theirs.loads) - linear.shares.cross) < 0.02e-2
        off = 1e3 * np.abs(theirs.heights - case.level.heights).max()
        missed += abs(cross_of(theirs.loads) - 0.5) > 0.002 or off > 1.5
        rows.append([*row, 100 * cross_of(theirs.loads), off])
    with capsys.disabled():
        print("\ncar    now %  ours %  linear %  off, mm")
        print(*("{:3d}  {:7.2f} {:7.2f}  {:8.2f}  {:7.2f}".format(*row) for row in rows), sep="\n")
    assert all(abs(row[2] - 50) <= 0.205 for row in rows)
    # As README.md says: 13 of 20, by up to 1.6 points.
    assert missed == 13
    assert 1.5 < max(abs(row[3] - 50) for row in rows) <= 1.6


@pytest.mark.parametrize("seed", seeds(12, 6))
def test_other_moves_end_where_the_simulated_car_does(seed: int) -> None:
    """Mounts, links, pads and a driver, all at once, on cars of which some corners are stopped."""
    simulated = random_stopped_car(np.random.default_rng(seed))
    rng = np.random.default_rng([seed, 11])
    measured = stopped_car.ratio_tables(simulated, SWEEP.tolist())
    point = operating_point(written_down(simulated, measured), measured.rest.loads)
    perch, mount = rng.uniform(-3e-3, 3e-3, (2, 4))
    link, pads = rng.uniform(-2e-3, 2e-3, 2), rng.uniform(0, 4e-3, 4)
    there = stopped_car.solve_equilibrium(
        simulated, perch.tolist(), mount.tolist(), link.tolist(), pads.tolist(),
        added=[(70.0, 1.2, 0.3, 0.4)],
    )  # fmt: skip
    moves = Moves(perch[None], mount[None], link[None])
    ours = solve_equilibrium(point, moves, pads, put_on=[Item("driver", 70.0, 1.2, 0.3, 0.4)])
    weight = there.loads.sum()
    assert np.abs(ours.loads[0] - there.loads).max() < 3e-4 * weight
    assert abs(cross_of(ours.loads[0]) - cross_of(there.loads)) < 0.02e-2
    rise = there.heights - measured.rest.heights
    assert np.abs(ours.heights[0] - rise).max() < 0.15e-3


STIFF = 1e9


def stiffly_stopped(seed: int) -> StoppedCar:
    """Draw a simulated car with a shock on a droop stop that is all but solid."""
    drawn = (random_stopped_car(np.random.default_rng([seed, one])) for one in count())
    stiff = (replace(car, droop_rate=STIFF) for car in drawn)
    return next(
        car
        for car in stiff
        if any(DROOP_STOP in one for one in stopped_car.solve_equilibrium(car).active)
    )


@pytest.mark.parametrize("seed", seeds(12, 4))
def test_a_solid_stop_is_an_end_and_not_a_stiff_spring(seed: int) -> None:
    """What 5 kN/mm give under the same moves is many times what is left to a stop that is solid."""
    simulated = stiffly_stopped(seed)
    rng = np.random.default_rng([seed, 17])
    measured = stopped_car.ratio_tables(simulated, SWEEP.tolist())
    car = written_down(simulated, measured)
    topped = np.array([DROOP_STOP in one for one in measured.rest.active])
    perch = np.where(topped, 0.02, rng.uniform(-2e-3, 2e-3, 4))
    there = stopped_car.solve_equilibrium(simulated, perch.tolist())
    rise, missed = there.heights - measured.rest.heights, []
    for rate in (inf, 5e6):
        corners = tuple(one._replace(droop_rate=rate) for one in car.corners)
        point = operating_point(replace(car, corners=corners), measured.rest.loads)
        ours = solve_equilibrium(point, Moves(perch[None], np.zeros((1, 4)), np.zeros((1, 2))))
        missed.append(np.abs(ours.heights[0] - rise).max())
        if rate == inf:
            assert np.abs(ours.loads[0] - there.loads).max() < 1e-4 * there.loads.sum()
            assert [DROOP_STOP in one for one in there.active] == ours.topped_out[0].tolist()
    assert missed[0] < 0.03e-3
    assert missed[1] > 0.15e-3


@pytest.mark.parametrize("seed", [3, 7, 12])
def test_a_plan_that_a_solid_stop_allows_is_not_called_out_of_reach(seed: int) -> None:
    """Heights held to what the plan needs: stops of 5 kN/mm would give too much for any plan."""
    simulated = stiffly_stopped(seed)
    measured = stopped_car.ratio_tables(simulated, SWEEP.tolist())
    car = replace(written_down(simulated, measured), perch_step=np.ones(4))
    plans: dict[float, PerchPlan] = {}
    for rate in (inf, 5e6):
        corners = tuple(one._replace(droop_rate=rate) for one in car.corners)
        stopped, goal = replace(car, corners=corners), GOAL
        if plans:
            needs = float(np.abs(plans[inf].best.height_change).max())
            goal = replace(GOAL, height_tolerance=needs + 3e-6)
        plans[rate] = plan_perches(stopped, measured.rest.loads, goal)
    assert plans[inf].status == "reached"
    assert plans[5e6].status == "closest"
    best = plans[inf].best
    there = stopped_car.solve_equilibrium(simulated, perch=best.perch.tolist())
    rise = there.heights - measured.rest.heights
    assert np.abs(rise - best.height_change).max() < 3e-6
    assert abs(cross_of(there.loads) - 0.5) < GOAL.tolerance


@pytest.mark.parametrize("seed", range(4))
def test_a_spring_whose_rate_is_a_ramp(seed: int) -> None:
    """The simulated one has 120 steps of half a millimeter."""
    rng = np.random.default_rng([seed, 19])
    simulated = random_stopped_car(np.random.default_rng(seed))
    ends = np.array(simulated.spring_rate)[:, None] * [1.0, 1.6]
    at = np.linspace(0.0, 0.06, 121)
    fine = [np.interp((at[1:] + at[:-1]) / 2, [0.0, 0.06], two) for two in ends]
    tables = (tuple(zip(at[:-1].tolist(), one.tolist(), strict=True)) for one in fine)
    simulated = replace(simulated, spring_table=tuple(tables), tender_rate=(0.0,) * 4)
    measured = stopped_car.ratio_tables(simulated, SWEEP.tolist())
    car = written_down(simulated, measured)
    straight = [ramps(np.array([0.0, 0.06]), two) for two in ends]
    corners = (one._replace(spring=two) for one, two in zip(car.corners, straight, strict=True))
    point = operating_point(replace(car, corners=tuple(corners)), measured.rest.loads)
    perch = rng.uniform(-4e-3, 4e-3, 4)
    there = stopped_car.solve_equilibrium(simulated, perch.tolist())
    ours = solve_equilibrium(point, Moves(perch[None], np.zeros((1, 4)), np.zeros((1, 2))))
    assert np.abs(ours.loads[0] - there.loads).max() < 1e-4 * there.loads.sum()
    rise = there.heights - measured.rest.heights
    assert np.abs(ours.heights[0] - rise).max() < 0.05e-3


@pytest.mark.parametrize("seed", range(6))
def test_a_driver_gets_in(seed: int) -> None:
    """Carry a car on real corners to another state."""
    simulated = random_stopped_car(np.random.default_rng(seed))
    measured = stopped_car.ratio_tables(simulated, SWEEP.tolist())
    car = statics_of(written_down(simulated, measured), measured.rest.loads).anchored()
    driver = Item("driver", 78.0, 1.3, 0.34, 0.4)
    there = stopped_car.solve_equilibrium(simulated, added=[(78.0, 1.3, 0.34, 0.4)])
    ours = carry(car, measured.rest.loads, [], [driver]).loads
    assert np.abs(ours - there.loads).max() < 3e-3 * there.loads.sum()
    assert abs(cross_of(ours) - cross_of(there.loads)) < 0.1e-2


@pytest.mark.parametrize("seed", [1, 3, 7, 15])
def test_a_bar_goes_on_without_load(seed: int) -> None:
    """Take the bars off, put them on again with links of the length that is said."""
    case = planned(seed)
    assert any(case.simulated.bar_rate)
    fits = bar_fits(case.car, case.weighed.loads, case.plan.best)
    perch = case.plan.best.perch.tolist()
    longer = [next((fit.longer for fit in fits if fit.axle == axle), 0.0) for axle in (0, 1)]
    off = stopped_car.solve_equilibrium(replace(case.simulated, bar_rate=(0.0, 0.0)), perch=perch)
    on = stopped_car.solve_equilibrium(case.simulated, perch=perch, link=longer)
    assert np.abs(on.loads - off.loads).max() < 3e-5 * off.loads.sum()
    for fit in fits:
        error = list(longer)
        error[fit.axle] += 1e-3
        costs = stopped_car.solve_equilibrium(case.simulated, perch=perch, link=error)
        told = 1e-3 * fit.cross_per_meter
        assert cross_of(costs.loads) - cross_of(on.loads) == pytest.approx(told, rel=0.02, abs=2e-6)


def rows(law: ForceCurve) -> tuple[tuple[float, float], ...]:
    """Give the rows of a law in steps; for a ramp many, with the rates of their middles."""
    if law.ramp.any():
        at = np.linspace(0.0, law.at[-1], 401)
        middles = np.interp((at[1:] + at[:-1]) / 2, law.at, law.rate)
        return tuple(zip(at.tolist(), [*middles.tolist(), float(law.rate[-1])], strict=True))
    return tuple(zip(law.at.tolist(), law.rate.tolist(), strict=True))


@pytest.mark.parametrize("seed", seeds(40, 13))
def test_least_energy_by_another_solver(seed: int) -> None:
    """The same energy, its springs in series with a compression each, solved by cvxpy."""
    car, loads, mains, tenders = random_real_car(seed, constant_ratio=True)
    point = operating_point(car, loads)
    rng = np.random.default_rng([seed, 3])
    perch, mount = rng.uniform(-4e-3, 4e-3, (2, 4))
    link, pads = rng.uniform(-2e-3, 2e-3, 2), rng.uniform(0, 3e-3, 4)
    twist = point.misfit
    # The driver leans too, on a chassis that twists with front and rear by where he sits.
    rearward = 1.1 / car.wheelbase
    rolls = [1.0] if np.isinf(car.torsional_stiffness) else [1 - rearward, rearward]
    leans = 60.0 * GRAVITY * 0.4 * np.array([1.0, *rolls]) * (car.cg_up > 0)
    other = EnergyCar(
        aft=car.aft.tolist(),
        left=car.left.tolist(),
        loads=loads.tolist(),
        motion_ratio=car.motion_ratio.tolist(),
        spring=[rows(one) for one in mains],
        compression=point.compression.tolist(),
        tire_rate=car.tire_rate.tolist(),
        shock_travel=point.shock.tolist(),
        droop_rate=[one.droop_rate for one in car.corners],
        droop_force=[
            stop if one.solid_droop else 0.0
            for one, stop in zip(car.corners, point.stop.tolist(), strict=True)
        ],
        bump_stop=[one.bump_at for one in car.corners],
        bump=[rows(one.bump) for one in car.corners],
        tender_rate=tenders[:, 0].tolist(),
        tender_travel=tenders[:, 1].tolist(),
        bar_rate=point.bar_rate.tolist(),
        link_ratio=[one.ratio for one in car.links],
        bar_twist=twist.tolist(),
        torsion=car.torsional_stiffness,
        softening=(point.softening[1:] + leans).tolist(),
    )
    there = least_energy(
        other, perch.tolist(), mount.tolist(), link.tolist(), pads.tolist(), [(60.0, 1.1, 0.3)]
    )
    moves = Moves(perch[None], mount[None], link[None])
    ours = solve_equilibrium(point, moves, pads, put_on=[Item("driver", 60.0, 1.1, 0.3, 0.4)])
    weight = there.loads.sum()
    assert np.abs(ours.loads[0] - there.loads).max() < 1e-6 * weight
    assert np.abs(ours.heights[0] - there.heights).max() < 1e-7


def _ballasted(case: Planned, seed: int) -> tuple[Car, BallastGoal]:
    """Ask for 40 kg more, and what the lightest wheel has and a little: places all over the car."""
    length, loads = case.car.wheelbase, case.weighed.loads
    front = float(loads[:2].sum() / loads.sum())
    places = (
        Place("nose", (-0.3, -0.3), (0.0, 0.0), 0.3, 40.0),
        Place("floor", (0.45 * length, 0.65 * length), (-0.5, 0.5), 0.15, 60.0),
        Place("boot", (length, length + 0.5), (-0.4, 0.4), 0.35, 50.0),
    )
    rules = Rules(
        minimum=float(loads.sum()) / GRAVITY + 40,
        front=(front - 0.004, front + 0.004),
        wheel_minimum=float(loads.min()) / GRAVITY + 6,
    )
    pieces = (Piece(10.0, 6), Piece(5.0, 4)) if seed % 2 else ()
    car = replace(case.car, places=places, pieces=pieces, rules=rules)
    return car, BallastGoal.of(car)


@pytest.mark.parametrize("seed", seeds(20, 7))
def test_ballast_is_promised_where_the_car_comes_to_rest(seed: int) -> None:
    case = planned(seed)
    car, goal = _ballasted(case, seed)
    plan = plan_ballast(car, case.weighed.loads, goal)
    assert plan.status == "met"
    put = [(item.mass, item.aft, item.left, item.up) for item in plan.items]
    after = stopped_car.solve_equilibrium(case.simulated, added=put)
    assert np.abs(after.loads - plan.loads).max() < 1e-4 * after.loads.sum()
    assert np.abs(plan.loads - case.weighed.loads - plan.change).max() < 1e-6
    assert all(rule.met for rule in plan.rules)


def test_rates_alone_would_promise_something_else() -> None:
    """By a kilogram and more: a stop is touched, or no longer."""
    worst = 0.0
    for seed in (8, 10, 15):
        case = planned(seed)
        car, goal = _ballasted(case, seed)
        rates = statics_of(car, case.weighed.loads).linear
        by_rates = plan_ballast(rates, case.weighed.loads, goal)
        put = [(item.mass, item.aft, item.left, item.up) for item in by_rates.items]
        after = stopped_car.solve_equilibrium(case.simulated, added=put)
        worst = max(worst, float(np.abs(after.loads - by_rates.loads).max()))
    assert worst > 1.0 * GRAVITY


@pytest.mark.parametrize("seed", seeds(20, 7))
def test_a_driver_far_off_the_middle_of_real_corners(seed: int) -> None:
    """85 kg, 370 mm off, high up: on, and off again."""
    case = planned(seed)
    side = 1 if seed % 2 else -1
    driver = Item("driver", 85.0, 0.5 * case.car.wheelbase, side * 0.37, 0.8)
    found = stopped_car.solve_equilibrium(case.simulated, added=[driver[1:5]]).loads
    told = carry(case.car, case.weighed.loads, [], [driver]).loads
    assert abs((found[0] + found[2]) / found.sum() - (told[0] + told[2]) / told.sum()) < 0.0005
    assert np.abs(found - told).max() < 0.3 * GRAVITY
    back = carry(case.car, found, [driver], []).loads
    assert np.abs(back - case.weighed.loads).max() < 0.3 * GRAVITY
