"""Docstrings say what a type can't: meaning, shape and unit, and which errors come."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from tests.map import modules, parsed

OUTSIDE = {"cli", "page", "report"}
INSIDE = {name: path for name, path in modules().items() if not OUTSIDE & set(name.split("."))}
UNIT = re.compile(
    r"\[[^\]]+\]|fraction|count|points?\b|percent|how (many|often)|logarithm|ratio|number|unit of"
)
SHAPE = re.compile(r"\([\w.,: +*]*\)|shape|four loads|as `|like `|each")
TITLES = ("Args", "Attributes", "Returns", "Yields", "Raises", "References", "Examples")
TITLE = re.compile(rf"^({'|'.join(TITLES)}):$\n?", re.MULTILINE)
ENTRY = re.compile(r"^    (\w[\w, ]*): (.*(?:\n {5,}.*)*)", re.MULTILINE)
# Types that say nothing of the number that is meant.
BARE = {"float", "int", "Floats", "Integers", "Flags", "tuple", "list", "Sequence"}
ARRAYS = {"Floats", "Integers", "Flags"}

Definition = ast.FunctionDef | ast.ClassDef


def public(path: Path) -> list[Definition]:
    return [
        node
        for node in parsed(path).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
    ]


def sections(node: Definition) -> dict[str, str]:
    """Give what stands below each title."""
    parts = TITLE.split(ast.get_docstring(node) or "")
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def entries(node: Definition) -> dict[str, str]:
    """Give what is said of each parameter or attribute."""
    listed = sections(node).get("Args" if isinstance(node, ast.FunctionDef) else "Attributes", "")
    return {name: said for names, said in ENTRY.findall(listed) for name in re.split(r", *", names)}


def annotated(node: Definition) -> dict[str, ast.expr]:
    if isinstance(node, ast.FunctionDef):
        arguments = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
        return {argument.arg: argument.annotation for argument in arguments if argument.annotation}
    fields = [field for field in node.body if isinstance(field, ast.AnnAssign)]
    return {field.target.id: field.annotation for field in fields if hasattr(field.target, "id")}


def types(annotation: ast.expr) -> set[str]:
    return {name.id for name in ast.walk(annotation) if isinstance(name, ast.Name)}


def raised(node: Definition) -> set[str]:
    """Name the errors that a function raises by itself."""
    raises = [step.exc for step in ast.walk(node) if isinstance(step, ast.Raise) and step.exc]
    calls = [error.func if isinstance(error, ast.Call) else error for error in raises]
    return {name for call in calls if (name := ast.unparse(call).split(".")[0]).endswith("Error")}


def faults(node: Definition) -> list[str]:
    said, typed = entries(node), annotated(node)
    missing = [
        f"{title} is empty" for title, text in sections(node).items() if not text.strip()
    ] + [f"{name}: says nothing" for name, text in said.items() if not text.strip()]
    for name, text in said.items():
        kinds = types(typed[name]) if name in typed else set()
        if kinds == {"float"} and not UNIT.search(text.lower()):
            missing.append(f"{name}: a float of no unit")
        if kinds and kinds <= ARRAYS and not SHAPE.search(text):
            missing.append(f"{name}: an array of no shape")
    if isinstance(node, ast.FunctionDef):
        documented = sections(node).get("Raises", "")
        missing += [
            f"{error} is raised and not documented"
            for error in sorted(raised(node))
            if error not in documented
        ]
    return [f"{node.name}: {fault}" for fault in missing]


@pytest.mark.parametrize("name", INSIDE)
def test_entries_say_shape_unit_and_error(name: str) -> None:
    assert [fault for node in public(INSIDE[name]) for fault in faults(node)] == []


@pytest.mark.parametrize("name", modules())
def test_everything_public_says_what_it_is(name: str) -> None:
    path = modules()[name]
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert [node.name for node in public(path) if not ast.get_docstring(node)] == []


@pytest.mark.parametrize("name", INSIDE)
def test_parameters_are_documented(name: str) -> None:
    """Each bare number is listed, nothing that is not there, and in the order of the signature."""
    for node in public(INSIDE[name]):
        if not isinstance(node, ast.FunctionDef):
            continue
        typed, said = annotated(node), list(entries(node))
        assert [argument for argument in typed if argument in said] == said, node.name
        bare = {argument for argument, kind in typed.items() if types(kind) and types(kind) <= BARE}
        assert bare <= set(said), node.name
