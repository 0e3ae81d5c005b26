"""Speed as ratios in one run: ours against what nobody could start without, taken in turns.

Medians of interleaved runs, so that whatever else the machine does falls on both sides.
"""

from __future__ import annotations

import json
import os
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

from balancer.car.conventions import GRAVITY
from balancer.car.equilibrium import solve_equilibrium
from balancer.car.model import Car, Item, Piece, Place, plain_car
from balancer.car.operating_point import operating_point
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.plan import plan_ballast
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import plan_perches
from balancer.planning.session.belief import Sigmas, prior
from balancer.planning.session.lessons import remembering, surprise
from balancer.planning.session.session import Session, weighed
from balancer.planning.session.step import step
from balancer.weighing.comparison import compare
from balancer.weighing.fleet import FleetItem, carry_fleet, compare_fleet, fleet_of, weigh_fleet
from balancer.weighing.load_states import carry
from balancer.weighing.weigh import Readings, weigh
from tests.cars import cornered, of_perches
from tests.conftest import COUPE, random_car, random_loads

READINGS = ["302", "288.5", "231", "244"]
ROUNDS = 15
START_ROUNDS = 9
STARTS = {
    "weigh": 1.45,
    "perches": 1.65,
    "perches --cross 60": 1.75,
    "ballast": 1.7,
    "prep": 1.95,
    "sheet --output sheet.html": 2.1,
}
"""Most that the processor may take for a command, in multiples of the import of click and numpy: a
sixth more than it does, for what else runs falls on one more than on another."""
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")
PLAN, SETTLE = 18.0, 12.0
"""Most that real corners may take, as multiples."""
FLEET = 20.0
"""Times as fast as a loop that a call for many cars is at least."""
LATE = 1.5
"""Most that the last of many weigh-ins may take, as a multiple of the second."""


def processor_seconds(command: list[str], folder: Path) -> float:
    """Run something, and say for how long it kept a processor."""
    # As from a shell: other tests leave numpy one thread, which halves what its import takes.
    shell = {name: value for name, value in os.environ.items() if name not in THREADS}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, stdout=subprocess.DEVNULL, check=False, cwd=folder, env=shell)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def median(benchmark: BenchmarkFixture) -> float:
    assert benchmark.stats
    return float(benchmark.stats.stats.median)


def test_every_command_starts_at_once(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    """The installed command, away from the source tree, beside what none can start without."""
    script = str(Path(sys.executable).with_name("balancer"))
    bare = [sys.executable, "-c", "import click, numpy"]
    commands = {
        one: [script, name, str(COUPE), *READINGS, *options]
        for one in STARTS
        for name, *options in [one.split()]
    }
    benchmark.pedantic(processor_seconds, args=(bare, tmp_path), rounds=1, warmup_rounds=1)
    took: dict[str, list[float]] = {one: [] for one in ["", *commands]}
    for _ in range(START_ROUNDS):
        for one, command in {"": bare, **commands}.items():
            took[one].append(processor_seconds(command, tmp_path))
    alone = statistics.median(took.pop(""))
    ratios = {one: round(statistics.median(times) / alone, 2) for one, times in took.items()}
    benchmark.extra_info["ratios to the bare imports"] = ratios
    print(ratios)
    assert {one: ratio for one, ratio in ratios.items() if ratio > STARTS[one]} == {}


def test_one_perch_plan(benchmark: BenchmarkFixture) -> None:
    car = replace(plain_car(), perch_travel=np.tile([-10.0, 10.0], (4, 1)))
    loads = np.array([302.0, 288.5, 231.0, 244.0]) * GRAVITY
    goal = PerchGoal(0.5, 0.002, np.zeros(4), 1.5e-3)
    plan = benchmark(plan_perches, car, loads, goal)
    assert plan.status == "reached"
    assert median(benchmark) <= 0.030


def many_places(places: int, kinds: int) -> Car:
    rng = np.random.default_rng(1)
    where = rng.uniform([-0.3, -0.6, 0.1, 10], [2.6, 0.6, 0.4, 50], (places, 4)).round(3)
    some = tuple(
        Place(f"place {n}", (x, x + 0.2 * (n % 3 == 0)), (y, y), up, most)
        for n, (x, y, up, most) in enumerate(where.tolist())
    )
    masses = np.unique(rng.uniform(0.5, 20, 3 * kinds).round(1))[:kinds]
    stock = rng.integers(3, 12, kinds)
    pieces = tuple(map(Piece, masses.tolist(), stock.tolist()))
    return replace(plain_car(), places=some, pieces=pieces)


def test_ballast_among_two_thousand_choices(benchmark: BenchmarkFixture) -> None:
    """Proved in a second or three, where the solver left alone with all of them gives up."""
    car, loads = many_places(50, 40), np.array([262.0, 248.5, 231.0, 244.0]) * GRAVITY
    goal = BallastGoal(minimum=1050.0, front=(0.498, 0.502), wheel_minimum=200.0)
    plan = benchmark.pedantic(plan_ballast, args=(car, loads, goal), rounds=3, warmup_rounds=1)
    assert plan.status == "met"
    assert median(benchmark) <= 6.0


def real_car() -> tuple[Car, np.ndarray]:
    """Make a car with its right front topped out by 5 mm of perch."""
    car = replace(
        plain_car(tire_rate=(220e3, 220e3)),
        perch_travel=np.tile([-10.0, 10.0], (4, 1)),
        torsional_stiffness=400e3,
    )
    loads = np.array([302.0, 288.5, 231.0, 244.0]) * GRAVITY
    corners = [one._replace(shock_travel=0.03) for one in cornered(car).corners]
    pressed = corners[1].spring.compression(loads[1] / car.motion_ratio[1])
    corners[1] = corners[1]._replace(shock_travel=0.0, preload=pressed + 5e-3)
    return replace(car, corners=tuple(corners)), loads


def medians(*ways: Callable[[], object]) -> list[float]:
    """Time some ways in turns."""
    times: list[list[float]] = [[] for _ in ways]
    for _ in range(ROUNDS):
        for way, taken in zip(ways, times, strict=True):
            start = time.perf_counter()
            way()
            taken.append(time.perf_counter() - start)
    return [statistics.median(taken) for taken in times]


def test_a_plan_on_real_corners(benchmark: BenchmarkFixture) -> None:
    """Beside the plan that takes the same car for linear."""
    car, loads = real_car()
    goal = PerchGoal.level(0.5)
    plan = benchmark.pedantic(plan_perches, args=(car, loads, goal), rounds=3, warmup_rounds=1)
    assert plan.status == "reached"
    simple = replace(car, corners=())
    ours, linear = medians(
        lambda: plan_perches(car, loads, goal), lambda: plan_perches(simple, loads, goal)
    )
    benchmark.extra_info["ratio to the linear plan"] = round(ours / linear, 2)
    assert ours / linear <= PLAN


def test_settling_many_cases(benchmark: BenchmarkFixture) -> None:
    """Beside one solution of as many linear systems of eight unknowns, as many as it has."""
    car, loads = real_car()
    point = operating_point(car, loads)
    ends = np.linspace(-3e-3, 3e-3, 9)
    moves = of_perches(np.stack(np.meshgrid(*[ends] * 4), axis=-1).reshape(-1, 4))
    size = point.basis.shape[1] + 4
    rng = np.random.default_rng(1)
    matrices = rng.normal(size=(len(moves.perch), size, size)) + 9 * np.eye(size)
    right = rng.normal(size=(len(moves.perch), size, 1))
    benchmark.pedantic(solve_equilibrium, args=(point, moves), rounds=3, warmup_rounds=1)
    ours, bare = medians(
        lambda: solve_equilibrium(point, moves), lambda: np.linalg.solve(matrices, right)
    )
    benchmark.extra_info["ratio to linear solutions"] = round(ours / bare, 2)
    assert ours / bare <= SETTLE


def test_one_ballast_plan(benchmark: BenchmarkFixture) -> None:
    rng = np.random.default_rng(3)
    places = tuple(
        Place(f"place {n}", (x, x + 0.2 * (n % 3 == 0)), (y, y), up, most)
        for n, (x, y, up, most) in enumerate(
            rng.uniform([-0.3, -0.6, 0.1, 10], [2.6, 0.6, 0.4, 50], (12, 4))
        )
    )
    pieces = (Piece(1, 10), Piece(2.5, 10), Piece(5, 8), Piece(10, 6), Piece(20, 3))
    car = replace(plain_car(), places=places, pieces=pieces)
    loads = np.array([262.0, 248.5, 231.0, 244.0]) * GRAVITY
    goal = BallastGoal(minimum=1050.0, front=(0.498, 0.502), wheel_minimum=200.0)
    plan = benchmark.pedantic(plan_ballast, args=(car, loads, goal), rounds=5, warmup_rounds=1)
    assert plan.status == "met"
    assert median(benchmark) <= 1.0


def test_a_weigh_in_late_in_a_session_costs_what_an_early_one_does(
    benchmark: BenchmarkFixture,
) -> None:
    """What is known is carried along: only the last turns are settled and learned from."""
    car, loads = real_car()
    goal, turns = PerchGoal.level(0.5), np.array([0.25, -0.25, 0.0, 0.0])
    read = weigh(car, Readings.of(loads))
    session = weighed(Session(car, prior(car, Sigmas()), goal), read)
    early = remembering(session)
    late = early
    for number in range(12):
        late = weighed(late, read, turns * (-1) ** number)
        late = remembering(late)
    goes_on = weighed(late, read, turns)
    benchmark.pedantic(step, args=(goes_on,), rounds=1, warmup_rounds=1)
    after_few, after_many = medians(
        lambda: surprise(early, read, turns), lambda: surprise(late, read, turns)
    )
    benchmark.extra_info["ratio to an early weigh-in"] = round(after_many / after_few, 2)
    assert after_many / after_few <= LATE
    anew = replace(goes_on, taught=())
    assert step(anew).cross == step(goes_on).cross


def test_a_fleet_beside_a_loop(benchmark: BenchmarkFixture) -> None:
    """5,000 cars weighed, carried to another state and compared, in three calls."""
    rng = np.random.default_rng(2)
    few = [random_car(rng, rigid=number % 2 == 0) for number in range(50)]
    cars = few * 100
    read = np.array([random_loads(rng) for _ in cars])
    drivers = rng.uniform([60, 1.0, 0.2], [95, 1.6, 0.4], (len(cars), 3))

    def together() -> object:
        fleet = fleet_of(cars)
        item = FleetItem(*drivers.T)
        first, second = (weigh_fleet(fleet, one[:, None]) for one in (read, read + 30))
        return compare_fleet(fleet, first, second), carry_fleet(fleet, first.loads, [], [item])

    def one_by_one() -> None:
        for car, loads, (mass, aft, left) in zip(few, read, drivers.tolist(), strict=False):
            first, second = (weigh(car, Readings.of(one)) for one in (loads, loads + 30))
            compare(car, first, second)
            carry(car, first.loads, [], [Item("driver", mass, aft, left, 0.5)])

    benchmark.pedantic(together, rounds=2, warmup_rounds=1)
    all_of_them, fifty = medians(together, one_by_one)
    ratio = fifty * len(cars) / len(few) / all_of_them
    benchmark.extra_info["times as fast as a loop"] = round(ratio, 1)
    assert ratio >= FLEET


def test_five_hundred_cars_are_listed_in_two_seconds(tmp_path: Path) -> None:
    """20 weigh-ins each: what the processor takes, whatever else runs beside it."""
    text = COUPE.read_text(encoding="utf-8")
    data = {"units": "metric", "on_board": ["driver"]}
    for number in range(500):
        named = text.replace('name = "Heron Lane coupe"', f'name = "car {number}"')
        (tmp_path / f"car{number}.toml").write_text(named, encoding="utf-8")
        lines = [
            {
                "v": 1, "n": n + 1, "at": f"2026-01-{n + 1:02}T10:00:00+01:00", "kind": "weigh_in",
                "data": {**data, "readings": [[302 + n / 8, 288.5, 231, 244 + number / 99]]},
            }
            for n in range(20)
        ]  # fmt: skip
        log = "".join(f"{json.dumps(line)}\n" for line in lines)
        (tmp_path / f"car{number}.log.jsonl").write_text(log, encoding="utf-8")
    script = str(Path(sys.executable).with_name("balancer"))
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    ran = subprocess.run(
        [script, "cars", ".", "--json"], cwd=tmp_path, check=True, capture_output=True
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    took = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"500 cars in {took:.2f} s")
    assert len(json.loads(ran.stdout)["cars"]) == 500
    assert took <= 2.0
