"""The door of the package: which names there are, what they refuse, and what they show."""

from __future__ import annotations

import ast
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import balancer
from balancer.car.conventions import CORNERS, GRAVITY, Floats
from balancer.cli import main
from balancer.files.states import race_state, state_of
from balancer.planning.session.belief import Sigmas, prior
from balancer.planning.session.session import weighed
from balancer.report.session import step_text
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


COUPE = "examples/coupe.toml"
PADS = ("302", "288.5", "231", "244")


def results() -> dict[str, tuple[object, list[str]]]:
    """Results of the door beside what the command line is to be asked for the same."""
    file = balancer.read_car(COUPE)
    weighed = balancer.weigh(file, balancer.readings_of(file, [float(pad) for pad in PADS]))
    race, none = race_state(file).items, state_of(file, [], "").items
    known, goal = weighed.uncertainties, balancer.PerchGoal.level(0.5)
    june = balancer.weigh(file, balancer.read_readings("examples/weigh_in_june.toml", file))
    may = balancer.weigh(file, balancer.read_readings("examples/weigh_in.toml", file))
    aft = balancer.read_parts("examples/parts.toml", file).variants["aft"]
    least = balancer.BallastGoal.of(file.car, known.total, covariance=weighed.covariance)
    ready = balancer.prepare(
        file, weighed.loads, race, race, race, least, goal, weighed.repeatable.cross
    )
    plan = balancer.plan_perches(file, weighed.loads, goal, weighed.repeatable.cross)
    return {
        "meaning": (balancer.meaning(file), ["check", COUPE]),
        "weigh": (weighed, ["weigh", COUPE, *PADS]),
        "carry": (
            balancer.carry(file, weighed.loads, race, none),
            ["trim", COUPE, *PADS, "--to", "none"],
        ),
        "compare": (
            balancer.compare(file, may, june),
            ["compare", COUPE, "examples/weigh_in.toml", "examples/weigh_in_june.toml"],
        ),
        "variant": (
            balancer.variant(file, weighed.loads, "aft", aft),
            ["parts", COUPE, *PADS, "--book", "examples/parts.toml", "--variant", "aft"],
        ),
        "plan_perches": (plan, ["perches", COUPE, *PADS]),
        "plan_ballast": (
            balancer.plan_ballast(file, weighed.loads, least),
            ["ballast", COUPE, *PADS],
        ),
        "prepare": (ready, ["prep", COUPE, *PADS]),
    }


@pytest.mark.parametrize("name", results())
def test_what_is_printed_is_what_the_command_prints(
    name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    result, words = results()[name]
    monkeypatch.setattr(sys, "argv", ["balancer", *words])
    with pytest.raises(SystemExit):
        main()
    printed = capsys.readouterr().out.rstrip("\n")
    # A program's weigh-ins have no files to be named for.
    names = {"first", "second", "weigh_in.toml", "weigh_in_june.toml", "weigh_in_june.to…"}
    if name == "compare":
        assert [word for word in str(result).split() if word not in names] == [
            word for word in printed.split() if word not in names
        ]
    elif name == "meaning":
        assert str(result) == printed
    else:
        # Who said what was on board and what is wanted, only the command line knows.
        opening = printed.removesuffix(f"\n{result}")
        assert opening != printed
        assert opening.startswith("Heron Lane coupe, on the pads with driver, 4 L of fuel (assumed")
        aimed = opening.replace("\n", " ").partition(" Aims for ")[2]
        assert bool(aimed) == (name in ("plan_perches", "prepare"))


def test_a_step_of_a_session_prints_what_the_session_says() -> None:
    file = balancer.read_car("examples/roadster_us.toml")
    start = balancer.Session(file.car, prior(file.car, Sigmas()), balancer.PerchGoal.level(0.5))
    session = weighed(start, balancer.weigh(file, balancer.readings_of(file, [652, 604, 473, 492])))
    assert str(balancer.step(session, file)) == step_text(file, session, balancer.step(session))
    assert (
        str(balancer.step(session)).splitlines()[0]
        == str(balancer.step(session, file)).splitlines()[0]
    )  # a cross weight has no unit


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
        lambda: balancer.carry(car, loads, [], []),
        lambda: balancer.variant(car, loads, "as it is", []),
        lambda: balancer.meaning(car, loads),
    ]
    for call in calls:
        with pytest.raises(balancer.InputError) as refused:
            call()
        assert [str(fault).endswith(said) for fault in refused.value.faults] == [True]


def test_a_percentage_for_a_fraction_is_told_with_the_fraction() -> None:
    with pytest.raises(balancer.InputError, match=r"cross: is 50: give a fraction, 0\.5 for"):
        balancer.PerchGoal.level(50)


def test_what_is_planned_for_is_the_target_of_the_file(tmp_path: Path) -> None:
    """And what a program asks for goes before it."""
    path = tmp_path / "coupe.toml"
    path.write_text(f"{Path(COUPE).read_text()}\n[target]\ncross_pct = 51\ntolerance = 0.1\n")
    file, none = balancer.read_car(str(path)), balancer.BallastGoal()
    fifty = balancer.PerchGoal.level(0.5)
    driver = race_state(file).items
    for plan in (
        balancer.plan_perches(file, LOADS),
        balancer.prepare(file, LOADS, driver, driver, driver, none).perches,
    ):
        assert (plan.goal.cross, plan.goal.tolerance) == (0.51, 0.001)
        assert abs(plan.best.shares.cross - 0.51) <= 0.001
    for plan in (
        balancer.plan_perches(file, LOADS, fifty),
        balancer.prepare(file, LOADS, driver, driver, driver, none, fifty).perches,
    ):
        assert plan.goal.cross == 0.5
