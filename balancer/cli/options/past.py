"""Weigh-ins that go into the log by a command: one that was just typed, or a file of old ones."""

import os
from typing import Any

import click

from balancer.car.errors import InputError
from balancer.cli.terminal.show import show, somebody_there
from balancer.files.car_file import CarFile
from balancer.files.history import History, read_history
from balancer.jobs.weighed import Weighed
from balancer.log.entry import Entry
from balancer.log.past import brought_in, saved
from balancer.log.reader import log_path
from balancer.report.words.prose import lines_of


def kept(weighed: Weighed, note: str) -> Entry:
    """Keep a weigh-in in the log of its car.

    Raises:
        InputError: Where it has no file, is from the log, or was worked out from shares.
    """
    file, readings = weighed.file, weighed.weigh_in.readings
    if not file.path:
        raise InputError.one("--save", "needs a car file", "the log goes beside it: balancer init")
    if readings.source is not None:
        raise InputError.one("--save", "these readings are in the log", "leave it out")
    if readings.covariance is not None:
        way_out = "bring them in: balancer log CAR --import FILE.csv"
        raise InputError.one("--save", "these readings are shares of a total", way_out)
    said = None if weighed.aboard.source == "assumed" else weighed.words
    return saved(file, readings, said, note)


def imported(file: CarFile, path: str, sure: bool) -> tuple[str, dict[str, Any]]:
    """Say what a file of weigh-ins holds, and bring them in where that is wanted."""
    history = read_history(path, file)
    told = _told(history, path)
    entries: list[Entry] = []
    if sure or _confirmed(told):
        entries = brought_in(file, history.rows)
    name = os.path.basename(log_path(file.path))
    if entries:
        numbers = f"entries {entries[0].number} to {entries[-1].number}"
        done = f"{len(entries)} written to {name}, {numbers}."
    else:
        done = "Nothing was written: say --yes to bring them in."
    result = {
        "columns": history.columns,
        "ignored": list(history.ignored),
        "weigh_ins": len(history.rows),
        "written": len(entries),
    }
    return done if not sure and somebody_there() else f"{told}\n{done}", result


def _told(history: History, path: str) -> str:
    taken = ", ".join(
        head if head == key else f"{head} as {key}" for head, key in history.columns.items()
    )
    first, last = history.rows[0], history.rows[-1]
    count = "1 weigh-in" if len(history.rows) == 1 else f"{len(history.rows)} weigh-ins"
    units = {row.data["units"] for row in history.rows}
    return lines_of(
        [
            f"{os.path.basename(path)}: {count}, {first.at:%Y-%m-%d} to {last.at:%Y-%m-%d},"
            f" in {' and '.join('kg' if unit == 'metric' else 'lb' for unit in sorted(units))}.",
            f"Columns: {taken}.",
            *([f"Left out: {', '.join(history.ignored)}."] if history.ignored else []),
        ]
    )


def _confirmed(told: str) -> bool:
    """Ask somebody at a terminal; elsewhere it takes --yes."""
    if not somebody_there():
        return False
    show(told)
    return click.confirm("Write them to the log?", default=False)
