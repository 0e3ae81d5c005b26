"""`balancer back`: the turns that bring the perches back to where they stood."""

from __future__ import annotations

import io
import shutil
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from balancer.car.conventions import CORNERS
from balancer.files.car_reader import read_car
from balancer.log.back import way_back
from balancer.log.lookup import state_at
from balancer.log.reader import log_path, read_log
from balancer.log.session_lines import fingerprint, stated_lead, stated_travel
from balancer.log.writer import open_log
from tests.cli.conftest import Run
from tests.conftest import ROOT

START = datetime.fromisoformat("2026-04-18T09:00:00-05:00")
CAR = "roadster_us.toml"
Write = Callable[..., None]
WEIGHED = {"readings": [[520, 498, 455, 462]], "units": "us", "on_board": []}


@pytest.fixture
def write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Write:
    """Write a log, an entry a day, beside a car that can turn ten down and twelve up."""
    shutil.copy(ROOT / "examples" / CAR, tmp_path)
    monkeypatch.chdir(tmp_path)

    def write(*entries: tuple[Any, dict[str, Any]]) -> None:
        file = read_car(CAR)
        stated = {"perch_travel": stated_travel(file.car), "lead": stated_lead(file.car)}
        begin = ("session", {"event": "begin", "rates": fingerprint(file.car), **stated})
        days = iter(range(len(entries) + 1))
        with open_log(log_path(file.path), lambda: START + timedelta(days=next(days))) as log:
            for kind, data in (begin, *entries):
                log.append(kind, data)

    return write


def made(**turns: float) -> tuple[str, dict[str, Any]]:
    return "made", {"turns": turns, "assumed": False}


def edit(old: str, new: str) -> None:
    text = Path(CAR).read_text(encoding="utf-8")
    assert old in text
    Path(CAR).write_text(text.replace(old, new), encoding="utf-8")


def test_back_takes_back_what_was_turned_since(run: Run, write: Write) -> None:
    write(("weigh_in", WEIGHED), made(LF=-0.5, RR=0.25), made(LF=-0.25), ("weigh_in", WEIGHED))
    status, out, err = run(f"back {CAR} --at 2")
    assert (status, err) == (0, "")
    assert out.partition("\n\nCare")[0].splitlines() == [
        "Heron Lane roadster: back to where it stood after entry 2 (2026-04-19 09:00)",
        "",
        "Turned since, twice: LF −¾, RR +¼ in all.",
        "Turn back:",
        "  LF: ¾ turn up (+0.05 in perch)",
        "  RR: ¼ turn down (−0.02 in perch)",
        "Then weigh: whatever else was changed since is not in this.",
    ]
    assert "never work under a car on a jack" in out
    found = run(f"back {CAR} --at 2026-04-20 --json").json
    assert found["turns"] == {"LF": 0.25, "RF": 0.0, "LR": 0.0, "RR": 0.0}
    assert found["back_to"]["entry"] == 3


def test_what_was_undone_was_never_turned(run: Run, write: Write) -> None:
    write(("weigh_in", WEIGHED), made(LF=9), ("undo", {"undoes": 3}), made(LF=1))
    assert run(f"back {CAR} --at log:2 --json").json["turns"]["LF"] == -1
    assert run(f"back {CAR} --at 3") == (
        2, "", "--at: entry 3 was undone: it counts for nothing, name another\n",
    )  # fmt: skip


def test_nothing_turned_since_is_said(run: Run, write: Write) -> None:
    write(made(LF=1), ("weigh_in", WEIGHED))
    status, out, _ = run(f"back {CAR} --at 3")
    assert status == 0
    assert "Nothing to turn: the perches stand where they stood then, not turned since." in out
    assert "Care" not in out


def test_turns_that_nobody_confirmed_are_told_apart(run: Run, write: Write) -> None:
    assumed = ("made", {"turns": {"LF": 0.5}, "assumed": True})
    plan = ("plan", {"turns": {"RF": 0.25}, "stop": ""})
    write(("weigh_in", WEIGHED), assumed, made(LF=1), ("weigh_in", WEIGHED), plan)
    out = run(f"back {CAR} --at 1").out
    first = out.split("\n\n")[1].splitlines()
    assert first == [
        "Turned twice since, one of them by the plan alone: nobody said so.",
        "Planned last and not said to be made, so not counted: RF +¼.",
    ]
    found = run(f"back {CAR} --at 1 --json").json
    assert (found["sets"], found["assumed"], found["planned"]["RF"]) == (2, 1, 0.25)


def test_turns_that_are_all_the_plans_are_told_as_that(run: Run, write: Write) -> None:
    write(("weigh_in", WEIGHED), ("made", {"turns": {"LF": 0.5}, "assumed": True}))
    assert (
        "\nTurned once since, by the plan alone: nobody said so.\n" in run(f"back {CAR} --at 1").out
    )


def test_beyond_the_travel_left_is_said_first(run: Run, write: Write) -> None:
    write(made(LF=20), made(LF=-9), made(LF=-9))
    edit("perch_travel = [-10, 12]", "perch_travel = [-10, 3]")
    status, out, err = run(f"back {CAR} --at 2")
    assert status == 1
    assert out.split("\n\n")[1] == (
        "LF: 18 turns up is beyond the travel left, 3: it can't go all the way back."
    )
    assert "perch_travel was changed since then: turns are counted by the log alone" in err
    found = run(f"back {CAR} --at 2 --json").json
    assert found["status"] == "beyond_travel"
    assert found["beyond_travel"] == [{"corner": "LF", "turns": 18.0, "left": 3.0}]


def test_damaged_lines_in_between_are_said(run: Run, write: Write) -> None:
    write(("weigh_in", WEIGHED), made(LF=1), made(RF=1))
    path = Path(log_path(CAR))
    lines = path.read_text(encoding="utf-8").splitlines()
    lines[2] = lines[2][:30]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    status, _, err = run(f"back {CAR} --at 2")
    assert status == 0
    assert "line 3 is damaged and left out" in err
    assert "turns that may stand there are not counted" in err
    assert run(f"back {CAR} --at 4").err == ""


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("2026-04-17", "--at: 2026-04-17 is before the log begins, 2026-04-18 09:00: name a later"),
        ("9", "--at: there is no entry 9: there are 1 to 2"),
        ("spring", "--at: “spring” is no date: write a number, or a date like"),
    ],
)
def test_what_the_log_cannot_tell(at: str, said: str, run: Run, write: Write) -> None:
    write(made(LF=1))
    status, out, err = run(f"back {CAR} --at {at}")
    assert (status, out) == (2, "")
    assert err.startswith(said)


def test_no_log_is_refused(run: Run, write: Write) -> None:
    status, out, err = run(f"back {CAR} --at 1")
    assert (status, out) == (2, "")
    assert err.startswith("roadster_us.log.jsonl: is not there: nobody wrote down what was turned")


def test_turns_of_another_length_are_refused(run: Run, write: Write) -> None:
    write(("weigh_in", WEIGHED), made(LF=1, RR=0.5))
    edit("perch_lead = 0.0625         #", "perch_lead = 0.05         #")
    status, out, err = run(f"back {CAR} --at 2")
    assert (status, out) == (2, "")
    assert err == (
        "roadster_us.toml: LF: a turn is 0.05 in by the car file now, and was 0.0625 in on"
        " 2026-04-18 (entry 1): turns of two lengths don't add up: measure the perch instead\n"
    )


def test_an_older_log_does_not_say_which_rate_was_changed(run: Run, write: Write) -> None:
    write()
    path = Path(log_path(CAR))
    text = path.read_text(encoding="utf-8")
    path.write_text(text[: text.index(', "lead"')] + "}}\n", encoding="utf-8")
    edit("spring_rate = 450", "spring_rate = 400")
    status, _, err = run(f"back {CAR} --at 1")
    assert status == 0
    assert "rates or leads were changed since then, and the log does not say which" in err


def test_a_session_writes_down_how_long_a_turn_is(
    run: Run, write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("520 498 455 462\n"))
    assert run(f"session {CAR}").status == 0
    (begin,) = [entry for entry in read_log(log_path(CAR)).entries if entry.begins]
    assert begin.data["lead"] == stated_lead(read_car(CAR).car)


def test_turns_off_the_steps_are_said(run: Run, write: Write) -> None:
    write(("weigh_in", WEIGHED), made(LF=0.3))
    assert "LF: 0.3 turns is no whole number of steps of 0.25" in run(f"back {CAR} --at 2").err


def test_made_they_bring_every_perch_back(write: Write) -> None:
    rng = np.random.default_rng(7)
    sets = [dict(zip(CORNERS, rng.integers(-8, 9, 4) / 4, strict=True)) for _ in range(20)]
    write(*(made(**one) for one in sets))
    file = read_car(CAR)
    log = read_log(log_path(CAR))
    for number in range(1, 21):
        back = way_back(file, log, str(number))
        then = state_at(log.entries, log.entries[number - 1].at).turns
        now = state_at(log.entries).turns
        assert back.turns.tolist() == [then[corner] - now[corner] for corner in CORNERS]
