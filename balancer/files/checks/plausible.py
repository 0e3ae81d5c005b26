"""What no car does: rates that are a unit, or a power of ten, beside the truth."""

import os
from collections.abc import Iterator
from contextlib import suppress

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import Fault, InputError
from balancer.car.linear import ride_frequency
from balancer.car.statics import taken_for_linear
from balancer.files.car_file import CarFile
from balancer.files.format.toml_text import read_toml

_LOW, _HIGH = 0.7, 12.0
"""Ride frequencies that no car has, with or without wings, with room for a wrong motion ratio
[Hz]; common practice, no published source."""

_USUAL = 1.2, 3.5
"""Those that most track cars have [Hz]; common practice, no published source."""

_OTHERS = {"kg/mm": 9806.65, "lb/in": 175.126835, "N/mm": 1000.0}
"""Units that springs are sold in [N/m]."""


def bounces(file: CarFile, loads: Floats) -> Iterator[Fault]:
    """Find springs on which a car can't stand as it was weighed, and the unit that was meant.

    Args:
        loads: (4,), as weighed [N].

    Examples:
        >>> import numpy as np
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.units import METRIC
        >>> file = CarFile("a.toml", plain_car(spring_rate=(8e3, 60e3)), METRIC, ())
        >>> print(*bounces(file, np.full(4, 4500.0)))
        a.toml: front.spring_rate: 8 N/mm lets LF bounce at 0.47 Hz, which no car does: in kg/mm it would be 1.46 Hz, write "8 kg/mm"
    """  # noqa: E501
    if file.missing.springs:
        return
    car = taken_for_linear(file.car)
    # By the mean of all four, so that a slip in one reading is not put down to a spring.
    with np.errstate(all="ignore"):
        frequency = ride_frequency(car, np.full(4, loads.mean()))
    label = file.units.labels["rate"]
    said: set[tuple[str, float]] = set()
    for index, corner in enumerate(CORNERS):
        rate, value = float(car.spring_rate[index]), float(frequency[index])
        axle = "front" if index < 2 else "rear"
        odd = np.isfinite(value) and not _LOW <= value <= _HIGH
        if not odd or not np.isfinite(rate) or (axle, rate) in said:
            continue
        said.add((axle, rate))
        shown = file.units.from_si(rate, "rate")
        what = f"{shown:g} {label} lets {corner} bounce at {value:.2f} Hz, which no car does"
        yield Fault(_place(file, axle), what, _meant(shown, value, label))


def refuse_bounces(file: CarFile, loads: Floats) -> None:
    """Refuse springs on which a car can't stand as it was weighed.

    Args:
        loads: (4,), as weighed [N].

    Raises:
        InputError: With what `bounces` finds.
    """
    if odd := list(bounces(file, loads)):
        raise InputError(odd)


def _place(file: CarFile, axle: str) -> str:
    """Say where the rate of an axle is in its file."""
    if os.path.isfile(file.path):
        with suppress(InputError):
            return read_toml(file.path).place((axle, "spring_rate"))
    return f"{os.path.basename(file.path)}: {axle}.spring_rate"


def _meant(shown: float, value: float, label: str) -> str:
    """Say in which unit the same number would make sense."""
    own = _OTHERS.get(label, 1000.0)
    for unit, size in _OTHERS.items():
        would = value * (size / own) ** 0.5
        if unit != label and _USUAL[0] <= would <= _USUAL[1]:
            return f'in {unit} it would be {would:.2f} Hz, write "{shown:g} {unit}"'
    return "check spring_rate, motion_ratio and their units"
