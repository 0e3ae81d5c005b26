"""Several race trims, two drivers of one car: shown side by side, planned for together."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import Run

READINGS = "302 288.5 231 244 --weighed-with driver"

TWO_DRIVERS = """
[[on_board]]
name = "anna"
mass = 60
aft = 1350
left = 340
up = 400
[[race_trim]]
name = "anna, dry"
on_board = ["anna"]
[[race_trim]]
name = "with spare"
on_board = ["driver", "spare wheel"]
"""


@pytest.fixture
def car(garage: Path) -> str:
    path = garage / "coupe.toml"
    path.write_text(path.read_text(encoding="utf-8") + TWO_DRIVERS, encoding="utf-8")
    return str(path)


def test_trim_shows_all_race_trims(run: Run, car: str) -> None:
    ran = run(f"trim {car} {READINGS} --json").json
    assert list(ran["trims"]) == ["anna, dry", "with spare"]
    assert ran["state"] == ran["trims"]["anna, dry"]["state"] == "anna"
    told = run(f"trim {car} {READINGS}").out
    assert "with spare: driver, spare wheel.\n" in told
    assert "\nwith spare  " in told


def test_to_takes_the_name_of_a_race_trim_or_words(run: Run, car: str) -> None:
    ran = run(f"trim {car} {READINGS} --to none --to 'with spare' --json")
    assert list(ran.json["trims"]) == ["none", "with spare"]
    assert ran.json["trims"]["with spare"]["state"] == "driver,spare wheel"
    faults = run(f"trim {car} {READINGS} --to nobody --to 'anna, dry' --to nothing").err
    assert "“nobody” is not in the car file" in faults
    assert "“nothing” is not in the car file" in faults
