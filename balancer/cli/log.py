"""`balancer log`."""

import os
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

import click

from balancer.car.errors import Fault, InputError, refuse, spelled
from balancer.cli.options.files import note as print_note
from balancer.cli.options.listed import Wanted
from balancer.cli.options.loads import typed_loads
from balancer.cli.options.numbers import CAR, faults_of
from balancer.cli.options.past import imported
from balancer.cli.options.results import JSON, SVG, Result
from balancer.cli.terminal.waiting import waiting
from balancer.files.car_file import CarFile
from balancer.files.car_reader import read_car
from balancer.files.on_board import split_names
from balancer.files.writing import create_table
from balancer.log.corrections import Right, correction_named, correction_of
from balancer.log.entry import MOST_NOTE, Entry, Kind
from balancer.log.lookup import numbered, state_at
from balancer.log.reader import Damage, LogRead, log_path, read_log
from balancer.log.writer import open_log
from balancer.report.log import (
    Book,
    correction_text,
    entries_counted,
    entry_text,
    log_text,
    state_text,
)
from balancer.report.log_json import COLUMNS, csv_rows, entry_json, state_json

_PATIENCE = 5.0
"""How long a note waits for others that write [s]."""
_MOST_TOLD = 10
_MOST_LISTED = 1000
_MOST_AT_ONCE = 1500


@click.command("log")
@CAR
@click.option(
    "--all", "every", is_flag=True, help="List every entry, not the last 1000; undoings too."
)
@click.option(
    "--kind",
    type=click.Choice(["weigh-in", "made", "plan", "learned", "note", "session", "all"]),
    help="What to list.  [weigh-in; with --json all]",
)
@click.option("--since", metavar="DATE", help="List only what was on that day or later.")
@click.option("--state", metavar="NAMES", help="List only weigh-ins with that on board.")
@click.option("--show", "shown", metavar="N", help="Show all of one entry, by its number.")
@click.option("--note", metavar="TEXT", help="Add a note.")
@click.option("--about", metavar="N", help="With --note: the entry that it is about.")
@click.option("--correct", "wrong", metavar="N", help="Put a weigh-in right, by its number.")
@click.option("--weighed-with", metavar="NAMES", help="With --correct: what was on board.")
@click.option("--date", metavar="DATE", help="With --correct: when it was.")
@click.option(
    "--loads", nargs=4, metavar="LF RF LR RR", help="With --correct: what the pads showed."
)
@click.option("--undo", "back", metavar="N", help="Take a correction back, by its number.")
@click.option("--csv", "table", metavar="FILE", help="Write the weigh-ins to a new CSV file.")
@click.option("--import", "past", metavar="FILE", help="Bring in weigh-ins from a CSV file.")
@click.option("--yes", "sure", is_flag=True, help="With --import: write them, do not ask.")
@click.option("--at", "when", metavar="DATE", help="How the car stood at a date, or date and time.")
@click.option(
    "--session", "way", is_flag=True, help="With --svg: only the last session, turn by turn."
)
@SVG
@JSON
@click.pass_context
def command(
    ctx: click.Context,
    car: str,
    every: bool,
    kind: str | None,
    since: str | None,
    state: str | None,
    shown: str | None,
    note: str | None,
    about: str | None,
    wrong: str | None,
    weighed_with: str | None,
    date: str | None,
    loads: tuple[str, ...] | None,
    back: str | None,
    table: str | None,
    past: str | None,
    sure: bool,
    when: str | None,
    way: bool,
    svg: str | None,
    as_json: bool,
) -> int:
    """List, show, annotate, correct and export the log of a car.

    The log is beside the car file: coupe.toml has coupe.log.jsonl, one JSON
    object a line. Other commands take a weigh-in out of it as log:12, by number,
    or log:2026-06-13, the last of a day. A correction is a line of its own: nothing
    is rewritten, and all that reads the log follows it.

    \b
    Examples:
      balancer log examples/roadster_us.toml
      balancer log examples/roadster_us.toml --correct 10 --weighed-with none
    """
    given = {
        "--show": shown, "--note": note, "--correct": wrong, "--undo": back, "--csv": table,
        "--import": past, "--at": when, "--svg": svg,
    }  # fmt: skip
    right = {"--weighed-with": weighed_with, "--date": date, "--loads": loads}
    refuse(faults_of(ctx))
    asked = [name for name, value in given.items() if value is not None]
    if len(asked) > 1:
        raise InputError.one(asked[1], f"given beside {asked[0]}", "ask for one at a time")
    if about is not None and note is None:
        raise InputError.one("--about", "goes with --note", "give both or none")
    if sure and past is None:
        raise InputError.one("--yes", "goes with --import", "give both or none")
    _only_with_correct(right, wrong)
    if way and svg is None:
        raise InputError.one("--session", "goes with --svg", "name a picture: --svg way.svg")
    file = read_car(car)
    path = log_path(file.path)
    with waiting("reading the log"):
        log = read_log(path)
    print_note(*file.notes)
    drawing = ""
    if note is not None:
        text, result = _note(path, log, note, about)
    elif wrong is not None:
        text, result = _correct(file, log, wrong, _right(weighed_with, date, loads))
    elif back is not None:
        text, result = _undo(path, log, back)
    elif past is not None:
        text, result = imported(file, past, sure)
    else:
        _tell_damage(path, log.damaged)
        book = Book(file, log.entries)
        with waiting("drawing the log"):
            drawing = _drawn(book, way) if svg else ""
        if shown is not None:
            entry = numbered(log.entries, shown, "--show")
            text = entry_text(book, entry)
            result = {"entry": entry_json(book, entry)}
        elif table is not None:
            text, result = _write_csv(book, table)
        elif when is not None:
            stood = state_at(log.entries, when, "--at")
            text = state_text(book, stood, when.strip())
            result = {"state": state_json(book, stood)}
        else:
            kind = kind or ("all" if as_json else "weigh-in")
            wanted = Wanted.of(file, kind, since, state)
            text, result = _list(book, path, log, every, wanted)
    heading = {"car": file.car.name, "units": file.units.name}
    return Result(lambda: text, lambda: {**heading, **result}, svg=lambda: drawing).show(
        as_json, svg, long=True
    )


def _right(words: str | None, date: str | None, loads: tuple[str, ...] | None) -> Right:
    faults: list[Fault] = []
    typed = typed_loads(loads, faults, count=True) if loads else None
    refuse(faults)
    return Right(None if words is None else split_names(words), date, typed)


def _only_with_correct(right: Mapping[str, object], wrong: str | None) -> None:
    said = [name for name, value in right.items() if value is not None]
    if said and wrong is None:
        raise InputError.one(said[0], "goes with --correct", "say which weigh-in: --correct 12")
    if wrong is not None and not said:
        way_out = f"give {', '.join(list(right)[:-1])} or {list(right)[-1]}"
        raise InputError.one("--correct", "nothing to put right", way_out)


def _correct(file: CarFile, log: LogRead, wrong: str, right: Right) -> tuple[str, dict[str, Any]]:
    path = log_path(file.path)
    data = correction_of(file, log, wrong, right, datetime.now())
    entry = _appended(path, "correction", data)
    book = Book(file, (*log.entries, entry))
    told = correction_text(book, entry, os.path.basename(path))
    return told, {"entry": entry_json(book, entry)}


def _undo(path: str, log: LogRead, back: str) -> tuple[str, dict[str, Any]]:
    named = correction_named(log, back)
    entry = _appended(path, "undo", {"undoes": named.number})
    text = f"Entry {entry.number} of {os.path.basename(path)}: correction {named.number} is undone."
    return text, {"entry": entry.as_json()}


def _appended(path: str, kind: Kind, data: dict[str, Any]) -> Entry:
    """Append an entry, and tell what is wrong with the log that it goes to."""
    with open_log(path, wait=_PATIENCE) as writer:
        _tell_damage(path, writer.damaged)
        if writer.set_aside:
            print_note(writer.set_aside)
        return writer.append(kind, data)


def _drawn(book: Book, way: bool) -> str:
    """Draw all of the log, or its last session, before anything is printed: it may be empty."""
    if way:
        from balancer.report.pictures.session import last_way, session_picture

        return session_picture(book.file, last_way(book))
    from balancer.report.pictures.log import log_picture

    return log_picture(book)


def _tell_damage(path: str, damaged: Iterable[Damage]) -> None:
    damaged, name = tuple(damaged), os.path.basename(path)
    for line in damaged[:_MOST_TOLD]:
        print_note(f"{name}:{line.line}: {line.text}: left out")
    if more := damaged[_MOST_TOLD:]:
        print_note(f"{name}: {len(more)} more lines are left out")


def _list(
    book: Book, path: str, log: LogRead, every: bool, wanted: Wanted
) -> tuple[str, dict[str, Any]]:
    kept = [entry for entry in log.entries if wanted.has(book.now(entry))]
    listed = kept if every else kept[-_MOST_LISTED:]
    _warn(listed)
    with waiting("working out the weigh-ins"):
        unusable = list(book.unusable(listed[0].number if listed else 0))
        entries = [entry_json(book, entry) for entry in listed]
        text = log_text(book, listed, len(kept), every) if listed else ""
    print_note(*unusable)
    result = {
        "entries": entries,
        "earlier": len(kept) - len(listed),
        "damaged": [line._asdict() for line in log.damaged],
    }
    if listed:
        return text, result
    if log.entries:
        there = entries_counted(len(log.entries))
        return f"Nothing of that kind among {there}: --kind all lists each.", result
    name = os.path.basename(path)
    state = f"{name} holds nothing that can be read" if log.damaged else "There is no log yet"
    return (
        f"{state}. A session keeps {name} beside the car file;\n"
        f'a note begins it as well: balancer log {book.file.path} --note "new dampers"'
    ), result


def _warn(entries: Iterable[Entry]) -> None:
    """Say that there is much to work out, before the work starts."""
    count = sum(entry.kind == "weigh_in" for entry in entries)
    if count > _MOST_AT_ONCE:
        print_note(f"{count} weigh-ins to work out, a thousand a second or so; Ctrl-C ends it")


def _note(path: str, log: LogRead, note: str, about: str | None) -> tuple[str, dict[str, Any]]:
    if not note.strip():
        raise InputError.one("--note", "is blank", "say what there is to remember")
    if len(note) > MOST_NOTE:
        raise InputError.one("--note", f"has {len(note)} characters", f"{MOST_NOTE} at most")
    number = None if about is None else numbered(log.entries, about, "--about").number
    entry = _appended(path, "note", {"text": note.strip(), "about": number})
    return f"Entry {entry.number} of {os.path.basename(path)}: noted.", {"entry": entry.as_json()}


def _write_csv(book: Book, table: str) -> tuple[str, dict[str, Any]]:
    if not table.strip():
        raise InputError.one("--csv", "is blank", "name the file: log.csv")
    _warn(book.entries)
    with waiting("working out the weigh-ins"):
        unusable, rows = list(book.unusable()), list(csv_rows(book))
    print_note(*(f"{line}: left out" for line in unusable))
    if not rows:
        raise InputError.one("--csv", "the log has no weigh-ins", "nothing was written")
    create_table(table, COLUMNS, rows)
    count = f"{len(rows)} weigh-in{'' if len(rows) == 1 else 's'}"
    return f"{spelled(table)} written: {count}, in {book.file.units.labels['load']}.", {
        "csv": table,
        "weigh_ins": len(rows),
    }
