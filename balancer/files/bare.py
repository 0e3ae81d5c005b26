"""A car that has no file: four pads, and what is known of where they stand."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

from balancer.car.model import plain_car
from balancer.files.car_file import CarFile
from balancer.units import Units

NAME = "A car without a file"


def bare_file(
    units: Units, wheelbase: float = nan, tracks: tuple[float, float] = (nan, nan)
) -> CarFile:
    """Make what stands for a car file where there is none: enough to weigh, and no more.

    Args:
        wheelbase, tracks: NaN where they are not known; where the center of gravity is, is not
            known then either [m].

    Examples:
        >>> from balancer.units import METRIC
        >>> bare_file(METRIC).path
        ''
    """
    bare = plain_car(wheelbase, tracks, (inf, inf), (1.0, 1.0))
    return CarFile("", replace(bare, name=NAME), units, ())
