"""Perches counted in flats, clicks or millimeters of thread: said back so, planned the same."""

from __future__ import annotations

import io
import re
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from balancer.files.car_reader import read_car
from tests.cli.conftest import Run

FOUR = "302 288.5 231 244"

Typed = Callable[[str, str], str]

COUNTS = {
    # How many make a turn (the thread climbs 1.5 mm), and a step of a quarter turn.
    "8 flats": (8, "2"),
    "12 clicks": (12, "3"),
    "mm": (1.5, "0.375"),
}


@pytest.fixture
def typed(run: Run, monkeypatch: pytest.MonkeyPatch) -> Typed:
    """Run a session with lines typed to it; give all that it says."""

    def typed(command: str, lines: str) -> str:
        monkeypatch.setattr(sys, "stdin", io.StringIO(f"{lines}\n"))
        ran = run(command)
        return f"{ran.out}{ran.err}"

    return typed


def counting(count: str, name: str = "counted.toml") -> str:
    """Write the coupe as somebody has it who counts something else at all four perches."""
    many, step = COUNTS[count]
    lines = []
    for line in Path("coupe.toml").read_text(encoding="utf-8").splitlines():
        key, _, rest = line.partition(" = ")
        if key == "perch_lead":
            lines.append(f'perch_count = "{count}"')
        if key == "perch_step":
            line = f"perch_step = {step}"
        if key == "perch_travel":
            low, high = rest.partition("]")[0].lstrip("[").split(",")
            line = f"perch_travel = [{float(low) * many}, {float(high) * many}]"
        lines.append(line)
    Path(name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return name


@pytest.mark.parametrize("count", COUNTS)
def test_the_car_and_its_plan_are_the_same(garage: Path, run: Run, count: str) -> None:
    turned, counted = read_car("coupe.toml").car, read_car(counting(count)).car
    assert counted.perch_step == pytest.approx(turned.perch_step, rel=1e-15)
    assert counted.perch_travel == pytest.approx(turned.perch_travel, rel=1e-15)
    plans = [run(f"perches {name} {FOUR} --json").json for name in ("coupe.toml", "counted.toml")]
    assert plans[0]["turns"] == pytest.approx(plans[1]["turns"], rel=1e-12)
    assert plans[0]["per_turn"] == plans[1]["per_turn"]


@pytest.mark.parametrize(
    ("count", "line", "total", "one"),
    [
        ("8 flats", "  LF: 8 flats down (−1.5 mm perch,", "36 flats in all:", "One flat up at"),
        ("12 clicks", "  LR: 15 clicks up (+1.9 mm", "54 clicks in all:", "One click up at"),
        ("mm", "  LR: 1.88 mm up (+1.9 mm", "6.75 mm in all:", "One mm up at"),
    ],
)
def test_a_plan_says_it_back(
    garage: Path, run: Run, count: str, line: str, total: str, one: str
) -> None:
    text = run(f"perches {counting(count)} {FOUR}").out
    assert f"Turn 4 corners, {total}" in text
    assert line in text
    assert one in text
    # The effect of one of them is that of a turn, divided.
    whole, part = (
        float(told.split("cross weight, points")[1].split()[1].replace("−", "-"))
        for told in (run(f"perches coupe.toml {FOUR}").out, text)
    )
    assert part == pytest.approx(whole / COUNTS[count][0], abs=0.005)


def test_a_corner_that_hangs_is_told_so_too(garage: Path, run: Run) -> None:
    text = Path("real.toml").read_text(encoding="utf-8")
    counted = re.sub(r"(?m)^(perch_lead = .*)$", r'\1\nperch_count = "6 flats"', text)
    Path("hung.toml").write_text(counted, encoding="utf-8")
    turns, flats = (
        float(re.findall(r"droop stop after ([0-9.]+) (?:turns|flats)", told)[0])
        for told in (
            run(f"perches {name} 303 297.5 236 229").out for name in ("real.toml", "hung.toml")
        )
    )
    assert flats == pytest.approx(6 * turns, abs=0.4)


def test_who_counts_two_things_is_told_both(garage: Path, run: Run) -> None:
    front, rear = Path(counting("8 flats")).read_text(encoding="utf-8").split("[rear]")
    turns = Path("coupe.toml").read_text(encoding="utf-8").split("[rear]")[1]
    Path("both.toml").write_text(f"{front}[rear]{turns}", encoding="utf-8")
    text = run(f"perches both.toml {FOUR}").out
    assert "Turn 4 corners, 16 flats and 2½ turns in all:" in text
    assert "  LF: 8 flats down" in text
    assert "  LR: 1¼ turns up" in text
    assert "One turn up at" in text
    assert rear.count("perch_count") == 1


def test_a_session_hears_and_says_it(garage: Path, run: Run, typed: Typed) -> None:
    counting("8 flats")
    said = f"""{FOUR}
made LF=-6 RF 4 flats up, LR 1 1/4 turns up, RR=-0.5 turns
296.5 294.5 237 237.5"""
    ran = typed("session counted.toml", said)
    assert "Made since the last weigh-in: LF −6, RF +4, LR +10, RR −4 flats." in ran
    log = run("log counted.toml --kind made").out
    assert "LF −6, RF +4, LR +10, RR −4 flats" in log
    kept = run("log counted.toml --kind made --json").json["entries"][-1]
    assert kept["data"]["turns"] == {"LF": -0.75, "RF": 0.5, "LR": 1.25, "RR": -0.5}
    back = run("back counted.toml --at 1").out
    assert "  LF: 6 flats up" in back


def test_what_nobody_counts_is_refused(garage: Path, run: Run) -> None:
    text = Path(counting("8 flats")).read_text(encoding="utf-8")
    faulty = {
        'perch_count = "flats"': "“flats” is not counted at a perch: write",
        'perch_count = "8 teeth"': "“8 teeth” is not counted at a perch: write",
        "perch_count = 8": '8 is not text in quotes: write "8"',
    }
    for line, fault in faulty.items():
        Path("bad.toml").write_text(text.replace('perch_count = "8 flats"', line, 1), "utf-8")
        ran = run("check bad.toml")
        assert (ran.status, ran.err.count("\n")) == (2, 1), ran.err
        assert f"front.perch_count: {fault}" in ran.err
    for old, new, fault in (
        (
            "perch_step = 2",
            "perch_step = 40",
            "40 flats is out of reason: expected 0.08 to 32 flats",
        ),
        ("[-64.0, 80.0]", "[8, 80]", "[8, 80] leaves out where the perch stands now"),
        ("[-64.0, 80.0]", "[-2000, 80]", "-2000 is out of reason: expected -1600 to 1600"),
    ):
        Path("bad.toml").write_text(text.replace(old, new, 1), "utf-8")
        ran = run("check bad.toml")
        assert (ran.status, ran.err.count("\n")) == (2, 1), ran.err
        assert fault in ran.err


def test_made_is_refused_with_its_reason(garage: Path, run: Run, typed: Typed) -> None:
    counting("8 flats")
    for said, fault in {
        "made LF=-3 mm": "made LF: “mm” is not a unit for this: known here: flat, turn",
        "made LF -3 flats down": "made LF: “-3 flats down” has a sign and a way: leave one of them",
        "made LF=900": "made LF: 900 flats: expected -800 to 800",
        "made LF=x": "made LF: “x” is not a number: write flats like -3",
    }.items():
        assert fault in typed("session counted.toml", f"{FOUR}\n{said}")
