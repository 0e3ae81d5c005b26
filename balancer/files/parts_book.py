"""The parts book: parts with mass and place, some weighed on the pads, and variants of the car."""

import re
from collections.abc import Collection, Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from balancer.car.errors import Fault
from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.files.checks.car import unknown_names
from balancer.files.checks.sound import Sound
from balancer.files.companion import Companion, Opened
from balancer.files.format.beside_keys import PARTS_SCHEMA
from balancer.files.format.faults import suggestion
from balancer.files.format.value_types import Key
from balancer.files.units import Units
from balancer.weighing.parts import Change

_PLACE = ("aft", "left", "up")
_OVERHANG = 1.2
"""Of most cars, beyond their axles [m]."""


class PartsBook(NamedTuple):
    """A parts book read.

    Attributes:
        parts: By name, in SI.
        sure: By name, standard uncertainty of the mass where it is known [kg].
        notes: What is allowed but looks odd.
    """

    parts: dict[str, Item]
    variants: dict[str, tuple[Change, ...]]
    notes: tuple[str, ...]
    sure: dict[str, float]


def _book_in(opened: Opened, file: CarFile) -> PartsBook:
    entries = opened.si.get("part", [])
    parts = parts_of(entries)
    variants = {
        entry["name"]: tuple(_changes(entry, parts)) for entry in opened.si.get("variant", [])
    }
    return PartsBook(parts, variants, tuple(_notes(opened, file, parts)), _sure(entries))


def parts_of(entries: Sequence[dict[str, Any]]) -> dict[str, Item]:
    """Work out parts from their entries in a book, sums from those above them."""
    parts: dict[str, Item] = {}
    for entry in entries:
        parts[entry["name"]] = _sum_of(entry, parts) if "of" in entry else part_of(entry)
    return parts


def _sure(entries: Sequence[dict[str, Any]]) -> dict[str, float]:
    """Give the uncertainties of masses, those of a sum as of parts weighed on their own."""
    sure: dict[str, float] = {}
    for entry in entries:
        terms = [term for word in entry.get("of", []) if (term := term_in(word, sure))]
        if "uncertainty" in entry:
            sure[entry["name"]] = entry["uncertainty"]
        elif terms and len(terms) == len(entry["of"]):
            sure[entry["name"]] = float(
                np.hypot.reduce([share * sure[name] for share, name in terms])
            )
    return sure


_TERM = re.compile(r"([+\-−]?)\s*(?:(half|[0-9./]+)\s*(?:of\b|x\b|×|\*)?\s*)?(.+)")


def term_in(word: str, known: Collection[str]) -> tuple[float, str] | None:
    """Read a term of a sum of parts: how much of which; None where no such part is known.

    >>> term_in("half of seat", ["seat"]), term_in("-2 seat", ["seat"]), term_in("x", ["seat"])
    ((0.5, 'seat'), (-2.0, 'seat'), None)
    """
    if word in known:
        return 1.0, word
    said = _TERM.fullmatch(word.strip())
    if said is None or said[3] not in known:
        return None
    from balancer.files.format.written import read_number

    share = read_number("1/2" if said[2] == "half" else said[2] or "1")
    if share is None or share.unit:
        return None
    return float(share.value) * (-1 if said[1] in ("-", "−") else 1), said[3]


def _sum_of(entry: dict[str, Any], parts: dict[str, Item]) -> Item:
    """Add parts up, at their common center where the sum says no place."""
    terms = [term for word in entry["of"] if (term := term_in(word, parts))]
    masses = np.array([share * parts[name].mass for share, name in terms])
    mass = float(masses.sum()) - entry.get("less", 0.0) + entry.get("plus", 0.0)
    places = np.array([[getattr(parts[name], key) for key in _PLACE] for _, name in terms])
    center = masses @ places / masses.sum() if masses.sum() else np.zeros(3)
    aft, left, up = (entry.get(key, at) for key, at in zip(_PLACE, center.tolist(), strict=True))
    return Item(entry["name"], mass, aft, left, up)


def part_of(entry: dict[str, Any]) -> Item:
    """Work out a part from its entry in the book, in SI.

    Args:
        entry: `mass`; or `pads`, what each pad showed, less `tare`, what it shows without the
            part. `less` stood on the pads with it and does not go into the car; `plus` did not
            and does.

    References:
        Common practice, no published source.

    Examples:
        >>> part_of({"name": "engine", "pads": [95, 89], "less": 45, "aft": -1, "left": 0}).mass
        139.0
    """
    return Item(entry["name"], _mass(entry), entry["aft"], entry["left"], entry.get("up", 0.0))


def _mass(entry: dict[str, Any]) -> float:
    mass = entry.get("mass")
    if mass is None:
        mass = float(np.sum(entry["pads"]) - np.sum(entry.get("tare", 0.0)))
    return float(mass - entry.get("less", 0.0) + entry.get("plus", 0.0))


def _changes(entry: dict[str, Any], parts: dict[str, Item]) -> Iterator[Change]:
    for name in entry.get("off", []):
        yield Change(f"{name} off", parts[name], None)
    for name in entry.get("on", []):
        yield Change(f"{name} on", None, parts[name])
    for move in entry.get("move", []):
        part = parts[move["part"]]
        moved = {key: move[key] for key in _PLACE if key in move}
        yield Change(f"{part.name} moved", part, part._replace(**moved))


def exchange(old: Item, new: Item) -> Change:
    """Put one part in for another, each at its own place.

    Examples:
        >>> exchange(Item("iron", 90, 0, 0, 0), Item("alloy", 60, 0, 0, 0)).label
        'iron → alloy'
    """
    return Change(f"{old.name} → {new.name}", old, new)


def _check(opened: Opened) -> Iterator[Fault]:
    sound = opened.sound
    if not sound.faulted:
        yield from _no_place(sound)
        if faults := list(_no_mass(sound)):
            yield from faults
        else:
            yield from _empty_sums(sound)
        yield from sound.named_twice("part")
        yield from sound.named_twice("variant")
        yield from _unknown(sound)
        yield from _idle(sound)
        if opened.file and opened.units:
            yield from _far_off(sound, opened.file, opened.units)


def _no_place(sound: Sound) -> Iterator[Fault]:
    meanings = {"aft": "behind the front axle", "left": "left of the centerline"}
    for number, entry in enumerate(sound.data.get("part", [])):
        for key in meanings:
            if key not in entry and "of" not in entry:
                yield sound.fault(("part", number, key), "is missing", f"add it: {meanings[key]}")


def _no_sum(sound: Sound, number: int) -> Iterator[Fault]:
    """Find what a sum is of that is no part above it."""
    entry, above = sound.data["part"][number], sound.data["part"][:number]
    known = [part["name"] for part in above]
    for word in entry["of"]:
        if term_in(word, known) is None:
            way_out = suggestion(word, known) if known else "put what it is of above it"
            yield sound.fault(("part", number, "of"), f"“{word}” is no part above it", way_out)


def _no_mass(sound: Sound) -> Iterator[Fault]:
    for number, entry in enumerate(sound.data.get("part", [])):
        given = [key for key in ("mass", "pads", "of") if key in entry]
        if given == ["of"]:
            yield from _no_sum(sound, number)
        elif len(given) != 1:
            what = f"has both {' and '.join(given)}" if given else "has neither mass nor pads"
            where = ("part", number, given[0] if given else "name")
            yield sound.fault(where, f"“{entry['name']}” {what}", "give one of them")
        if len(entry.get("tare", [])) not in (0, len(entry.get("pads", []))):
            where = ("part", number, "tare")
            yield sound.fault(where, "is not as long as pads", "give one tare a pad")
        elif len(given) == 1 and given != ["of"] and _mass(entry) <= 0:
            where = ("part", number, given[0])
            yield sound.fault(where, "leaves nothing of the part", "check pads, tare and less")


def _empty_sums(sound: Sound) -> Iterator[Fault]:
    """Find sums of which nothing is left, once each of their parts is sound."""
    entries = sound.data.get("part", [])
    parts = parts_of([{"aft": 0.0, "left": 0.0, **entry} for entry in entries])
    for number, entry in enumerate(entries):
        if "of" in entry and parts[entry["name"]].mass <= 0:
            where = ("part", number, "of")
            yield sound.fault(where, "leaves nothing of the part", "check what is taken off it")


def _unknown(sound: Sound) -> Iterator[Fault]:
    known = list(dict.fromkeys(name for _, name in sound.entries("part")))
    for number, entry in enumerate(sound.data.get("variant", [])):
        moved = [move["part"] for move in entry.get("move", [])]
        names = {"off": entry.get("off", []), "on": entry.get("on", []), "move": moved}
        for key in names:
            for what, way_out in unknown_names(names[key], known, "the book"):
                yield sound.fault(("variant", number, key), what, way_out)


def both_ways(off: Sequence[str], on: Sequence[str]) -> list[str]:
    """Name the parts that a set of changes both takes off and puts on: a slip, for it is nothing.

    Examples:
        >>> both_ways(["seat", "jack"], ["jack", "engine"])
        ['jack']
    """
    return [name for name in dict.fromkeys(off) if name in on]


def _moves(number: int, variant: dict[str, Any]) -> Iterator[tuple[Key, dict[str, Any]]]:
    for at, move in enumerate(variant.get("move", [])):
        yield ("variant", number, "move", at), move


def _idle(sound: Sound) -> Iterator[Fault]:
    """Find changes in variants that come to nothing."""
    for number, variant in enumerate(sound.data.get("variant", [])):
        for name in both_ways(variant.get("off", []), variant.get("on", [])):
            what, way_out = f"“{name}” goes off and on", "leave both out, or move it"
            yield sound.fault(("variant", number, "on"), what, way_out)
        for place, move in _moves(number, variant):
            where, part = (*place, "part"), move["part"]
            if not set(_PLACE) & set(move):
                yield sound.fault(where, f"“{part}” is moved nowhere", "say where: aft, left, up")
            for key in ("off", "on"):
                if part in variant.get(key, []):
                    what = f"“{part}” is moved and goes {key}"
                    yield sound.fault(where, what, "say one of them")


def _far_off(sound: Sound, file: CarFile, units: Units) -> Iterator[Fault]:
    """Refuse parts that are nowhere near the car, or are moved there."""
    reach = units.from_si(file.car.wheelbase, "length")
    half = units.from_si(float(file.car.tracks.max()), "length")
    bounds = {"aft": (-reach, 2 * reach), "left": (-half, half)}
    placed: list[tuple[Key, dict[str, Any]]] = [
        (("part", number), entry) for number, entry in enumerate(sound.data.get("part", []))
    ]
    for number, variant in enumerate(sound.data.get("variant", [])):
        placed += _moves(number, variant)
    for place, entry in placed:
        for key, (low, high) in bounds.items():
            if key in entry and not low <= entry[key] <= high:
                what = f"“{entry.get('part', entry.get('name'))}” is nowhere near the car"
                expected = f"expected {low:.0f} to {high:.0f} {units.labels['length']}"
                yield sound.fault((*place, key), what, expected)


def _notes(opened: Opened, file: CarFile, parts: dict[str, Item]) -> Iterator[str]:
    """Name parts that stick out beyond what bumpers usually do."""
    for number, entry in enumerate(opened.si.get("part", [])):
        if not -_OVERHANG <= parts[entry["name"]].aft <= file.car.wheelbase + _OVERHANG:
            where = opened.toml.place(("part", number, "aft"))
            yield f"{where}: “{entry['name']}” is beyond the bumpers of most cars"


_FILE = Companion(PARTS_SCHEMA, _check, _book_in)
read_parts, faults_in, faults_of = _FILE.read, _FILE.faults_in, _FILE.faults_of
