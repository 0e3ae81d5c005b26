"""The parts book: parts with mass and place, some weighed on the pads, and variants of the car."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from balancer.car.model import Item
from balancer.errors import Fault
from balancer.files.car_file import CarFile
from balancer.files.checks.car import unknown_names
from balancer.files.companion import Beside
from balancer.files.format.keys import PARTS_SCHEMA
from balancer.files.format.toml_text import Key, TomlFile, read_toml
from balancer.units import SYSTEMS, Units
from balancer.weighing.parts import Change


class PartsBook(NamedTuple):
    """A parts book read.

    Attributes:
        parts: By name, in SI.
        notes: What is allowed but looks odd.
    """

    parts: dict[str, Item]
    variants: dict[str, tuple[Change, ...]]
    notes: tuple[str, ...]


def read_parts(path: str | os.PathLike[str], file: CarFile) -> PartsBook:
    """Read a parts book for a car.

    Args:
        file: Gives the units when the book does not, and the size of the car.

    Raises:
        InputError: With every fault of the book.

    References:
        The file format is documented in README.md.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.units import METRIC
        >>> read_parts("nowhere.toml", CarFile("a.toml", plain_car(), METRIC, ()))
        Traceback (most recent call last):
        balancer.errors.InputError: nowhere.toml: no such file: check the name and the folder
    """
    toml = read_toml(path)
    units = _FILE.units_in(toml, file)
    parts = {entry["name"]: part_of(entry, units) for entry in toml.data.get("part", [])}
    variants = {
        entry["name"]: tuple(_changes(entry, parts, units))
        for entry in toml.data.get("variant", [])
    }
    return PartsBook(parts, variants, tuple(_notes(toml, file, units)))


def part_of(entry: dict[str, Any], units: Units) -> Item:
    """Work out a part from its entry in the book.

    Args:
        entry: `mass`; or `pads`, what each pad showed, less `tare`, what it shows without the
            part. `less` stood on the pads with it and does not go into the car; `plus` did not
            and does.

    References:
        Common practice, no published source.

    Examples:
        >>> from balancer.units import US
        >>> engine = {"name": "engine", "pads": [210, 196], "less": 100, "aft": -2, "left": 0}
        >>> round(part_of(engine, US).mass / 0.45359237, 6)
        306.0
    """
    shown = entry.get("mass")
    if shown is None:
        tare = entry.get("tare", [0.0] * len(entry["pads"]))
        shown = float(np.sum(entry["pads"]) - np.sum(tare))
    mass = shown - entry.get("less", 0.0) + entry.get("plus", 0.0)
    aft, left, up = (units.to_si(entry.get(key, 0.0), "length") for key in ("aft", "left", "up"))
    return Item(entry["name"], units.to_si(mass, "mass"), aft, left, up)


def _changes(entry: dict[str, Any], parts: dict[str, Item], units: Units) -> Iterator[Change]:
    for name in entry.get("off", []):
        yield Change(f"{name} off", parts[name], None)
    for name in entry.get("on", []):
        yield Change(f"{name} on", None, parts[name])
    for move in entry.get("move", []):
        part = parts[move["part"]]
        aft, left, up = (
            units.to_si(move[key], "length") if key in move else getattr(part, key)
            for key in ("aft", "left", "up")
        )
        yield Change(f"{part.name} moved", part, part._replace(aft=aft, left=left, up=up))


def exchange(old: Item, new: Item) -> Change:
    """Put one part in for another, each at its own place.

    Examples:
        >>> exchange(Item("iron", 90, 0, 0, 0), Item("alloy", 60, 0, 0, 0)).label
        'iron → alloy'
    """
    return Change(f"{old.name} → {new.name}", old, new)


def _uncertainties(
    toml: TomlFile, faults: list[Fault], file: CarFile | None, units: Units | None
) -> Iterator[Fault]:
    """Find what is wrong in a parts book whose keys are right."""
    if not faults:
        for finds in (_no_mass, _twice, _unknown, _idle):
            yield from finds(toml)
        if file and units:
            yield from _far_off(toml, file, units)


def _no_mass(toml: TomlFile) -> Iterator[Fault]:
    for number, entry in enumerate(toml.data.get("part", [])):
        given = [key for key in ("mass", "pads") if key in entry]
        if len(given) != 1:
            what = "has both mass and pads" if given else "has neither mass nor pads"
            where = toml.place(("part", number, given[0] if given else "name"))
            yield Fault(where, f"“{entry['name']}” {what}", "give one of them")
        if len(entry.get("tare", [])) not in (0, len(entry.get("pads", []))):
            where = toml.place(("part", number, "tare"))
            yield Fault(where, "is not as long as pads", "give one tare a pad")
        elif len(given) == 1 and part_of(entry, SYSTEMS["metric"]).mass <= 0:
            where = toml.place(("part", number, given[0]))
            yield Fault(where, "leaves nothing of the part", "check pads, tare and less")


def _twice(toml: TomlFile) -> Iterator[Fault]:
    for kind in ("part", "variant"):
        names = [entry["name"] for entry in toml.data.get(kind, [])]
        for number, name in enumerate(names):
            if name in names[:number]:
                where = toml.place((kind, number, "name"))
                yield Fault(where, f"“{name}” is there twice", "give each its own name")


def _unknown(toml: TomlFile) -> Iterator[Fault]:
    known = list(dict.fromkeys(entry["name"] for entry in toml.data.get("part", [])))
    for number, entry in enumerate(toml.data.get("variant", [])):
        asked: list[tuple[str, Sequence[str]]] = [
            ("off", entry.get("off", [])),
            ("on", entry.get("on", [])),
            ("move", [move["part"] for move in entry.get("move", [])]),
        ]
        for key, names in asked:
            for what, way_out in unknown_names(names, known, "the book"):
                yield Fault(toml.place(("variant", number, key)), what, way_out)


def both_ways(off: Sequence[str], on: Sequence[str]) -> list[str]:
    """Name the parts that a set of changes both takes off and puts on: a slip, for it is nothing.

    Examples:
        >>> both_ways(["seat", "jack"], ["jack", "engine"])
        ['jack']
    """
    return [name for name in dict.fromkeys(off) if name in on]


def _idle(toml: TomlFile) -> Iterator[Fault]:
    """Find changes in variants that come to nothing."""
    for number, entry in enumerate(toml.data.get("variant", [])):
        off, on = entry.get("off", []), entry.get("on", [])
        for name in both_ways(off, on):
            where = toml.place(("variant", number, "on"))
            yield Fault(where, f"“{name}” goes off and on", "leave both out, or move it")
        for at, move in enumerate(entry.get("move", [])):
            where = toml.place(("variant", number, "move", at, "part"))
            if not {"aft", "left", "up"} & set(move):
                yield Fault(where, f"“{move['part']}” is moved nowhere", "say where: aft, left, up")
            for key, listed in (("off", off), ("on", on)):
                if move["part"] in listed:
                    what = f"“{move['part']}” is moved and goes {key}"
                    yield Fault(where, what, "say one of them")


def _far_off(toml: TomlFile, file: CarFile, units: Units) -> Iterator[Fault]:
    """Refuse parts that are nowhere near the car, or are moved there."""
    reach = units.from_si(file.car.wheelbase, "length")
    half = units.from_si(float(file.car.tracks.max()), "length")
    bounds = {"aft": (-reach, 2 * reach), "left": (-half, half)}
    placed: list[tuple[Key, str, dict[str, Any]]] = [
        (("part", number), entry["name"], entry)
        for number, entry in enumerate(toml.data.get("part", []))
    ]
    for number, entry in enumerate(toml.data.get("variant", [])):
        for at, move in enumerate(entry.get("move", [])):
            placed.append((("variant", number, "move", at), move["part"], move))
    for place, name, entry in placed:
        for key, (low, high) in bounds.items():
            if key in entry and not low <= entry[key] <= high:
                what = f"“{name}” is nowhere near the car"
                expected = f"expected {low:.0f} to {high:.0f} {units.labels['length']}"
                yield Fault(toml.place((*place, key)), what, expected)


def _notes(toml: TomlFile, file: CarFile, units: Units) -> Iterator[str]:
    """Name parts that stick out beyond what bumpers usually do."""
    overhang = units.from_si(1.2, "length")
    length = units.from_si(file.car.wheelbase, "length")
    for number, entry in enumerate(toml.data.get("part", [])):
        if not -overhang <= entry["aft"] <= length + overhang:
            yield (
                f"{toml.place(('part', number, 'aft'))}: “{entry['name']}” is beyond the bumpers"
                " of most cars"
            )


_FILE = Beside(PARTS_SCHEMA, _uncertainties)
faults_in = _FILE.faults_in
