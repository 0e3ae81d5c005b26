"""Sessions of a car with several race trims: planned for all of them, and done when all are."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from balancer.files.car_reader import read_car
from balancer.files.states import race_states
from balancer.files.units import METRIC
from balancer.weighing.load_states import carry
from tests.cli.conftest import Run
from tests.cli.test_session import DRIVEN, FIRST, LOG, Process, Sit, after
from tests.cli.test_session_pads import broken_off
from tests.cli.test_sheet import Page

TRIMS = """
[[on_board]]
name = "camera arm"
mass = {mass}
aft = 1200
left = 700
up = 500

[[race_trim]]
name = "anna"
on_board = ["driver=55", "fuel"]

[[race_trim]]
name = "ben"
on_board = ["driver=95", "fuel", "camera arm"]
"""
ASKED = "--weighed-with fuel"


def two_drivers(bar: float, mass: float) -> str:
    """A front bar makes it count on which side who leans."""
    barred = DRIVEN.replace("tire_rate = 210\n", f"tire_rate = 210\nanti_roll_bar = {bar}\n")
    return barred + TRIMS.format(mass=mass)


NEAR, FAR = two_drivers(20, 1), two_drivers(40, 15)


@pytest.fixture
def sit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Run) -> Sit:
    (tmp_path / "hatch.toml").write_text(NEAR)
    monkeypatch.chdir(tmp_path)
    return Sit(run, monkeypatch)


def crosses(line: str, turns: dict[str, float] | None = None) -> dict[str, float]:
    """Say what each race trim has of cross weight after turns, by the statics of the file [%]."""
    file = read_car("hatch.toml")
    fuel = [item for item in file.car.on_board if item.name == "fuel"]
    read = after(line, turns) if turns else line
    loads = np.array([METRIC.to_si(float(word), "load") for word in read.split()])
    return {
        name: 100 * carry(file.car, loads, fuel, state.items).shares.cross
        for name, state in race_states(file).items()
    }


def worst(answer: dict[str, Any]) -> float:
    return max(float(trim["off_points"]) for trim in answer["trims"].values())


def test_a_session_plans_for_every_race_trim_as_perches_does(sit: Sit, run: Run) -> None:
    (found,) = sit.json(FIRST, options=ASKED)
    planned = run(f"perches hatch.toml {FIRST} {ASKED} --to anna --to ben --json").json
    assert found["turns"] == planned["turns"]
    assert found["trims"] == planned["trims"]
    assert worst(found) <= 0.2
    by_hand = crosses(FIRST)
    for name, trim in found["trims"].items():
        assert trim["now_cross_pct"] == pytest.approx(by_hand[name], abs=1e-6)
    assert by_hand["anna"] - by_hand["ben"] > 0.2


def test_it_says_each_race_trim(sit: Sit) -> None:
    told = sit.text(FIRST, options=ASKED).out
    assert "in each of 2 race trims, the first (driver, fuel)" in " ".join(told.split())
    assert "anna 48.42 % ±" in " ".join(told.split())
    (heading,) = [row for row in told.splitlines() if "In race trim" in row]
    assert heading.split()[-3:] == ["now", "then", "wanted"]
    assert [row.split()[0] for row in told.splitlines() if row.startswith("  ben")] == ["ben"]


def test_it_is_not_done_before_all_are(sit: Sit) -> None:
    """What is good for anna alone is no reason to stop."""
    Path("hatch.toml").write_text(FAR.partition('[[race_trim]]\nname = "ben"')[0])
    (only,) = sit.json(FIRST, options=ASKED)
    found = after(FIRST, only["turns"])
    Path(LOG).unlink()
    assert sit.json(found, options=ASKED)[0]["stop"] == "in_tolerance"
    Path(LOG).unlink()
    Path("hatch.toml").write_text(FAR)
    now = crosses(found)
    assert abs(now["anna"] - 50) < 0.1
    assert abs(now["ben"] - 50) > 0.4
    (both,) = sit.json(found, options=f"{ASKED} --tolerance 0.4")
    assert (both["in_tolerance"], both["stop"]) == (False, None)
    assert both["confidence"] < 0.2
    assert worst(both) <= 0.4


def test_where_no_turns_are_good_in_each_the_worst_miss_is_the_smallest(sit: Sit) -> None:
    Path("hatch.toml").write_text(FAR)
    (found,) = sit.json(FIRST, options=ASKED)
    assert (found["status"], found["limits"] != []) == ("closest", True)
    anna, ben = crosses(FIRST, found["turns"]).values()
    # A quarter turn at one corner is worth 0.07 points: no whole step is nearer to the middle.
    assert anna - 50 > 0.25
    assert anna - 50 == pytest.approx(50 - ben, abs=0.07)
    there = sit.json(after(FIRST, found["turns"]), options=ASKED)
    assert there[-1]["stop"] == "out_of_reach"
    assert there[-1]["confidence"] < 0.01


def test_killed_it_goes_on_for_all_of_them(sit: Sit) -> None:
    first = Process("--weighed-with", "fuel", "--tolerance", "0.25")
    planned = first.say(FIRST)
    first.kill()
    second = Process()
    again = second.say("plan")
    assert second.opening["trims"] == {
        "anna": ["driver=55", "fuel"],
        "ben": ["driver=95", "fuel", "camera arm"],
    }
    second.kill()
    assert (again["turns"], again["trims"]) == (planned["turns"], planned["trims"])


def test_the_sheet_has_the_turns_of_the_session(sit: Sit, run: Run) -> None:
    (found,) = sit.json(FIRST, options=f"{ASKED} --keep LR")
    broken_off()
    assert run("sheet hatch.toml --output page.html").status == 0
    page = Path("page.html").read_text(encoding="utf-8")
    assert "in each of 2 race trims" in page
    text = Page(page).text
    turned = [turn for turn in found["turns"].values() if turn]
    assert (len(turned), text.count("▲ up") + text.count("▼ down")) == (3, 3)
