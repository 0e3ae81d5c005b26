"""Weigh-ins of before, in a CSV file: columns known by their names, rows as readings."""

import csv
import io
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import date, datetime, time
from typing import Any, NamedTuple

from balancer.car.conventions import CORNERS
from balancer.car.errors import Fault, InputError, gathering, refuse, spelled
from balancer.files.car_file import CarFile
from balancer.files.format.bounds import first_of
from balancer.files.format.toml_text import TomlFile
from balancer.files.readings import readings_in
from balancer.files.units import METRIC, US, Units

MOST_BYTES, MOST_ROWS = 5_000_000, 20_000
"""Of a file: more is not one person's record of a car."""

_NAMES = {
    "date": "date day when weighed",
    "time": "time clock",
    "note": "note notes comment comments remark remarks what",
    "on_board": "onboard aboard state with loaded",
    "units": "unit units",
    "LF": "lf leftfront frontleft fl",
    "RF": "rf rightfront frontright fr",
    "LR": "lr leftrear rearleft rl",
    "RR": "rr rightrear rearright",
    "total": "total totalweight weight mass",
    "front_pct": "front frontpct frontshare frontpercent",
    "left_pct": "left leftpct leftshare leftpercent",
    "cross_pct": "cross crosspct crossweight crosspercent crossshare",
}
"""What a column is called, in small letters, without blanks, signs and unit."""

_KNOWN = {name: key for key, names in _NAMES.items() for name in names.split()}
_UNITS = {"kg": METRIC, "metric": METRIC, "lb": US, "lbs": US, "us": US}
_SHARES = ("front_pct", "left_pct", "cross_pct")


class PastWeighIn(NamedTuple):
    """A row: when it was, and what its readings file would hold."""

    at: datetime
    data: dict[str, Any]


class History(NamedTuple):
    """A file of weigh-ins of before.

    Attributes:
        columns: What each known column was taken for, by its heading.
        ignored: Headings of those that mean nothing here.
        rows: By date.
    """

    columns: dict[str, str]
    ignored: tuple[str, ...]
    rows: tuple[PastWeighIn, ...]


def read_history(path: str, file: CarFile) -> History:
    """Read weigh-ins of before.

    Args:
        file: Of the car; its units count where a heading or a column of units says no other.

    Returns:
        Every row is sound: readings that could be weighed.

    Raises:
        InputError: With every fault of every row.

    References:
        RFC 4180; commas, semicolons or tabs between the cells.
    """
    name, text = os.path.basename(path), _text(path)
    lines = [(n, row) for n, row in _cells(name, text) if any(cell.strip() for cell in row)]
    if len(lines) < 2:
        raise InputError.one(name, "has no rows under its headings", "give one a weigh-in")
    (_, heads), *rows = lines
    columns, ignored = _columns(heads)
    refuse(_lacking(name, columns))
    faults: list[Fault] = []
    units = _heading_units(heads) or file.units
    commas = ";" in text.partition("\n")[0] or "\t" in text.partition("\n")[0]
    taken: list[PastWeighIn] = []
    for line, row in rows[:MOST_ROWS]:
        cells = {key: row[at].strip() for at, key in columns.items() if at < len(row)}
        with gathering(faults):
            taken.append(_row(f"{name}:{line}", cells, units, file, commas))
    if len(rows) > MOST_ROWS:
        faults.append(Fault(name, f"has {len(rows)} rows", f"{MOST_ROWS} at most: split it"))
    refuse(first_of(name, faults))
    told = {heads[at].strip(): key for at, key in columns.items()}
    return History(told, ignored, tuple(sorted(taken, key=lambda one: one.at)))


def _text(path: str) -> str:
    name = os.path.basename(path) or '""'
    try:
        with open(path, "rb") as source:
            # A device says that it has no size, and never ends.
            content = source.read(MOST_BYTES + 1)
        if len(content) > MOST_BYTES:
            raise InputError.one(name, "is larger than 5 MB", "split it")
        return re.sub("\r\n?", "\n", content.decode("utf-8-sig").replace("\0", ""))
    except UnicodeDecodeError:
        raise InputError.one(name, "is not UTF-8 text", "save it as CSV, UTF-8") from None
    except OSError as error:
        way_out = "check the name and the folder"
        raise InputError.one(name, f"can't be read ({error.strerror})", way_out) from None


def _cells(name: str, text: str) -> Iterator[tuple[int, list[str]]]:
    """Take a file apart, with the number of the line where each row ends."""
    head = text.partition("\n")[0]
    mark = max((";", "\t", ","), key=head.count)
    reader = csv.reader(io.StringIO(text), delimiter=mark)
    try:
        for row in reader:
            yield reader.line_num, row
    except csv.Error as error:
        where, way_out = f"{name}:{reader.line_num}", "look for a quote that is left open"
        raise InputError.one(where, f"can't be taken apart ({error})", way_out) from None


def _columns(heads: Sequence[str]) -> tuple[dict[int, str], tuple[str, ...]]:
    """Know columns by their headings, the first of two that mean the same."""
    found: dict[int, str] = {}
    ignored = []
    for at, head in enumerate(heads):
        bare = re.sub(r"\(.*?\)|\b(kg|lbs?)\b", "", head.lower().replace("%", ""))
        key = _KNOWN.get(re.sub(r"[\W_]+", "", bare))
        if key and key not in found.values():
            found[at] = key
        elif head.strip():
            ignored.append(spelled(head.strip()))
    return found, tuple(ignored)


def _lacking(name: str, columns: Mapping[int, str]) -> Iterator[Fault]:
    known = set(columns.values())
    if "date" not in known:
        yield Fault(name, "has no column date", "name one date, with days like 2026-05-09")
    if not (set(CORNERS) <= known or {"total", "front_pct"} <= known):
        lost = ", ".join(pad for pad in CORNERS if pad not in known)
        yield Fault(name, f"has no column {lost}", "name LF RF LR RR; or total, front, left, cross")


def _heading_units(heads: Sequence[str]) -> Units | None:
    said = {unit for head in heads for unit in re.findall(r"\b(kg|lbs?)\b", head.lower())}
    return _UNITS[said.pop()] if len(said) == 1 else None


def _row(
    where: str, cells: Mapping[str, str], units: Units, file: CarFile, commas: bool
) -> PastWeighIn:
    """Take a row for a weigh-in.

    Args:
        commas: A comma can only be a decimal one: cells are not parted by them.
    """
    faults: list[Fault] = []

    def value(key: str) -> float:
        text = cells.get(key, "")
        bare = text.replace(",", ".") if commas else text
        with suppress(ValueError):
            return float(re.sub(r"\s*(kg|lbs?|%)$", "", bare.replace("\u00a0", " ")))
        what = f"“{text[:40]}” is not a number" if text else "is empty"
        faults.append(Fault(f"{where}: {key}", what, "write a number like 302.5"))
        return 1.0

    named = cells.get("units", "").lower()
    if named:
        units = _UNITS.get(named, units)
        if named not in _UNITS:
            faults.append(Fault(f"{where}: units", f"“{named[:40]}” is no unit", "write kg or lb"))
    at = _moment(where, cells, faults)
    data: dict[str, Any] = {"units": units.name}
    if all(cells.get(pad) for pad in CORNERS) or "total" not in cells:
        data["readings"] = [[value(pad) for pad in CORNERS]]
    else:
        data["total"] = value("total")
        data |= {key: value(key) for key in _SHARES if cells.get(key)}
        if "front_pct" not in data:
            faults.append(Fault(f"{where}: front", "is empty", "give the front share in percent"))
    if cells.get("on_board"):
        words = [word.strip() for word in re.split(r"[,;+/]", cells["on_board"]) if word.strip()]
        data["on_board"] = [] if words == ["none"] else words
    if cells.get("note"):
        data["note"] = cells["note"][:200]
    if not faults:
        with gathering(faults):
            readings_in(TomlFile(where, data, ""), file)
    refuse(faults)
    return PastWeighIn(at, data)


def _moment(where: str, cells: Mapping[str, str], faults: list[Fault]) -> datetime:
    """Read when it was; noon where the file says no time of day."""
    day, clock = cells.get("date", ""), cells.get("time", "")
    with suppress(ValueError):
        if clock:
            return datetime.combine(date.fromisoformat(day), time.fromisoformat(clock))
        found = datetime.fromisoformat(day)
        return found if len(day) > len("2026-05-09") else found.replace(hour=12)
    what = f"“{f'{day} {clock}'.strip()[:40]}” is no date"
    faults.append(Fault(f"{where}: date", what, "write it like 2026-05-09 or 2026-05-09 14:30"))
    return datetime(2000, 1, 1)
