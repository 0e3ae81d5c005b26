"""The wall between statics and files, the door of the package, and what start-up may load."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

import balancer
from tests.conftest import ROOT

PACKAGE = ROOT / "balancer"
MODULES = sorted(PACKAGE.rglob("*.py"))
INSIDE = (
    "aiming",
    "ballast",
    "ballast_bounds",
    "ballast_closest",
    "ballast_demands",
    "ballast_goal",
    "ballast_program",
    "ballast_reach",
    "axle_standing",
    "bars",
    "body",
    "car",
    "cg_height",
    "checking",
    "comparing",
    "corner",
    "doubt",
    "errors",
    "expecting",
    "fleet",
    "grid",
    "grid_milp",
    "laws",
    "learning",
    "linearized",
    "margins",
    "pad_errors",
    "pad_model",
    "parts",
    "perch_limits",
    "perches",
    "prep",
    "question",
    "rules",
    "session",
    "settled_bounds",
    "settled_cases",
    "settled_problem",
    "settled_question",
    "settled_session",
    "settled_steps",
    "settling",
    "solver",
    "standing",
    "statics",
    "targets",
    "torsion",
    "trim",
    "turns",
    "usable",
    "weighing",
    "weighted_fit",
)
OUTSIDE = (
    "click",
    "balancer.files.car_reader",
    "balancer.cli",
    "balancer.report",
    "balancer.files.format.toml_text",
    "balancer.units",
)


def name_of(path: Path) -> str:
    return str(path.relative_to(ROOT).with_suffix("")).replace("/", ".").removesuffix(".__init__")


def imported(path: Path) -> set[str]:
    """Names of all modules that a file imports, also inside functions."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.add(str(node.module))
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


@pytest.mark.parametrize("module", INSIDE)
def test_nothing_inside_the_wall_looks_out(module: str) -> None:
    names = imported(PACKAGE / f"{module}.py")
    assert not [
        name
        for name in names
        if any(name == wall or name.startswith(f"{wall}.") for wall in OUTSIDE)
    ]


def test_only_the_command_line_imports_the_command_line() -> None:
    strangers = [
        name_of(path)
        for path in MODULES
        if path.parent.name != "cli" and path.name != "__main__.py"
        for name in imported(path)
        if name == "click" or name.startswith(("click.", "balancer.cli"))
    ]
    assert strangers == []


def loaded(*args: str) -> set[str]:
    """Names of all modules that a fresh Python loads."""
    ran = subprocess.run(
        [sys.executable, "-X", "importtime", *args],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
        encoding="utf-8",
    )
    return set(re.findall(r"^import time:[\s\d|]+\|\s+([\w.]+)$", ran.stderr, re.MULTILINE))


def test_import_balancer_loads_next_to_nothing() -> None:
    found = loaded("-c", "import balancer")
    assert "balancer" in found
    assert found.isdisjoint({"click", "numpy", "pydantic_core", "scipy"})


def test_weigh_loads_only_what_it_needs() -> None:
    found = loaded("-m", "balancer", "weigh", "examples/coupe.toml", "302", "288.5", "231", "244")
    assert {"balancer.weighing.weigh", "numpy", "pydantic_core"} <= found
    assert found.isdisjoint(
        {
            "balancer.ballast.plan",
            "balancer.perches.grid",
            "balancer.perches.plan",
            "balancer.files.format.typos",
            "difflib",
            "json",
            "numpy.ma",
            "pydantic",
            "scipy",
            "tabulate",
        }
    )


def test_help_loads_no_numbers() -> None:
    assert loaded("-m", "balancer", "--help").isdisjoint({"numpy", "pydantic_core", "scipy"})


def test_the_door() -> None:
    assert balancer.__all__ == [
        "BalancerError",
        "BallastGoal",
        "Car",
        "InputError",
        "PerchGoal",
        "Readings",
        "meaning",
        "plain_car",
        "plan_ballast",
        "plan_perches",
        "read_car",
        "read_readings",
        "readings_of",
        "weigh",
        "write_starter",
    ]
    assert dir(balancer) == balancer.__all__
    for name in balancer.__all__:
        assert getattr(balancer, name).__doc__
    with pytest.raises(AttributeError, match="module 'balancer' has no attribute 'weight'"):
        balancer.weight  # noqa: B018


Definition = ast.FunctionDef | ast.ClassDef


def public(path: Path) -> list[Definition]:
    """Functions and classes of a module that don't begin with an underscore."""
    return [
        node
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
    ]


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_everything_public_says_what_it_is(path: Path) -> None:
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert [node.name for node in public(path) if not ast.get_docstring(node)] == []


def section(docstring: str, title: str) -> str:
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[^\n]*\n---|\Z)", docstring, re.DOTALL | re.M)
    return found[1] if found else ""


@pytest.mark.parametrize(
    "path",
    [path for path in MODULES if path.parent.name not in ("cli", "report")],
    ids=name_of,
)
def test_parameters_and_errors_are_documented(path: Path) -> None:
    for node in public(path):
        if not isinstance(node, ast.FunctionDef):
            continue
        docstring = ast.get_docstring(node) or ""
        given = [
            one.arg for one in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
        ]
        named = re.findall(r"^(\w[\w, ]*) : ", section(docstring, "Parameters"), re.MULTILINE)
        told = [name for line in named for name in line.split(", ")]
        assert told == given, f"{name_of(path)}.{node.name}"
        raises = any(
            isinstance(one, ast.Raise) and one.exc and "InputError" in ast.unparse(one.exc)
            for one in ast.walk(node)
        )
        if raises:
            assert "InputError" in section(docstring, "Raises"), f"{name_of(path)}.{node.name}"


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
