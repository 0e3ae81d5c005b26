"""Four numbers, or a readings file: read, doubted, and turned into `Readings`."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from balancer.car import CORNERS, Floats
from balancer.carfile import CarFile
from balancer.crosschecks import Sound
from balancer.errors import Fault, InputError
from balancer.faults import in_order, validate
from balancer.keys import READINGS_SCHEMA
from balancer.states import state_of
from balancer.statics import load_change
from balancer.toml_file import TomlFile, read_toml
from balancer.units import SYSTEMS, Units, other
from balancer.weighing import Readings

_LIGHTEST, _HEAVIEST = 80.0, 6000.0
"""Of anything that this is for [kg]."""

_NO_WHEEL = 1e5
"""More than any pad shows, in either unit."""

_UNREAD = 2.0
"""Standard uncertainty of a left share or cross weight that was not read [percent]."""


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
        label = other(file.units).labels["mass"]
        faults = _no_car(file, rows, where, f"write each with its unit, as 640{label}")
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
    toml, units, faults = _checked(path, file)
    if faults or units is None:
        raise InputError(faults)
    data, load = toml.data, units.factors["load"]
    on_board = data.get("on_board")
    pads = _lengths(data.get("pad_heights"), units)
    covariance = None
    if "total" in data:
        rows, covariance = _from_shares(data, file, units)
    else:
        rows = np.array(data["readings"], dtype=float) * load
    return Readings(
        repeats=rows,
        tare=np.array(data.get("tare", [0.0] * 4), dtype=float) * load,
        pad_heights=np.zeros(4) if pads is None else pads,
        ride_heights=_lengths(data.get("ride_heights"), units),
        on_board=None if on_board is None else tuple(on_board),
        date=str(data.get("date", "")),
        note=data.get("note", ""),
        covariance=covariance,
    )


def _from_shares(data: dict[str, Any], file: CarFile, units: Units) -> tuple[Floats, Floats]:
    """Work out four loads and their covariance from a total and the shares of a display.

    A display cuts digits off or rounds them, nobody knows which: a share that reads s is within
    one digit of it, u = digit/√3 (JCGM 100:2008, 4.3.7). Front and rear together pin it between
    them. A share that was not read is taken as even, and hardly known.
    """
    digit, total = data.get("digit", 0.1), units.to_si(data["total"], "load")
    front, front_doubt = data["front_pct"], digit / 3**0.5
    if "rear_pct" in data:
        lost = 100 - data["rear_pct"] - front
        front, front_doubt = front + lost / 2, max(abs(lost), digit) / 2 / 3**0.5
    values, doubts = [front], [front_doubt]
    for key in ("left_pct", "cross_pct"):
        values.append(data.get(key, 50.0))
        doubts.append(digit / 3**0.5 if key in data else _UNREAD)
    # LF = (front + left - cross)·W/2, and so on around the car.
    signs = np.array([[1, 1, -1], [1, -1, 1], [-1, 1, 1], [-1, -1, -1]]) / 2
    fractions = signs @ (np.array(values) / 100) + np.array([0, 0, 0, 1])
    slopes = total * signs
    scales = file.car.scales
    sure = (scales.accuracy**2 + scales.common_accuracy**2) * total**2 / 4
    sure += scales.resolution**2 / 12 + scales.repeatability**2
    covariance = slopes @ np.diag((np.array(doubts) / 100) ** 2) @ slopes.T
    return total * fractions[None, :], covariance + np.outer(fractions, fractions) * sure


def faults_in(path: str | os.PathLike[str], file: CarFile | None) -> list[Fault]:
    """Find the faults of a readings file that will not be used, since the car file has its own.

    Parameters
    ----------
    path : str or path-like
    file : CarFile or None
        None: it could not be read.

    Returns
    -------
    list of Fault

    Examples
    --------
    >>> print(*faults_in("nowhere.toml", None))
    nowhere.toml: no such file: check the name and the folder
    """
    try:
        return _checked(path, file)[2]
    except InputError as error:
        return list(error.faults)


def _checked(
    path: str | os.PathLike[str], file: CarFile | None
) -> tuple[TomlFile, Units | None, list[Fault]]:
    """Read a readings file, with its units and all that is wrong in it."""
    toml = read_toml(path)
    name = toml.data.get("units", file.units.name if file else None)
    units = SYSTEMS.get(str(name))
    faults = validate(toml, READINGS_SCHEMA, units)
    sound = Sound(toml, faults)
    if file is not None:
        try:
            state_of(file, sound.get("on_board") or [], toml.place(("on_board",)))
        except InputError as error:
            faults.extend(error.faults)
    faults += _one_way(toml)
    readings = sound.get("readings")
    if readings is not None:
        rows = np.array(readings, dtype=float)
        tare = np.array(sound.get("tare") or [0.0] * 4, dtype=float)
        faults += _bad_rows(toml, rows, tare)
        if file and units and not faults:
            faults += _unlikely(toml, rows - tare, file._replace(units=units))
    return toml, units, in_order(toml, faults)


def _one_way(toml: TomlFile) -> list[Fault]:
    """Find readings told two ways, or none."""
    data = toml.data
    shares = [key for key in ("front_pct", "rear_pct", "left_pct", "cross_pct") if key in data]
    if "readings" in data and "total" in data:
        return [Fault(toml.place(("total",)), "given beside readings", "give one or the other")]
    if "total" not in data and "readings" not in data:
        return [Fault(toml.place(("readings",)), "is missing", "add it: one list [LF, RF, LR, RR]")]
    if "total" in data and "front_pct" not in data:
        return [Fault(toml.place(("front_pct",)), "is missing", "add it: it goes with total")]
    if "readings" in data and shares:
        where = toml.place((shares[0],))
        return [Fault(where, "given beside readings", "the pads say it already, leave it out")]
    lost = 100 - data.get("front_pct", 50) - data.get("rear_pct", 100 - data.get("front_pct", 50))
    if "rear_pct" in data and abs(lost) > 2.5 * data.get("digit", 0.1):
        what = f"front and rear add up to {100 - lost:g}"
        return [Fault(toml.place(("rear_pct",)), what, "they make 100 but for a digit cut off")]
    return []


def _bad_rows(toml: TomlFile, rows: Floats, tare: Floats) -> list[Fault]:
    names = [
        f"{toml.place(('readings',))}[{row + 1}] {corner}"
        for row in range(len(rows))
        for corner in CORNERS
    ]
    faults = bad_loads(rows.ravel(), names)
    for corner, shown, least in zip(CORNERS, tare, rows.min(axis=0), strict=True):
        if least > 0 and shown >= least:
            where = f"{toml.place(('tare',))} {corner}"
            way_out = "give what the pad shows with the car off"
            faults.append(Fault(where, f"{shown:g} is no less than the pad with the car", way_out))
    return faults


def _unlikely(toml: TomlFile, rows: Floats, file: CarFile) -> list[Fault]:
    """Find what no car has, though each number could be."""
    units, data = file.units, toml.data
    way_out = f'write units = "{other(units).name}"'
    if faults := _no_car(file, rows, toml.place(("readings",)), way_out):
        return faults
    mean = rows.mean(axis=0)
    pads, heights = (_lengths(data.get(key), units) for key in ("pad_heights", "ride_heights"))
    if pads is not None:
        level = mean * units.factors["load"] - load_change(file.car, pads)
        faults += [
            Fault(
                toml.place(("pad_heights",)),
                f"on level pads {corner} would carry nothing",
                "check the heights, and the rates in the car file",
            )
            for corner, load in zip(CORNERS, level, strict=True)
            if load <= 0
        ]
    if heights is not None and not data.get("order_checked"):
        faults += _swapped(toml, mean, heights)
    return faults


def _lengths(values: list[float] | None, units: Units) -> Floats | None:
    return None if values is None else np.array(values, dtype=float) * units.factors["length"]


def bad_loads(values: Iterable[float], names: Sequence[str]) -> list[Fault]:
    """Find loads that no pad shows with a wheel on it.

    Parameters
    ----------
    values : iterable of float
    names : sequence of str
        What to call each in a fault.

    Returns
    -------
    list of Fault

    Examples
    --------
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
        elif not value < _NO_WHEEL:
            faults.append(Fault(name, f"reads {value:g}", "type what the pad shows"))
    return faults


def _no_car(file: CarFile, rows: Floats, where: str, way_out: str) -> list[Fault]:
    """Find readings that no car can have, or that fit the rules only in the other units."""
    units = file.units
    label, foreign = units.labels["mass"], other(units).labels["mass"]
    totals = rows.sum(axis=1)
    light = [
        Fault(where, f"{total:g} {label} in all is no car's weight", "check the four numbers")
        for total in totals
        if not _LIGHTEST <= units.to_si(float(total), "mass") <= _HEAVIEST
    ]
    minimum = file.car.rules.minimum
    if light or not minimum:
        return light
    total = float(totals.mean())
    ratio = units.to_si(total, "mass") / minimum
    swap = other(units).factors["mass"] / units.factors["mass"]
    if 0.62 < ratio < 1.6:
        return []
    if 0.8 < ratio * swap < 1.25:
        what = f"{total:g} {label} in all is {ratio:.2g} times the minimum, in {foreign} it fits"
        return [Fault(where, what, way_out)]
    if 0.8 < ratio / swap < 1.25:
        stated = units.from_si(minimum, "mass")
        meant = stated * swap
        what = f"{stated:g} {label} is {1 / ratio:.2g} times the readings, in {foreign} it fits"
        return [Fault(f"{os.path.basename(file.path)}: class.minimum", what, f"write {meant:.0f}")]
    return []


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
