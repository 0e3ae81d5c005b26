"""`balancer log`, and weigh-ins taken out of the log."""

from __future__ import annotations

import csv
import json
import tomllib
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest

from balancer.car.errors import InputError
from balancer.files.car_file import CarFile
from balancer.files.car_reader import read_car
from balancer.files.readings import read_readings
from balancer.log.entry import Entry, line_of
from balancer.log.entry_readings import readings_of_entry
from balancer.log.lookup import entry_of, readings_from, state_at
from balancer.log.reader import effective, log_path, read_log
from balancer.log.writer import open_log
from tests.cli.conftest import Run
from tests.conftest import ROOT

START = datetime(2026, 6, 12, 22, 0, tzinfo=timezone(timedelta(hours=2)))
LOG = "coupe.log.jsonl"
WEIGHED = {
    "readings": [[302.0, 288.5, 231.0, 244.0]],
    "units": "metric",
    "on_board": ["driver"],
    "note": "after the new rear bushes, tires at 1.9 bar, and a good night's sleep",
}
STORY: list[tuple[Any, dict[str, Any]]] = [
    ("session", {"event": "begin", "target_cross_pct": 50.5, "tolerance_pct": 0.2, "rates": "ea"}),
    ("weigh_in", WEIGHED),
    ("plan", {"turns": {"LF": -1.5, "RF": 1.25, "LR": 0.5, "RR": -0.5}}),
    ("made", {"turns": {"LF": -0.75, "RR": 0.5}}),
    ("weigh_in", {"readings": [[298.0, 292.5, 235.0, 240.0]], "on_board": [], "tare": None}),
    ("made", {"turns": {"LF": -0.5}}),
    ("made", {"turns": {"LF": 9.0}}),
    ("undo", {"undoes": 7}),
    ("belief", {"mean": [0.0, 0.1, 0.2]}),
    ("note", {"text": "rain", "about": 2}),
    ("weigh_in", {"readings": [[302.0, 288.5, 231.0, 0.0]]}),
]
"""An entry an hour, from ten in the evening: 1 and 2 on June 12, the others on the 13th."""


@pytest.fixture
def story(garage: Path) -> tuple[Entry, ...]:
    """Write a log beside coupe.toml."""
    hours = iter(range(100))
    with open_log(LOG, lambda: START + timedelta(hours=next(hours))) as log:
        return tuple(log.append(kind, data) for kind, data in STORY)


@pytest.fixture
def car(garage: Path) -> CarFile:
    return read_car("coupe.toml")


def test_log_path_is_beside_the_car() -> None:
    assert log_path("cars/coupe.toml") == "cars/coupe.log.jsonl"
    assert log_path("coupe") == "coupe.log.jsonl"


def test_no_log_yet(run: Run, garage: Path) -> None:
    status, out, err = run("log coupe.toml --kind all")
    assert (status, err) == (0, "")
    assert out == (
        "There is no log yet. A session keeps coupe.log.jsonl beside the car file;\n"
        'a note begins it as well: balancer log coupe.toml --note "new dampers"\n'
    )
    assert run("log coupe.toml --json").json == {
        "car": "Heron Lane coupe",
        "units": "metric",
        "entries": [],
        "earlier": 0,
        "damaged": [],
    }
    assert not [one for one in garage.iterdir() if "log" in one.name]


def test_the_list(run: Run, story: tuple[Entry, ...]) -> None:
    status, out, err = run("log coupe.toml --kind all")
    assert status == 0
    assert out.splitlines() == [
        "Heron Lane coupe: 11 entries; 1 undoing left out, --all for the rest",
        "",
        " 1  2026-06-12 22:00  session   begun, wanted 50.5 % ± 0.2",
        " 2  2026-06-12 23:00  weigh-in  1065.5 kg, cross 48.8 %, after the new rear bus…",
        " 3  2026-06-13 00:00  plan      LF −1½, RF +1¼, LR +½, RR −½",
        " 4  2026-06-13 01:00  made      LF −¾, RR +½",
        " 5  2026-06-13 02:00  weigh-in  1065.5 kg, cross 49.5 %",
        " 6  2026-06-13 03:00  made      LF −½",
        " 7  2026-06-13 04:00  made      undone: LF +9",
        " 9  2026-06-13 06:00  learned   what a turn does to this car",
        "10  2026-06-13 07:00  note      about 2: rain",
        "11  2026-06-13 08:00  weigh-in  its readings can't be used",
    ]
    every = run("log coupe.toml --kind all --all").out.splitlines()
    assert every[0] == "Heron Lane coupe: 11 entries"
    assert [line for line in every if line not in out.splitlines()] == [
        every[0], " 8  2026-06-13 05:00  undo      undoes 7",
    ]  # fmt: skip
    assert err == (
        "note: coupe.log.jsonl:11: entry 11: readings[1] RR: reads 0: is the wheel on its pad,"
        " and the pad switched on?\n"
    )


def test_what_was_averaged_into_a_later_weigh_in_is_not_called_undone(
    run: Run, garage: Path
) -> None:
    with open_log(LOG) as log:
        for kind, data in STORY[1:3]:
            log.append(kind, data)
        for number in (2, 1):
            log.append("undo", {"undoes": number, "replaced": True})
        log.append("weigh_in", {"readings": [[302.0, 288.5, 231.0, 244.0]] * 2})
        log.append("plan", {"turns": {}})
        log.append("undo", {"undoes": 6, "all": [6]})
    told = run("log coupe.toml --kind all").out.splitlines()[2:]
    assert [line[21:48].rstrip() for line in told] == [
        "weigh-in  averaged into 5:",
        "plan      replaced: LF −1½,",
        "weigh-in  1065.5 kg, cross",
        "plan      undone: nothing t",
    ]
    assert ", averaged into 5\n" in run("log coupe.toml --show 1").out
    found = run("log coupe.toml --json").json["entries"]
    assert [one["number"] for one in found if one["undone"]] == [1, 2, 6]


def test_what_was_learned_is_shown_in_the_units_of_the_file(run: Run) -> None:
    car = ROOT / "examples" / "roadster_us.toml"
    told = run(f"log {car} --show 14").out
    assert told.split("\n", 2)[2] == run(f"learned {car}").out
    assert "mean" in run(f"log {car} --show 14 --json").json["entry"]["data"]


def test_what_was_learned_on_other_rates_is_not_told_as_if_of_these(
    run: Run, story: tuple[Entry, ...]
) -> None:
    told = run("log coupe.toml --show 9").out
    assert "it is of other rates" in told
    assert "0.1" not in told
    assert run("log coupe.toml --show 1").out.splitlines()[1:] == [
        "  event: begin", "  target_cross_pct: 50.5", "  tolerance_pct: 0.2",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"event": "end"}, "ended"),
        ({"event": "begin", "rates": "ea3d0383"}, "begun"),
        ({"event": "begin", "target_cross_pct": 50}, "begun, wanted 50 %"),
    ],
)
def test_a_session_in_the_list(data: dict[str, Any], said: str, run: Run, garage: Path) -> None:
    with open_log(LOG) as log:
        log.append("session", data)
    assert run("log coupe.toml --kind all").out.splitlines()[-1].endswith(f"  session   {said}")


def test_the_list_as_json(run: Run, story: tuple[Entry, ...]) -> None:
    found = run("log coupe.toml --json").json
    assert [one["number"] for one in found["entries"]] == list(range(1, 12))
    assert [one["number"] for one in found["entries"] if one["undone"]] == [7]
    assert [one["data"] for one in found["entries"]] == [data for _, data in STORY]
    weighed = found["entries"][1]["weighed"]
    assert weighed["total"] == pytest.approx(302 + 288.5 + 231 + 244)
    assert weighed["cross_pct"] == pytest.approx(100 * (288.5 + 231) / weighed["total"])
    assert found["entries"][10]["weighed"] is None


def test_nothing_is_wider_than_a_terminal(run: Run, story: tuple[Entry, ...]) -> None:
    run("log", "coupe.toml", "--note", "word " * 150 + "\x1b[31m\n" + "x" * 200)
    for options in ("", "--show 2", "--show 12", "--show 9", "--at 2026-06-13", "--help"):
        status, out, _ = run(f"log coupe.toml {options}")
        assert status == 0
        assert max(map(len, out.splitlines())) <= 80
        assert "\x1b" not in out


def test_one_entry(run: Run, story: tuple[Entry, ...]) -> None:
    lines = run("log coupe.toml --show 2").out.splitlines()
    assert lines[:5] == [
        "Entry 2, weigh-in, 2026-06-12T23:00:00+02:00",
        "  readings: [[302.0, 288.5, 231.0, 244.0]]",
        "  units: metric",
        '  on_board: ["driver"]',
        f"  note: {WEIGHED['note']}",
    ]
    state = "Heron Lane coupe, on the pads with driver (from the log, entry 2, 2026-06-12)."
    at = lines.index(state)
    assert lines[at + 1] == "Weighed once, 2026-06-12."
    assert lines[-1] == "2026-06-13 07:00  note 10: about 2: rain"
    assert run("log coupe.toml --show 7").out.startswith(
        "Entry 7, made, 2026-06-13T04:00:00+02:00, undone\n"
    )
    assert run("log coupe.toml --show 10 --json").json["entry"] == {
        "number": 10,
        "at": "2026-06-13T07:00:00+02:00",
        "kind": "note",
        "data": {"text": "rain", "about": 2},
        "undone": False,
    }


def test_a_note(run: Run, garage: Path) -> None:
    said = "Entry 1 of coupe.log.jsonl: noted.\n"
    assert run("log", "coupe.toml", "--note", " new dampers ") == (0, said, "")
    assert run("log", "coupe.toml", "--note", "too soft", "--about", "1").status == 0
    first, second = read_log(LOG).entries
    assert (first.kind, first.data) == ("note", {"text": "new dampers", "about": None})
    assert second.data == {"text": "too soft", "about": 1}
    now = datetime.now().astimezone()
    written = datetime.fromisoformat(second.at)
    assert timedelta(0) <= now - written < timedelta(minutes=2)
    assert written.utcoffset() == now.utcoffset()


def test_a_note_while_a_session_is_open(run: Run, garage: Path) -> None:
    with open_log(LOG):
        status, out, err = run("log coupe.toml --note rain")
    assert (status, out) == (2, "")
    assert err == ("coupe.log.jsonl: another session or note has it open: close that one first\n")
    assert read_log(LOG).entries == ()


def test_damage_is_told_and_the_rest_is_there(run: Run, story: tuple[Entry, ...]) -> None:
    lines = Path(LOG).read_bytes().splitlines(keepends=True)
    lines[2] = b"coffee\n"
    Path(LOG).write_bytes(b"".join(lines) + b'{"v": 1, "n": 12')
    told = [
        "note: coupe.log.jsonl:3: is not JSON: left out",
        "note: coupe.log.jsonl:12: broke off while it was written: left out",
    ]
    status, out, err = run("log coupe.toml --kind all")
    assert status == 0
    assert err.splitlines()[:2] == told
    assert out.startswith("Heron Lane coupe: 10 entries; 1 undoing left out")
    assert run("log coupe.toml --json").json["damaged"] == [
        {"line": 3, "text": "is not JSON"},
        {"line": 12, "text": "broke off while it was written"},
    ]
    status, out, err = run("log coupe.toml --note dry")
    assert (status, out) == (0, "Entry 12 of coupe.log.jsonl: noted.\n")
    assert err.splitlines() == [
        told[0],
        "note: coupe.log.jsonl: its last line had broken off: 16 bytes of it are set aside in"
        " coupe.log.jsonl.torn",
    ]
    assert [entry.number for entry in read_log(LOG).entries] == [1, 2, *range(4, 13)]


def test_much_damage_is_told_in_short(run: Run, garage: Path) -> None:
    Path(LOG).write_bytes(b"coffee\n" * 5000)
    status, out, err = run("log coupe.toml --kind all")
    assert status == 0
    assert out.startswith("coupe.log.jsonl holds nothing that can be read.")
    assert err.splitlines()[9:] == [
        "note: coupe.log.jsonl:10: is not JSON: left out",
        "note: coupe.log.jsonl: 4990 more lines are left out",
    ]


def test_the_table_is_read_back(run: Run, story: tuple[Entry, ...], garage: Path) -> None:
    run("log", "coupe.toml", "--note", "not in the table")
    status, out, err = run("log coupe.toml --csv table.csv")
    assert (status, out) == (0, "table.csv written: 2 weigh-ins, in kg.\n")
    assert "coupe.log.jsonl:11: entry 11" in err
    with open("table.csv", encoding="utf-8", newline="") as file:
        first, second = csv.DictReader(file)
    assert ",".join(first) == (
        "number,date,LF,RF,LR,RR,total,front_pct,left_pct,cross_pct,on_board,note"
    )
    loads = [float(first[corner]) for corner in ("LF", "RF", "LR", "RR")]
    assert loads == pytest.approx([302, 288.5, 231, 244], abs=1e-6)
    assert float(first["total"]) == pytest.approx(sum(loads))
    shares = [float(first[f"{name}_pct"]) for name in ("front", "cross")]
    assert shares == pytest.approx(
        [100 * (302 + 288.5) / sum(loads), 100 * (288.5 + 231) / sum(loads)], abs=1e-6
    )
    assert (first["number"], first["date"]) == ("2", "2026-06-12T23:00:00+02:00")
    assert (first["on_board"], first["note"]) == ("driver", WEIGHED["note"])
    assert (second["number"], second["on_board"], second["note"]) == ("5", "none", "")


@pytest.mark.parametrize(
    ("note", "cell"),
    [
        ('a, "b"; c', 'a, "b"; c'),
        ("two\nlines", "two\\nlines"),
        ("naß 湿った", "naß 湿った"),
        ("=1+1", "'=1+1"),
        ("\\", "\\"),
        ("carriage\rreturn", "carriage\\rreturn"),
    ],
)
def test_any_note_survives_the_table(note: str, cell: str, run: Run, garage: Path) -> None:
    """What a spreadsheet would reckon with, or obey, is there to be read."""
    with open_log(LOG) as log:
        log.append("weigh_in", {**WEIGHED, "note": note})
    assert run("log coupe.toml --csv table.csv --json").json["weigh_ins"] == 1
    with open("table.csv", encoding="utf-8", newline="") as file:
        assert [row["note"] for row in csv.DictReader(file)] == [cell]


def test_the_table_is_never_written_over_a_file(run: Run, story: tuple[Entry, ...]) -> None:
    Path("table.csv").write_text("my only notes")
    status, out, err = run("log coupe.toml --csv table.csv")
    assert (status, out) == (2, "")
    assert err.splitlines()[-1] == (
        "table.csv: is there already: give another name, nothing was written"
    )
    assert Path("table.csv").read_text() == "my only notes"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ("--show 12", "--show: there is no entry 12: there are 1 to 11"),
        ("--show x", "--show: “x” is no number of an entry: there are 1 to 11"),
        ("--note rain --about 99", "--about: there is no entry 99: there are 1 to 11"),
        ("--about 2", "--about: goes with --note: give both or none"),
        ("--note ' '", "--note: is blank: say what there is to remember"),
        ("--note " + "x" * 1001, "--note: has 1001 characters: 1000 at most"),
        ("--show 1 --csv t.csv", "--csv: given beside --show: ask for one at a time"),
        (
            "--at June",
            "--at: “June” is no date: write one like 2026-06-13 or 2026-06-13T14:30",
        ),
        (
            "--csv no/t",
            "no/t: can't be written (No such file or directory): check the folder",
        ),
    ],
)  # fmt: skip
def test_slips(options: str, said: str, run: Run, story: tuple[Entry, ...]) -> None:
    before = Path(LOG).read_bytes()
    status, out, err = run(f"log coupe.toml {options}")
    assert (status, out) == (2, "")
    assert err.splitlines()[-1] == said
    assert Path(LOG).read_bytes() == before


def test_no_weigh_ins_no_table(run: Run, garage: Path) -> None:
    said = "--csv: the log has no weigh-ins: nothing was written\n"
    assert run("log coupe.toml --csv table.csv") == (2, "", said)
    assert not Path("table.csv").exists()


def test_effective(story: tuple[Entry, ...]) -> None:
    assert [entry.number for entry in effective(story)] == [1, 2, 3, 4, 5, 6, 9, 10, 11]
    undo = Entry(12, story[-1].at, "undo", {"undoes": 8})
    assert [entry.number for entry in effective([*story, undo])] == [1, 2, 3, 4, 5, 6, 7, 9, 10, 11]
    again = Entry(13, story[-1].at, "undo", {"undoes": 12})
    assert effective([*story, undo, again]) == effective(story)
    itself = Entry(12, story[-1].at, "undo", {"undoes": 12})
    ahead = Entry(13, story[-1].at, "undo", {"undoes": 99})
    assert effective([*story, itself, ahead]) == effective(story)


@pytest.mark.parametrize(
    ("which", "number"),
    [
        ("2", 2),
        ("2026-06-12", 2),
        ("2026-06-13T02:00", 5),
        ("2026-06-13 02:00:00", 5),
        ("2026-06-13T01:59:59", 2),
        ("2026-06-13T01:59", 2),
        ("2026-06-13T07:59+02:00", 5),
        ("2026-06-13T00:00+00:00", 5),
        ("2026-06-12T23:59+00:00", 2),
        ("2026-06-13", 11),
        ("2030-01-01T00:00", 11),
    ],
)
def test_a_weigh_in_by_number_or_date(story: tuple[Entry, ...], which: str, number: int) -> None:
    assert entry_of(story, which).number == number


def test_a_minute_as_it_is_listed_holds_its_seconds() -> None:
    entries = [
        Entry(number, f"2026-06-13T14:30:{seconds}+02:00", "weigh_in", {})
        for number, seconds in ((1, "05"), (2, "25"))
    ]
    assert entry_of(entries, "2026-06-13T14:30").number == 2
    assert entry_of(entries, "2026-06-13T14:30:24").number == 1


KNOWN = "log:11 (2026-06-13 08:00)", "log:5 (2026-06-13 02:00)", "log:2 (2026-06-12 23:00)"


@pytest.mark.parametrize(
    ("which", "what"),
    [
        ("12", "no such weigh-in"),
        ("10", "is no weigh-in but “note”"),
        ("2026-06-14", "no such weigh-in"),
    ],
)
def test_no_such_weigh_in(story: tuple[Entry, ...], which: str, what: str) -> None:
    with pytest.raises(InputError) as caught:
        entry_of(story, which)
    assert str(caught.value) == f"log:{which}: {what}: there are {', '.join(KNOWN)}"


def test_an_undone_weigh_in(story: tuple[Entry, ...]) -> None:
    undo = Entry(12, story[-1].at, "undo", {"undoes": 11})
    with pytest.raises(InputError, match=r"^log:11: was undone: there are log:5 .* log:2 "):
        entry_of([*story, undo], "11")
    assert entry_of([*story, undo], "2026-06-13").number == 5


@pytest.mark.parametrize("which", ["", "June", "-1", "2026-13-01", "1.5", "٣", "9" * 5000])
def test_what_is_neither_number_nor_date(story: tuple[Entry, ...], which: str) -> None:
    with pytest.raises(InputError, match=r"is no date: write a number, or a date like 2026-06-13"):
        entry_of(story, which)


def test_state(story: tuple[Entry, ...]) -> None:
    state = state_at(story)
    assert state.weigh_in == story[10]
    assert state.turns == {"LF": -1.25, "RF": 0, "LR": 0, "RR": 0.5}
    assert state.turns_since == dict.fromkeys(("LF", "RF", "LR", "RR"), 0)
    assert state.belief == story[8]
    assert state.notes == (story[9],)
    early = state_at(story, "2026-06-12")
    assert (early.weigh_in, early.belief, early.notes) == (story[1], None, ())
    assert not any(early.turns.values())
    between = state_at(story, "2026-06-13T04:30")
    assert between.weigh_in == story[4]
    # What was undone an hour later had not happened at half past four either.
    assert (between.turns["LF"], between.turns_since["LF"]) == (-1.25, -0.5)
    assert state_at(story, "2026-06-11").weigh_in is None


def test_state_as_text_and_json(run: Run, story: tuple[Entry, ...]) -> None:
    assert run("log coupe.toml --at 2026-06-13T07:30").out.splitlines() == [
        "Heron Lane coupe at 2026-06-13T07:30, as far as the log knows",
        "",
        "last weighed   2026-06-13 02:00 (entry 5): 1065.5 kg, cross 49.5 %",
        "turned since   LF −½",
        "turned in all  LF −1¼, RR +½",
        "learned        entry 9, 2026-06-13 06:00",
        "",
        "2026-06-13 07:00  note 10: about 2: rain",
    ]
    state = run("log coupe.toml --at 2026-06-13T07:30 --json").json["state"]
    assert state["weigh_in"]["number"] == 5
    assert state["turns"] == {"LF": -1.25, "RF": 0, "LR": 0, "RR": 0.5}
    assert state["belief"] == {"mean": [0.0, 0.1, 0.2]}
    assert [note["number"] for note in state["notes"]] == [10]
    assert "last weighed   never" in run("log coupe.toml --at 2026-06-01").out


def test_a_readings_file_and_its_entry_are_one(car: CarFile, garage: Path) -> None:
    data = tomllib.loads(Path("weigh_in.toml").read_text(encoding="utf-8"))
    with open_log(LOG) as log:
        log.append("weigh_in", {**data, "date": str(data["date"]), "pads": None})
    logged, read = readings_from("log:1", car), read_readings("weigh_in.toml", car)
    for name in ("repeats", "tare", "pad_heights", "ride_heights"):
        assert getattr(logged, name).tolist() == getattr(read, name).tolist()
    for name in ("on_board", "date", "note", "covariance"):
        assert getattr(logged, name) == getattr(read, name)
    assert readings_from("weigh_in.toml", car).note == read.note


def test_units_of_an_entry_are_its_own(car: CarFile) -> None:
    pounds = {"readings": [[665.0, 636.0, 509.0, 538.0]], "units": "us"}
    at = "2026-06-13T14:30:00+02:00"
    readings = readings_of_entry(Entry(1, at, "weigh_in", pounds), car)
    total = readings.repeats.sum() / car.units.factors["load"]
    assert total == pytest.approx((665 + 636 + 509 + 538) * 0.45359237)
    assert readings.date == "2026-06-13"


def test_every_fault_of_an_entry_is_told(car: CarFile) -> None:
    data = {"readings": [[302, 288.5, 231, "x"]], "on_board": ["driver=-1"], "weather": "wet"}
    with pytest.raises(InputError) as caught:
        readings_of_entry(Entry(3, "2026-06-13T14:30:00+02:00", "weigh_in", data), car)
    where = [fault.where for fault in caught.value.faults]
    assert sorted(where) == [
        f"entry 3 of coupe.log.jsonl: {key}"
        for key in ("on_board driver", "readings[1][4]", "weather")
    ]


def test_readings_from_a_damaged_log(car: CarFile, story: tuple[Entry, ...]) -> None:
    lines = Path(LOG).read_text(encoding="utf-8").splitlines(keepends=True)
    lines[1] = json.dumps({"v": 1}) + "\n"
    Path(LOG).write_text("".join(lines), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        readings_from("log:2", car)
    assert str(caught.value).splitlines()[1] == (
        "coupe.log.jsonl: 1 line is damaged: see balancer log CAR"
    )
    assert readings_from("log:5", car).on_board == ()


def test_readings_from_nowhere(car: CarFile, garage: Path) -> None:
    with pytest.raises(InputError, match=r"^log:1: no such weigh-in: there are none in coupe\.log"):
        readings_from("log:1", car)
    with pytest.raises(InputError, match=r"^nowhere\.toml: no such file"):
        readings_from("nowhere.toml", car)
    Path("log:1").write_text("readings = [[302, 288.5, 231, 244]]")
    assert readings_from("log:1", car).repeats.shape == (1, 4)


def long_log(weigh_ins: int) -> None:
    """Write a log of so many weigh-ins and as many notes."""
    entries = []
    for number in range(1, 2 * weigh_ins + 1):
        at = (START + timedelta(hours=number)).isoformat()
        if number % 2:
            entries.append(Entry(number, at, "weigh_in", {**WEIGHED, "note": f"day {number}"}))
        else:
            entries.append(Entry(number, at, "note", {"text": f"lap {number}"}))
    Path(LOG).write_bytes(b"".join(line_of(one, one.number) for one in entries))


def test_a_long_list_is_cut_at_its_beginning(run: Run, garage: Path) -> None:
    long_log(510)
    status, out, err = run("log coupe.toml --kind all")
    assert (status, err) == (0, "")
    assert out.splitlines()[0].endswith("1020 entries; the last 1000 here, --all for the rest")
    assert len(out.splitlines()) == 1002
    assert out.splitlines()[2].split()[0] == "21"
    found = run("log coupe.toml --json").json
    assert (found["earlier"], found["entries"][0]["number"]) == (20, 21)
    every = run("log coupe.toml --json --all").json
    assert (every["earlier"], len(every["entries"])) == (0, 1020)


def test_a_long_log_is_thinned_in_a_picture(run: Run, garage: Path) -> None:
    long_log(245)
    assert run("log coupe.toml --svg log.svg").status == 0
    drawing = Path("log.svg").read_text(encoding="utf-8")
    assert "245 weigh-ins, 240 of them drawn, evenly picked" in drawing
    assert "489, 2026" in drawing


def test_a_list_is_of_weigh_ins_unless_another_kind_is_asked_for(run: Run, garage: Path) -> None:
    for words in ("--weighed-with driver", "--weighed-with none"):
        run(f"weigh coupe.toml 302 288.5 231 244 {words} --save")
    run("log coupe.toml --note wet")

    def kinds(words: str) -> list[str]:
        rows = run(f"log coupe.toml {words}").out.splitlines()[2:]
        return [row.split()[3] for row in rows]

    assert kinds("") == ["weigh-in", "weigh-in"]
    assert kinds("--kind note") == ["note"]
    assert kinds("--kind all") == ["weigh-in", "weigh-in", "note"]
    assert kinds("--state driver") == kinds("--state none") == ["weigh-in"]
    assert len(kinds("--since 2020-01-01")) == 2
    assert "Nothing of that kind among 3 entries" in run("log coupe.toml --since 2999-01-01").out
    assert run("log coupe.toml --state anna")[:2] == (2, "")
    # A script gets all there is, unless it asks for less.
    assert len(run("log coupe.toml --json").json["entries"]) == 3
    assert len(run("log coupe.toml --json --kind note").json["entries"]) == 1
    log = Path("coupe.log.jsonl")
    log.write_text(log.read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")
    assert "Nothing of that kind among 1 entry: " in run("log coupe.toml --since 2999-01-01").out
