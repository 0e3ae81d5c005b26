"""A season with a car: what was told once is known later, and what matters is said first."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import numpy as np
import pytest

from balancer.car.model import plain_car
from balancer.planning.session.belief import Belief
from balancer.report.session import belief_text
from tests.cli.conftest import Run
from tests.cli.test_session import DRIVEN, FIRST, Process, Sit

PLACE = """
[[place]]
name = "floor"
aft = 1200
left = 0
up = 150
most = 90
"""


@pytest.fixture
def sit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Run) -> Sit:
    (tmp_path / "hatch.toml").write_text(DRIVEN + PLACE)
    monkeypatch.chdir(tmp_path)
    return Sit(run, monkeypatch)


def test_prep_believes_what_a_session_that_was_broken_off_was_told(sit: Sit, run: Run) -> None:
    """The driver is not on the pads, and counts towards the minimum: so much less ballast."""
    first = Process("--weighed-with", "fuel")
    first.say(FIRST)
    first.kill()
    sit.json("again " + FIRST)
    found = run("prep hatch.toml --json").json
    assert found["state"]["on_board"] == ["fuel"]
    assert found["added"] == 0
    # Taken for a car with its driver aboard it would be light.
    assert found["as_weighed"]["total"] == 1065.5
    assert found["race_trim"]["total"] == pytest.approx(1065.5 + 78)


def test_a_ratio_within_its_uncertainty_is_no_news() -> None:
    """0.01 off where the belief is ± 0.046 was told at each weigh-in."""
    car = plain_car()
    mean = np.array([0.0, np.log(0.69 / 0.7), 0.0])
    vague, sure = (np.diag([0.05, unsure, 0.05]) ** 2 for unsure in (0.046 / 0.7, 0.004))
    assert belief_text(car, Belief(mean, vague)) == ""
    told = "front motion ratio nearer 0.69 than 0.70"
    assert told in belief_text(car, Belief(mean, sure))
    # Told once, it is no news at the next weigh-in.
    assert told not in belief_text(car, Belief(mean, sure), Belief(mean, sure))


def test_a_session_says_what_corners_stand_on_above_the_turns(
    run: Run, garage: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("303 297.5 236 229\n"))
    told = run("session real.toml --cross 55").out
    (stop,) = [line for line in told.splitlines() if line.startswith("RR")]
    assert "stop" in stop or "top" in stop
    assert told.index(stop) < told.index(" in all:")
