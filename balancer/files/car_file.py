"""A car file that was read: the car and what goes with it."""

from __future__ import annotations

from typing import NamedTuple

from balancer.car.model import Car
from balancer.units import Units


class CarFile(NamedTuple):
    """A car file read.

    Attributes:
        car: In SI.
        units: Of the file, for whatever is shown.
        notes: What is allowed but looks odd; one line each.
    """

    path: str
    car: Car
    units: Units
    notes: tuple[str, ...]
