"""What a session has learned of how a driver leans on the car: every command carries by it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from balancer.car.statics import statics_of
from balancer.files.car_reader import read_car
from balancer.files.states import state_of
from balancer.files.units import METRIC
from tests.cli.conftest import Run
from tests.cli.test_session import DRIVEN, FIRST, Sit

DRIVER = ("driver", "fuel")
TRUE = {"70": "58", "60": "70"}
"""Spring rates of the file, front and rear, and those of the car: it leans less on the front."""


@pytest.fixture
def sit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Run) -> Sit:
    (tmp_path / "hatch.toml").write_text(BARRED)
    monkeypatch.chdir(tmp_path)
    return Sit(run, monkeypatch)


BARRED = DRIVEN.replace("tire_rate = 210\n", "tire_rate = 210\nanti_roll_bar = 40\n")


def with_driver(line: str = FIRST) -> str:
    """Say what pads show with the driver in the true car, where they show this without."""
    text = BARRED
    for rate, true in TRUE.items():
        text = text.replace(f"spring_rate = {rate}", f"spring_rate = {true}.0")
    Path("true.toml").write_text(text)
    file = read_car("true.toml")
    loads = np.array([METRIC.to_si(float(word), "load") for word in line.split()])
    fuel, both = (state_of(file, names, "").items for names in (["fuel"], DRIVER))
    there = statics_of(file.car, loads).carried(both, fuel)
    return " ".join(f"{METRIC.from_si(load, 'load'):.3f}" for load in there)


def cross(line: str) -> float:
    four = [float(word) for word in line.split()]
    return 100 * (four[1] + four[2]) / sum(four)


def off(found: dict[str, Any]) -> float:
    """Say how far the cross weight carried to race trim is from what it is."""
    return abs(float(found["cross_pct"]) - cross(with_driver()))


@pytest.fixture
def by_file(sit: Sit, run: Run) -> float:
    """How far off the file alone carries it, with the driver never weighed."""
    found = run(f"trim hatch.toml {FIRST} --weighed-with fuel --to driver,fuel --json").json
    assert off(found) > 0.08
    return off(found)


@pytest.fixture
def taught(sit: Sit, by_file: float) -> float:
    """Weigh with fuel, then with the driver too, and with fuel again; nothing is turned."""
    lines = FIRST, "aboard driver, fuel", with_driver(), "aboard fuel", FIRST
    first, *_ = sit.json(*lines, options="--weighed-with fuel")
    assert first["aboard_first"] == ["driver"]
    return by_file


def test_a_session_without_turns_teaches_how_the_driver_leans(taught: float, run: Run) -> None:
    assert run("log hatch.toml --kind learned --json").json["entries"] != []


@pytest.mark.parametrize(
    ("command", "key"),
    [
        ("trim hatch.toml --readings log --to driver,fuel", ""),
        ("perches hatch.toml --readings log --to driver,fuel", "now"),
        ("prep hatch.toml --tolerance 9", "race_trim"),
    ],
)
def test_readings_of_the_log_are_carried_as_was_learned(
    command: str, key: str, taught: float, run: Run
) -> None:
    found = run(f"{command} --json").json
    assert off(found[key] if key else found) < taught / 3
    assert not key or found["state"]["leans_as_learned"]
    told = " ".join(run(command).out.split())
    assert "; what comes and goes leans on it as learned)" in told.partition(". ")[0] + ")"


def test_what_was_learned_leaves_less_open(taught: float, run: Run) -> None:
    open_ = run("prep hatch.toml --json").json["uncertainty"]["carried_cross_pct"]
    typed = run(f"prep hatch.toml {FIRST} --weighed-with fuel --json").json
    assert open_ < typed["uncertainty"]["carried_cross_pct"] / 2


def test_left_alone_the_pads_show_what_they_showed(taught: float, run: Run) -> None:
    """There and back is nothing, by what was learned too."""
    found = run("prep hatch.toml --tolerance 9 --json").json
    shown = [found["on_the_pads"]["loads"][pad] for pad in ("LF", "RF", "LR", "RR")]
    assert shown == pytest.approx([float(word) for word in FIRST.split()], abs=0.01)


def test_compare_carries_as_was_learned(taught: float, run: Run) -> None:
    """The same car with driver and without: what is left is what is not known of that."""
    found = run("compare hatch.toml log:2 log:6 --json").json
    assert abs(found["cross_pct"]) < taught / 3
    assert not found["real"]["cross_pct"]
    told = " ".join(run("compare hatch.toml log:2 log:6").out.split())
    assert "is carried over, as the log has learned how that leans;" in told


def test_the_next_session_does_not_ask_for_the_driver_again(taught: float, sit: Sit) -> None:
    (first,) = sit.json(FIRST, options="--weighed-with fuel")
    assert first["aboard_first"] == []
    assert abs(first["estimate"]["cross_pct"] - cross(with_driver())) < taught / 3
