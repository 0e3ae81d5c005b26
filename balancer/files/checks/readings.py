"""What makes readings doubtful: loads that no pad shows, totals of no car, left for right."""

import os
from collections.abc import Iterable, Sequence

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import Fault, InputError
from balancer.car.statics import statics_of
from balancer.files.car_file import CarFile
from balancer.files.checks.sound import Sound
from balancer.files.format.toml_text import read_toml
from balancer.files.units import Units, other

_LIGHTEST, _HEAVIEST = 80.0, 6000.0
"""Of anything that this is for [kg]."""

_SHARES = ("front_pct", "rear_pct", "left_pct", "cross_pct")

_NO_WHEEL = 1e5
"""More than any pad shows, in either unit."""


def suspect_readings(sound: Sound, file: CarFile | None, units: Units | None) -> list[Fault]:
    """Find what is suspect in a readings file whose keys may each be right.

    Args:
        file: None: it could not be read.
        units: Of the readings; None: they are not known.

    Examples:
        >>> from balancer.files.format.toml_text import TomlFile
        >>> data = {"total": 1000, "front_pct": 52, "rear_pct": 58}
        >>> print(*suspect_readings(Sound(TomlFile("a.toml", data, ""), []), None, None))
        a.toml: rear_pct: front and rear add up to 110: they make 100 but for a digit cut off
    """
    faults = _one_way(sound)
    readings, total = sound.get("readings"), sound.get("total")
    if readings is not None:
        rows = np.array(readings, dtype=float)
        tare = np.array(sound.get("tare") or [0.0] * 4, dtype=float)
        faults += _bad_rows(sound, rows, tare)
    elif total is not None:
        faults += _bad_shares(sound)
    if not file or not units or faults or sound.faults:
        return faults
    here = file._replace(units=units)
    if readings is not None:
        return _unlikely(sound, rows - tare, here)
    return no_car(here, np.full((1, 4), total / 4), sound.place(("total",)))


def bad_loads(values: Iterable[float], names: Sequence[str]) -> list[Fault]:
    """Find loads that no pad shows with a wheel on it.

    Args:
        values: The numbers as read, in the unit of the file.
        names: What to call each in a fault.

    Examples:
        >>> bad_loads([300, 290, -1, 240], CORNERS)[0].where
        'LR'
    """
    faults = []
    for value, name in zip(values, names, strict=True):
        if value < 0:
            way_out = "a pad can't be pulled up: zero it and read again"
        elif value == 0:
            way_out = "is the wheel on its pad, and the pad switched on?"
        elif value < _NO_WHEEL:
            continue
        else:
            way_out = "type what the pad shows"
        faults.append(Fault(name, f"reads {value or 0:g}", way_out))
    return faults


def no_car(file: CarFile, rows: Floats, where: str, way_out: str = "") -> list[Fault]:
    """Find readings that no car can have, or that fit the rules only in the other units.

    Args:
        file: In the units of the readings.
        rows: (n, 4), in those units.
        where: What to call the readings in a fault.
        way_out: What to do if they are in the other units; left out: name those.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.units import METRIC
        >>> file = CarFile("a.toml", plain_car(), METRIC, ())
        >>> print(*no_car(file, np.full((1, 4), 2.5), "readings"))
        readings: 10 kg in all is no car's weight: check the four numbers
    """
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
        return [Fault(where, what, way_out or f'write units = "{other(units).name}"')]
    if 0.8 < ratio / swap < 1.25:
        stated = units.from_si(minimum, "mass")
        meant = stated * swap
        what = f"{stated:g} {label} is {1 / ratio:.2g} times the readings, in {foreign} it fits"
        return [Fault(_place_of_minimum(file.path), what, f"write {meant:.0f}")]
    return []


def _place_of_minimum(path: str) -> str:
    """Find the line again; nothing else asks for one of the car file once it is read."""
    try:
        return read_toml(path).place(("class", "minimum"))
    except InputError:
        return f"{os.path.basename(path)}: class.minimum"


def _one_way(sound: Sound) -> list[Fault]:
    """Find readings told two ways, or none."""
    given = sound.data.keys()
    shares = [key for key in _SHARES if key in given]
    if "readings" in given and "total" in given:
        return [sound.fault(("total",), "given beside readings", "give one or the other")]
    if "total" not in given and "readings" not in given:
        return [sound.fault(("readings",), "is missing", "add it: one list [LF, RF, LR, RR]")]
    if "total" in given and "front_pct" not in given:
        return [sound.fault(("front_pct",), "is missing", "add it: it goes with total")]
    if "readings" in given and shares:
        way_out = "the pads say it already, leave it out"
        return [sound.fault((shares[0],), "given beside readings", way_out)]
    front, rear = sound.get("front_pct"), sound.get("rear_pct")
    digit = sound.get("digit") or 0.1
    if front is not None and rear is not None and abs(100 - front - rear) > 2.5 * digit:
        what = f"front and rear add up to {front + rear:g}"
        return [sound.fault(("rear_pct",), what, "they make 100 but for a digit cut off")]
    return []


def _bad_shares(sound: Sound) -> list[Fault]:
    """Find shares that leave a wheel without load."""
    keys = ("front_pct", "left_pct", "cross_pct")
    given = [key for key in keys if sound.get(key) is not None]
    front, left, cross = (sound.get(key) or 50.0 for key in keys)
    if not given:
        return []
    lf = (front + left - cross) / 2
    shares = (lf, front - lf, left - lf, 100 - front - left + lf)
    return [
        sound.fault((given[-1],), f"leaves {corner} {share:.1f} % of the weight", "check it")
        for corner, share in zip(CORNERS, shares, strict=True)
        if share <= 0
    ]


def _bad_rows(sound: Sound, rows: Floats, tare: Floats) -> list[Fault]:
    place = sound.place(("readings",))
    names = [f"{place}[{row + 1}] {corner}" for row in range(len(rows)) for corner in CORNERS]
    faults = bad_loads(rows.ravel(), names)
    for corner, shown, least in zip(CORNERS, tare, rows.min(axis=0), strict=True):
        if least > 0 and shown >= least:
            where = f"{sound.place(('tare',))} {corner}"
            way_out = "give what the pad shows with the car off"
            faults.append(Fault(where, f"{shown:g} is no less than the pad with the car", way_out))
    return faults


def _unlikely(sound: Sound, rows: Floats, file: CarFile) -> list[Fault]:
    """Find what no car has, though each number could be."""
    units, data = file.units, sound.data
    if faults := no_car(file, rows, sound.place(("readings",))):
        return faults
    mean = rows.mean(axis=0)
    if "pad_heights" in data:
        pads = np.array(data["pad_heights"], dtype=float) * units.factors["length"]
        loads = mean * units.factors["load"]
        level = loads - statics_of(file.car, loads).pad_effect(pads)
        faults += none_left(level, sound.place(("pad_heights",)))
    if "ride_heights" in data and not data.get("order_checked"):
        heights = np.array(data["ride_heights"], dtype=float) * units.factors["length"]
        faults += _swapped(sound, mean, heights)
    return faults


def none_left(level: Floats, where: str) -> list[Fault]:
    """Find corners that would carry nothing on level pads.

    Args:
        level: (4,), loads there.
        where: What to call the heights of the pads in a fault.
    """
    way_out = "check the heights, and the rates in the car file"
    return [
        Fault(where, f"on level pads {corner} would carry nothing", way_out)
        for corner, load in zip(CORNERS, level, strict=True)
        if load <= 0
    ]


def _swapped(sound: Sound, loads: Floats, heights: Floats) -> list[Fault]:
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
            what = f"the car stands low on the {low} but reads heavy on the {heavy}"
            way_out = "are left and right swapped? If not, add order_checked = true"
            return [sound.fault(("readings",), what, way_out)]
    return []
