"""The file of weighings with the pads moved around, to `PadWeighing`s."""

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.car.errors import Fault
from balancer.car.model import Item
from balancer.car.statics import statics_of
from balancer.files.car_file import CarFile
from balancer.files.checks.readings import bad_loads, no_car, none_left
from balancer.files.checks.sound import Sound
from balancer.files.companion import Companion, Opened
from balancer.files.format.beside_keys import PADS_SCHEMA
from balancer.files.format.faults import meant
from balancer.files.format.value_types import Key
from balancer.files.states import said_aboard
from balancer.weighing.pad_model import PadWeighing

_SAME_CAR = 0.05
"""How far the total may be off that of the other weighings: pads are not that wrong."""


class PadsFile(NamedTuple):
    """Weighings read.

    Attributes:
        thickness: Pad to its thickness [m]; None where it was not measured.
        aboard: What was on board; None: nobody said.
    """

    weighings: tuple[PadWeighing, ...]
    thickness: dict[str, float] | None
    aboard: tuple[Item, ...] | None = None


def _weighings_in(opened: Opened, file: CarFile) -> PadsFile:
    pads = opened.si.get("pad")
    weighings = tuple(_weighing(entry) for entry in opened.si["weighing"])
    aboard = said_aboard(file, opened.si.get("on_board"))
    return PadsFile(weighings, pads and {pad["name"]: pad["thickness"] for pad in pads}, aboard)


def _weighing(entry: dict[str, Any]) -> PadWeighing:
    heights = entry.get("pad_heights")
    return PadWeighing(
        pads=tuple(entry["pads"]),
        repeats=np.array(entry["readings"]),
        reversed=entry.get("turned", False),
        heights=None if heights is None else np.array(heights),
    )


def _check(opened: Opened) -> Iterator[Fault]:
    faults = [*opened.wrong_state, *_name_faults(opened.sound), *_reading_faults(opened.sound)]
    yield from faults
    if opened.file and opened.units and opened.si and not faults:
        yield from _load_faults(opened, opened.file._replace(units=opened.units))


def _name_faults(sound: Sound) -> Iterator[Fault]:
    """Find pads that are in two places, or that are a fifth."""
    measured = dict[str, Key]()
    for key, name in sound.each("pad", "name"):
        if name in measured:
            yield sound.fault(key, f"“{name}” is there twice", "name each pad once")
        measured.setdefault(name, key)
    known = tuple(measured)
    for key, names in sound.each("weighing", "pads"):
        twice = [name for name in dict.fromkeys(names) if names.count(name) > 1]
        for name in twice:
            corners = [corner for corner, pad in zip(CORNERS, names, strict=True) if pad == name]
            what = f"“{name}” is under {' and '.join(corners)}"
            yield sound.fault(key, what, "name each of the four pads once")
        if len(known) != len(CORNERS) and not twice:
            known = tuple(names)
        for name in dict.fromkeys(names):
            if len(known) == len(CORNERS) and name not in known:
                close = meant(name, known)
                way_out = f"did you mean {close}?" if close else "move the same four pads around"
                what = f"“{name}” is none of {', '.join(known)}"
                yield sound.fault(key, what, way_out)


def _reading_faults(sound: Sound) -> Iterator[Fault]:
    """Find what no pad shows with a wheel on it."""
    for key, rows in sound.each("weighing", "readings"):
        for number, row in enumerate(rows):
            where = f"{sound.place(key)}[{number + 1}]"
            yield from bad_loads(row, [f"{where} {corner}" for corner in CORNERS])


def _load_faults(opened: Opened, file: CarFile) -> Iterator[Fault]:
    """Find what no car weighs, and weighings of two cars."""
    sound, entries, units = opened.sound, opened.toml.data["weighing"], file.units
    totals = [float(np.mean(entry["readings"], axis=0).sum()) for entry in entries]
    usual = float(np.median(totals))
    yield from no_car(file, np.full((1, 4), usual / 4), sound.place(("weighing",)))
    for number, total in enumerate(totals):
        if abs(total - usual) > _SAME_CAR * usual:
            what = f"{total:g} {units.labels['load']} in all, the middle of all is {usual:g}"
            way_out = "weigh the same car with the same on board, or is a digit wrong?"
            yield sound.fault(("weighing", number, "readings"), what, way_out)
        weighing = _weighing(opened.si["weighing"][number])
        if weighing.heights is not None:
            loads = weighing.repeats.mean(axis=0)
            pads = statics_of(file.car, loads).pad_effect(weighing.heights)
            where = sound.place(("weighing", number, "pad_heights"))
            yield from none_left(loads - pads, where)


_FILE = Companion(PADS_SCHEMA, _check, _weighings_in)
read_pads, faults_in = _FILE.read, _FILE.faults_in
