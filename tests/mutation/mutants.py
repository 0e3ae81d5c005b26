"""Mutants of a module, as cosmic-ray makes them, and what is known of those that may live."""

from __future__ import annotations

import ast
import random
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

OPERATORS = [
    *("ReplaceBinaryOperator_" + one for one in ("Add_Sub", "Sub_Add", "Mul_Div", "Div_Mul")),
    *("ReplaceBinaryOperator_" + one for one in ("FloorDiv_Mul", "Mod_Mul", "Pow_Mul")),
    *("ReplaceBinaryOperator_" + one for one in ("BitOr_BitAnd", "BitAnd_BitOr")),
    *("ReplaceComparisonOperator_" + one for one in ("Lt_LtE", "LtE_Lt", "Gt_GtE", "GtE_Gt")),
    *("ReplaceComparisonOperator_" + one for one in ("Lt_Gt", "Gt_Lt", "Eq_NotEq", "NotEq_Eq")),
    *("ReplaceComparisonOperator_" + one for one in ("Is_IsNot", "IsNot_Is")),
    *("ReplaceUnaryOperator_" + one for one in ("Delete_USub", "Delete_Invert", "Delete_Not")),
    *("AddNot", "ReplaceTrueWithFalse", "ReplaceFalseWithTrue", "ReplaceAndWithOr"),
    *("ReplaceOrWithAnd", "ReplaceBreakWithContinue", "ReplaceContinueWithBreak"),
    *("NumberReplacer", "ZeroIterationForLoop"),
]
"""Each slip once: the other operators of cosmic-ray put >> for + and the like, which no one writes
and any test kills."""


class Mutant(NamedTuple):
    """A module with one slip in it.

    Attributes
    ----------
    room : str
        Function in which it is, as `Class.method`; empty at the top.
    line : int
    was, now : str
        The line, before and after.
    source : str
        Of the whole module.
    """

    room: str
    line: int
    was: str
    now: str
    source: str

    def __str__(self) -> str:
        return f"{self.line} {self.room or 'top'}: {self.was}  ->  {self.now}"


def mutants(path: Path) -> list[Mutant]:
    """Make all mutants of a module that change what it does when it runs."""
    # An extra of its own, which those who run the tests do not need.
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    source = path.read_text(encoding="utf-8")
    tree = ast.parse(source)
    idle, rooms = _annotations(tree), dict(_rooms(tree))
    found = []
    for name in OPERATORS:
        for number, line in _places(source, name, idle):
            changed = mutate_code(source, get_operator(f"core/{name}")(), number)
            if changed is None or changed == source:
                continue
            was, now = _difference(source, changed)
            found.append(Mutant(rooms.get(line, ""), line, was, now, changed))
    return sorted(found, key=lambda one: (one.line, one.now))


def sample(every: list[Mutant], size: int, seed: int) -> list[Mutant]:
    """Draw some of the mutants, in the order of their lines."""
    if size >= len(every):
        return every
    drawn = random.Random(seed).sample(range(len(every)), size)
    return [every[index] for index in sorted(drawn)]


def _places(source: str, name: str, idle: set[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """Give number and line of each place where an operator has something to change."""
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.plugins import get_operator

    operator = get_operator(f"core/{name}")()
    number = -1
    for node in ast_nodes(get_ast(source)):
        for start, _ in operator.mutation_positions(node):
            number += 1
            if start not in idle:
                yield number, start[0]


def _annotations(tree: ast.Module) -> set[tuple[int, int]]:
    """Give all places within annotations, which nothing evaluates."""
    notes = []
    for node in ast.walk(tree):
        notes += [getattr(node, "annotation", None), getattr(node, "returns", None)]
    return {
        (note.lineno, column)
        for note in notes
        if note is not None
        for column in range(note.col_offset, (note.end_col_offset or 0) + 1)
    }


def _rooms(tree: ast.AST, inside: str = "", by_class: bool = True) -> Iterator[tuple[int, str]]:
    """Give for each line the outermost function that it is in."""
    for node in ast.iter_child_nodes(tree):
        name = f"{inside}.{node.name}" if inside and hasattr(node, "name") else ""
        name = name or getattr(node, "name", "")
        if isinstance(node, ast.FunctionDef):
            yield from ((line, name) for line in range(node.lineno, (node.end_lineno or 0) + 1))
        elif isinstance(node, ast.ClassDef):
            yield from _rooms(node, name)


def _difference(source: str, changed: str) -> tuple[str, str]:
    before, after = source.splitlines(), changed.splitlines()
    for was, now in zip(before, after, strict=False):
        if was != now:
            return was.strip(), now.strip()
    return "", ""
