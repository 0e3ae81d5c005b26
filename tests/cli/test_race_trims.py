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


def test_perches_lands_every_race_trim_asked_for(run: Run, car: str) -> None:
    for words in ("--to 'anna, dry' --to 'with spare'", "--to none --to driver"):
        ran = run(f"perches {car} {READINGS} {words} --json")
        assert (ran.status, ran.json["status"]) == (0, "reached")
        trims = ran.json["trims"]
        assert len(trims) == 2
        assert max(trim["off_points"] for trim in trims.values()) <= 0.2
        first = next(iter(trims.values()))
        assert ran.json["loads"] == first["loads"]
    told = run(f"perches {car} {READINGS} --to 'anna, dry' --to none").out
    assert "Carried from the car as weighed, with driver, to anna, dry: anna; none:" in told


def test_perches_says_how_far_apart_race_trims_stay(run: Run, car: str) -> None:
    ran = run(f"perches {car} {READINGS} --to driver --to none --tolerance 0.01 --json")
    assert (ran.status, ran.json["status"]) == (1, "closest")
    off = [trim["off_points"] for trim in ran.json["trims"].values()]
    assert 0.01 < max(off) < 0.04
    told = run(f"perches {car} {READINGS} --to driver --to none --tolerance 0.01").out
    assert "These turns leave the race trims 0.05 points apart" in told


def test_perches_without_to_plans_for_the_car_as_it_stands(run: Run, car: str) -> None:
    ran = run(f"perches {car} {READINGS} --json")
    assert "trims" not in ran.json
    there = run(f"perches {car} {READINGS} --to driver --json").json
    assert there["turns"] == ran.json["turns"]


def test_perches_settles_real_corners_in_every_race_trim(run: Run, garage: Path) -> None:
    words = "303 297.5 236 229 --to driver,fuel=5 --to driver,fuel=15 --cross 50.5 --tolerance 0.4"
    ran = run(f"perches {garage / 'real.toml'} {words} --json").json
    worst = max(trim["off_points"] for trim in ran["trims"].values())
    assert ran["cross_met"] == (worst <= 0.4)


def test_the_sheet_says_how_the_car_stands_in_each_race_trim(run: Run, car: str) -> None:
    assert run(f"sheet {car} {READINGS} --output page.html").status == 0
    source = (Path(car).parent / "page.html").read_text(encoding="utf-8")
    stand = run(f"prep {car} {READINGS} --json").json["other_trims"][0]
    rules = source[source.index('id="rules"') :]
    assert f"With driver, spare wheel: {stand['front_pct']:.1f} % front" in rules
    word = "missed: " if not all(rule["met"] for rule in stand["rules"]) else "every rule is met"
    assert word in rules


def test_what_carrying_leaves_open_counts(run: Run, car: str) -> None:
    """A driver beside the middle leans by rates that nobody knows quite: the ± says so."""
    read = run(f"weigh {car} 302 288.5 231 244 --json").json["uncertainty"]["cross_pct"]
    same, other = (
        run(f"perches {car} {READINGS} --to {to} --json").json["uncertainty"]["cross_pct"]
        for to in ("driver", "none")
    )
    assert same == pytest.approx(read)
    prepared = run(f"prep {car} {READINGS} --to none --json").json
    assert prepared["added"] > 0
    carried = prepared["uncertainty"]["carried_cross_pct"]
    assert other > read + 0.01
    assert carried > 0.05
    assert f"adds ± {carried:.2f} points" in run(f"prep {car} {READINGS} --to none").out


def test_ballast_and_prep_call_race_trims_by_their_names(run: Run, car: str) -> None:
    words = "--to 'anna, dry' --to 'with spare'"
    for command in ("ballast", "prep"):
        told = run(f"{command} {car} {READINGS} {words}").out
        assert "anna, dry: anna" in told
        assert "with spare: driver" in told
        (head,) = (line for line in told.splitlines() if line.startswith("Rule"))
        assert head.split()[2:] == ["anna,", "dry", "with", "spare"]
    found = run(f"prep {car} {READINGS} {words} --json").json
    assert [trim["name"] for trim in found["other_trims"]] == ["with spare"]
