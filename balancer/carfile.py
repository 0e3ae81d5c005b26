"""From a car file to a `Car`: validation, what no single key can tell, and conversion to SI."""

from __future__ import annotations

import os
from collections.abc import Iterator
from math import inf, nan
from typing import Any, NamedTuple, cast

import numpy as np

from balancer.car import CORNERS, Car, Floats, Item, Piece, Place, Rules, Scales
from balancer.errors import Fault, InputError
from balancer.faults import suggestion, validate
from balancer.keys import CAR_SCHEMA
from balancer.toml_file import Key, TomlFile, read_toml
from balancer.units import METRIC, SYSTEMS, US, Dimension, Units

_AXLES = {"front": CORNERS[:2], "rear": CORNERS[2:]}
_OVERHANG = 1.6
_OUTSIDE = 0.25
"""How far beyond axles and tire centers a car may reach [m]; long tails and wide bodies do."""


class CarFile(NamedTuple):
    """A car file read.

    Attributes
    ----------
    path : str
    car : Car
        In SI.
    units : Units
        Of the file, for whatever is shown.
    notes : tuple of str
        What is allowed but looks odd; one line each.
    """

    path: str
    car: Car
    units: Units
    notes: tuple[str, ...]


def read_car(path: str | os.PathLike[str]) -> CarFile:
    """Read a car file.

    Parameters
    ----------
    path : str or path-like

    Returns
    -------
    CarFile

    Raises
    ------
    InputError
        With every fault of the file: where, what was found, and a way out.

    References
    ----------
    The file format is documented in README.md and by `balancer schema`.

    Examples
    --------
    >>> read_car("nowhere.toml")
    Traceback (most recent call last):
    balancer.errors.InputError: nowhere.toml: no such file: check the name and the folder
    """
    file = read_toml(path)
    units = SYSTEMS.get(str(file.data.get("units")))
    faults = [*validate(file, CAR_SCHEMA, units), *_missing_rates(file)]
    if not faults:
        faults = list(_across(file, cast(Units, units)))
    if faults:
        raise InputError(sorted(faults, key=_line))
    units = cast(Units, units)
    return CarFile(file.path, _car(file.data, units), units, tuple(_notes(file)))


def _line(fault: Fault) -> int:
    _, _, rest = fault.where.partition(":")
    number = rest.partition(":")[0]
    return int(number) if number.isdigit() else 10**6


def _corner_value(data: dict[str, Any], corner: str, key: str) -> tuple[Any, Key]:
    """Look a corner's key up: its own table first, then its axle's."""
    own = data.get(corner)
    if isinstance(own, dict) and key in own:
        return own[key], (corner, key)
    axle = "front" if corner in _AXLES["front"] else "rear"
    table = data.get(axle)
    return (table.get(key) if isinstance(table, dict) else None), (axle, key)


def _missing_rates(file: TomlFile) -> Iterator[Fault]:
    meanings = {"spring_rate": "spring rate", "motion_ratio": "spring travel / wheel travel"}
    for axle, corners in _AXLES.items():
        if not isinstance(file.data.get(axle), dict):
            continue
        for key, meaning in meanings.items():
            if any(_corner_value(file.data, corner, key)[0] is None for corner in corners):
                yield Fault(file.place((axle, key)), "is missing", f"give it: {meaning}")


def _across(file: TomlFile, units: Units) -> Iterator[Fault]:
    """Find what each key alone can't tell."""
    data = file.data
    for corner in CORNERS:
        lead, _ = _corner_value(data, corner, "perch_lead")
        for key in ("perch_step", "perch_travel"):
            value, place = _corner_value(data, corner, key)
            if value is not None and lead is None:
                yield Fault(
                    file.place(place),
                    f"given, but {corner} has no perch_lead",
                    "give perch_lead too",
                )
    for list_name in ("on_board", "place"):
        names: set[str] = set()
        for number, entry in enumerate(data.get(list_name, [])):
            if entry["name"] in names:
                yield Fault(
                    file.place((list_name, number, "name")),
                    f"“{entry['name']}” is there twice",
                    "give each its own name",
                )
            names.add(entry["name"])
    known = [entry["name"] for entry in data.get("on_board", [])]
    for name in data.get("class", {}).get("weighed_with", []):
        if name not in known:
            where = file.place(("class", "weighed_with"))
            way_out = suggestion(name, known) if known else "add it as [[on_board]]"
            yield Fault(where, f"“{name}” is not in [[on_board]]", way_out)
    yield from _outside(file, units)


def _outside(file: TomlFile, units: Units) -> Iterator[Fault]:
    """Find places and items that are not in the car."""
    data = file.data
    reach = units.from_si(_OVERHANG, "length")
    half = max(data["front"]["track"], data["rear"]["track"]) / 2
    bounds = {
        "aft": (-reach, data["wheelbase"] + reach),
        "left": (
            -half - units.from_si(_OUTSIDE, "length"),
            half + units.from_si(_OUTSIDE, "length"),
        ),
    }
    for list_name in ("on_board", "place"):
        for number, entry in enumerate(data.get(list_name, [])):
            for key, (low, high) in bounds.items():
                values = entry[key] if isinstance(entry[key], list) else [entry[key]]
                if any(not low <= value <= high for value in values):
                    yield Fault(
                        file.place((list_name, number, key)),
                        f"“{entry['name']}” is outside the car",
                        f"expected {low:.0f} to {high:.0f} {units.labels['length']}",
                    )


def _notes(file: TomlFile) -> Iterator[str]:
    """Find what is allowed but odd."""
    for corner in CORNERS:
        ratio, place = _corner_value(file.data, corner, "motion_ratio")
        if ratio > 1 and corner in ("LF", "LR", place[0]):
            yield (
                f"{file.place(place)}: {ratio:g} is above 1, which few cars have: it is spring"
                f" travel / wheel travel (the inverse would be {1 / ratio:.3g})"
            )
    stiffness = file.data.get("body", {}).get("torsional_stiffness")
    metric = METRIC if file.data["units"] == "metric" else US
    if stiffness is not None:
        stiff = metric.to_si(stiffness, "torsion") / METRIC.factors["torsion"]
        if not 200 <= stiff <= 60_000:
            yield (
                f"{file.place(('body', 'torsional_stiffness'))}: {stiffness:g}"
                f" {metric.labels['torsion']} is unusual for a car"
            )


def _car(data: dict[str, Any], units: Units) -> Car:
    def corners(key: str, dimension: Dimension, default: float) -> Floats:
        found = [_corner_value(data, corner, key)[0] for corner in CORNERS]
        return np.array(
            [default if value is None else units.to_si(value, dimension) for value in found]
        )

    def axles(key: str, dimension: Dimension) -> Floats:
        return np.array([units.to_si(data[axle].get(key, 0.0), dimension) for axle in _AXLES])

    steps = [_corner_value(data, corner, "perch_step")[0] for corner in CORNERS]
    travels = [_corner_value(data, corner, "perch_travel")[0] for corner in CORNERS]
    body = data.get("body", {})
    return Car(
        name=data["name"],
        wheelbase=units.to_si(data["wheelbase"], "length"),
        tracks=axles("track", "length"),
        spring_rate=corners("spring_rate", "rate", nan),
        motion_ratio=corners("motion_ratio", "number", nan),
        tire_rate=corners("tire_rate", "rate", inf),
        unsprung_mass=corners("unsprung_mass", "mass", 0.0),
        bar_rate=axles("anti_roll_bar", "rate"),
        perch_lead=corners("perch_lead", "length", nan),
        perch_step=np.array([0.25 if step is None else turns(step) for step in steps]),
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
    )


def turns(step: float | str) -> float:
    """Read a step of so many turns, a number or a fraction in quotes.

    >>> turns("1/8")
    0.125
    """
    if isinstance(step, str):
        top, _, bottom = step.partition("/")
        return int(top) / int(bottom)
    return float(step)


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
    return Item(entry["name"], units.to_si(entry["mass"], "mass"), aft, left, up)


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
        margin=units.to_si(data.get("margin", 0.0), "mass"),
        weighed_with=tuple(data.get("weighed_with", ())),
        front=None if front is None else (low / 100, high / 100),
        axle_minimum=_range(axle_minimum, units, "mass"),
        wheel_minimum=units.to_si(data.get("wheel_minimum", 0.0), "mass"),
        most_ballast=units.to_si(data.get("most_ballast", inf), "mass"),
    )
