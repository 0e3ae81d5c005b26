"""Speed as ratios in one run: ours against what nobody could start without, taken in turns.

Medians of interleaved runs, so that whatever else the machine does falls on both sides.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from balancer.ballast import plan_ballast
from balancer.ballast_goal import BallastGoal
from balancer.car import GRAVITY, Piece, Place, plain_car
from balancer.perches import plan_perches
from balancer.targets import PerchGoal
from tests.conftest import COUPE

READINGS = ["302", "288.5", "231", "244"]
ROUNDS = 15


def seconds(command: list[str], folder: Path) -> float:
    start = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True, cwd=folder)
    return time.perf_counter() - start


@pytest.mark.parametrize(
    ("command", "imports", "most"),
    [
        ("weigh", "click, numpy", 1.6),
        ("perches", "click, numpy, scipy.optimize", 1.5),
    ],
)
def test_a_command_starts_at_once(benchmark, tmp_path, command, imports, most):
    """The installed command, away from the source tree: as a person runs it."""
    script = Path(sys.executable).with_name("balancer")
    ours = [str(script), command, str(COUPE), *READINGS]
    bare = [sys.executable, "-c", f"import {imports}"]
    benchmark.pedantic(seconds, args=(ours, tmp_path), rounds=1, warmup_rounds=1)
    pairs = [(seconds(ours, tmp_path), seconds(bare, tmp_path)) for _ in range(ROUNDS)]
    ratio = statistics.median(a for a, _ in pairs) / statistics.median(b for _, b in pairs)
    benchmark.extra_info["ratio to the bare imports"] = round(ratio, 3)
    assert ratio <= most


def test_one_perch_plan(benchmark):
    car = replace(plain_car(), perch_travel=np.tile([-10.0, 10.0], (4, 1)))
    loads = np.array([302.0, 288.5, 231.0, 244.0]) * GRAVITY
    goal = PerchGoal(0.5, 0.002, np.zeros(4), 1.5e-3)
    plan = benchmark(plan_perches, car, loads, goal)
    assert plan.status == "reached"
    assert benchmark.stats.stats.median <= 0.030


def test_one_ballast_plan(benchmark):
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
    assert benchmark.stats.stats.median <= 1.0
