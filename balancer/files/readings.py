"""Four numbers, or a readings file: read, checked, and turned into `Readings`."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import Fault, refuse
from balancer.files.car_file import CarFile
from balancer.files.checks.readings import bad_loads, no_car, suspect_readings
from balancer.files.checks.sound import Sound
from balancer.files.companion import Companion, Opened
from balancer.files.format.beside_keys import READINGS_SCHEMA
from balancer.files.format.toml_text import TomlFile
from balancer.files.units import other
from balancer.weighing.weigh import Readings

_UNREAD = 2.0
"""Standard uncertainty of a left share or cross weight that was not read [percent]."""


def readings_of(file: CarFile, loads: Sequence[float]) -> Readings:
    """Take four numbers in the units of the car file for the readings.

    Args:
        loads: LF RF LR RR.

    Raises:
        InputError: When a number is not one, not positive, or all together are no car's.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.units import METRIC
        >>> file = CarFile("a.toml", plain_car(), METRIC, ())
        >>> readings_of(file, [280, 0, 220, 230])
        Traceback (most recent call last):
        balancer.car.errors.InputError: RF: reads 0: is the wheel on its pad, and the pad switched on?
    """  # noqa: E501
    rows = np.array([loads], dtype=float)
    faults = list(bad_loads(rows.ravel(), CORNERS))
    if not faults:
        label = other(file.units).labels["mass"]
        faults = no_car(file, rows, "readings", f"write each with its unit, as 640{label}")
    refuse(faults)
    return Readings.of(rows * file.units.factors["load"])


def readings_in(toml: TomlFile, file: CarFile) -> Readings:
    """Take what a readings file holds, or an entry of the log, for readings.

    Raises:
        InputError: With every fault of the file.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.units import METRIC
        >>> toml = TomlFile("a.toml", {"readings": [[280, 270, 220, 230]]}, "")
        >>> readings_in(toml, CarFile("a.toml", plain_car(), METRIC, ())).repeats.shape
        (1, 4)
    """
    return _FILE.taken(toml, file)


def _made(opened: Opened, file: CarFile) -> Readings:
    si = opened.si
    rows, covariance = _from_shares(si, file) if "total" in si else (si["readings"], None)
    ride_heights = si.get("ride_heights")
    return Readings(
        repeats=np.array(rows),
        tare=np.array(si.get("tare", [0.0] * 4)),
        pad_heights=np.array(si.get("pad_heights", [0.0] * 4)),
        ride_heights=None if ride_heights is None else np.array(ride_heights),
        on_board=tuple(si["on_board"]) if "on_board" in si else None,
        date=str(si.get("date", "")),
        note=si.get("note", ""),
        covariance=covariance,
    )


def _from_shares(data: dict[str, Any], file: CarFile) -> tuple[Floats, Floats]:
    """Work out four loads and their covariance from a total and the shares of a display.

    A display cuts digits off or rounds them, nobody knows which: a share that reads s is within
    one digit of it, u = digit/√3 (JCGM 100:2008, 4.3.7). Front and rear together pin it between
    them. A share that was not read is taken as even, and hardly known.
    """
    digit, total = data.get("digit", 0.1), data["total"]
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


def _check(opened: Opened) -> list[Fault]:
    toml, file, units, sound, _ = opened
    faults = opened.wrong_state
    sound = Sound(toml, [*sound.faults, *faults]) if faults else sound
    return [*faults, *suspect_readings(sound, file, units)]


_FILE = Companion(READINGS_SCHEMA, _check, _made)
read_readings, faults_in = _FILE.read, _FILE.faults_in
