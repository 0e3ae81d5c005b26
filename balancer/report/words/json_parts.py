"""Shapes that the JSON of more than one command has, under the names of the contract."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite
from typing import TYPE_CHECKING, Any

import numpy as np

from balancer.car.conventions import CORNERS, Flags, Floats
from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.files.units import Dimension, Units
from balancer.report.words.numbers import three
from balancer.weighing.uncertainty import Shares

if TYPE_CHECKING:
    from balancer.car.answers import PerTurn
    from balancer.planning.ballast.outcome import BallastItem


def heading_json(file: CarFile) -> dict[str, str]:
    """Give what every object begins with."""
    return {"car": file.car.name, "units": file.units.name}


def shares_json(shares: Shares) -> dict[str, float]:
    """Give the three shares in percent, under the names of the contract.

    >>> shares_json(Shares(1, 0.5, 0.25, 0.125, 0, 0))
    {'front_pct': 50.0, 'left_pct': 25.0, 'cross_pct': 12.5}
    """
    names = ("front_pct", "left_pct", "cross_pct")
    return {name: 100 * share for name, share in zip(names, three(shares), strict=True)}


def center_json(shares: Shares, units: Units) -> dict[str, float | None]:
    """Give the center of gravity in plan; None for what is not known.

    Examples:
        >>> from balancer.files.units import METRIC
        >>> center_json(Shares(1, 0.5, 0.5, 0.5, 1.2, 0.001), METRIC)
        {'aft': 1200.0, 'left': 1.0}
    """
    aft, left = (units.from_si(value, "length") for value in (shares.aft, shares.left_offset))
    return {"aft": finite(aft), "left": finite(left)}


def finite(value: float) -> float | None:
    """Give a number, or null where it is not known."""
    return value if isfinite(value) else None


def loads_json(loads: Floats, shares: Shares, units: Units) -> dict[str, Any]:
    """Give total, corner weights and shares; of uncertainties, changes and states alike."""
    return {
        "total": units.from_si(shares.total, "load"),
        "loads": by_corner(loads, "load", units),
        **shares_json(shares),
    }


def place_json(item: Item | BallastItem, units: Units) -> dict[str, float]:
    """Give a mass and where its center is."""
    return {
        "mass": units.from_si(item.mass, "mass"),
        **{name: units.from_si(getattr(item, name), "length") for name in ("aft", "left", "up")},
    }


def per_turn_json(per_turn: PerTurn, adjustable: Flags, units: Units) -> dict[str, Any]:
    """Give what one turn up does, at each corner that has an adjuster."""
    corners = np.flatnonzero(adjustable).tolist()
    return {CORNERS[index]: _turn_json(per_turn, index, units) for index in corners}


def _turn_json(per_turn: PerTurn, index: int, units: Units) -> dict[str, Any]:
    loads, heights = per_turn.loads[index], per_turn.heights[index]
    return {
        "cross_pct": 100 * float(per_turn.cross[index]),
        "load": units.from_si(float(loads[index]), "load"),
        "height_change": units.from_si(float(heights[index]), "length"),
        "loads": by_corner(loads, "load", units),
        "height_changes": by_corner(heights, "length", units),
    }


def known_by_corner(
    values: Iterable[float], dimension: Dimension, units: Units
) -> dict[str, float | None]:
    """Give four SI values as a dict by corner, None where one is infinite: JSON knows no such.

    Examples:
        >>> from balancer.files.units import METRIC
        >>> known_by_corner([0.001, 0, float("inf"), 0.002], "length", METRIC)["LR"] is None
        True
    """
    return {at: finite(value) for at, value in by_corner(values, dimension, units).items()}


def by_corner(values: Iterable[float], dimension: Dimension, units: Units) -> dict[str, float]:
    """Give four SI values as a dict by corner, in the car file's units.

    Examples:
        >>> from balancer.files.units import METRIC
        >>> by_corner([0.001, 0, 0, 0.002], "length", METRIC)
        {'LF': 1.0, 'RF': 0.0, 'LR': 0.0, 'RR': 2.0}
    """
    return {
        corner: units.from_si(float(value), dimension) + 0.0  # no minus zero
        for corner, value in zip(CORNERS, values, strict=True)
    }
