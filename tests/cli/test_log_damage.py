"""A log with lines that can't be read, or a clock that was wrong: what is left still counts."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from balancer.car.adjusters import adjusters_of
from balancer.car.statics import statics_of
from balancer.files.car_file import CarFile
from balancer.files.car_reader import read_car
from balancer.log.car_from_log import with_turns_made
from balancer.log.entry import Entry, Kind, line_of
from balancer.log.entry_readings import readings_of_entry
from balancer.log.reader import effective, read_log
from balancer.log.resume import TakenUp, take_up
from balancer.log.session_lines import begin_data
from balancer.log.terms import Terms
from balancer.log.undo import half_replaced, half_undone, taken_back
from balancer.log.writer import open_log
from balancer.weighing.weigh import weigh
from tests.cli.conftest import Ran, Run

AT = datetime.fromisoformat("2026-06-13T14:30:00+02:00")
SAID = "302 288.5 231 244\nmade LF=-1 RF=1 LR=1 RR=-1\n296 294.5 237 238.5\n"
REAL = "303 297.5 236 229\nmade LF=-1 LR=0.5\n300 300.5 238.5 226.5\n"


@pytest.fixture
def session(run: Run, garage: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Run a session that is fed lines."""

    def session(car: str, lines: str, options: str = "") -> Ran:
        monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
        return run(f"session {car}.toml {options}")

    return session


def damage(log: str, kind: str, which: int = 0, *, ended: bool = True) -> None:
    """Spoil one entry of a kind; without its end a session looks killed."""
    lines = Path(log).read_text(encoding="utf-8").splitlines(keepends=True)
    if not ended:
        assert json.loads(lines.pop())["data"] == {"event": "end"}
    found = [n for n, line in enumerate(lines) if json.loads(line)["kind"] == kind]
    lines[found[which]] = "coffee\n"
    Path(log).write_text("".join(lines), encoding="utf-8")


# --- a lost line and the turns around it ---


@pytest.mark.parametrize("which", [0, 1])
def test_a_session_on_real_corners_begins_whatever_weigh_in_is_lost(
    which: int, session: Any
) -> None:
    assert session("real", REAL).status == 0
    damage("real.log.jsonl", "weigh_in", which)
    ran = session("real", "300 300.5 238.5 226.5\n")
    assert ran.status == 0
    assert "is damaged and left out, see balancer log" in ran.err
    assert "\nWeigh-in 1:" in ran.out


def test_a_session_on_real_corners_begins_with_no_weigh_in_left(session: Any) -> None:
    assert session("real", REAL).status == 0
    damage("real.log.jsonl", "weigh_in", 0)
    damage_again = Path("real.log.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in damage_again if '"kind": "weigh_in"' not in line]
    Path("real.log.jsonl").write_text("".join(kept), encoding="utf-8")
    assert session("real", "300 300.5 238.5 226.5\n").status == 0


def test_preloads_come_out_the_same_from_the_second_weigh_in(session: Any) -> None:
    assert session("real", REAL).status == 0
    file, entries = read_car("real.toml"), read_log("real.log.jsonl").entries
    whole = with_turns_made(file, effective(entries))
    first = next(one for one in entries if one.kind == "weigh_in")
    part = with_turns_made(file, effective(one for one in entries if one is not first))
    for one, other in zip(whole.corners, part.corners, strict=True):
        assert one.preload == pytest.approx(other.preload, abs=60)
    # What counting from the second without turning back would have come to is further off.
    second = [one for one in entries if one.kind == "weigh_in"][1]
    read = weigh(file.car, readings_of_entry(second, file))
    loads = read.loads + read.pad_effect
    spent = np.array([-1, 0, 0.5, 0])
    naive = statics_of(file.car, loads).after(spent)
    errors = [
        sum(abs(a.preload - b.preload) for a, b in zip(whole.corners, car.corners, strict=True))
        for car in (part, naive)
    ]
    assert errors[0] < errors[1] / 2


def entries_of(file: CarFile, *said: tuple[str, dict[str, Any]]) -> list[Entry]:
    told = [("session", begin_data(file, Terms())), *said]
    return [
        Entry(n, (AT + timedelta(minutes=n)).isoformat(), kind, data)
        for n, (kind, data) in enumerate(told, 1)
    ]


def weighing(*loads: float) -> tuple[str, dict[str, Any]]:
    return "weigh_in", {"readings": [list(loads)], "units": "metric", "on_board": []}


def turns(kind: str, **by_corner: float) -> tuple[str, dict[str, Any]]:
    return kind, {"turns": by_corner}


FIRST, SECOND = weighing(302, 288.5, 231, 244), weighing(296, 294.5, 237, 238.5)


def taken(file: CarFile, entries: list[Entry], now: datetime = AT) -> TakenUp:
    return take_up(file, entries, Terms(), now)


def test_turns_before_the_first_weigh_in_left_are_off_the_travel(garage: Path) -> None:
    file = read_car("coupe.toml")
    found = taken(file, entries_of(file, turns("made", LF=-1.0, RR=2.0), SECOND))
    assert found.resumed
    spent = adjusters_of(file.car).travel - adjusters_of(found.session.car).travel
    assert spent[:, 1].tolist() == pytest.approx([-1, 0, 0, 2])


def test_turns_on_both_sides_of_a_lost_weigh_in_are_added(garage: Path) -> None:
    file = read_car("coupe.toml")
    story = [FIRST, turns("plan", LF=-1.0), turns("made", LF=-1.0), turns("plan", RR=0.5)]
    found = taken(file, entries_of(file, *story))
    lines = found.lines
    assert lines.due is not None
    assert (lines.due.tolist(), lines.before.tolist()) == ([0, 0, 0, 0.5], [-1, 0, 0, 0])
    assert found.session.made == ()
    said = taken(file, entries_of(file, *story, turns("made", RR=0.75)))
    assert said.session.made[0].tolist() == [-1, 0, 0, 0.75]
    again = taken(file, entries_of(file, *story, turns("made", RR=0.75), SECOND))
    assert again.session.made[0].tolist() == [-1, 0, 0, 0.75]


def test_what_is_said_after_a_lost_weigh_in_comes_on_top(session: Any) -> None:
    assert session("coupe", SAID + "made LF=0.25\n").status == 0
    damage("coupe.log.jsonl", "weigh_in", 1, ended=False)
    ran = session("coupe", "made RR=0.5\n294 296.5 239 236\nyes\n")
    assert "one is lost, and LF −1, RF +1, LR +1, RR −1 was turned before it" in " ".join(
        ran.err.split()
    )
    made = [one.data["turns"] for one in effective(read_log("coupe.log.jsonl").entries)
            if one.kind == "made"]  # fmt: skip
    assert made == [{"LF": -1, "RF": 1, "LR": 1, "RR": -1}, {"RR": 0.5}]


# --- clocks ---


@pytest.mark.parametrize(
    ("hours", "fresh"), [(1, True), (11, True), (13, False), (-11, True), (-13, False)]
)
def test_a_session_is_fresh_by_what_was_done_at_the_car(
    garage: Path, hours: float, fresh: bool
) -> None:
    file = read_car("coupe.toml")
    now = AT + timedelta(hours=hours)
    entries = entries_of(file, FIRST)
    note = Entry(9, now.isoformat(), "note", {"text": "still wet"})
    far = Entry(10, (AT + timedelta(days=3000)).isoformat(), "note", {"text": "clock"})
    assert taken(file, [*entries, note, far], now).resumed is fresh


def test_a_session_of_the_future_is_said_not_to_go_on(session: Any, garage: Path) -> None:
    file, ahead = read_car("coupe.toml"), datetime.now().astimezone() + timedelta(days=400)
    with open_log("coupe.log.jsonl", lambda: ahead) as log:
        for entry in entries_of(file, FIRST):
            log.append(cast(Kind, entry.kind), entry.data)
    ran = session("coupe", "302 288.5 231 244\n")
    assert "\nWeigh-in 1:" in ran.out
    said = f"broken off at {ahead:%Y-%m-%d %H:%M}, ahead of the clock: not gone on with"
    assert said in " ".join(ran.err.split())


def test_one_wrong_clock_does_not_make_a_session_stale(garage: Path) -> None:
    file = read_car("coupe.toml")
    first, second, third = entries_of(file, FIRST, SECOND)
    wrong = third._replace(at="1970-01-01T00:00:00+00:00")
    assert taken(file, [first, second, wrong], AT + timedelta(hours=1)).resumed


def test_a_zone_that_can_not_be_is_no_reason_to_stop(
    run: Run, garage: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", "XXX-99")
    time.tzset()
    try:
        assert run("log coupe.toml --note wet").status == 0
        monkeypatch.setattr(sys, "stdin", io.StringIO("302 288.5 231 244\n"))
        assert run("session coupe.toml").status == 0
    finally:
        monkeypatch.undo()
        time.tzset()
    assert not read_log("coupe.log.jsonl").damaged


# --- notes ---


def test_a_note_too_long_is_a_fault_and_the_session_goes_on(session: Any) -> None:
    ran = session("coupe", f"note {'x' * 1_100_000}\n302 288.5 231 244\n")
    assert ran.status == 0
    assert "note: has 1100000 characters: 1000 at most" in ran.err
    assert "Weigh-in 1" in ran.out


def test_notes_at_the_same_time_wait_for_each_other(garage: Path) -> None:
    words = [sys.executable, "-m", "balancer", "log", "coupe.toml", "--note"]
    notes = [subprocess.Popen([*words, f"note {n}"], stdout=subprocess.PIPE) for n in range(6)]
    for one in notes:
        one.communicate()
    assert [one.returncode for one in notes] == [0] * 6
    assert [one.number for one in read_log("coupe.log.jsonl").entries] == [1, 2, 3, 4, 5, 6]


def test_a_note_between_lines_of_a_killed_session_changes_nothing() -> None:
    at = AT.isoformat()
    weighed, plan, note = (
        Entry(n, at, kind, {}) for n, kind in ((1, "weigh_in"), (2, "plan"), (8, "note"))
    )
    instead = Entry(3, at, "undo", {"undoes": 1, "replaced": True})
    assert half_replaced([weighed, plan, instead, note]) == [3]
    undo = Entry(3, at, "undo", {"undoes": 2, "all": [2, 1]})
    assert half_undone([weighed, plan, undo, note]) == [1]
    made = Entry(3, at, "made", {"turns": {"LF": 1}, "assumed": True})
    again = Entry(9, at, "weigh_in", {})
    assert taken_back([weighed, plan, made, note, again], with_turns=True) == [again, made]


def test_a_fault_in_an_entry_names_its_line(run: Run, garage: Path) -> None:
    entry = Entry(7, AT.isoformat(), "weigh_in", {"readings": [[1, 2, 3]]})
    Path("coupe.log.jsonl").write_bytes(b"coffee\n\n" + line_of(entry, 3))
    ran = run("weigh coupe.toml --readings log")
    assert ran.status == 2
    assert "coupe.log.jsonl:3: entry 7: readings[1]: has 3 values" in ran.err


def test_a_session_looks_at_its_own_part_of_the_log_only(garage: Path) -> None:
    hours = iter(range(100))
    with open_log("coupe.log.jsonl", lambda: AT + timedelta(hours=next(hours))) as log:
        for text in "ab":
            log.append("session", {"event": "begin"})
            log.append("note", {"text": text})
            assert [one.kind for one in log.recent] == ["session", "note"]
        assert log.recent[1].data["text"] == "b"
    with open_log("coupe.log.jsonl") as log:
        assert [one.number for one in log.recent] == [3, 4]
        assert [one.line for one in log.entries] == [1, 2, 3, 4]


# --- what plans from the log say of it ---


PLANS = {
    "prep": "prep coupe.toml --json",
    "perches": "perches coupe.toml --readings log --json",
    "weigh": "weigh coupe.toml --readings log --json",
    "sheet": "sheet coupe.toml --output page.html --json",
}


@pytest.mark.parametrize("command", sorted(PLANS))
def test_a_plan_says_that_a_line_of_the_log_is_lost(
    command: str, run: Run, session: Any, garage: Path
) -> None:
    assert session("coupe", SAID).status == 0
    last = [one for one in read_log("coupe.log.jsonl").entries if one.kind == "weigh_in"][-1]
    whole = run(PLANS[command])
    assert "damaged" not in whole.err
    assert whole.json["from_log"] == {"entry": last.number, "at": last.at, "damaged": []}
    damage("coupe.log.jsonl", "weigh_in", -1)
    found = run(PLANS[command])
    assert found.status in (0, 1)
    kept = [one for one in read_log("coupe.log.jsonl").entries if one.kind == "weigh_in"][-1]
    assert kept.number < last.number
    assert found.json["from_log"]["entry"] == kept.number
    assert found.json["from_log"]["damaged"] == [last.line]
    said = f"line {last.line} is damaged and left out, see balancer log; the readings are those of"
    assert f"{said} entry {kept.number}, {kept.at[:10]}" in " ".join(found.err.split())


@pytest.mark.parametrize("meant", [[[1], {}, None, "1", 1.5], {"1": 1}, "1", None])
def test_a_session_begins_after_an_undoing_that_names_no_entries(
    meant: object, session: Any, garage: Path
) -> None:
    session("coupe", SAID)
    with open_log("coupe.log.jsonl") as log:
        log.append("undo", {"undoes": 5, "all": meant})
    assert session("coupe", "").status == 0


def test_learned_says_that_a_line_of_the_log_is_lost(run: Run, session: Any, garage: Path) -> None:
    assert session("coupe", SAID).status == 0
    damage("coupe.log.jsonl", "plan")
    found = run("learned coupe.toml --json")
    line = found.json["from_log"]["damaged"][0]
    assert found.json["from_log"]["entry"] > line
    assert f"line {line} is damaged and left out" in found.err


# --- what was on board and has another name now ---


def renamed(car: str, old: str, new: str) -> None:
    path = Path(car)
    text = path.read_text(encoding="utf-8")
    assert f'"{old}"' in text
    path.write_text(text.replace(f'"{old}"', f'"{new}"'), encoding="utf-8")


def test_a_renamed_item_is_taken_as_the_entry_has_it(run: Run, session: Any, garage: Path) -> None:
    assert session("coupe", SAID, "--weighed-with driver").status == 0
    before = run("prep coupe.toml --json").json
    renamed("coupe.toml", "driver", "pilot")
    for command in PLANS.values():
        found = run(command)
        assert found.status in (0, 1)
        said = "“driver” was on board and is no longer in the car file: it is taken as it was then"
        assert f"{said}, 78 kg" in " ".join(found.err.split())
    after = run("prep coupe.toml --json").json
    assert after["race_trim"]["total"] == pytest.approx(before["race_trim"]["total"])
    assert after["turns"] == before["turns"]


def test_an_old_entry_with_a_renamed_item_counts_as_it_is(run: Run, garage: Path) -> None:
    data = {"readings": [[302, 288.5, 231, 244]], "units": "metric", "on_board": ["helmets"]}
    Path("coupe.log.jsonl").write_bytes(line_of(Entry(1, AT.isoformat(), "weigh_in", data), 1))
    found = run("weigh coupe.toml --readings log")
    assert found.status == 0
    assert "“helmets” was on board and is no longer in the car file: it counts as part" in " ".join(
        found.err.split()
    )


@pytest.mark.parametrize("aboard", [5, [5], [{"name": "driver"}], [{"name": "x", "mass": "y"}]])
def test_what_was_on_board_is_read_however_damaged(aboard: Any, run: Run, garage: Path) -> None:
    data = {"readings": [[302, 288.5, 231, 244]], "on_board": ["helmets"], "aboard": aboard}
    Path("coupe.log.jsonl").write_bytes(line_of(Entry(1, AT.isoformat(), "weigh_in", data), 1))
    assert run("weigh coupe.toml --readings log").status == 0


def test_a_session_on_real_corners_begins_after_an_item_was_renamed(session: Any) -> None:
    assert session("real", REAL, "--weighed-with driver").status == 0
    renamed("real.toml", "driver", "pilot")
    assert session("real", "300 300.5 238.5 226.5\n").status == 0


@pytest.mark.parametrize(
    "at",
    ["0001-01-01T00:00:00+00:00", "9999-12-31T23:59:59+00:00", "0001-01-02T00:00:00+14:00"],
)
@pytest.mark.parametrize("other", [AT.isoformat(), None])
def test_a_date_at_the_end_of_time_can_be_drawn(
    at: str, other: str | None, run: Run, garage: Path
) -> None:
    data = {"readings": [[302, 288.5, 231, 244]], "units": "metric", "on_board": []}
    entries = [Entry(n, when, "weigh_in", data) for n, when in enumerate((at, other or at), 1)]
    Path("coupe.log.jsonl").write_bytes(b"".join(line_of(one, one.number) for one in entries))
    assert run("log coupe.toml --svg log.svg").status == 0
    assert run("log coupe.toml").status == 0
    assert run("prep coupe.toml").status in (0, 1)
