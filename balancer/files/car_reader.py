"""From a car file to a `Car`: validation, what looks odd, and conversion to SI."""

from __future__ import annotations

import os
from collections.abc import Iterator
from math import inf, nan
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import FUEL_DENSITY, Car, Item, Piece, Place, Rules, Scales
from balancer.errors import Fault, InputError
from balancer.files.car_file import CarFile
from balancer.files.checks.car import (
    AXLES,
    Sound,
    across,
    corner_value,
    has_nonlinear_keys,
    is_solid,
    plain,
    turns_of,
)
from balancer.files.checks.class_rules import contradictions
from balancer.files.format.bounds import first_of
from balancer.files.format.faults import in_order
from balancer.files.format.keys import CAR_SCHEMA
from balancer.files.format.toml_text import TomlFile, read_toml
from balancer.files.format.validation import validate
from balancer.files.states import look_up
from balancer.units import METRIC, SYSTEMS, Dimension, Units


def read_car(path: str | os.PathLike[str]) -> CarFile:
    """Read a car file.

    Raises:
        InputError: With every fault of the file: where, what was found, and a way out.

    References:
        The file format is documented in README.md and by `balancer schema`.

    Examples:
        >>> read_car("nowhere.toml")
        Traceback (most recent call last):
        balancer.errors.InputError: nowhere.toml: no such file: check the name and the folder
    """
    file = read_toml(path)
    units = SYSTEMS.get(str(file.data.get("units")))
    faults = validate(file, CAR_SCHEMA, units)
    words = Sound(file, faults).get("class", "weighed_with") or []
    faults += across(file, faults, units)
    if has_nonlinear_keys(file.data):
        from balancer.files.checks.corners import corner_faults

        faults += corner_faults(Sound(file, faults))
    if units is not None:
        faults += [*contradictions(file, faults, units), *_race_trim(file, words, faults, units)]
    if faults or units is None:
        raise InputError(first_of(file.name, in_order(file, faults)))
    return CarFile(file.path, _car(file.data, units), units, tuple(_notes(file)))


def _race_trim(
    file: TomlFile, words: list[str], faults: list[Fault], units: Units
) -> Iterator[Fault]:
    """Find amounts in race trim that can't be, once all that comes and goes is sound."""
    sound, entries = Sound(file, faults), file.data.get("on_board", [])
    if not isinstance(entries, list) or not all(
        isinstance(entry, dict)
        and "name" in entry
        and {"mass", "volume"} & set(entry)
        and all(sound.get("on_board", number, key) is not None for key in entry)
        for number, entry in enumerate(entries)
    ):
        return
    where = file.place(("class", "weighed_with"))
    items = [_item(entry, units) for entry in entries]
    state, found = look_up(items, words, units, where, "[[on_board]]")
    yield from found
    if sound.get("class", "moment") != "after":
        return
    said = {word.partition("=")[0].strip() for word in words if "=" in word}
    for item in state.items:
        if item.density and item.name in said and 0 < item.reserve < item.mass:
            left = units.from_si(item.reserve / item.density, "volume")
            what = f"{item.name} is above its reserve, {left:g} {units.labels['volume']}"
            way_out = 'leave out the amount, or write moment = "before"'
            yield Fault(where, f'{what}, but moment is "after"', way_out)


def _notes(file: TomlFile) -> Iterator[str]:
    """Find what is allowed but odd."""
    for corner in CORNERS:
        value, place = corner_value(file.data, corner, "motion_ratio")
        ratio = plain(value)
        if ratio is not None and ratio > 1 and corner in ("LF", "LR", place[0]):
            yield (
                f"{file.place(place)}: {ratio:g} is above 1, which few cars have: it is spring"
                f" travel / wheel travel (the inverse would be {1 / ratio:.3g})"
            )
    rules = file.data.get("class", {})
    for number, item in enumerate(file.data.get("on_board", [])):
        listed = rules.get("moment") == "after" and item["name"] in rules.get("weighed_with", [])
        if listed and "volume" in item and "reserve" not in item:
            where = file.place(("on_board", number, "name"))
            yield f"{where}: “{item['name']}” has no reserve: after the race it is taken as used up"
    solid = [axle for axle in AXLES if is_solid(file.data, axle)]
    if len(solid) == 1:
        yield (
            f"{file.place((solid[0],))}: no spring_rate and no motion_ratio:"
            " taken as unsprung, as on a kart"
        )
    for axle in solid:
        if file.data[axle].get("anti_roll_bar"):
            where = file.place((axle, "anti_roll_bar"))
            yield f"{where}: does nothing on an axle without springs"
    stiffness = file.data.get("body", {}).get("torsional_stiffness")
    units = SYSTEMS[file.data["units"]]
    if stiffness is not None:
        stiff = units.to_si(stiffness, "torsion") / METRIC.factors["torsion"]
        # A bare frame on four tires twists on purpose.
        if not (20 if len(solid) == 2 else 200) <= stiff <= 60_000:
            yield (
                f"{file.place(('body', 'torsional_stiffness'))}: {stiffness:g}"
                f" {units.labels['torsion']} is unusual for a car"
            )


def _car(data: dict[str, Any], units: Units) -> Car:
    def corners(key: str, dimension: Dimension, default: float) -> Floats:
        found = [plain(corner_value(data, corner, key)[0]) for corner in CORNERS]
        return np.array(
            [default if value is None else units.to_si(value, dimension) for value in found]
        )

    def axles(key: str, dimension: Dimension) -> Floats:
        return np.array([units.to_si(data[axle].get(key, 0.0), dimension) for axle in AXLES])

    # A turn of a perch can be had in quarters; a spacer is in or it is out.
    usual = [1.0 if corner_value(data, c, "spring_rate")[0] is None else 0.25 for c in CORNERS]
    steps = [corner_value(data, corner, "perch_step")[0] for corner in CORNERS]
    travels = [corner_value(data, corner, "perch_travel")[0] for corner in CORNERS]
    body = data.get("body", {})
    bars = axles("anti_roll_bar", "rate")
    return Car(
        name=data["name"],
        wheelbase=units.to_si(data["wheelbase"], "length"),
        tracks=axles("track", "length"),
        spring_rate=corners("spring_rate", "rate", inf),
        motion_ratio=corners("motion_ratio", "number", 1.0),
        tire_rate=corners("tire_rate", "rate", inf),
        unsprung_mass=corners("unsprung_mass", "mass", 0.0),
        bar_rate=bars * [data[axle].get("bar_connected", True) for axle in AXLES],
        perch_lead=corners("perch_lead", "length", nan),
        perch_step=np.array(
            [
                least if step is None else turns_of(step)
                for step, least in zip(steps, usual, strict=True)
            ]
        ),
        perch_travel=np.array(
            [[-inf, inf] if travel is None else travel for travel in travels], dtype=float
        ),
        cg_up=units.to_si(body.get("cg_up", 0.0), "length"),
        torsional_stiffness=units.to_si(body.get("torsional_stiffness", inf), "torsion"),
        scales=_scales(data.get("scales"), units),
        on_board=tuple(_item(entry, units) for entry in data.get("on_board", [])),
        rules=_rules(data.get("class", {}), units),
        places=tuple(_place(entry, units) for entry in data.get("place", [])),
        pieces=tuple(
            Piece(units.to_si(entry["mass"], "mass"), entry.get("stock"))
            for entry in data.get("piece", [])
        ),
        **(_beyond(data, units) if has_nonlinear_keys(data) else {}),
    )


def _beyond(data: dict[str, Any], units: Units) -> dict[str, Any]:
    # Most cars are read without it.
    from balancer.files.corner_keys import corners_of, links_of

    return {"corners": corners_of(data, units), "links": links_of(data, units)}


def _scales(data: dict[str, Any] | None, units: Units) -> Scales:
    # What a set of pads in good order does; the rest of the file's silence is said in the output.
    usual = {
        "resolution": 0.5 if units is METRIC else 1.0,
        "repeatability": 0.5 if units is METRIC else 1.0,
    }
    found = {"accuracy_pct": 0.1, "common_accuracy_pct": 0.0, **usual, **(data or {})}
    return Scales(
        accuracy=found["accuracy_pct"] / 100,
        common_accuracy=found["common_accuracy_pct"] / 100,
        resolution=units.to_si(found["resolution"], "load"),
        repeatability=units.to_si(found["repeatability"], "load"),
        stated=data is not None,
    )


def _item(entry: dict[str, Any], units: Units) -> Item:
    aft, left, up = (units.to_si(entry.get(key, 0.0), "length") for key in ("aft", "left", "up"))
    if "volume" not in entry:
        return Item(entry["name"], units.to_si(entry["mass"], "mass"), aft, left, up)
    density = units.to_si(entry["density"], "density") if "density" in entry else FUEL_DENSITY
    volume, tank, reserve = (
        units.to_si(entry.get(key, default), "volume") * density
        for key, default in (("volume", 0.0), ("tank", inf), ("reserve", 0.0))
    )
    return Item(entry["name"], volume, aft, left, up, density, tank, reserve)


def _place(entry: dict[str, Any], units: Units) -> Place:
    return Place(
        name=entry["name"],
        aft=_range(entry["aft"], units, "length"),
        left=_range(entry["left"], units, "length"),
        up=units.to_si(entry.get("up", 0.0), "length"),
        most=units.to_si(entry.get("most", inf), "mass"),
        most_pieces=entry.get("most_pieces"),
    )


def _range(value: float | list[float], units: Units, dimension: Dimension) -> tuple[float, float]:
    low, high = value if isinstance(value, list) else (value, value)
    return units.to_si(low, dimension), units.to_si(high, dimension)


def _rules(data: dict[str, Any], units: Units) -> Rules:
    front = data.get("front_pct")
    axle_minimum = data.get("axle_minimum", [0.0, 0.0])
    low, high = _range(front, units, "number") if front is not None else (0.0, 0.0)
    return Rules(
        minimum=units.to_si(data.get("minimum", 0.0), "mass"),
        maximum=units.to_si(data.get("maximum", inf), "mass"),
        moment=data.get("moment", "before"),
        power=units.to_si(data.get("power", 0.0), "power"),
        mass_per_power=units.to_si(data.get("mass_per_power", 0.0), "per_power"),
        shortfall_chance=data.get("shortfall_chance_pct", 0.0) / 100,
        scale_accuracy=data.get("scale_accuracy_pct", 0.1) / 100,
        margin=units.to_si(data.get("margin", 0.0), "mass"),
        weighed_with=tuple(data.get("weighed_with", ())),
        front=None if front is None else (low / 100, high / 100),
        axle_minimum=_range(axle_minimum, units, "mass"),
        wheel_minimum=units.to_si(data.get("wheel_minimum", 0.0), "mass"),
        most_ballast=units.to_si(data.get("most_ballast", inf), "mass"),
    )
