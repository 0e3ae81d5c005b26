"""Each command says which state it takes a car to stand in, who said so, and what it aims for."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from balancer.car.model import Item
from balancer.files.car_reader import read_car
from balancer.report.words.opening import Aboard, state_line
from tests.cli.conftest import Run
from tests.conftest import ROOT

READINGS = "302 288.5 231 244"


def line(command: str, car: str) -> str:
    """Spell a command with four readings, and a page where it needs one."""
    name, *options = command.split()
    page = ["--output", "wall.html"] if name == "sheet" else []
    return " ".join([name, car, READINGS, *options, *page])


@pytest.fixture
def car(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    for name in ("coupe.toml", "parts.toml"):
        shutil.copy(ROOT / "examples" / name, tmp_path)
    monkeypatch.chdir(tmp_path)
    return str(tmp_path / "coupe.toml")


@pytest.mark.parametrize(
    ("was", "known"),
    [
        (Aboard((), "said"), "nothing on board (as said)."),
        (Aboard((), "file"), "nothing on board (from the readings file)."),
        (Aboard((), "log", 12, "2026-06-13"), "(from the log, entry 12, 2026-06-13)."),
        (Aboard(()), "(assumed: say --weighed-with for another)."),
        (Aboard((Item("driver", 78, 1.4, 0.3, 0.4),)), "on the pads with driver (assumed"),
    ],
)
def test_a_state_is_said_with_who_said_it(was: Aboard, known: str, car: str) -> None:
    told = state_line(read_car(car), was)
    assert known in " ".join(told.split())
    assert max(map(len, told.split("\n"))) <= 80


def add(path: str, text: str) -> None:
    with open(path, "a", encoding="utf-8") as file:
        file.write(f"\n{text}\n")


def words(text: str) -> str:
    return " ".join(text.split())


EVERY = ("weigh", "trim", "perches", "ballast", "prep", "stint", "parts --book parts.toml", "sheet")


@pytest.mark.parametrize("command", EVERY)
def test_a_state_that_nobody_said_is_called_assumed(command: str, run: Run, car: str) -> None:
    told = run(line(command, car)).out
    assert words(told).startswith(
        "Heron Lane coupe, on the pads with driver, 4 L of fuel"
        " (assumed, race trim: say --weighed-with for another). "
    )
    assert max(map(len, told.splitlines())) <= 80


@pytest.mark.parametrize("command", EVERY)
def test_a_state_that_was_said_is_said_back(command: str, run: Run, car: str) -> None:
    told = words(run(f"{line(command, car)} --weighed-with fuel=8").out)
    assert told.startswith("Heron Lane coupe, on the pads with 8 L of fuel (as said). ")


@pytest.mark.parametrize("command", EVERY)
def test_scripts_read_the_state_and_who_said_it(command: str, run: Run, car: str) -> None:
    found = run(f"{line(command, car)} --weighed-with fuel=8 --json").json
    if command == "trim":
        # Its key `state` is older, and of the car as it is carried to.
        assert (found["was"]["state"], found["was"]["from"]) == ("fuel=8", "said")
    else:
        assert found["state"] == {"on_board": ["fuel=8"], "from": "said"}
    assert ("target" in found) == (command in ("perches", "prep", "stint", "sheet"))


def test_a_state_from_the_log_is_said_with_its_entry(run: Run, car: str) -> None:
    log = Path(car).with_suffix(".log.jsonl")
    data = '{"readings": [[302, 288.5, 231, 244]], "units": "metric", "on_board": ["fuel=8"]}'
    entry = f'"at": "2026-06-13T10:00:00+02:00", "kind": "weigh_in", "data": {data}'
    log.write_text(f'{{"v": 1, "n": 1, {entry}}}\n', encoding="utf-8")
    told = run(f"prep {car}")
    known = "on the pads with 8 L of fuel (from the log, entry 1, 2026-06-13). Aims for 50.0 %"
    assert known in words(told.out), told
    assert run(f"prep {car} --json").json["state"] == {
        "on_board": ["fuel=8"],
        "from": "log",
        "entry": 1,
        "date": "2026-06-13",
    }


@pytest.mark.parametrize(
    ("command", "aim"),
    [
        ("perches", "51.0 % cross weight ± 0.3 as it stands on the pads; target from the car file"),
        (
            "perches --weighed-with none",
            "± 0.3 as it stands on the pads, not in race trim (for that: prep); target from the",
        ),
        (
            "perches --cross 52",
            "52.0 % cross weight ± 0.3 as it stands on the pads; target as",
        ),
        ("prep", "51.0 % cross weight ± 0.3 in race trim (driver, 4 L of fuel); target from"),
        ("sheet", "51.0 % cross weight ± 0.3 in race trim (driver, 4 L of fuel); target from"),
    ],
)
def test_what_is_aimed_at_is_said_first(command: str, aim: str, run: Run, car: str) -> None:
    add(car, "[target]\ncross_pct = 51\ntolerance = 0.3")
    told = run(line(command, car)).out
    assert aim in words(" ".join(told.splitlines()[:5]))


def test_weigh_and_trim_say_how_far_the_target_is(run: Run, car: str) -> None:
    assert "target" not in run(line("weigh", car)).out
    add(car, "[target]\ncross_pct = 51\ntolerance = 0.3")
    known = "The car file's target is 51.0 % ± 0.3 cross weight: this is 2.24 points below."
    assert known in words(run(line("weigh", car)).out)
    assert known in words(run(line("trim", car)).out)


def test_the_page_says_state_and_aim(run: Run, car: str) -> None:
    run(line("sheet", car))
    page = Path("wall.html").read_text(encoding="utf-8")
    assert "On the pads with driver, 4 L of fuel (assumed, race trim)." in page
    assert "Aims for 50.0 % cross weight ± 0.2 in race trim (driver, 4 L of fuel)" in page


@pytest.mark.parametrize("command", ["stint", "parts --book parts.toml"])
def test_a_table_that_stands_first_stands_apart(command: str, run: Run, car: str) -> None:
    out = run(line(command, car)).out
    assert out.partition("\n\n")[2].lstrip().startswith(("LF ", "Part "))


def test_the_picture_of_a_stint_has_the_tolerance_of_the_file(run: Run, car: str) -> None:
    add(car, "[target]\ncross_pct = 51\ntolerance = 0.7")
    run(f"{line('stint', car)} --svg stint.svg")
    assert ">± 0.7<" in Path("stint.svg").read_text(encoding="utf-8")


FILES = ("lifts.toml", "pads.toml", "weigh_in.toml", "weigh_in_turned.toml", "weigh_in_june.toml")


@pytest.mark.parametrize(
    ("command", "said"),
    [
        ("lift coupe.toml lifts.toml", "each time on the pads with driver (from the"),
        ("pads coupe.toml pads.toml", "each time on the pads with driver (from the"),
        (
            "torsion coupe.toml weigh_in.toml weigh_in_turned.toml --made LF=3 --made RF=-3",
            "each time on the pads with driver, 6 L of fuel",
        ),
        ("compare coupe.toml weigh_in.toml weigh_in_june.toml", "Both with driver, fuel=6"),
    ],
)
def test_files_of_weighings_say_which_car_and_what_was_on_board(
    command: str, said: str, car: str, run: Run
) -> None:
    for name in FILES:
        shutil.copy(ROOT / "examples" / name, Path(car).parent)
    told = words(run(command).out)
    assert told.startswith("Heron Lane coupe")
    assert said in told[:120]
    for name in FILES[:2]:
        path = Path(car).parent / name
        text = path.read_text(encoding="utf-8").replace('on_board = ["driver"]\n', "")
        path.write_text(text, encoding="utf-8")
    if command.startswith(("lift", "pads")):
        told = words(run(command).out)
        assert told.startswith("Heron Lane coupe, with whatever was on board: on_board in that")
        assert run(f"{command} --json").json["on_board"] is None


def test_a_lift_tells_the_height_of_the_car_without_what_was_on_board(car: str, run: Run) -> None:
    """By moments: the driver sits at a height of his own, the file has that of the car."""
    shutil.copy(ROOT / "examples" / "lifts.toml", Path(car).parent)
    found = run("lift coupe.toml lifts.toml --json").json
    items = {item.name: item for item in read_car(car).car.on_board}
    driver = items["driver"]
    total = 300.0 + 286.5 + 230.0 + 242.5
    alone = (total * found["cg_up"] / 1e3 - driver.mass * driver.up) / (total - driver.mass)
    assert found["cg_up_without"] == pytest.approx(1e3 * alone, abs=1e-6)
    assert found["cg_up_without"] > found["cg_up"] + 1


@pytest.mark.parametrize("name", ["lift coupe.toml lifts.toml", "pads coupe.toml pads.toml"])
def test_what_a_file_says_was_on_board_is_held_against_the_car(
    name: str, car: str, run: Run
) -> None:
    file = name.split()[-1]
    text = (ROOT / "examples" / file).read_text(encoding="utf-8")
    (Path(car).parent / file).write_text(text.replace('"driver"', '"diver"'), encoding="utf-8")
    ran = run(name)
    assert ran.status == 2
    assert "on_board: “diver” is not in the car file: did you mean driver?" in ran.err
