"""Weigh-ins that no session made: one kept by hand, many brought in from before."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from balancer.car.conventions import Floats
from balancer.car.errors import InputError
from balancer.files.car_file import CarFile
from balancer.files.history import PastWeighIn
from balancer.files.units import Units
from balancer.log.dates import with_offset
from balancer.log.entry import Entry
from balancer.log.reader import effective, log_path
from balancer.log.session_lines import state_data
from balancer.log.writer import LogWriter, open_log
from balancer.weighing.weigh import Readings

_PATIENCE = 5.0
"""How long to wait for others that write [s]."""


def saved(file: CarFile, readings: Readings, words: Sequence[str] | None, note: str) -> Entry:
    """Keep a weigh-in in the log of the car; one of a day before today under that day.

    Args:
        words: What was on board; None: nobody said.
        note: Beside it; empty: that of the readings.

    Raises:
        InputError: While a session is going on, which keeps its own.
    """
    data = _data(file, readings, words)
    if said := note or readings.note:
        data["note"] = said
    if readings.date:
        data["date"] = readings.date
    with open_log(log_path(file.path), wait=_PATIENCE) as writer:
        _refuse_within_session(writer)
        if (day := _day(readings.date)) and with_offset(day).date() < date.today():
            (entry,) = writer.append_all([(day, "weigh_in", {**data, "imported": True})])
            return entry
        return writer.append("weigh_in", data)


def _day(text: str) -> datetime | None:
    """Read the date of a readings file, which may be any words."""
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def brought_in(file: CarFile, rows: Sequence[PastWeighIn]) -> list[Entry]:
    """Bring weigh-ins of before into the log of a car, all or none.

    Raises:
        InputError: While a session is going on; when one is there already, or is yet to come.
    """
    with open_log(log_path(file.path), wait=_PATIENCE) as writer:
        _refuse_within_session(writer)
        there = {_same(entry.wall, entry.data) for entry in effective(writer.entries)}
        twice = [row for row in rows if _same(row.at.replace(tzinfo=None), row.data) in there]
        if twice:
            count = "1 weigh-in is" if len(twice) == 1 else f"{len(twice)} weigh-ins are"
            first = f"{twice[0].at:%Y-%m-%d %H:%M}"
            raise InputError.one("--import", f"{count} there already ({first})", "take them out")
        late = [row for row in rows if with_offset(row.at) > with_offset(datetime.now())]
        if late:
            what = f"{late[0].at:%Y-%m-%d %H:%M} is yet to come"
            raise InputError.one("--import", what, "check the year")
        return writer.append_all(
            [(with_offset(row.at), "weigh_in", _with_aboard(file, row)) for row in rows]
        )


def _same(at: datetime, data: dict[str, Any]) -> tuple[datetime, str]:
    loads = data.get("readings") or data.get("total")
    return at, str(loads)


def _with_aboard(file: CarFile, row: PastWeighIn) -> dict[str, Any]:
    said = state_data(file, row.data["on_board"]) if "on_board" in row.data else {}
    return {**row.data, "imported": True, **said}


def _data(file: CarFile, readings: Readings, words: Sequence[str] | None) -> dict[str, Any]:
    units = file.units
    data: dict[str, Any] = {
        "readings": [_in(units, row, "load") for row in readings.repeats],
        "units": units.name,
    }
    if readings.tare.any():
        data["tare"] = _in(units, readings.tare, "load")
    if readings.pad_heights.any():
        data["pad_heights"] = _in(units, readings.pad_heights, "length")
    if readings.ride_heights is not None:
        data["ride_heights"] = _in(units, readings.ride_heights, "length")
    return data if words is None else data | state_data(file, words)


def _in(units: Units, values: Floats, dimension: Any) -> list[float]:
    return [round(units.from_si(float(value), dimension), 6) for value in values]


def _refuse_within_session(writer: LogWriter) -> None:
    """A weigh-in among the lines of a session would be taken for one of its own."""
    recent = effective(writer.recent)
    begun = any(entry.begins for entry in recent)
    ended = any(entry.kind == "session" and entry.data.get("event") == "end" for entry in recent)
    if begun and not ended:
        way_out = "weigh there, or end it first: say done"
        raise InputError.one("log", "a session of this car is still open", way_out)
