"""A weigh-in of the log put right by a line of its own; all that reads the log follows."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from balancer.log.entry import Entry
from balancer.log.reader import effective, read_log
from balancer.log.undo import taken_back
from balancer.log.writer import open_log
from tests.cli.conftest import Run

START = datetime(2026, 6, 13, 9, 0, tzinfo=timezone(timedelta(hours=2)))
AT = START.isoformat()
LOG = "coupe.log.jsonl"
RIGHT, WRONG = [[302.0, 288.5, 231.0, 244.0]], [[288.5, 302.0, 231.0, 244.0]]
DRIVER = {"name": "driver", "mass": 78.0, "aft": 1420.0, "left": 340.0, "up": 400.0}
Write = Callable[..., None]


def weighed(readings: list[list[float]], **more: Any) -> tuple[str, dict[str, Any]]:
    data = {"readings": readings, "units": "metric", "on_board": ["driver"], "aboard": [DRIVER]}
    return "weigh_in", {**data, **more}


@pytest.fixture
def write(garage: Path) -> Write:
    """Write a log anew, an entry an hour or at the times that are given."""

    def write(*entries: tuple[Any, dict[str, Any]], at: datetime = START) -> None:
        Path(LOG).unlink(missing_ok=True)
        hours = iter(range(100))
        with open_log(LOG, lambda: at + timedelta(hours=next(hours))) as log:
            for kind, data in entries:
                log.append(kind, data)

    return write


def test_a_correction_is_a_line_of_its_own(run: Run, write: Write) -> None:
    write(weighed(WRONG), ("note", {"text": "wet"}))
    before = Path(LOG).read_bytes()
    status, out, err = run("log coupe.toml --correct 1 --loads 302 288.5 231 244")
    assert (status, err) == (0, "")
    assert out.splitlines() == [
        "Entry 3 of coupe.log.jsonl: weigh-in 1 is corrected.",
        "  readings 302 288.5 231 244 instead of 288.5 302 231 244",
        "It is 2026-06-13 09:00, 1065.5 kg, cross 48.8 % now.",
    ]
    assert Path(LOG).read_bytes().startswith(before)
    assert read_log(LOG).entries[-1].data == {
        "corrects": 1, "to": {"readings": RIGHT}, "was": {"readings": WRONG},
    }  # fmt: skip


def test_the_list_marks_what_was_corrected(run: Run, write: Write) -> None:
    write(weighed(WRONG))
    run("log coupe.toml --correct 1 --date 2026-06-12 --loads 302 288.5 231 244")
    run("log coupe.toml --correct 1 --weighed-with none")
    lines = run("log coupe.toml --kind all").out.splitlines()
    assert lines[2].endswith("2026-06-12 09:00  weigh-in  corrected: 1065.5 kg, cross 48.8 %")
    assert lines[4].endswith("corrects  1: on board nothing instead of driver")
    shown = run("log coupe.toml --show 1").out
    assert 'on_board: ["driver"]' in shown
    assert "Corrected by entry 2: when 2026-06-12 09:00 instead of 2026-06-13 09:00;" in shown
    assert "Corrected by entry 3: on board nothing instead of driver" in shown
    first = run("log coupe.toml --json").json["entries"][0]
    assert first["at"] == "2026-06-12T09:00:00+02:00"
    assert first["data"]["on_board"] == []
    assert first["corrected"]["by"] == [2, 3]
    assert first["corrected"]["was"]["at"] == AT
    assert first["corrected"]["was"]["data"]["readings"] == WRONG


DOWNSTREAM = [
    "weigh coupe.toml --readings log:2 --json",
    "weigh coupe.toml --readings log:2026-06-12 --json",
    "prep coupe.toml --json",
    "perches coupe.toml --readings log",
    "trim coupe.toml --readings log:2 --to driver --json",
    "log coupe.toml --at 2026-06-12T23:00",
    "compare coupe.toml log:2 log:4 --json",
    "learned coupe.toml --json",
]


@pytest.mark.parametrize("line", DOWNSTREAM)
def test_everything_downstream_follows(line: str, run: Run, write: Write) -> None:
    begin = ("session", {"event": "begin", "target_cross_pct": 50, "tolerance_pct": 0.2})
    last = weighed([[300.0, 290.5, 233.0, 242.0]])
    date = {"date": "2026-06-13"}
    write(begin, weighed(WRONG, **date), ("made", {"turns": {"LF": -0.5}}), last)
    fix = "--loads 302 288.5 231 244 --weighed-with none --date 2026-06-12T21:30"
    assert run(f"log coupe.toml --correct 2 {fix}").status == 0
    found = run(line)
    corrected = effective(read_log(LOG).entries)
    write(*((entry.kind, entry.data) for entry in corrected))
    text = Path(LOG).read_text(encoding="utf-8").splitlines()
    text[1] = text[1].replace("2026-06-13T10:00:00", "2026-06-12T21:30:00")
    assert json.loads(text[1])["data"]["date"] == "2026-06-12"
    Path(LOG).write_text("\n".join(text) + "\n", encoding="utf-8")
    assert found == run(line)


def test_csv_has_it_right(run: Run, write: Write) -> None:
    write(weighed(WRONG))
    run("log coupe.toml --correct 1 --loads 302 288.5 231 244 --date 2026-06-12")
    run("log coupe.toml --csv out.csv")
    row = Path("out.csv").read_text(encoding="utf-8").splitlines()[1]
    assert row.startswith("1,2026-06-12T09:00:00+02:00,302,288.5,231,244,")


def test_a_correction_can_be_taken_back(run: Run, write: Write) -> None:
    write(weighed(WRONG))
    was = effective(read_log(LOG).entries)
    run("log coupe.toml --correct 1 --loads 302 288.5 231 244")
    assert effective(read_log(LOG).entries) != was
    status, out, _ = run("log coupe.toml --undo 2")
    assert (status, out) == (0, "Entry 3 of coupe.log.jsonl: correction 2 is undone.\n")
    assert effective(read_log(LOG).entries) == was
    assert "undone: 1: readings" in run("log coupe.toml --kind all").out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--correct 1", "--correct: nothing to put right: give --weighed-with, --date or --loads"),
        ("--date 2026-06-12", "--date: goes with --correct: say which weigh-in: --correct 12"),
        ("--correct 9 --date 2026-06-12", "--correct: there is no entry 9: there are 1 to 5"),
        ("--correct 2 --date 2026-06-12", "--correct: entry 2 is no weigh-in but “note”: only"),
        ("--correct 3 --date 2026-06-12", "--correct: entry 3 was undone: it counts for nothing"),
        (
            "--correct 5 --date 2026-06-12",
            "--correct: entry 5 is itself a correction, of entry 1: correct that again, or take"
            " this back: --undo 5",
        ),
        ("--correct 1 --date 2999-06-12", "--date: 2999-06-12 is yet to come: check the year"),
        ("--correct 1 --date tuesday", "--date: “tuesday” is no date: write one like"),
        ("--correct 1 --loads 302 288.5 231 0", "RR: reads 0: is the wheel on its pad"),
        ("--correct 1 --loads 302 x 231 244", "RF: “x” is not a number"),
        ("--correct 1 --weighed-with drover", "--weighed-with: “drover” is not in the car file"),
        ("--correct 1 --weighed-with driver", "--correct: entry 1 says so already: nothing was"),
        ("--undo 1", "--undo: entry 1 is no correction but “weigh-in”: a session takes back"),
    ],
)  # fmt: skip
def test_what_can_not_be_put_right(words: str, said: str, run: Run, write: Write) -> None:
    right = {"corrects": 1, "to": {"readings": RIGHT}, "was": {"readings": WRONG}}
    write(
        weighed(WRONG), ("note", {"text": "wet"}), weighed(WRONG), ("undo", {"undoes": 3}),
        ("correction", right),
    )  # fmt: skip
    before = Path(LOG).read_bytes()
    status, out, err = run(f"log coupe.toml {words}")
    assert (status, out) == (2, "")
    assert err.startswith(said)
    assert Path(LOG).read_bytes() == before


def test_a_damaged_weigh_in_is_named_as_such(run: Run, write: Write) -> None:
    write(weighed(WRONG), weighed(RIGHT))
    lines = Path(LOG).read_text(encoding="utf-8").splitlines()
    Path(LOG).write_text(f"{lines[0][:40]}\n{lines[1]}\n", encoding="utf-8")
    status, _, err = run("log coupe.toml --correct 1 --date 2026-06-12")
    assert status == 2
    assert "there is no entry 1: there are 2 to 2; damaged lines (1) can't be used" in err


@pytest.mark.parametrize(
    "data",
    [{"to": {}}, {"corrects": 1}, {"corrects": 1, "to": []}, {"corrects": 1, "to": {"at": "May"}}],
)
def test_a_damaged_correction_is_left_out(data: dict[str, Any], write: Write) -> None:
    write(weighed(WRONG))
    line = {"v": 1, "n": 2, "at": AT, "kind": "correction", "data": data}
    with open(LOG, "a", encoding="utf-8") as file:
        file.write(json.dumps(line) + "\n")
    log = read_log(LOG)
    assert [damage.line for damage in log.damaged] == [2]
    assert effective(log.entries)[0].data["readings"] == WRONG


def test_readings_that_could_not_be_used_can_be_put_right(run: Run, write: Write) -> None:
    write(weighed([[302.0, 288.5, 231.0, 0.0]]))
    assert run("weigh coupe.toml --readings log:1").status == 2
    run("log coupe.toml --correct 1 --loads 302 288.5 231 244")
    assert run("weigh coupe.toml --readings log:1").status == 0


def test_what_was_learned_from_wrong_numbers_is_not_used(run: Run, write: Write) -> None:
    belief: tuple[Any, dict[str, Any]] = (
        "belief",
        {"mean": [0, 0, 0], "covariance": [], "rates": "ea"},
    )
    plan = ("plan", {"turns": {"LF": -0.5}, "stop": "", "cross_pct": 49.0})
    begin = ("session", {"event": "begin"})
    write(begin, weighed(RIGHT), belief, begin, weighed(WRONG), belief, plan, begin, belief)
    run("log coupe.toml --correct 5 --date 2026-06-12")
    kept = [entry.number for entry in effective(read_log(LOG).entries)]
    assert kept == [1, 2, 3, 4, 5, 6, 7, 8, 9]
    out = run("log coupe.toml --correct 5 --loads 302 288.5 231 244").out
    assert "3 plans and lessons of sessions came of what was wrong: they no longer count." in out
    kept = [entry.number for entry in effective(read_log(LOG).entries)]
    assert kept == [1, 2, 3, 4, 5, 8]
    assert run("log coupe.toml --json").json["entries"][6]["outdated"] is True
    with open_log(LOG) as log:
        assert log.append(*belief) in effective(log.entries)


def test_a_session_goes_on_from_what_was_put_right(
    run: Run, garage: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Broken off after a wrong weigh-in, corrected, and gone on with: as one that was right."""
    ended = []
    for typed in ("302 288.5 231 244", "288.5 302 231 244"):
        Path(LOG).unlink(missing_ok=True)
        monkeypatch.setattr(sys, "stdin", io.StringIO(f"{typed}\n"))
        run("session coupe.toml --weighed-with driver")
        lines = Path(LOG).read_bytes().splitlines(keepends=True)
        Path(LOG).write_bytes(b"".join(line for line in lines if b'"end"' not in line))
        if typed.startswith("288.5"):
            entries = read_log(LOG).entries
            (wrong,) = [entry for entry in entries if entry.kind == "weigh_in"]
            assert run(f"log coupe.toml --correct {wrong.number} --loads 302 288.5 231 244")[0] == 0
        monkeypatch.setattr(sys, "stdin", io.StringIO("note on\n"))
        run("session coupe.toml --weighed-with driver")
        last = [one for one in effective(read_log(LOG).entries) if one.kind == "plan"]
        ended.append(last[-1].data)
    assert ended[0] == ended[1]


def test_undo_takes_back_what_came_of_a_weigh_in_that_was_corrected(write: Write) -> None:
    belief: tuple[Any, dict[str, Any]] = ("belief", {"rates": "ea"})
    fix = {"corrects": 2, "to": {"readings": RIGHT}, "was": {"readings": WRONG}}
    write(("session", {"event": "begin"}), weighed(WRONG), belief, ("correction", fix))
    with open_log(LOG) as log:
        for entry in taken_back(log.entries, with_turns=True):
            log.append("undo", {"undoes": entry.number})
        log.append("undo", {"undoes": 4})
    assert [entry.number for entry in effective(read_log(LOG).entries)] == [1]


def test_pages_and_pictures_follow(run: Run, write: Write) -> None:
    begin = ("session", {"event": "begin", "target_cross_pct": 50, "tolerance_pct": 0.2})
    stop = ("plan", {"turns": {}, "stop": "in_tolerance", "cross_pct": 50.0})
    pages = []
    # Right from the start but broken off before its plan, and wrong with a plan that says stop.
    for session in ((begin, weighed(RIGHT)), (begin, weighed(WRONG), stop)):
        write(*session)
        if session[-1] is stop:
            assert run("log coupe.toml --correct 2 --loads 302 288.5 231 244").status == 0
        for line in ("log coupe.toml --svg log.svg", "sheet coupe.toml --output page.html"):
            assert run(line).status in (0, 1)
        made = [Path(name) for name in ("log.svg", "page.html")]
        pages.append([path.read_text(encoding="utf-8") for path in made])
        for path in made:
            path.unlink()
    assert pages[0] == pages[1]


words = st.lists(st.sampled_from(["driver", "fuel=6", "spare wheel"]), max_size=2, unique=True)
rows = st.lists(st.floats(100, 400), min_size=4, max_size=4).map(lambda row: [row])
times = st.integers(0, 10_000).map(lambda hours: (START - timedelta(hours=hours)).isoformat())
values: st.SearchStrategy[dict[str, Any]] = st.fixed_dictionaries(
    {"at": times, "on_board": words, "readings": rows}
)
others: st.SearchStrategy[tuple[str, dict[str, Any]]] = st.sampled_from(
    [("made", {"turns": {"LF": 0.5}}), ("note", {"text": "wet"})]
)


@given(st.data())
def test_corrected_is_as_if_it_had_been_right_from_the_start(data: st.DataObject) -> None:
    right: list[Entry] = []
    log: list[Entry] = []
    fixes: list[dict[str, Any]] = []
    for number in range(1, data.draw(st.integers(1, 8)) + 1):
        if data.draw(st.booleans()):
            kind, held = data.draw(others)
            right.append(Entry(number, AT, kind, held, number))
            log.append(right[-1])
            continue
        good, bad = data.draw(values), data.draw(values)
        for one, to in ((good, right), (bad, log)):
            held = {key: value for key, value in one.items() if key != "at"}
            to.append(Entry(number, one["at"], "weigh_in", {**held, "units": "metric"}, number))
        # In one line or key by key, after another correction that was wrong itself or was undone.
        slip = {"corrects": number, "to": data.draw(values)}
        steps = [good] if data.draw(st.booleans()) else [{key: good[key]} for key in good]
        fixes += [slip, *({"corrects": number, "to": step} for step in steps)]
    for fix in fixes:
        log.append(Entry(log[-1].number + 1, AT, "correction", fix))
        if data.draw(st.booleans()):
            undone = Entry(log[-1].number + 1, AT, "correction", {**fix, "to": data.draw(values)})
            undo = Entry(undone.number + 1, AT, "undo", {"undoes": undone.number})
            log += [undone, undo]
    assert effective(log) == tuple(right)
