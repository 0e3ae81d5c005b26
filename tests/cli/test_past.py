"""Weigh-ins that no session made: kept one by one, or brought in from a table of old ones."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.conftest import Run

TYPED = "302 288.5 231 244"
OLD = """\
Date;Note;On board;LF (kg);RF (kg);LR (kg);RR (kg);Weather
2025-05-09;winter springs;driver, spare wheel;301,5;288,0;230,5;244,0;wet
2025-06-01 14:30;;none;280,0;262,0;212,0;226,0;
"""


def entries(garage: Path) -> list[dict[str, object]]:
    log = garage / "coupe.log.jsonl"
    return [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]


def test_a_weigh_in_is_kept_as_it_was_said(run: Run, garage: Path) -> None:
    ran = run(f"weigh coupe.toml {TYPED} --weighed-with driver --save --note wet --json")
    assert (ran.status, ran.json["entry"]) == (0, 1)
    kept = run("weigh coupe.toml --readings log --json").json
    assert kept["loads"] == ran.json["loads"]
    assert kept["state"]["on_board"] == ["driver"]
    assert kept["note"] == "wet"


def test_a_file_of_readings_is_kept_whole(run: Run, garage: Path) -> None:
    ran = run("weigh coupe.toml --readings weigh_in.toml --save --json").json
    kept = run("weigh coupe.toml --readings log:1 --json").json
    for key in ("loads", "uncertainty", "pad_effect", "readings", "note"):
        assert kept[key] == ran[key], key


@pytest.mark.parametrize(("date", "day"), [("2020-02-03", "2020-02-03"), ("a wet day", None)])
def test_readings_of_another_day_are_kept_under_it(
    date: str, day: str | None, run: Run, garage: Path
) -> None:
    run(f"weigh coupe.toml {TYPED} --save")
    (garage / "old.toml").write_text(f'readings = [[301, 288, 231, 244]]\ndate = "{date}"\n')
    assert run("weigh coupe.toml --readings old.toml --save --json").json["entry"] == 2
    now, old = (one["at"][:10] for one in run("log coupe.toml --json").json["entries"])
    assert old == (day or now)
    if day:
        assert run("weigh coupe.toml --readings log:2020-02-03 --json").json["loads"]["LF"] == 301


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (f"weigh {TYPED} --units metric --save", "--save: needs a car file"),
        ("weigh coupe.toml --readings shares.toml --save", "--save: these readings are shares"),
        (f"weigh coupe.toml {TYPED} --note wet", "--note: goes with --save"),
        ("log coupe.toml --yes", "--yes: goes with --import"),
        ("log coupe.toml --import none.csv", "none.csv: can't be read"),
    ],
)
def test_slips(line: str, said: str, run: Run, garage: Path) -> None:
    ran = run(line)
    assert ran[:2] == (2, "")
    assert said in ran.err
    assert not (garage / "coupe.log.jsonl").exists()


def test_a_log_without_a_weigh_in_is_said_to_have_none(run: Run, garage: Path) -> None:
    run("log coupe.toml --note wet")
    said = "log: there is no weigh-in in coupe.log.jsonl: give the four readings, or --readings"
    for command in ("prep", "sheet", "weigh --readings log"):
        name, _, options = command.partition(" ")
        assert run(f"{name} coupe.toml {options}").err.startswith(said)
    assert run("cars .").out.startswith("No weighed car.\n")


def test_not_into_the_middle_of_a_session(run: Run, garage: Path) -> None:
    log = garage / "coupe.log.jsonl"
    begin = {"v": 1, "n": 1, "at": "2026-06-13T10:00:00+02:00", "kind": "session"}
    log.write_text(json.dumps({**begin, "data": {"event": "begin"}}) + "\n", encoding="utf-8")
    ran = run(f"weigh coupe.toml {TYPED} --save")
    assert ran[:2] == (2, "")
    assert "a session of this car is still open" in ran.err


def test_old_weigh_ins_are_said_back_and_then_brought_in(run: Run, garage: Path) -> None:
    (garage / "old.csv").write_text(OLD, encoding="utf-8")
    told = run("log coupe.toml --import old.csv")
    assert told.status == 0
    assert "Nothing was written" in told.out
    assert "Left out: Weather." in told.out
    assert not (garage / "coupe.log.jsonl").exists()
    ran = run("log coupe.toml --import old.csv --yes --json").json
    assert (ran["weigh_ins"], ran["written"]) == (2, 2)
    first = run("weigh coupe.toml --readings log:2025-05-09 --json").json
    assert first["loads"] == {"LF": 301.5, "RF": 288.0, "LR": 230.5, "RR": 244.0}
    assert first["state"]["on_board"] == ["driver", "spare wheel"]
    again = run("log coupe.toml --import old.csv --yes")
    assert again[:2] == (2, "")
    assert "2 weigh-ins are there already" in again.err


def test_what_is_brought_in_later_comes_before(run: Run, garage: Path) -> None:
    """The last weigh-in is the last by date; old ones don't push themselves before it."""
    run(f"weigh coupe.toml {TYPED} --save")
    (garage / "old.csv").write_text(OLD, encoding="utf-8")
    run("log coupe.toml --import old.csv --yes")
    assert run("weigh coupe.toml --readings log --json").json["loads"]["LF"] == 302
    assert run("cars . --name Heron --json").json["cars"][0]["entry"] == 1


HEADINGS = {
    "plain": ("date,LF,RF,LR,RR,note\n", "{day},{lf},{rf},{lr},{rr},{note}\n"),
    "capitals and signs": (
        "\ufeffDATE,Left Front,Right_Front,LEFT-REAR,right rear,Comments,Tires\n",
        '{day},{lf},{rf},{lr},{rr},"{note}, dry",x\n',
    ),
    "semicolons and decimal commas": (
        "Note;Date;LF;RF;LR;RR\n", "{note};{day};{lf};{rf};{lr};{rr}\n",
    ),
    "blank lines and rows cut short": (
        "date,LF,RF,LR,RR,note\n\n", "{day},{lf},{rf},{lr},{rr}\n,,,\n",
    ),
    "shares of a total": (
        "date,total,front %,left %,cross %\n", "{day},{total},{front},{left},{cross}\n",
    ),
}  # fmt: skip


@pytest.mark.parametrize("mess", HEADINGS)
def test_three_hundred_rows_of_every_kind_of_mess(mess: str, run: Run, garage: Path) -> None:
    head, line = HEADINGS[mess]
    draw = random.Random(7)
    text, rows = head, []
    for number in range(300):
        row = [round(base + draw.uniform(-9, 9), 1) for base in (302, 288, 231, 244)]
        total = sum(row)
        values = {
            "lf": row[0], "rf": row[1], "lr": row[2], "rr": row[3], "total": round(total, 1),
            "front": round(100 * (row[0] + row[1]) / total, 3),
            "left": round(100 * (row[0] + row[2]) / total, 3),
            "cross": round(100 * (row[1] + row[2]) / total, 3),
        }  # fmt: skip
        told = {key: str(value) for key, value in values.items()}
        if "decimal commas" in mess:
            told = {key: value.replace(".", ",") for key, value in told.items()}
        day = f"20{10 + number // 24}-{1 + number % 12:02}-{1 + number // 12 % 2:02}"
        rows.append((day, tuple(row)))
        text += line.format(day=day, note=f"run {number}", **told)
    (garage / "old.csv").write_text(text, encoding="utf-8")
    assert run("log coupe.toml --import old.csv --yes --json").json["written"] == 300
    listed = run("log coupe.toml --all --json").json["entries"]
    for entry, (day, was) in zip(listed, sorted(rows), strict=True):
        assert entry["at"].startswith(day)
        assert tuple(entry["weighed"]["loads"].values()) == pytest.approx(was, abs=0.05)


def test_every_faulty_row_is_told_and_the_log_is_as_it_was(run: Run, garage: Path) -> None:
    text = """date,LF,RF,LR,RR,on board,note
2025-05-09,302,288,231,244,driver,ok
soon,302,288,231,244,,
2025-05-10,3o2,288,231,244,,
2025-05-11,302,288,-231,244,,
2025-05-12,302,,231,244,,
2025-05-13,302,288,231,244,anna,
"""
    (garage / "old.csv").write_text(text, encoding="utf-8")
    run(f"weigh coupe.toml {TYPED} --save")
    before = entries(garage)
    ran = run("log coupe.toml --import old.csv --yes")
    assert ran[:2] == (2, "")
    told = ran.err.splitlines()
    assert [line.split(": ")[0] for line in told] == [f"old.csv:{n}" for n in range(3, 8)]
    assert entries(garage) == before


def test_killed_while_it_writes_it_has_all_or_none(garage: Path) -> None:
    days = [f"20{10 + n // 336}-{1 + n // 28 % 12:02}-{1 + n % 28:02}" for n in range(3000)]
    text = "date,LF,RF,LR,RR\n" + "".join(f"{day},302,288.5,231,244\n" for day in days)
    (garage / "old.csv").write_text(text, encoding="utf-8")
    words = ["-m", "balancer", "log", "coupe.toml", "--import", "old.csv", "--yes"]
    log = garage / "coupe.log.jsonl"
    draw, seen = random.Random(11), set()
    for _ in range(int(os.environ.get("KILLS", "4"))):
        log.unlink(missing_ok=True)
        process = subprocess.Popen([sys.executable, *words], cwd=garage, stdout=subprocess.DEVNULL)
        try:
            process.wait(timeout=draw.uniform(0.5, 4))
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            process.wait()
        seen.add(len(entries(garage)) if log.exists() else 0)
    assert seen <= {0, 3000}


def test_a_table_with_returns_alone_is_read(run: Run, garage: Path) -> None:
    (garage / "old.csv").write_bytes(OLD.replace("\n", "\r").encode())
    assert run("log coupe.toml --import old.csv --yes").status == 0
    assert len(entries(garage)) == 2


def test_a_table_without_an_end_is_refused(run: Run, garage: Path) -> None:
    ran = run("log coupe.toml --import /dev/zero")
    assert ran == (2, "", "zero: is larger than 5 MB: split it\n")


def test_a_quote_left_open_is_a_fault_of_its_line(run: Run, garage: Path) -> None:
    (garage / "old.csv").write_text(f'{OLD}2025-07-01;"{"x" * 200_000}', encoding="utf-8")
    ran = run("log coupe.toml --import old.csv --yes")
    assert ran == (
        2,
        "",
        "old.csv:4: can't be taken apart (field larger than field limit (131072)): "
        "look for a quote that is left open\n",
    )
