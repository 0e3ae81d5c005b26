"""Files that no car asks for: each is refused with its place before any work, however it grew."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import Ran, Run

pytestmark = pytest.mark.usefixtures("garage")
LOADS = "302 288.5 231 244"


def edited(name: str, old: str, new: str) -> None:
    """Put something else into a file, in the one place where it can be."""
    text = Path(name).read_text()
    assert text.count(old) >= 1, (name, old)
    Path(name).write_text(text.replace(old, new, 1))


def refused(ran: Ran, *lines: str) -> None:
    """Hold a fault against the lines that it should be."""
    assert (ran.status, ran.out, ran.err.splitlines()) == (2, "", list(lines))


@pytest.mark.parametrize("value", ["3", "1.5", "true", "[]"])
def test_what_comes_and_goes_may_be_no_list(run: Run, value: str) -> None:
    text = Path("coupe.toml").read_text()
    start, end = text.index("[[on_board]]"), text.index("[class]")
    Path("coupe.toml").write_text(f"on_board = {value}\n" + text[:start] + text[end:])
    ran = run("check coupe.toml")
    assert ran.status == 2
    assert all(line.startswith("coupe.toml:") for line in ran.err.splitlines())


def weighings(count: int, pads: str) -> None:
    """Write a file of so many weighings, the last with other pads."""
    one = '[[weighing]]\npads = ["A", "B", "C", "D"]\nreadings = [[302, 288.5, 231, 244]]\n'
    last = f"[[weighing]]\npads = {pads}\nreadings = [[302, 288.5, 231, 244]]\n"
    Path("many.toml").write_text(one * (count - 1) + last)


@pytest.mark.parametrize("pads", ["[1, 2, 3, 4]", '["A", "A", "C", "D", "E"]', '"A"', "[[1], 2]"])
def test_what_is_wrong_past_the_last_that_is_looked_at(run: Run, pads: str) -> None:
    weighings(101, pads)
    refused(run("pads coupe.toml many.toml"), "many.toml:1: weighing: has 101 values: 100 at most")


def test_a_wheel_that_outweighs_what_its_pad_shows_has_no_frequency(run: Run) -> None:
    edited("coupe.toml", "unsprung_mass = 31", "unsprung_mass = 250")
    ran = run(f"check coupe.toml {LOADS} --json")
    assert ran.status == 0
    assert "nan" not in ran.out.lower()
    edited("coupe.toml", "unsprung_mass = 250", "unsprung_mass = 249")
    ran = run("check coupe.toml 240 248 280 290")
    assert "nan" not in ran.out
    assert "LF carries no more than its wheel weighs: check unsprung_mass" in ran.out
