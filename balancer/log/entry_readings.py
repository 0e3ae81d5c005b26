"""What the pads showed, out of an entry of the log: as closely looked at as a readings file."""

import os
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any

from balancer.car.conventions import Floats
from balancer.car.errors import InputError
from balancer.car.model import Item
from balancer.car.statics import taken_for_linear
from balancer.files.car_file import CarFile
from balancer.files.format.toml_text import TomlFile
from balancer.files.readings import readings_in
from balancer.files.states import aboard
from balancer.files.units import SYSTEMS, Units
from balancer.log.entry import Entry
from balancer.log.reader import effective, log_path
from balancer.weighing.load_states import carry
from balancer.weighing.weigh import Readings, WeighIn, weigh

_MOST = 1000.0, 20.0
"""Of something on board that an entry tells of: beyond, it is damaged [kg, m]."""


def readings_of_entry(entry: Entry, file: CarFile) -> Readings:
    """Take the readings of a weigh-in in the log, as closely looked at as those of a file.

    Returns:
        Dated with the day of the entry if it does not say another.

    Raises:
        InputError: With all that is wrong with it.

    Examples:
        >>> from balancer.files.car_reader import read_car
        >>> entry = Entry(3, "2026-06-13T14:30:00+02:00", "weigh_in", {"readings": [[1, 2, 3]]})
        >>> readings_of_entry(entry, read_car("examples/coupe.toml"))
        Traceback (most recent call last):
        balancer.car.errors.InputError: entry 3 of coupe.log.jsonl: readings[1]: has 3 values: give 4: one list [LF, RF, LR, RR] each time the pads were read
    """  # noqa: E501
    # TOML knows no null: what a session did not ask for is left out.
    data: dict[str, Any] = {key: value for key, value in entry.data.items() if value is not None}
    data.setdefault("date", f"{entry.wall:%Y-%m-%d}")
    aboard, unknown = data.pop("aboard", None), _unknown(data, file)
    data.pop("imported", None)
    log = os.path.basename(log_path(file.path))
    name = f"entry {entry.number}"
    name = f"{log}:{entry.line}: {name}" if entry.line else f"{name} of {log}"
    if unknown:
        data["on_board"] = [word for word in data["on_board"] if word not in unknown]
    readings = readings_in(TomlFile(name, data, ""), file)
    units = SYSTEMS.get(str(data.get("units")), file.units)
    items, remarks = _carried(name, unknown, aboard, units)
    return replace(readings, aboard=items, remarks=remarks) if unknown else readings


def weigh_in_of(entry: Entry, file: CarFile) -> WeighIn | None:
    """Weigh the car by an entry of its log; None where its readings can't be used."""
    with suppress(InputError):
        return weigh(file.car, readings_of_entry(entry, file))
    return None


def loads_before(
    file: CarFile, entries: Sequence[Entry], now: Sequence[Item]
) -> tuple[Floats, ...]:
    """Give the loads of the last three weigh-ins, carried to a state, where they can be used [N].

    Args:
        now: What is on board in it.
    """
    weigh_ins = [entry for entry in effective(entries) if entry.kind == "weigh_in"][-3:]
    read = [weigh_in for entry in weigh_ins if (weigh_in := weigh_in_of(entry, file))]
    car = taken_for_linear(file.car)
    return tuple(carry(car, one.loads, aboard(file, one.readings), now).loads for one in read)


def _unknown(data: dict[str, Any], file: CarFile) -> list[str]:
    """Find what was on board that the car file no longer names."""
    words, known = data.get("on_board"), {item.name for item in file.car.on_board}
    if not isinstance(words, list) or not all(isinstance(word, str) for word in words):
        return []
    return [word for word in words if _bare(word) not in known]


def _bare(word: str) -> str:
    return word.partition("=")[0].strip()


def _carried(
    name: str, unknown: Sequence[str], aboard: object, units: Units
) -> tuple[tuple[Item, ...], tuple[str, ...]]:
    """Take what the car file no longer names from the entry itself, as far as it says."""
    held = {item.name: item for item in items_in(aboard, units)}
    names = [_bare(word) for word in unknown]
    remarks = []
    for bare in names:
        how = "it counts as part of the car"
        if bare in held:
            mass = units.from_si(held[bare].mass, "mass")
            how = f"it is taken as it was then, {mass:.4g} {units.labels['mass']}"
        remarks.append(f"{name}: “{bare}” was on board and is no longer in the car file: {how}")
    return tuple(held[bare] for bare in names if bare in held), tuple(remarks)


def items_in(aboard: object, units: Units) -> list[Item]:
    """Read what an entry says was on board; what is no item is left out.

    Args:
        aboard: From `session_lines.weigh_in_data`, or whatever a damaged log has there.
        units: Of the entry.

    Examples:
        >>> from balancer.files.units import METRIC
        >>> aboard = [{"name": "driver", "mass": 78, "aft": 1420, "left": 340, "up": 400}, "coffee"]
        >>> [(item.name, item.mass, item.aft) for item in items_in(aboard, METRIC)]
        [('driver', 78.0, 1.42)]
    """
    items = []
    for held in aboard if isinstance(aboard, list) else []:
        with suppress(KeyError, TypeError, ValueError):
            place = [units.to_si(float(held[key]), "length") for key in ("aft", "left", "up")]
            mass = units.to_si(float(held["mass"]), "mass")
            if 0 <= mass <= _MOST[0] and max(map(abs, place)) <= _MOST[1]:
                items.append(Item(str(held["name"]), mass, *place))
    return items
