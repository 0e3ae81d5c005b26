"""The log of a car: one JSON object a line beside the car file, read however damaged it is."""

import os
import stat
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import accumulate, chain
from operator import lt
from typing import NamedTuple

from balancer.car.errors import BalancerError, Fault, InputError
from balancer.log.entry import MOST_BYTES, Entry, json_object, read_line


class Damage(NamedTuple):
    """A line of the log that can't be used, from 1, and what is wrong with it."""

    line: int
    text: str


class LogRead(NamedTuple):
    """All that a log has to say."""

    entries: tuple[Entry, ...]
    damaged: tuple[Damage, ...]


class LogError(BalancerError):
    """The log can't be written; what it held is still there."""

    def __init__(self, fault: Fault) -> None:
        self.fault = fault
        super().__init__(str(fault))


class Scan(NamedTuple):
    """A log read, and what a writer must know of the file.

    Attributes:
        lines: How many there are, whatever they hold.
        size: Of the file [byte].
        tail: Bytes at the end without a line break.
        torn: Those bytes are no whole entry.
    """

    log: LogRead
    lines: int
    size: int
    tail: int
    torn: bool


def log_path(car_path: str) -> str:
    """Give the path of the log of a car: beside the car file.

    Examples:
        >>> log_path("cars/coupe.toml")
        'cars/coupe.log.jsonl'
    """
    return f"{car_path.removesuffix('.toml')}.log.jsonl"


def read_log(path: str) -> LogRead:
    """Read a log; a damaged line is told and left out, and a missing file is an empty log.

    Raises:
        InputError: When it is no file, or can't be read at all; never for what is in it.

    References:
        JSON Lines (RFC 8259 texts, one a line, UTF-8).
    """
    return scan(path).log


def scan(path: str) -> Scan:
    """Read a log and see how its file ends.

    Raises:
        InputError: When it is no file, or can't be read at all.
    """
    readable: list[Entry] = []
    damaged: list[Damage] = []
    line, size, tail, torn = 0, 0, 0, False
    for line, raw, length, ended in _lines(path):
        size += length
        entry = read_line(raw, line)
        tail = 0 if ended else length
        torn = not ended and (raw is None or isinstance(json_object(raw), str))
        if isinstance(entry, Entry):
            readable.append(entry)
        elif torn:
            damaged.append(Damage(line, "broke off while it was written"))
        elif raw is None or raw.strip():
            damaged.append(Damage(line, entry))
    entries = _in_order(readable)
    if len(entries) < len(readable):
        kept = {entry.line for entry in entries}
        damaged += [
            Damage(entry.line, f"its number, {entry.number}, is out of order")
            for entry in readable
            if entry.line not in kept
        ]
    return Scan(LogRead(entries, tuple(sorted(damaged))), line, size, tail, torn)


def _in_order(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """Keep as many as can be so that their numbers rise."""
    numbers = [entry.number for entry in entries]
    if all(map(lt, numbers, numbers[1:])):
        return tuple(entries)
    kept = _rising(numbers)
    return tuple(entry for index, entry in enumerate(entries) if index in kept)


def _lines(path: str) -> Iterator[tuple[int, bytes | None, int, bool]]:
    """Give of each line its number, bytes (None: too many), length, and whether it ended."""
    name = os.path.basename(path)
    try:
        if not stat.S_ISREG(os.stat(path).st_mode):
            raise InputError.one(name, "is not a file", "move it away, the log goes there")
        with open(path, "rb") as file:
            number = 0
            while raw := file.readline(MOST_BYTES):
                number, length, last = number + 1, len(raw), raw
                while last and not last.endswith(b"\n"):
                    last = file.readline(MOST_BYTES)
                    length += len(last)
                yield number, raw if length == len(raw) else None, length, bool(last)
    except FileNotFoundError:
        return
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError.one(name, f"can't be read ({reason})", "check the file") from None


def _rising(numbers: Sequence[int]) -> set[int]:
    """Find the longest rising row of numbers, so that a single wrong one costs itself only."""
    tops: list[int] = []
    ends: list[int] = []
    before: list[int] = []
    for index, number in enumerate(numbers):
        place = bisect_left(tops, number)
        before.append(ends[place - 1] if place else -1)
        tops[place : place + 1] = [number]
        ends[place : place + 1] = [index]
    kept, index = set(), ends[-1] if ends else -1
    while index >= 0:
        kept.add(index)
        index = before[index]
    return kept


def standing(entries: Iterable[Entry]) -> list[Entry]:
    """Give what was not undone, the last first, without the undos; see `effective`."""
    undone: set[int] = set()
    kept = []
    for entry in reversed(tuple(entries)):
        if entry.number in undone:
            continue
        if entry.kind == "undo":
            undone.add(entry.data["undoes"])
        else:
            kept.append(entry)
    return kept


def effective(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Give what counts: without what was undone, weigh-ins as they were corrected.

    An undo that was undone counts for nothing, nor does a correction; of corrections of the same
    key the last counts.

    Returns:
        Without undos and corrections, and without what sessions made of a weigh-in that was
        corrected later: see `_still_true`.

    Examples:
        >>> at = "2026-06-13T14:30:00+02:00"
        >>> undo = Entry(2, at, "undo", {"undoes": 1})
        >>> effective([Entry(1, at, "note", {"text": "wet"}), undo])
        ()
        >>> right = Entry(2, at, "correction", {"corrects": 1, "to": {"on_board": ["driver"]}})
        >>> effective([Entry(1, at, "weigh_in", {"on_board": []}), right])[0].data
        {'on_board': ['driver']}
    """
    kept = standing(entries)
    kept.reverse()
    right: dict[int, list[Entry]] = {}
    for entry in [one for one in kept if one.kind == "correction"]:
        right.setdefault(entry.data["corrects"], []).append(entry)
    return tuple(_by_date(list(_still_true(kept, right) if right else kept)))


def _by_date(kept: list[Entry]) -> list[Entry]:
    """Put weigh-ins that were brought in later where they belong, never into a session."""
    late = [entry for entry in kept if _brought_in(entry)]
    if not late:
        return kept
    rest = [entry for entry in kept if not _brought_in(entry)]
    # A clock that went back does not make an order: what counts is the latest so far.
    times = list(accumulate((entry.moment for entry in rest), max))
    places = _outside_sessions(rest)
    at: dict[int, list[Entry]] = {}
    for entry in sorted(late, key=lambda one: one.moment):
        at.setdefault(places[bisect_right(times, entry.moment)], []).append(entry)
    merged = [[*at.get(place, ()), entry] for place, entry in enumerate(rest)]
    return [*chain.from_iterable(merged), *at.get(len(rest), ())]


def _outside_sessions(entries: Sequence[Entry]) -> list[int]:
    """Give for each place between entries the next before it that is in no session."""
    places, begun = [], -1
    for place, entry in enumerate(entries):
        places.append(place if begun < 0 else begun)
        if entry.borders:
            begun = place if entry.begins else -1
    return [*places, len(entries) if begun < 0 else begun]


def _brought_in(entry: Entry) -> bool:
    held = entry.held
    if isinstance(held, bytes):
        # A long log stays in lines: only those that may say so are taken apart.
        return b'"imported"' in held and bool(entry.data.get("imported"))
    return bool(held.get("imported"))


def _corrected(entry: Entry, corrections: Sequence[Entry]) -> Entry:
    """Give a weigh-in as it should have been written.

    Args:
        corrections: Of it, in their order.
    """
    new = {key: value for one in corrections for key, value in one.data["to"].items()}
    at = new.pop("at", entry.at)
    return entry._replace(at=at, held={**entry.data, **new}, corrected=True)


def _still_true(kept: Sequence[Entry], right: Mapping[int, Sequence[Entry]]) -> Iterator[Entry]:
    """Put weigh-ins right, and leave out what was worked out from numbers that are others now.

    A belief rests on all weigh-ins before it, for each session begins with what the last has
    taught; a plan on those of its session. Where turns came between weigh-in and plan, the
    weigh-in that it is of is lost, and the plan is all that tells of it.
    """
    of_session = of_all = 0
    turned = False
    for entry in kept:
        if of_session and entry.begins:
            of_session = 0
        elif entry.kind == "weigh_in":
            turned = False
            if corrections := right.get(entry.number):
                entry = _corrected(entry, corrections)
                by = _last_of_numbers(corrections)
                of_session, of_all = max(of_session, by), max(of_all, by)
        turned = turned or entry.kind == "made"
        stale = (entry.kind == "belief" and entry.number < of_all) or (
            entry.kind == "plan" and entry.number < of_session and not turned
        )
        if not stale and entry.kind != "correction":
            yield entry


def _last_of_numbers(corrections: Iterable[Entry]) -> int:
    """Give the number of the last correction of more than a date; 0: there is none."""
    numbers = (one.number for one in corrections if set(one.data["to"]) - {"at", "date"})
    return max(numbers, default=0)
