"""The map in DEVELOPERS.md is that of the tree, and each module is tested somewhere."""

from __future__ import annotations

import re

from tests.conftest import ROOT
from tests.map import BEGIN, DEVELOPERS, OWN, files_of_tests, modules, renewed, where_tested


def test_the_map_is_that_of_the_tree() -> None:
    text = DEVELOPERS.read_text(encoding="utf-8")
    assert BEGIN in text
    assert renewed(text) == text, "python -m tests.map rewrites it"


def test_every_module_is_tested_somewhere() -> None:
    places = {module: where_tested(module)[0] for module in modules()}
    assert [module for module, where in places.items() if not where] == []
    assert {place for where in places.values() for place in where} <= set(files_of_tests())


def test_every_place_that_is_named_is_there() -> None:
    for prefix in OWN:
        assert any(module.startswith(prefix) for module in modules()), prefix
    pages = (ROOT / "balancer" / "report" / "guide").glob("*.md")
    for page in ("DEVELOPERS.md", "README.md", *map(str, pages)):
        text = (ROOT / page).read_text(encoding="utf-8")
        named = set(re.findall(r"`((?:balancer|tests|examples)/[\w./]+)`", text))
        assert [path for path in sorted(named) if not (ROOT / path).exists()] == []
