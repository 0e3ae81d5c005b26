"""The file of weighings with the pads moved around, to `PadWeighing`s."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.car.linear import load_change
from balancer.errors import Fault
from balancer.files.car_file import CarFile
from balancer.files.checks.car import Sound
from balancer.files.checks.readings import bad_loads, no_car
from balancer.files.companion import Beside
from balancer.files.format.faults import meant
from balancer.files.format.keys import PADS_SCHEMA
from balancer.files.format.toml_text import Key, TomlFile, read_toml
from balancer.units import Units, other
from balancer.weighing.pad_model import PadWeighing

_SAME_CAR = 0.05
"""How far the total may be off that of the other weighings: pads are not that wrong."""


class PadsFile(NamedTuple):
    """Weighings read.

    Attributes:
        thickness: Pad to its thickness [m]; None where it was not measured.
    """

    weighings: tuple[PadWeighing, ...]
    thickness: dict[str, float] | None


def read_pads(path: str | os.PathLike[str], file: CarFile) -> PadsFile:
    """Read weighings of a car with the pads moved around.

    Raises:
        InputError: With every fault of the file.

    References:
        The file format is documented in README.md.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.units import METRIC
        >>> read_pads("nowhere.toml", CarFile("a.toml", plain_car(), METRIC, ()))
        Traceback (most recent call last):
        balancer.errors.InputError: nowhere.toml: no such file: check the name and the folder
    """
    toml = read_toml(path)
    units = _FILE.units_in(toml, file)
    pads = toml.data.get("pad")
    return PadsFile(
        tuple(_weighing(entry, units) for entry in toml.data["weighing"]),
        pads and {pad["name"]: units.to_si(pad["thickness"], "length") for pad in pads},
    )


def _uncertainties(
    toml: TomlFile, faults: list[Fault], file: CarFile | None, units: Units | None
) -> list[Fault]:
    """Find what is wrong in weighings whose keys may each be right."""
    sound = Sound(toml, faults)
    found = [*_name_faults(sound), *_reading_faults(sound)]
    if file and units and not faults and not found:
        found += _load_faults(toml, file._replace(units=units))
    return found


def _weighing(entry: dict[str, Any], units: Units) -> PadWeighing:
    heights = entry.get("pad_heights")
    return PadWeighing(
        pads=tuple(entry["pads"]),
        repeats=np.array(entry["readings"], dtype=float) * units.factors["load"],
        turned=entry.get("turned", False),
        heights=None if heights is None else np.array(heights) * units.factors["length"],
    )


def _entries(sound: Sound, name: str, key: str) -> Iterator[tuple[Key, Any]]:
    """Give place and value of a key in each table of a list, where nothing is wrong with it."""
    entries = sound.data.get(name)
    for number in range(len(entries) if isinstance(entries, list) else 0):
        value = sound.get(name, number, key)
        if value is not None:
            yield (name, number, key), value


def _name_faults(sound: Sound) -> Iterator[Fault]:
    """Find pads that are in two places, or that are a fifth."""
    measured = dict[str, Key]()
    for key, name in _entries(sound, "pad", "name"):
        if name in measured:
            yield Fault(sound.place(key), f"“{name}” is there twice", "name each pad once")
        measured.setdefault(name, key)
    known = tuple(measured)
    for key, names in _entries(sound, "weighing", "pads"):
        twice = [name for name in dict.fromkeys(names) if names.count(name) > 1]
        for name in twice:
            corners = [corner for corner, pad in zip(CORNERS, names, strict=True) if pad == name]
            what = f"“{name}” is under {' and '.join(corners)}"
            yield Fault(sound.place(key), what, "name each of the four pads once")
        if len(known) != len(CORNERS) and not twice:
            known = tuple(names)
        for name in dict.fromkeys(names):
            if len(known) == len(CORNERS) and name not in known:
                close = meant(name, known)
                way_out = f"did you mean {close}?" if close else "move the same four pads around"
                what = f"“{name}” is none of {', '.join(known)}"
                yield Fault(sound.place(key), what, way_out)


def _reading_faults(sound: Sound) -> Iterator[Fault]:
    """Find what no pad shows with a wheel on it."""
    for key, rows in _entries(sound, "weighing", "readings"):
        for number, row in enumerate(rows):
            where = f"{sound.place(key)}[{number + 1}]"
            yield from bad_loads(row, [f"{where} {corner}" for corner in CORNERS])


def _load_faults(toml: TomlFile, file: CarFile) -> Iterator[Fault]:
    """Find what no car weighs, and weighings of two cars."""
    entries, units = toml.data["weighing"], file.units
    means = np.array([np.mean(entry["readings"], axis=0) for entry in entries])
    usual = float(np.median(means.sum(axis=1)))
    way_out = f'write units = "{other(units).name}"'
    yield from no_car(file, np.full((1, 4), usual / 4), toml.place(("weighing",)), way_out)
    for number, (entry, mean) in enumerate(zip(entries, means, strict=True)):
        total = float(mean.sum())
        if abs(total - usual) > _SAME_CAR * usual:
            yield Fault(
                toml.place(("weighing", number, "readings")),
                f"{total:g} {units.labels['load']} in all, the middle of all is {usual:g}",
                "weigh the same car with the same on board, or is a digit wrong?",
            )
        if "pad_heights" in entry:
            heights = np.array(entry["pad_heights"], dtype=float) * units.factors["length"]
            level = mean * units.factors["load"] - load_change(file.car, heights)
            for corner, load in zip(CORNERS, level, strict=True):
                if load <= 0:
                    yield Fault(
                        toml.place(("weighing", number, "pad_heights")),
                        f"on level pads {corner} would carry nothing",
                        "check the heights, and the rates in the car file",
                    )


_FILE = Beside(PADS_SCHEMA, _uncertainties)
faults_in = _FILE.faults_in
