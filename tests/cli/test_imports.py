"""The wall between statics and files, the door of the package, and what start-up may load."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import ROOT

PACKAGE = ROOT / "balancer"
MODULES = sorted(PACKAGE.rglob("*.py"))


def name_of(path: Path) -> str:
    return str(path.relative_to(ROOT).with_suffix("")).replace("/", ".").removesuffix(".__init__")


def loaded(*args: str) -> set[str]:
    """Names of all modules that a fresh Python loads."""
    ran = subprocess.run(
        [sys.executable, "-X", "importtime", *args],
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        check=False,  # a plan that can't be reached is no fault
        capture_output=True,
        text=True,
        encoding="utf-8",
    )
    return set(re.findall(r"^import time:[\s\d|]+\|\s+([\w.]+)$", ran.stderr, re.MULTILINE))


def test_import_balancer_loads_next_to_nothing() -> None:
    found = loaded("-c", "import balancer")
    assert "balancer" in found
    assert found.isdisjoint({"click", "highspy", "numpy", "pydantic_core"})


def test_weigh_loads_only_what_it_needs() -> None:
    found = loaded("-m", "balancer", "weigh", "examples/coupe.toml", "302", "288.5", "231", "244")
    assert {"balancer.weighing.weigh", "numpy", "pydantic_core", "tabulate"} <= found
    # From 3.13 on importlib.metadata, which tabulate needs, loads it.
    json = {"json"} if sys.version_info < (3, 13) else set()
    assert found.isdisjoint(
        json
        | {
            "balancer.planning.ballast.plan",
            "balancer.planning.perches.linear_problem",
            "balancer.planning.perches.plan",
            "balancer.files.format.typos",
            "difflib",
            "highspy",
            "numpy.ma",
            "pydantic",
        }
    )


def test_what_prints_no_table_loads_no_library_for_one() -> None:
    found = loaded(
        "-m", "balancer", "weigh", "examples/coupe.toml", "302", "288.5", "231", "244", "--json"
    )
    assert found.isdisjoint({"tabulate", "importlib.metadata"})


def test_help_loads_no_numbers() -> None:
    assert loaded("-m", "balancer", "--help").isdisjoint(
        {"highspy", "numpy", "pydantic_core", "tabulate"}
    )


@pytest.mark.parametrize(
    ("command", "elsewhere"),
    [
        ("ballast", {"balancer.planning.perches.plan", "balancer.planning.prep.preparation"}),
        ("prep", {"balancer.planning.session.session"}),
        ("sheet --output -", {"balancer.planning.session.session", "tabulate"}),
        ("perches --cross 80", {"balancer.planning.session.session"}),
    ],
)
def test_what_solves_loads_the_solver_and_no_more(command: str, elsewhere: set[str]) -> None:
    readings = ("302", "288.5", "231", "244")
    found = loaded("-m", "balancer", *command.split(), "examples/coupe.toml", *readings)
    assert "highspy" in found
    assert found.isdisjoint({"numpy.ma", "numpy.typing", "scipy", "statistics", *elsewhere})
    # The corners of this car are linear, and nothing is asked of its log.
    assert found.isdisjoint({"balancer.car.equilibrium", "balancer.log.last_session"})


@pytest.mark.parametrize("command", ["log examples/roadster_us.toml", "session -h", "page -h"])
def test_no_other_command_loads_a_server(command: str) -> None:
    found = loaded("-m", "balancer", *command.split())
    assert "click" in found
    assert found.isdisjoint({"balancer.page", "segno", "starlette", "uvicorn"})
