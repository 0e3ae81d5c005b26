"""The door of the package: which names there are, what they refuse, and what they show."""

from __future__ import annotations

import ast

import pytest

import balancer
from tests.conftest import ROOT


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
