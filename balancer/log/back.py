"""Back as it was: the turns that bring the perches to where they stood at an entry or a date."""

import os
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from balancer.car.adjusters import adjusters_of
from balancer.car.conventions import CORNERS, Floats
from balancer.car.corner import LINKS
from balancer.car.errors import Fault, InputError, refuse
from balancer.files.car_file import CarFile
from balancer.files.counting import LINK_TURN
from balancer.log.car_from_log import with_turns_made
from balancer.log.dates import moment_of
from balancer.log.entry import Entry
from balancer.log.lookup import lines_lost, numbered
from balancer.log.reader import LogRead, effective, log_path, standing
from balancer.log.replay import replay, turns_made
from balancer.log.session_lines import fingerprint, stated_lead, stated_travel

_SLACK = 1e-9
"""Turns that are none: what is left of sums [turn]."""


class Beyond(NamedTuple):
    """A corner that has less travel left than it takes to go back, both in turns."""

    corner: str
    turns: float
    left: float


class Back(NamedTuple):
    """How to bring the perches back to where they stood.

    Attributes:
        stood: The last entry of that time.
        turns, due: (4,), to make now; and planned last, but not said to be made.
        sets, assumed: How often was turned since, and how often of that only by the plan.
        remarks: What keeps the log from being sure.
    """

    stood: Entry
    turns: Floats
    due: Floats
    sets: int
    assumed: int
    beyond: tuple[Beyond, ...]
    remarks: tuple[str, ...]


def way_back(file: CarFile, log: LogRead, which: str) -> Back:
    """Find the turns that take back all that were made since.

    Args:
        which: The number of an entry: as it left the perches; or a date, to its end, or a date
            and time.

    Raises:
        InputError: When the log can't tell: there is none, it begins later, or a turn was
            another length then.
    """
    name = os.path.basename(log_path(file.path))
    kept = effective(log.entries)
    stood, later = _parted(log, kept, which.strip(), name)
    turned = [entry for entry in later if entry.kind == "made"]
    made = turns_made(turned)
    turns = 0.0 - made[:4]
    turns[np.abs(turns) < _SLACK] = 0.0
    begins = _begins(kept, later)
    refuse(_other_leads(file, begins, turns))
    due = replay(kept).due
    links = dict(zip(LINKS, made[4:].tolist(), strict=False))
    return Back(
        stood,
        turns,
        np.zeros(4) if due is None else due[:4],
        len(turned),
        sum(bool(entry.data.get("assumed")) for entry in turned),
        tuple(_beyond(file, kept, turns)),
        (
            *_links_left(links),
            *_lost(log, stood, name),
            *_edited(file, begins),
            *_off_steps(file, turns),
        ),
    )


def _parted(
    log: LogRead, kept: Sequence[Entry], which: str, name: str
) -> tuple[Entry, list[Entry]]:
    """Find the last entry of then, and those that count and came after it."""
    if not log.entries:
        what = "holds nothing that can be read" if log.damaged else "is not there"
        raise InputError.one(name, what, "nobody wrote down what was turned: measure the perches")
    number = which.removeprefix("log:").strip()
    if number.isascii() and number.isdigit():
        stood = _numbered(log.entries, number)
        return stood, [entry for entry in kept if entry.number > stood.number]
    until, _ = moment_of(which, "--at", "a number, or a date like 2026-06-13 or 2026-06-13T14:30")
    then = [entry for entry in kept if entry.by(until)]
    if not then:
        what = f"{which[:40]} is before the log begins, {log.entries[0].wall:%Y-%m-%d %H:%M}"
        way_out = "name a later date, it does not know what was turned before"
        raise InputError.one("--at", what, way_out)
    return then[-1], [entry for entry in kept if not entry.by(until)]


def _numbered(entries: Sequence[Entry], number: str) -> Entry:
    found = numbered(entries, number, "--at", ", see balancer log")
    if found.kind != "undo" and found not in standing(entries):
        way_out = "it counts for nothing, name another"
        raise InputError.one("--at", f"entry {number} was undone", way_out)
    return found


def _begins(kept: Sequence[Entry], later: Sequence[Entry]) -> list[Entry]:
    """Find where sessions begin whose turns are taken back: the last before then, and all since."""
    since = {entry.number for entry in later}
    before = [entry for entry in kept if entry.begins and entry.number not in since]
    return [*before[-1:], *(entry for entry in later if entry.begins)]


def _other_leads(file: CarFile, begins: Sequence[Entry], turns: Floats) -> Iterator[Fault]:
    """Tell of corners where a turn was another length, so that turns can't be taken back."""
    now, name = stated_lead(file.car), os.path.basename(file.path)
    for index in np.flatnonzero(turns).tolist():
        if not now[index]:
            what, way_out = "has no perch_lead now, and was turned since then", "give its lead"
            yield Fault(f"{name}: {CORNERS[index]}", what, way_out)
            continue
        for entry in begins:
            lead = entry.data.get("lead")
            then = lead[index] if isinstance(lead, list) and len(lead) == 4 else now[index]
            if then != now[index]:
                what = (
                    f"a turn is {_length(file, now[index])} by the car file now, and was"
                    f" {_length(file, then)} on {entry.wall:%Y-%m-%d} (entry {entry.number})"
                )
                way_out = "turns of two lengths don't add up: measure the perch instead"
                yield Fault(f"{name}: {CORNERS[index]}", what, way_out)
                break


def _length(file: CarFile, meters: float) -> str:
    return f"{file.units.from_si(meters, 'length'):.4g} {file.units.labels['length']}"


def _beyond(file: CarFile, kept: Sequence[Entry], turns: Floats) -> Iterator[Beyond]:
    travel = adjusters_of(with_turns_made(file, kept)).travel
    for corner, turn, (down, up) in zip(CORNERS, turns.tolist(), travel.tolist(), strict=True):
        if not down - _SLACK <= turn <= up + _SLACK:
            yield Beyond(corner, turn, down if turn < 0 else up)


def _links_left(made: Mapping[str, float]) -> Iterator[str]:
    """Say which drop links were turned since, and how far."""
    for name, turn in made.items():
        if abs(turn) > _SLACK:
            way = LINK_TURN.ways[0 if turn > 0 else 1]
            yield f"left {name}: made {way} since then, turns: {abs(turn):g}: turn it back as well"


def _lost(log: LogRead, stood: Entry, name: str) -> Iterator[str]:
    if lost := [damage for damage in log.damaged if damage.line > stood.line]:
        yield f"{lines_lost(lost, name)}: turns that may stand there are not counted"


def _edited(file: CarFile, begins: Sequence[Entry]) -> Iterator[str]:
    """Say what it means that the car file was edited since; its travel is stated anew each time."""
    travel, rates = stated_travel(file.car), fingerprint(file.car)
    name = os.path.basename(file.path)
    if any(entry.data.get("perch_travel", travel) != travel for entry in begins):
        yield (
            f"{name}: perch_travel was changed since then: turns are counted by the log alone, so"
            " add what was turned without it"
        )
    if any(
        "lead" not in entry.data and entry.data.get("rates", rates) != rates for entry in begins
    ):
        yield (
            f"{name}: rates or leads were changed since then, and the log does not say which:"
            " where perch_lead was, or a perch was exchanged, measure instead"
        )


def _off_steps(file: CarFile, turns: Floats) -> Iterator[str]:
    steps, counts = adjusters_of(file.car).step[:4], file.counts()
    for corner, turn, step, count in zip(CORNERS, turns.tolist(), steps, counts, strict=True):
        if abs(turn / step - round(turn / step)) > 1e-6:
            yield (
                f"{corner}: {abs(turn) * count.in_a_turn:g} {count.many} is no whole number of"
                f" steps of {step * count.in_a_turn:g}, was perch_step changed?"
            )
