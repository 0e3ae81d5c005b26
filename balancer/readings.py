"""Four numbers, or a readings file: read, doubted, and turned into `Readings`."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence

import numpy as np

from balancer.car import CORNERS, Car, Floats
from balancer.carfile import CarFile
from balancer.errors import Fault, InputError
from balancer.faults import suggestion, validate
from balancer.keys import READINGS_SCHEMA
from balancer.toml_file import TomlFile, read_toml
from balancer.units import SYSTEMS, Units, other
from balancer.weighing import Readings

_LIGHTEST, _HEAVIEST = 80.0, 6000.0
"""Of anything that this is for [kg]."""


def readings_of(file: CarFile, loads: Sequence[float], where: str = "readings") -> Readings:
    """Take four numbers in the units of the car file for the readings.

    Parameters
    ----------
    file : CarFile
    loads : sequence of float
        LF RF LR RR.
    where : str
        What to call them in a fault.

    Returns
    -------
    Readings

    Raises
    ------
    InputError
        When a number is not one, not positive, or all together are no car's.

    References
    ----------
    None.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.units import METRIC
    >>> file = CarFile("a.toml", plain_car(), METRIC, ())
    >>> readings_of(file, [280, 0, 220, 230])
    Traceback (most recent call last):
    balancer.errors.InputError: RF: reads 0: is the wheel on its pad, and the pad switched on?
    """
    rows = np.array([loads], dtype=float)
    faults = list(bad_loads(rows.ravel(), CORNERS))
    if not faults:
        faults = list(_no_car(file, rows, where))
    if faults:
        raise InputError(faults)
    return Readings.of(rows * file.units.factors["load"])


def read_readings(path: str | os.PathLike[str], file: CarFile) -> Readings:
    """Read a readings file for a car.

    Parameters
    ----------
    path : str or path-like
    file : CarFile
        Gives the units when the readings file does not, and what can be on board.

    Returns
    -------
    Readings

    Raises
    ------
    InputError
        With every fault of the file.

    References
    ----------
    The file format is documented in README.md.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.units import METRIC
    >>> read_readings("nowhere.toml", CarFile("a.toml", plain_car(), METRIC, ()))
    Traceback (most recent call last):
    balancer.errors.InputError: nowhere.toml: no such file: check the name and the folder
    """
    toml = read_toml(path)
    data = toml.data
    units = SYSTEMS.get(str(data.get("units", file.units.name)))
    faults = validate(toml, READINGS_SCHEMA, units)
    if faults or units is None:
        raise InputError(faults)
    rows = np.array(data["readings"], dtype=float)
    tare = np.array(data.get("tare", [0.0] * 4), dtype=float)
    names = [
        f"{toml.place(('readings',))}[{row + 1}] {corner}"
        for row in range(len(rows))
        for corner in CORNERS
    ]
    faults = list(bad_loads((rows - tare).ravel(), names))
    if not faults:
        faults = list(_no_car(file._replace(units=units), rows - tare, toml.place(("readings",))))
    known = [item.name for item in file.car.on_board]
    for name in data.get("on_board", []):
        if name not in known:
            way_out = suggestion(name, known) if known else "add it to the car file"
            faults.append(
                Fault(toml.place(("on_board",)), f"“{name}” is not in the car file", way_out)
            )
    heights = _lengths(data.get("ride_heights"), units)
    if not faults and heights is not None and not data.get("order_checked"):
        faults = list(_swapped(toml, rows.mean(axis=0) - tare, heights))
    if faults:
        raise InputError(faults)
    load = units.factors["load"]
    pads = _lengths(data.get("pad_heights"), units)
    on_board = data.get("on_board")
    return Readings(
        repeats=rows * load,
        tare=tare * load,
        pad_heights=np.zeros(4) if pads is None else pads,
        ride_heights=heights,
        on_board=None if on_board is None else tuple(on_board),
        date=str(data.get("date", "")),
        note=data.get("note", ""),
    )


def _lengths(values: list[float] | None, units: Units) -> Floats | None:
    return None if values is None else np.array(values, dtype=float) * units.factors["length"]


def bad_loads(values: Iterable[float], names: Sequence[str]) -> list[Fault]:
    """Find loads that no pad shows with a wheel on it.

    >>> bad_loads([300, 290, -1, 240], CORNERS)[0].where
    'LR'
    """
    faults = []
    for value, name in zip(values, names, strict=True):
        if value < 0:
            way_out = "a pad can't be pulled up: zero it and read again"
            faults.append(Fault(name, f"reads {value:g}", way_out))
        elif value == 0:
            way_out = "is the wheel on its pad, and the pad switched on?"
            faults.append(Fault(name, "reads 0", way_out))
    return faults


def _no_car(file: CarFile, rows: Floats, where: str) -> list[Fault]:
    """Find readings that no car can have, or that fit the rules only in the other units."""
    units, faults = file.units, []
    label, foreign = units.labels["mass"], other(units).labels["mass"]
    totals = rows.sum(axis=1)
    for total in totals:
        mass = units.to_si(float(total), "mass")
        if not _LIGHTEST <= mass <= _HEAVIEST:
            faults.append(
                Fault(
                    where, f"{total:g} {label} in all is no car's weight", "check the four numbers"
                )
            )
    minimum = file.car.rules.minimum
    if not faults and minimum:
        ratio = units.to_si(float(totals.mean()), "mass") / minimum
        swap = other(units).factors["mass"] / units.factors["mass"]
        if not 0.62 < ratio < 1.6 and 0.8 < ratio * swap < 1.25:
            faults.append(
                Fault(
                    where,
                    f"{totals.mean():g} {label} in all is {ratio:.2g} times the class minimum",
                    f"are they {foreign}? write each with its unit, as 640{foreign}",
                )
            )
    return faults


def _swapped(toml: TomlFile, loads: Floats, heights: Floats) -> list[Fault]:
    """Doubt readings whose light side stands lower at both axles by more than a measuring slip.

    Springs make the heavy side stand low unless perches were set so: possible, but far less
    likely than pads or numbers swapped left for right (common practice, no published source).
    """
    lower_left = heights[[0, 2]] - heights[[1, 3]]
    heavier_left = loads[[0, 2]] - loads[[1, 3]]
    clear = 0.04 * loads.sum() / 2
    if np.all(np.abs(lower_left) > 4e-3) and np.all(np.abs(heavier_left) > clear):
        signs = np.sign(lower_left) * np.sign(heavier_left)
        if np.all(signs > 0) and lower_left[0] * lower_left[1] > 0:
            low, heavy = ("right", "left") if lower_left[0] > 0 else ("left", "right")
            return [
                Fault(
                    toml.place(("readings",)),
                    f"the car stands low on the {low} but reads heavy on the {heavy}",
                    "are left and right swapped? If not, add order_checked = true",
                )
            ]
    return []


def in_trim(car: Car, readings: Readings) -> bool | None:
    """Say whether what was on board is what the class weighs the car with; None: not known."""
    if readings.on_board is None:
        return None
    return set(readings.on_board) == set(car.rules.weighed_with)
