"""The wall between statics and files, the door of the package, and what start-up may load."""

from __future__ import annotations

import ast
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
    assert {"balancer.weighing.weigh", "numpy", "pydantic_core", "tabulate"} <= found
    assert found.isdisjoint(
        {
            "balancer.ballast.plan",
            "balancer.perches.linear_problem",
            "balancer.perches.plan",
            "balancer.files.format.typos",
            "difflib",
            "json",
            "numpy.ma",
            "pydantic",
            "scipy",
        }
    )


def test_what_prints_no_table_loads_no_library_for_one() -> None:
    found = loaded(
        "-m", "balancer", "weigh", "examples/coupe.toml", "302", "288.5", "231", "244", "--json"
    )
    assert found.isdisjoint({"tabulate", "importlib.metadata"})


def test_help_loads_no_numbers() -> None:
    assert loaded("-m", "balancer", "--help").isdisjoint(
        {"numpy", "pydantic_core", "scipy", "tabulate"}
    )


BARE = {"float", "int", "str", "bool", "Floats", "Integers", "Flags", "tuple", "list", "Sequence"}

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


def _is_bare(annotation: ast.expr) -> bool:
    """Whether a type says nothing of what is meant: a number, a text, an array."""
    names = {node.id for node in ast.walk(annotation) if isinstance(node, ast.Name)}
    return bool(names) and names <= BARE


@pytest.mark.parametrize(
    "path",
    [path for path in MODULES if not {"cli", "report"} & set(path.parts)],
    ids=name_of,
)
def test_parameters_and_errors_are_documented(path: Path) -> None:
    for node in public(path):
        if not isinstance(node, ast.FunctionDef):
            continue
        docstring = ast.get_docstring(node) or ""
        arguments = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
        given = [one.arg for one in arguments]
        listed = section(docstring, "Parameters")
        named = re.findall(r"^(\w[\w, ]*) : ", listed, re.MULTILINE)
        told = [name for line in named for name in line.split(", ")]
        # What has a type of its own says there what it is; bare numbers and texts can't.
        bare = [one.arg for one in arguments if one.annotation and _is_bare(one.annotation)]
        assert [name for name in given if name in told] == told, f"{name_of(path)}.{node.name}"
        assert set(bare) <= set(told), f"{name_of(path)}.{node.name}"
        raises = any(
            isinstance(one, ast.Raise) and one.exc and "InputError" in ast.unparse(one.exc)
            for one in ast.walk(node)
        )
        if raises:
            assert "InputError" in section(docstring, "Raises"), f"{name_of(path)}.{node.name}"
