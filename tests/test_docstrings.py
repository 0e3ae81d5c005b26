"""Docstrings say what a type can't: meaning, shape and unit, and which errors come."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from tests.map import modules, parsed

INSIDE = {name: path for name, path in modules().items() if not {"cli", "report"} & set(path.parts)}
NUMBERS = {"float", "Floats"}
UNIT = re.compile(
    r"\[[^\]]+\]|fraction|count|points?\b|percent|how (many|often)|logarithm|ratio|number|unit of"
)
ENTRY = re.compile(r"^(\w[\w, ]*) : (.*)\n((?:    .*\n|\n)*)", re.MULTILINE)
BARE = {"float", "int", "str", "bool", "Floats", "Integers", "Flags", "tuple", "list", "Sequence"}

Definition = ast.FunctionDef | ast.ClassDef


def public(path: Path) -> list[Definition]:
    return [
        node
        for node in parsed(path).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
    ]


def sections(node: Definition) -> dict[str, str]:
    """Give what stands below each underlined title."""
    parts = re.split(r"^(\w[\w ]*)\n-{3,}$", ast.get_docstring(node) or "", flags=re.MULTILINE)
    return dict(zip(parts[1::2], (part.strip("\n") + "\n" for part in parts[2::2]), strict=True))


def faults(node: Definition) -> list[str]:
    found = [f"{title} is empty" for title, text in sections(node).items() if not text.strip()]
    for title in ("Parameters", "Attributes"):
        for names, kind, said in ENTRY.findall(sections(node).get(title, "")):
            if re.match(r"array", kind) and "(" not in kind:
                found.append(f"{names}: an array of no shape")
            if kind.strip() == "float" and said.strip() and not UNIT.search(said.lower()):
                found.append(f"{names}: a float of no unit")
    raised = {
        str(ast.unparse(one.exc.func if isinstance(one.exc, ast.Call) else one.exc)).split(".")[0]
        for one in ast.walk(node)
        if isinstance(node, ast.FunctionDef) and isinstance(one, ast.Raise) and one.exc
    }
    for error in sorted(name for name in raised if name.endswith("Error")):
        if error not in sections(node).get("Raises", ""):
            found.append(f"{error} is raised and not documented")
    return [f"{node.name}: {fault}" for fault in found]


@pytest.mark.parametrize("name", INSIDE)
def test_entries_say_shape_unit_and_error(name: str) -> None:
    assert [fault for node in public(INSIDE[name]) for fault in faults(node)] == []


@pytest.mark.parametrize("name", modules())
def test_everything_public_says_what_it_is(name: str) -> None:
    path = modules()[name]
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert [node.name for node in public(path) if not ast.get_docstring(node)] == []


def section(docstring: str, title: str) -> str:
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[^\n]*\n---|\Z)", docstring, re.DOTALL | re.M)
    return found[1] if found else ""


def _is_bare(annotation: ast.expr) -> bool:
    """Whether a type says nothing of what is meant: a number, a text, an array."""
    names = {node.id for node in ast.walk(annotation) if isinstance(node, ast.Name)}
    return bool(names) and names <= BARE


@pytest.mark.parametrize("module", INSIDE)
def test_parameters_and_errors_are_documented(module: str) -> None:
    for node in public(INSIDE[module]):
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
        assert [name for name in given if name in told] == told, f"{module}.{node.name}"
        assert set(bare) <= set(told), f"{module}.{node.name}"
