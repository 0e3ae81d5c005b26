"""The door of the package: which names there are, what they refuse, and what they show."""

from __future__ import annotations

import ast
from collections.abc import Callable

import numpy as np
import pytest

import balancer
from balancer.car.conventions import CORNERS, GRAVITY, Floats
from balancer.report.weigh import weigh_text
from tests.conftest import ROOT


def test_the_door() -> None:
    assert balancer.__all__ == [
        "BalancerError",
        "BallastGoal",
        "Car",
        "InputError",
        "PerchGoal",
        "Readings",
        "Session",
        "carry",
        "compare",
        "meaning",
        "plain_car",
        "plan_ballast",
        "plan_perches",
        "prepare",
        "read_car",
        "read_parts",
        "read_readings",
        "readings_of",
        "step",
        "variant",
        "weigh",
        "write_starter",
    ]
    assert dir(balancer) == balancer.__all__
    for name in balancer.__all__:
        assert getattr(balancer, name).__doc__
    with pytest.raises(AttributeError, match="module 'balancer' has no attribute 'weight'"):
        getattr(balancer, "weight")  # noqa: B009


def test_names_that_load_late_are_known_to_a_type_checker() -> None:
    tree = ast.parse((ROOT / "balancer" / "__init__.py").read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    stated = {
        name.asname: str(node.module)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for name in node.names
    }
    assert stated == {name: f"balancer.{home}" for name, home in balancer._HOMES.items()}


LOADS = np.array([302.0, 288.5, 231.0, 244.0]) * GRAVITY


@pytest.mark.parametrize("name", ["coupe", "roadster_us"])
def test_results_print_themselves_in_the_units_of_the_file(name: str) -> None:
    file = balancer.read_car(f"examples/{name}.toml")
    weighed = balancer.weigh(file, balancer.Readings.of(LOADS))
    plan = balancer.plan_perches(file, weighed.loads, balancer.PerchGoal.level(0.5))
    ballast = balancer.plan_ballast(file, weighed.loads, balancer.BallastGoal())
    unit = file.units.labels["mass"]
    for shown in (str(weighed), str(plan), str(ballast)):
        assert unit in shown
        assert max(map(len, shown.splitlines())) <= 80
    assert plan.status in str(plan) or "turn" in str(plan)
    assert all(corner in str(plan) for corner in CORNERS)


def test_what_is_printed_is_what_the_command_prints() -> None:
    file = balancer.read_car("examples/coupe.toml")
    weighed = balancer.weigh(file, balancer.readings_of(file, [302, 288.5, 231, 244]))
    assert str(weighed) == weigh_text(file, weighed)


@pytest.mark.parametrize(
    ("loads", "said"),
    [
        (LOADS[:3], "has 3 values: give four in newtons: LF RF LR RR"),
        (LOADS * [1, -1, 1, 1], "RF: is -2829.22: give newtons, 0 or more"),
        (LOADS * [1, 1, np.nan, 1], "LR: is nan: give newtons, 0 or more"),
        (LOADS * [1, 1, 1, np.inf], "RR: is inf: give newtons, 0 or more"),
    ],
)
def test_loads_that_no_pad_shows_are_one_clear_fault(loads: Floats, said: str) -> None:
    car = balancer.plain_car()
    calls: list[Callable[[], object]] = [
        lambda: balancer.weigh(car, balancer.Readings.of(loads)),
        lambda: balancer.plan_perches(car, loads, balancer.PerchGoal.level(0.5)),
        lambda: balancer.plan_ballast(car, loads, balancer.BallastGoal()),
    ]
    for call in calls:
        with pytest.raises(balancer.InputError) as refused:
            call()
        assert [str(fault).endswith(said) for fault in refused.value.faults] == [True]


def test_a_percentage_for_a_fraction_is_told_with_the_fraction() -> None:
    with pytest.raises(balancer.InputError, match=r"cross: is 50: give a fraction, 0\.5 for"):
        balancer.PerchGoal.level(50)
