"""`balancer cars`: every car of a folder, a line each."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Run
from tests.conftest import ROOT

COUPE = (ROOT / "examples" / "coupe.toml").read_text(encoding="utf-8")
JUNE, JULY = "2026-06-13T10:00:00+02:00", "2026-07-11T10:00:00+02:00"
FIRST, SECOND = [302.0, 288.5, 231.0, 244.0], [280.0, 262.0, 212.0, 226.0]


def weighed(at: str, loads: list[float], on_board: list[str] | None) -> dict[str, Any]:
    data = {"readings": [loads], "units": "metric", "on_board": on_board}
    return {"at": at, "kind": "weigh_in", "data": data}


def add(folder: Path, name: str, *lines: dict[str, Any]) -> None:
    text = COUPE.replace("Heron Lane coupe", f"{name} car")
    (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    log = [json.dumps({"v": 1, "n": n, **line}) for n, line in enumerate(lines, 1)]
    if lines:
        (folder / f"{name}.log.jsonl").write_text("\n".join(log) + "\n", encoding="utf-8")


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    folder.mkdir()
    add(folder, "blue", weighed(JUNE, FIRST, ["driver"]), weighed(JULY, SECOND, []))
    add(folder, "ash", weighed(JUNE, SECOND, None))
    add(folder, "new")
    (folder / "weigh_in.toml").write_text("readings = [[1, 2, 3, 4]]\n", encoding="utf-8")
    return folder


def test_a_line_a_car(run: Run, shop: Path) -> None:
    ran = run(f"cars {shop}")
    rows = [line.split() for line in ran.out.splitlines() if " car " in line]
    assert (ran.status, ran.err) == (0, "")
    assert [row[0] for row in rows] == ["ash", "blue"]
    assert "Not weighed yet: new car." in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80


def test_what_it_says_is_the_last_weigh_in(run: Run, shop: Path) -> None:
    ash, blue = run(f"cars {shop} --json").json["cars"]
    assert (blue["date"], blue["entry"], blue["state"]) == (JULY, 2, "nothing on board")
    assert blue["total"] == pytest.approx(sum(SECOND))
    assert blue["cross_pct"] == pytest.approx(100 * (SECOND[1] + SECOND[2]) / sum(SECOND))
    assert (ash["state"], ash["change"]) == ("not said", None)


def test_a_name_asked_for_is_that_of_cars_without_a_weigh_in_too(run: Run, shop: Path) -> None:
    every = run(f"cars {shop} --json").json["not_weighed"]
    assert every
    table = shop / "one.csv"
    ran = run(f"cars {shop} --name blue --csv {table}")
    assert "Not weighed" not in ran.out
    assert ran.out.endswith("one.csv written: 1 car in the units of its file.\n")
    assert run(f"cars {shop} --name {every[0].split()[0].upper()} --json").json["not_weighed"]


def test_a_driver_is_no_change_of_the_car(run: Run, shop: Path) -> None:
    """The weigh-in before is carried to what was on board at the last."""
    blue = run(f"cars {shop} --name blue --json").json["cars"][0]
    assert blue["change"]["total"] == pytest.approx(sum(SECOND) - (sum(FIRST) - 78))
    car = shop / "blue.toml"
    empty = run(
        "trim", str(car), *map(str, FIRST), *["--weighed-with", "driver", "--to", "none", "--json"]
    )
    change = blue["cross_pct"] - empty.json["cross_pct"]
    assert blue["change"]["cross_pct"] == pytest.approx(change)


def test_all_are_carried_to_one_state(run: Run, shop: Path) -> None:
    blue = run(f"cars {shop} --state driver --name blue --json").json["cars"][0]
    assert blue["state"] == "driver"
    assert blue["total"] == pytest.approx(sum(SECOND) + 78)
    assert "with driver on board, carried there" in run(f"cars {shop} --state driver").out


def test_a_state_that_a_car_does_not_know_leaves_it_out_aloud(run: Run, shop: Path) -> None:
    ran = run(f"cars {shop} --state anna --json")
    assert ran.json["cars"] == []
    assert "“anna” is not in the car file" in ran.err


def test_sorted_and_filtered(run: Run, shop: Path) -> None:
    def names(words: str) -> list[str]:
        return [one["car"] for one in run(f"cars {shop} --json {words}").json["cars"]]

    assert names("--sort date") == ["ash car", "blue car"]
    add(shop, "ash", weighed(JULY, FIRST, None))
    assert names("--sort total") == ["blue car", "ash car"]
    assert names("--since 2026-07-01") == ["ash car", "blue car"]
    assert names("--since 2026-08-01") == []
    assert run(f"cars {shop} --since soon")[:2] == (2, "")


def test_damage_and_faults_are_told_and_cost_one_car_alone(run: Run, shop: Path) -> None:
    (shop / "bad.toml").write_text("wheelbase = 0\n", encoding="utf-8")
    log = shop / "blue.log.jsonl"
    log.write_text(log.read_text(encoding="utf-8") + "broken\n", encoding="utf-8")
    ran = run(f"cars {shop} --json")
    assert [one["car"] for one in ran.json["cars"]] == ["ash car", "blue car"]
    assert "bad.toml" in ran.err
    assert "blue.log.jsonl: line 3 is damaged and left out, see balancer log" in ran.err
    assert run(f"cars {shop / 'none'}")[:2] == (2, "")


def test_a_spreadsheet_and_a_picture(run: Run, shop: Path) -> None:
    table, picture = shop / "cars.csv", shop / "cars.svg"
    assert run(f"cars {shop} --csv {table} --svg {picture}").status == 0
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert [row["car"] for row in rows] == ["ash car", "blue car"]
    assert float(rows[1]["total"]) == pytest.approx(sum(SECOND))
    assert picture.read_text(encoding="utf-8").count("<circle") == 3
    assert run(f"cars {shop} --name nobody --svg {picture}").status == 2


def test_a_car_that_would_tip_over_is_left_out_by_name(run: Run, shop: Path) -> None:
    add(shop, "red", weighed(JUNE, [320.0, 40.0, 320.0, 40.0], []))
    bags = '[[on_board]]\nname = "bags"\nmass = 1000\naft = 1200\nleft = 970\nup = 400\n'
    with (shop / "red.toml").open("a", encoding="utf-8") as file:
        file.write(bags)
    ran = run(f"cars {shop} --state bags --json")
    assert (ran.status, ran.json["cars"]) == (0, [])
    assert "red.toml: would tip over, a wheel is off the ground" in ran.err
    assert "entry 1 is left out" in ran.err
    assert "ash.toml: “bags” is not in the car file" in ran.err


def test_too_many_cars_to_draw_are_not_listed_either(run: Run, shop: Path) -> None:
    for number in range(201):
        add(shop, f"car{number}", weighed(JUNE, FIRST, ["driver"]))
    ran = run(f"cars {shop} --svg cars.svg")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.endswith("--svg: 203 cars: 200 at most: --name or --since\n")


@pytest.mark.parametrize(("folder", "told"), [("''", '""'), ("none", "none")])
def test_a_folder_that_is_none_is_named(folder: str, told: str, run: Run) -> None:
    ran = run(f"cars {folder}")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith(f"{told}: can't be read (No such file or directory): ")
