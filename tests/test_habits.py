"""One place for each habit: the version, and what is run before a commit and in CI."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from graphlib import TopologicalSorter
from pathlib import Path

import balancer
from tests.conftest import ROOT
from tests.map import modules, parsed


def test_hooks_run_what_ci_runs() -> None:
    hooks = (ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8")
    lint = re.search(
        r"^lint\(\) \{\n(.*?)^\}", (ROOT / ".ci" / "run").read_text("utf-8"), re.M | re.S
    )
    assert lint
    in_ci = re.findall(r'^  "\$tools/lint/bin/([\w-]+)"(.*)$', lint[1], re.MULTILINE)
    before_a_commit = re.findall(r"entry: \.venv/bin/([\w-]+)(.*),$", hooks, re.MULTILINE)
    assert before_a_commit == in_ci
    assert len(in_ci) == 4


def test_the_version_stands_in_one_place() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["dynamic"] == ["version"]
    assert project["tool"]["hatch"]["version"] == {"path": "balancer/__init__.py"}
    ran = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "balancer", "--version"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert ran.stdout == f"balancer, version {balancer.__version__}\n"
    # It reads the name of every file of the installation.
    assert "importlib.metadata" not in ran.stderr


def test_one_place_asks_which_kind_a_car_is() -> None:
    """Outside the room of the car and the search over real corners nothing reads `car.corners`.

    There a car is asked by `statics_of`. What else is called corners is a count or names.
    """
    counted = {"best", "moves", "limit", "reached", "way", "fewest"}
    asked = []
    for name, path in modules().items():
        if name.startswith(
            (
                "balancer.car.",
                "balancer.planning.perches.bounds",
                "balancer.planning.perches.rectangles",
            )
        ):
            continue
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.Attribute) and node.attr == "corners":
                owner = ast.unparse(node.value)
                asked += [] if owner.split(".")[-1] in counted else [f"{name}: {owner}.corners"]
            elif isinstance(node, ast.Name) and node.id in ("LinearStatics", "NonlinearStatics"):
                asked.append(f"{name}: {node.id}")
    assert asked == []


def test_the_car_room_tells_kinds_apart_in_few_places() -> None:
    """A branch on `car.corners` is in `statics`, or keeps a car without any as it is."""
    branches = [
        name
        for name, path in modules().items()
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.If | ast.IfExp) and "car.corners" in ast.unparse(node.test)
    ]
    assert sorted(branches) == [
        f"balancer.car.{name}" for name in ("adjusters", "statics", "statics")
    ]


def imported(path: Path) -> set[str]:
    """Name the modules that a file imports anywhere in it, for types only too."""
    names: set[str] = set()
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("balancer"):
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            names |= inner & set(modules()) or {node.module}
    return names


def test_no_module_imports_itself_by_way_of_others() -> None:
    graph = {name: imported(path) & set(modules()) - {name} for name, path in modules().items()}
    TopologicalSorter(graph).prepare()
