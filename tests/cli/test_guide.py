"""The guide: every page fits a terminal, and no mark of Markdown is left in it."""

from __future__ import annotations

import re

import pytest

from balancer.report.guide.pages import TOPICS, page, plain
from tests.cli.conftest import Run
from tests.conftest import ROOT


def test_the_list_has_every_page_there_is(run: Run) -> None:
    told = run("guide").out
    assert [line.split()[0] for line in told.splitlines()[2:]] == list(TOPICS)
    there = {path.stem for path in (ROOT / "balancer" / "report" / "guide").glob("*.md")}
    assert there == set(TOPICS)


@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_as_a_terminal_shows_it(topic: str, run: Run) -> None:
    ran = run(f"guide {topic}")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == plain(page(topic)) + "\n"
    shown = re.findall(r"^```[^\n]*\n(.*?)^```", page(topic), re.MULTILINE | re.DOTALL)
    printed = {line for block in shown for line in block.splitlines()}
    prose = [line for line in ran.out.splitlines() if line.removeprefix("  ") not in printed]
    long = {line for line in printed if len(line) > 80}
    assert {line for line in ran.out.splitlines() if len(line) > 80} == long
    assert not [line for line in prose if "`" in line or "](" in line]


def test_a_page_loses_no_number_of_its_tables() -> None:
    for topic in TOPICS:
        cells = re.findall(r"^\|.*\|$", page(topic), re.MULTILINE)
        numbers = re.findall(r"\d+(?:\.\d+)?", " ".join(cells))
        told = re.findall(r"\d+(?:\.\d+)?", plain(page(topic)))
        assert set(numbers) <= set(told), topic


def test_a_page_that_is_not_there(run: Run) -> None:
    ran = run("guide sesions")
    assert ran == (2, "", "TOPIC: “sesions” is no page: did you mean sessions?\n")


def test_as_it_is_written(run: Run) -> None:
    assert run("guide words --markdown").out.rstrip("\n") == page("words").rstrip("\n")
