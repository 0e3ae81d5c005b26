"""Four numbers, or a readings file: read, checked, and turned into `Readings`."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.errors import Fault, InputError
from balancer.files.car_file import CarFile
from balancer.files.checks.car import Sound
from balancer.files.checks.readings import bad_loads, no_car, uncertainties_of
from balancer.files.companion import Beside
from balancer.files.format.keys import READINGS_SCHEMA
from balancer.files.format.toml_text import TomlFile, read_toml
from balancer.files.states import state_of
from balancer.units import Units, other
from balancer.weighing.weigh import Readings

_UNREAD = 2.0
"""Standard uncertainty of a left share or cross weight that was not read [percent]."""


def readings_of(file: CarFile, loads: Sequence[float], where: str = "readings") -> Readings:
    """Take four numbers in the units of the car file for the readings.

    Args:
        loads: LF RF LR RR.
        where: What to call them in a fault.

    Raises:
        InputError: When a number is not one, not positive, or all together are no car's.

    Examples:
        >>> from balancer.car.model import plain_car
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
        faults = no_car(file, rows, where, f"write each with its unit, as 640{label}")
    if faults:
        raise InputError(faults)
    return Readings.of(rows * file.units.factors["load"])


def read_readings(path: str | os.PathLike[str], file: CarFile) -> Readings:
    """Read a readings file for a car.

    Args:
        file: Gives the units when the readings file does not, and what can be on board.

    Raises:
        InputError: With every fault of the file.

    References:
        The file format is documented in README.md.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.units import METRIC
        >>> read_readings("nowhere.toml", CarFile("a.toml", plain_car(), METRIC, ()))
        Traceback (most recent call last):
        balancer.errors.InputError: nowhere.toml: no such file: check the name and the folder
    """
    return readings_in(read_toml(path), file)


def readings_in(toml: TomlFile, file: CarFile) -> Readings:
    """Take what a readings file holds, or an entry of the log, for readings.

    Raises:
        InputError: With every fault of the file.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.units import METRIC
        >>> toml = TomlFile("a.toml", {"readings": [[280, 270, 220, 230]]}, "")
        >>> readings_in(toml, CarFile("a.toml", plain_car(), METRIC, ())).repeats.shape
        (1, 4)
    """
    units = _FILE.units_in(toml, file)
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
    front, front_uncertainty = data["front_pct"], digit / 3**0.5
    if "rear_pct" in data:
        lost = 100 - data["rear_pct"] - front
        front, front_uncertainty = front + lost / 2, max(abs(lost), digit) / 2 / 3**0.5
    values, uncertainties = [front], [front_uncertainty]
    for key in ("left_pct", "cross_pct"):
        values.append(data.get(key, 50.0))
        uncertainties.append(digit / 3**0.5 if key in data else _UNREAD)
    # LF = (front + left - cross)·W/2, and so on around the car.
    signs = np.array([[1, 1, -1], [1, -1, 1], [-1, 1, 1], [-1, -1, -1]]) / 2
    fractions = signs @ (np.array(values) / 100) + np.array([0, 0, 0, 1])
    slopes = total * signs
    scales = file.car.scales
    sure = (scales.accuracy**2 + scales.common_accuracy**2) * total**2 / 4
    sure += scales.resolution**2 / 12 + scales.repeatability**2
    covariance = slopes @ np.diag((np.array(uncertainties) / 100) ** 2) @ slopes.T
    return total * fractions[None, :], covariance + np.outer(fractions, fractions) * sure


def _uncertainties(
    toml: TomlFile, faults: list[Fault], file: CarFile | None, units: Units | None
) -> list[Fault]:
    """Find what is wrong in a readings file whose keys may each be right."""
    found: list[Fault] = []
    if file is not None:
        on_board = Sound(toml, faults).get("on_board") or []
        try:
            state_of(file, on_board, toml.place(("on_board",)))
        except InputError as error:
            found.extend(error.faults)
    return found + uncertainties_of(toml, faults + found, file, units)


def _lengths(values: list[float] | None, units: Units) -> Floats | None:
    return None if values is None else np.array(values, dtype=float) * units.factors["length"]


_FILE = Beside(READINGS_SCHEMA, _uncertainties)
faults_in = _FILE.faults_in
