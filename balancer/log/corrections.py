"""Corrections: what was wrong with a weigh-in of the log, put right by a line that names it."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from balancer.car.conventions import CORNERS
from balancer.car.errors import InputError, refuse
from balancer.files.car_file import CarFile
from balancer.files.checks.readings import bad_loads
from balancer.files.format.numbers import Amount
from balancer.files.units import SYSTEMS
from balancer.log.dates import moment_of, with_offset
from balancer.log.entry import Entry
from balancer.log.lookup import numbered
from balancer.log.reader import LogRead, effective, standing
from balancer.log.session_lines import state_data


class Right(NamedTuple):
    """What a weigh-in should have said; None: as it does.

    Attributes:
        words: What was on board.
        date: As typed.
        loads: Four, LF RF LR RR.
    """

    words: Sequence[str] | None = None
    date: str | None = None
    loads: Sequence[Amount] | None = None


def correction_of(
    file: CarFile, log: LogRead, which: str, right: Right, now: datetime
) -> dict[str, Any]:
    """Give what a correction says in the log.

    Args:
        which: The number of the weigh-in.
        now: When it is written; nothing was weighed later.

    Raises:
        InputError: When there is no such weigh-in, or nothing to put right.
    """
    entry = _named(log, which)
    new = {**_aboard(file, entry, right), **_dated(entry, right, now), **_read(file, entry, right)}
    old = {"at": entry.at, **entry.data}
    new = {key: value for key, value in new.items() if old.get(key) != value}
    if not new:
        way_out = "nothing was written"
        raise InputError.one("--correct", f"entry {entry.number} says so already", way_out)
    return {"corrects": entry.number, "to": new, "was": {key: old.get(key) for key in new}}


def correction_named(log: LogRead, which: str) -> Entry:
    """Find a correction that counts, to be taken back.

    Raises:
        InputError: When there is no such.
    """
    entry, kept = _numbered(log, which, "--undo"), corrections_in(log.entries)
    if entry.kind != "correction":
        what = f"entry {entry.number} is no correction but “{entry.kind.replace('_', '-')}”"
        raise InputError.one("--undo", what, "a session takes back its own: say undo there")
    if entry not in kept:
        raise InputError.one("--undo", f"entry {entry.number} was undone already", "leave it")
    return entry


def corrections_in(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Give the corrections that were not undone, the last first.

    Examples:
        >>> at = "2026-06-13T14:30:00+02:00"
        >>> right = Entry(2, at, "correction", {"corrects": 1, "to": {}})
        >>> corrections_in([right, Entry(3, at, "undo", {"undoes": 2})])
        ()
    """
    return tuple(one for one in standing(entries) if one.kind == "correction")


def _named(log: LogRead, which: str) -> Entry:
    entry = _numbered(log, which, "--correct")
    if entry.kind == "correction":
        what = f"entry {entry.number} is itself a correction, of entry {entry.data['corrects']}"
        way_out = f"correct that again, or take this back: --undo {entry.number}"
        raise InputError.one("--correct", what, way_out)
    if entry.kind != "weigh_in":
        what = f"entry {entry.number} is no weigh-in but “{entry.kind}”"
        raise InputError.one("--correct", what, "only weigh-ins are corrected; add a --note")
    kept = next((one for one in effective(log.entries) if one.number == entry.number), None)
    if kept is None:
        way_out = "it counts for nothing, so there is nothing to put right"
        raise InputError.one("--correct", f"entry {entry.number} was undone", way_out)
    return kept


def _numbered(log: LogRead, which: str, where: str) -> Entry:
    lost = ""
    if log.damaged:
        lines = ", ".join(str(damage.line) for damage in log.damaged[:3])
        lost = f"; damaged lines ({lines}{', …' if len(log.damaged) > 3 else ''}) can't be used"
    return numbered(log.entries, which.strip().removeprefix("log:"), where, lost)


def _aboard(file: CarFile, entry: Entry, right: Right) -> dict[str, Any]:
    if right.words is None:
        return {}
    units = SYSTEMS.get(str(entry.data.get("units")), file.units)
    return state_data(file, right.words, units, "--weighed-with")


def _dated(entry: Entry, right: Right, now: datetime) -> dict[str, Any]:
    """Put the time right; of a day alone the time of day stays."""
    if right.date is None:
        return {}
    moment, day = moment_of(right.date, "--date", "one like 2026-06-13 or 2026-06-13T14:30")
    was = entry.moment
    if day:
        moment = datetime.combine(moment.date(), was.time())
    elif moment.microsecond:
        moment = moment.replace(second=0, microsecond=0)
    at = moment if moment.tzinfo else moment.replace(tzinfo=was.tzinfo)
    if at > with_offset(now):
        raise InputError.one("--date", f"{right.date.strip()} is yet to come", "check the year")
    said = {"date": f"{at:%Y-%m-%d}"} if "date" in entry.data else {}
    return {"at": at.isoformat(timespec="seconds"), **said}


def _read(file: CarFile, entry: Entry, right: Right) -> dict[str, Any]:
    """Put the readings right, in the units of the entry, by which its tare goes too."""
    if right.loads is None:
        return {}
    typed = [load.in_units(file.units, "load") for load in right.loads]
    refuse(bad_loads(typed, CORNERS))
    units = SYSTEMS.get(str(entry.data.get("units")), file.units)
    loads = [units.from_si(load.to_si(file.units, "load"), "load") for load in right.loads]
    return {"readings": [[round(load, 4) for load in loads]]}


_CORRECTED = {"at": "when", "on_board": "on board", "readings": "readings"}
"""What of a correction a person is told, and as what."""


def corrected_values(data: Mapping[str, Any]) -> Iterator[str]:
    """Tell old and new of each value that a correction puts right.

    Examples:
        >>> list(corrected_values({"to": {"on_board": ["driver"]}, "was": {"on_board": []}}))
        ['on board driver instead of nothing']
    """
    was = data.get("was")
    old = was if isinstance(was, dict) else {}
    for key, name in _CORRECTED.items():
        if key in data["to"]:
            new = _value(data["to"][key])
            yield f"{name} {new} instead of {_value(old.get(key))}"


def _value(value: object) -> str:
    """Write names, a time or rows of readings.

    >>> _value([[302, 288.5]]), _value(["driver", "fuel=6"]), _value("2026-06-13T14:30:00+02:00")
    ('302 288.5', 'driver, fuel=6', '2026-06-13 14:30')
    """
    if isinstance(value, str):
        return value[:16].replace("T", " ")
    if not isinstance(value, list) or not value:
        return "not said" if value is None else "nothing"
    if all(map(_numbers, value)):
        return " / ".join(" ".join(f"{one:g}" for one in row) for row in value)
    return ", ".join(map(str, value))


def _numbers(row: object) -> bool:
    return isinstance(row, list) and all(isinstance(one, int | float) for one in row)
