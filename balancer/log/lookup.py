"""What the log tells: a weigh-in by number or date, and the state of the car at a date."""

import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

from balancer.car.conventions import CORNERS, Floats
from balancer.car.corner import LINKS
from balancer.car.errors import Fault, InputError
from balancer.files.car_file import CarFile
from balancer.files.readings import read_readings
from balancer.log.dates import moment_of
from balancer.log.entry import Entry
from balancer.log.entry_readings import readings_of_entry
from balancer.log.reader import Damage, LogRead, effective, log_path, read_log
from balancer.log.replay import turns_made
from balancer.weighing.weigh import Readings, Source

_DATES = "a number, or a date like 2026-06-13 or 2026-06-13T14:30"


class LogState(NamedTuple):
    """How a car stood at a date, as far as its log knows.

    Attributes:
        weigh_in: The last.
        turns: By corner, all that were made since the log began; up positive.
        turns_since: Those made after that weigh-in, of which it does not know.
        belief: The last.
    """

    weigh_in: Entry | None
    turns: dict[str, float]
    turns_since: dict[str, float]
    belief: Entry | None
    notes: tuple[Entry, ...]


def readings_from(which: str, file: CarFile) -> Readings:
    """Take readings from a readings file, or from the log of the car.

    Args:
        which: A path; or `log:12`, `log:2026-06-13`, or `log` for the last.
        file: Gives the log.

    Raises:
        InputError: With every fault of the file, or when there is no such entry.

    Examples:
        >>> from balancer.files.car_reader import read_car
        >>> readings_from("log:12", read_car("examples/coupe.toml"))
        Traceback (most recent call last):
        balancer.car.errors.InputError: log:12: no such weigh-in: there are none in coupe.log.jsonl
    """
    if os.path.exists(which) or not re.match(r"log(:|$)", which):
        return read_readings(which, file)
    path = log_path(file.path)
    log, name = read_log(path), os.path.basename(path)
    entry = _asked_for(which, log, name)
    readings = readings_of_entry(entry, file)
    source = Source(entry.number, entry.at, tuple(damage.line for damage in log.damaged))
    lost = lines_lost(log.damaged, name)
    when = f"{entry.wall:%Y-%m-%d %H:%M}"
    remarks = [f"{lost}; the readings are those of entry {entry.number}, {when}"] if lost else []
    return replace(readings, source=source, remarks=(*remarks, *readings.remarks))


def _asked_for(which: str, log: LogRead, name: str) -> Entry:
    """Find the weigh-in that `log:12` or `log` names; where there is none, damage may be why."""
    if which == "log":
        kept = [entry.number for entry in effective(log.entries) if entry.kind == "weigh_in"]
        if not kept and not log.damaged:
            way_out = "give the four readings, or --readings FILE"
            raise InputError.one("log", f"there is no weigh-in in {name}", way_out)
        which = f"log:{kept[-1] if kept else 1}"
    try:
        return entry_of(log.entries, which.removeprefix("log:").strip(), name)
    except InputError as error:
        if not log.damaged:
            raise
        count = len(log.damaged)
        lines = "1 line is" if count == 1 else f"{count} lines are"
        damage = Fault(name, f"{lines} damaged", "see balancer log CAR")
        raise InputError([*error.faults, damage]) from None


def lines_lost(damaged: Sequence[Damage], name: str) -> str:
    """Say that lines of a log of this name are left out; nothing where there are none.

    Examples:
        >>> lines_lost([Damage(3, "is not JSON")], "coupe.log.jsonl")
        'coupe.log.jsonl: line 3 is damaged and left out, see balancer log'
    """
    if not damaged:
        return ""
    lines = [str(damage.line) for damage in damaged[:3]]
    more = [f"{len(damaged) - 3} more"] if len(damaged) > 3 else []
    which = f"line {lines[0]} is" if len(damaged) == 1 else f"lines {', '.join(lines + more)} are"
    return f"{name}: {which} damaged and left out, see balancer log"


def numbered(entries: Sequence[Entry], which: str, where: str, more: str = "") -> Entry:
    """Find an entry of whatever kind by its number.

    Args:
        where: What to call it in a fault.
        more: What to say in a fault behind the numbers that there are.

    Raises:
        InputError: When there is no such entry.

    Examples:
        >>> numbered([Entry(3, "2026-06-13T14:30:00+02:00", "note", {})], "4", "--show")
        Traceback (most recent call last):
        balancer.car.errors.InputError: --show: there is no entry 4: there are 3 to 3
    """
    bare = which.strip()
    for entry in entries:
        if bare == str(entry.number):
            return entry
    way_out = f"{numbers_in(entries)}{more}"
    what = f"there is no entry {bare[:40]}"
    if not (bare.isascii() and bare.isdigit()):
        what = f"“{bare[:40]}” is no number of an entry"
    raise InputError.one(where, what, way_out)


def numbers_in(entries: Sequence[Entry]) -> str:
    """Say which numbers there are."""
    if not entries:
        return "the log is empty"
    return f"there are {entries[0].number} to {entries[-1].number}"


def entry_of(entries: Iterable[Entry], which: str, name: str = "the log") -> Entry:
    """Find a weigh-in that was not undone.

    Args:
        which: Its number; a date: the last of that day; a date and time: the last until then.
            Dates and times are those of the clock on the wall where it was written, unless
            there is an offset.
        name: What to call the log in a fault.

    Raises:
        InputError: With those that there are.

    Examples:
        >>> entries = [Entry(3, "2026-06-13T14:30:00+02:00", "weigh_in", {})]
        >>> entry_of(entries, "2026-06-13").number
        3
        >>> entry_of(entries, "4")
        Traceback (most recent call last):
        balancer.car.errors.InputError: log:4: no such weigh-in: there is log:3 (2026-06-13 14:30)
    """
    entries = tuple(entries)
    weigh_ins = [entry for entry in effective(entries) if entry.kind == "weigh_in"]
    if re.fullmatch(r"[0-9]{1,12}", which):
        number = int(which)
        matching = [entry for entry in weigh_ins if entry.number == number]
        what = _other(entries, number)
        weigh_ins.sort(key=lambda entry: abs(entry.number - number))
    else:
        until, day = moment_of(which, f"log:{which}", _DATES)
        matching = [entry for entry in weigh_ins if entry.by(until)]
        if day:
            matching = [entry for entry in matching if entry.wall.date() == until.date()]
        what = "no such weigh-in"
        weigh_ins.sort(key=lambda entry: abs(entry.wall - until.replace(tzinfo=None)))
    if not matching:
        raise InputError.one(f"log:{which}", what, _there(weigh_ins, name))
    # By their numbers they are in order, but for those whose date was put right.
    dated = any(entry.corrected for entry in matching)
    return max(matching, key=lambda entry: entry.wall) if dated else matching[-1]


def _other(entries: Sequence[Entry], number: int) -> str:
    for entry in entries:
        if entry.number == number:
            kind = entry.kind.replace("_", "-")
            return "was undone" if entry.kind == "weigh_in" else f"is no weigh-in but “{kind}”"
    return "no such weigh-in"


def _there(nearest: Sequence[Entry], name: str) -> str:
    """Name the weigh-ins that come nearest to what was asked."""
    if not nearest:
        return f"there are none in {name}"
    names = [f"log:{entry.number} ({entry.wall:%Y-%m-%d %H:%M})" for entry in nearest[:3]]
    more = f" and {len(nearest) - 3} more" if len(nearest) > 3 else ""
    return f"there {'is' if len(nearest) == 1 else 'are'} {', '.join(names)}{more}"


def state_at(entries: Iterable[Entry], when: str | None = None, where: str = "date") -> LogState:
    """Find how the car stood at a date.

    What was undone later never happened: it was a slip, not a change to the car.

    Args:
        when: A date, to its end, or a date and time; None: now.
        where: What to call it in a fault.

    Raises:
        InputError: When it is no date.

    Examples:
        >>> made = Entry(1, "2026-06-13T14:30:00+02:00", "made", {"turns": {"LF": -0.75}})
        >>> state_at([made], "2026-06-13").turns["LF"], state_at([made], "2026-06-12").turns["LF"]
        (-0.75, 0.0)
    """
    kept = effective(entries)
    if when is not None:
        until, _ = moment_of(when, where, "one like 2026-06-13 or 2026-06-13T14:30")
        kept = tuple(entry for entry in kept if entry.by(until))
    last = {entry.kind: entry for entry in kept}
    weigh_in = last.get("weigh_in")
    since = kept[kept.index(weigh_in) + 1 :] if weigh_in else kept
    return LogState(
        weigh_in,
        _by_corner(turns_made(kept)),
        _by_corner(turns_made(since)),
        last.get("belief"),
        tuple(entry for entry in kept if entry.kind == "note"),
    )


def _by_corner(turns: Floats) -> dict[str, float]:
    return dict(zip((*CORNERS, *LINKS), turns.tolist(), strict=False))
