"""A log of many seasons beside an empty one, and beside what nobody could read it without."""

from __future__ import annotations

import json
import statistics
import time
import tracemalloc
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from balancer.files.car_file import CarFile
from balancer.files.car_reader import read_car
from balancer.jobs.at_the_pads import AtThePads
from balancer.log.entry import Entry, Kind, line_of
from balancer.log.reader import log_path, scan
from balancer.log.session_lines import begin_data
from balancer.log.terms import Terms
from balancer.log.writer import open_log
from tests.cli.test_session import HATCH

LINES = 30_000
ROUNDS = 7
READ = 3.0
"""Most that reading may take, as a multiple of taking the lines for JSON."""
ROOM = 5.0
"""Most memory that a log may take, as a multiple of its file."""
LONGER = 1.5
"""Most that a line may take in a long log, as a multiple of what it takes in an empty one."""
START = datetime.fromisoformat("2010-01-01T08:00:00+00:00")


@pytest.fixture
def garage(tmp_path: Path) -> tuple[CarFile, CarFile]:
    """Give a car with no log and one with a long one."""
    for name in ("new", "old"):
        (tmp_path / f"{name}.toml").write_text(HATCH, encoding="utf-8")
    new, old = (read_car(str(tmp_path / f"{name}.toml")) for name in ("new", "old"))
    readings: dict[str, object] = {
        "readings": [[302, 288.5, 231, 244]],
        "units": "metric",
        "on_board": [],
    }
    story: list[tuple[Kind, dict[str, object]]] = [
        ("session", begin_data(old, Terms())),
        ("weigh_in", readings),
        ("plan", {"turns": {"LF": -0.75, "RR": 0.5}, "stop": "", "cross_pct": 48.9}),
        ("made", {"turns": {}, "assumed": False}),
        ("note", {"text": "rain", "about": None}),
        ("session", {"event": "end"}),
    ]
    with open(log_path(old.path), "wb") as file:
        for number in range(1, LINES + 1):
            kind, data = story[(number - 1) % len(story)]
            at = (START + timedelta(hours=number)).isoformat()
            file.write(line_of(Entry(number, at, kind, data), number))
    return new, old


def timed(*ways: Callable[[], object]) -> list[float]:
    """Time some ways in turns."""
    times: list[list[float]] = [[] for _ in ways]
    for _ in range(ROUNDS):
        for way, taken in zip(ways, times, strict=True):
            start = time.process_time()
            way()
            taken.append(time.process_time() - start)
    return [statistics.median(taken) for taken in times]


def test_a_long_log_is_read_in_few_times_what_its_json_takes(
    garage: tuple[CarFile, CarFile],
) -> None:
    path = log_path(garage[1].path)
    lines = Path(path).read_bytes().splitlines()
    ours, bare = timed(lambda: scan(path), lambda: [json.loads(line) for line in lines])
    print(f"{LINES} lines: {ours:.3f} s, {ours / bare:.2f} times what their JSON takes")
    assert ours / bare <= READ


def test_a_long_log_takes_few_times_its_file_in_memory(garage: tuple[CarFile, CarFile]) -> None:
    path = log_path(garage[1].path)
    tracemalloc.start()
    found = scan(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(f"{LINES} lines: {peak / found.size:.2f} times the {found.size} bytes of the file")
    assert peak / found.size <= ROOM


def test_one_more_line_costs_the_same_in_a_long_log(garage: tuple[CarFile, CarFile]) -> None:
    medians: dict[str, list[float]] = {"weigh": [], "undo": [], "note": []}
    for file in garage:
        with open_log(log_path(file.path)) as log:
            now = datetime.now().astimezone()
            pads = AtThePads(file, Terms(), log, now)
            for kind, line in (
                ("weigh", "302 288.5 231 244"),
                ("note", "note wet"),
                ("undo", "undo"),
            ):
                medians[kind].append(_median(pads, line, redo=kind == "undo"))
    for kind, (new, old) in medians.items():
        print(f"{kind}: {1e3 * new:.1f} ms in an empty log, {1e3 * old:.1f} ms in {LINES} lines")
        assert old / new <= LONGER, kind


def _median(pads: AtThePads, line: str, *, redo: bool) -> float:
    taken = []
    for _ in range(ROUNDS):
        start = time.process_time()
        answer = pads.hear(line)
        taken.append(time.process_time() - start)
        # A reading that is asked about would be taken back in no time.
        assert answer
        assert "question" not in answer
        assert not redo or answer["weigh_ins"] == 0
        if redo:
            pads.hear("302 288.5 231 244")
        elif line[0].isdigit():
            pads.hear("undo")
    if line[0].isdigit():
        pads.hear(line)
    return statistics.median(taken)
