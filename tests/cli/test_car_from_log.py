"""A plan from the log starts from the car as the log knows it."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Run


@pytest.fixture
def told(run: Run, garage: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a session first: RR is turned down to its stop, and the car answers as the file says."""
    lines = "302 288.5 231 244\nmade LF=-1 RF=1 LR=1 RR=-3\n294 296.5 239 236\nyes\n"
    monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
    assert run("session coupe.toml").status == 0
    return run


def test_turns_made_are_off_the_travel(told: Run) -> None:
    found = told("perches coupe.toml --readings log --cross 52 --json")
    assert found.json["turns"]["RR"] >= 0
    assert "turns made are off the travel" in found.err
    typed = told("perches coupe.toml 294 296.5 239 236 --cross 52 --json")
    assert typed.json["turns"]["RR"] < 0


def test_rates_are_taken_as_learned(told: Run) -> None:
    found = told("perches coupe.toml --readings log --cross 52 --json")
    typed = told("perches coupe.toml 294 296.5 239 236 --cross 52 --json")
    assert "rates are taken as learned" in found.err
    learned, file = (one.json["per_turn"]["LF"]["cross_pct"] for one in (found, typed))
    assert learned != pytest.approx(file, rel=1e-3)


LATER_KEYS = ("bearing", "file", "settling")


def test_a_belief_of_before_is_read_as_it_was(told: Run, garage: Path) -> None:
    """What was learned of turns then is what is believed now; nothing was known of the rest."""
    now = told("learned coupe.toml --json").json["belief"]
    log = garage / "coupe.log.jsonl"
    lines = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    beliefs = [line["data"] for line in lines if line["kind"] == "belief"]
    assert all("bearing" in data for data in beliefs)
    for data in beliefs:
        for key in LATER_KEYS:
            data.pop(key, None)
    log.write_text("".join(f"{json.dumps(line)}\n" for line in lines), encoding="utf-8")
    assert told("learned coupe.toml --json").json["belief"] == now


@pytest.mark.parametrize(
    "spoiled",
    [
        {"bearing": {"mean": [0, 0]}},
        {"bearing": None},
        {"file": {"covariance": [[1]], "wrong": 1}},
        {"file": {"covariance": [[0] * 6] * 6, "wrong": 1}},
    ],
)
def test_a_belief_that_can_t_be_one_is_left_out(
    told: Run, garage: Path, spoiled: dict[str, Any]
) -> None:
    log = garage / "coupe.log.jsonl"
    lines = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    for line in lines:
        if line["kind"] == "belief":
            line["data"].update(spoiled)
    log.write_text("".join(f"{json.dumps(line)}\n" for line in lines), encoding="utf-8")
    assert told("learned coupe.toml --json").json["belief"] is None


def test_prep_takes_the_log_by_itself(told: Run) -> None:
    found = told("prep coupe.toml --cross 52 --json")
    assert found.json["turns"]["RR"] >= 0


@pytest.mark.parametrize("name", ["none", "f u,el", "fuel=20"])
def test_a_name_that_cannot_be_said_is_refused(run: Run, garage: Path, name: str) -> None:
    with (garage / "coupe.toml").open("a", encoding="utf-8") as file:
        file.write(f'\n[[on_board]]\nname = "{name}"\nmass = 5\naft = 900\nleft = 0\n')
    ran = run("check coupe.toml")
    assert ran.status == 2
    assert f"“{name}” can't be said after --weighed-with" in ran.err


def test_equal_sides_are_the_same(run: Run, garage: Path) -> None:
    assert run("weigh coupe.toml 290 290 240 240").out.count("the same") == 3
