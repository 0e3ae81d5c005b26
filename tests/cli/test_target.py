"""The target and the race trims that a car file says: known to every command, said by `check`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import Run

READINGS = "302 288.5 231 244"


@pytest.fixture
def car(garage: Path) -> str:
    return str(garage / "coupe.toml")


def add(car: str, text: str) -> None:
    with open(car, "a", encoding="utf-8") as file:
        file.write(f"\n{text}\n")


def test_the_target_of_the_file_is_planned_for(run: Run, car: str) -> None:
    add(car, "[target]\ncross_pct = 51\ntolerance = 0.3")
    assert run(f"perches {car} {READINGS} --json").json["target_cross_pct"] == pytest.approx(51)
    said = run(f"perches {car} {READINGS} --cross 49 --json").json
    assert said["target_cross_pct"] == pytest.approx(49)


@pytest.mark.parametrize(("option", "cross"), [("", 51), ("--cross 49.5", 49.5)])
def test_prep_takes_the_target_of_the_file(option: str, cross: float, run: Run, car: str) -> None:
    add(car, "[target]\ncross_pct = 51\ntolerance = 0.3")
    ready = run(f"prep {car} {READINGS} --json {option}").json
    assert abs(ready["race_trim"]["cross_pct"] - cross) <= 0.3


def test_equal_fronts_as_a_target(run: Run, car: str) -> None:
    add(car, '[target]\nequal = "front"')
    loads = run(f"perches {car} {READINGS} --json").json["loads"]
    assert abs(loads["LF"] - loads["RF"]) < 3


def test_check_says_target_and_race_trims(run: Run, car: str) -> None:
    add(car, '[target]\ncross_pct = 51\n[[race_trim]]\nname = "wet"\non_board = []')
    told = run(f"check {car}").out
    assert "Target: 51.0 % cross weight ± 0.2, heights ± 1.5 mm." in told
    assert "Wet: nothing on board." in told


def test_check_says_that_the_target_is_the_usual(run: Run, car: str) -> None:
    told = " ".join(run(f"check {car}").out.split())
    assert "Target: 50.0 % cross weight ± 0.2, heights ± 1.5 mm (the usual: say another" in told


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ('[target]\ncross_pct = 51\nequal = "rear"', "target.equal: given beside cross_pct"),
        ("[target]\ncross_pct = 5", "target.cross_pct: 5 is out of reason"),
        ("[target]\ncross = 51", "target.cross: unknown key: did you mean cross_pct?"),
        ('[[race_trim]]\nname = "wet"\non_board = ["diver"]', "“diver” is not in [[on_board]]"),
        ('[[race_trim]]\nname = "wet"', "race_trim[1].on_board: is missing"),
        (
            '[[race_trim]]\nname = "driver"\non_board = []',
            "race_trim[1].name: “driver” is the name of an item on board too",
        ),
        (
            '[[race_trim]]\nname = "a"\non_board = []\n[[race_trim]]\nname = "a"\non_board = []',
            "race_trim[2].name: “a” is there twice",
        ),
    ],
)
def test_faults(text: str, fault: str, run: Run, car: str) -> None:
    add(car, text)
    ran = run(f"check {car}")
    assert ran.status == 2
    assert fault in ran.err


def test_a_target_that_the_class_forbids(run: Run, car: str) -> None:
    text = Path(car).read_text(encoding="utf-8")
    Path(car).write_text(text.replace("[class]", "[class]\ncross_pct = [49, 51]"), encoding="utf-8")
    add(car, "[target]\ncross_pct = 54")
    assert "target.cross_pct: 54 is not within class.cross_pct, 49 to 51: check both" in (
        run(f"check {car}").err
    )
