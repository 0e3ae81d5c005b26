"""From the keys of a car file that go beyond a linear car to its corners and links."""

from __future__ import annotations

from math import inf, nan
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.car.corner import STOP_RATE, Corner, Link, Mount
from balancer.car.curves import NOTHING, ForceCurve, RatioCurve, with_tender
from balancer.car.operating_point import RIGID
from balancer.files.checks.car import AXLES, corner_value, turns_of
from balancer.units import Dimension, Units


def corners_of(data: dict[str, Any], units: Units) -> tuple[Corner, ...]:
    """Read the four corners of a car file.

    Args:
        data: Of a sound car file.

    Examples:
        >>> from balancer.units import METRIC
        >>> axle = {"spring_rate": 60, "motion_ratio": 0.7, "tender_rate": 30, "tender_travel": 20}
        >>> corners_of({"front": axle, "rear": axle}, METRIC)[0].spring.rate.round().tolist()
        [20000.0, 60000.0]
    """
    return tuple(_Reader(data, corner, units).corner() for corner in CORNERS)


def links_of(data: dict[str, Any], units: Units) -> tuple[Link, ...]:
    """Read the anti-roll bar links of a car file, front and rear.

    Args:
        data: Of a sound car file.

    Examples:
        >>> from balancer.units import METRIC
        >>> front = {"anti_roll_bar": 20, "link_misfit": 2}
        >>> links_of({"front": front, "rear": {}}, METRIC)[0].misfit
        0.002
    """
    found = []
    for axle in AXLES:
        table = data[axle]
        found.append(
            Link(
                rate=units.to_si(table.get("anti_roll_bar", 0.0), "rate"),
                connected=table.get("bar_connected", True),
                ratio=table.get("link_ratio", 1.0),
                misfit=units.to_si(table.get("link_misfit", 0.0), "length"),
                lead=units.to_si(table.get("link_lead", nan), "length"),
                step=turns_of(table.get("link_step", 0.5)),
                travel=tuple(table.get("link_travel", (-inf, inf))),
            )
        )
    return tuple(found)


class _Reader:
    """The keys of one corner in SI."""

    def __init__(self, data: dict[str, Any], name: str, units: Units) -> None:
        self.data, self.name, self.units = data, name, units

    def value(self, key: str) -> Any:
        return corner_value(self.data, self.name, key)[0]

    def number(self, key: str, dimension: Dimension, default: float) -> float:
        value = self.value(key)
        return default if value is None else self.units.to_si(value, dimension)

    def law(self, key: str) -> ForceCurve:
        at, rate = self.rows(key, "rate")
        return ForceCurve(at, rate)

    def rows(self, key: str, dimension: Dimension) -> tuple[Any, Any]:
        value = self.value(key)
        rows = value if isinstance(value, list) else [[0.0, value]]
        at, second = np.array(rows, dtype=float).T
        return at * self.units.factors["length"], second * self.units.factors[dimension]

    def corner(self) -> Corner:
        if self.value("spring_rate") is None:
            spring, ratio = (
                ForceCurve(np.zeros(1), np.array([RIGID])),
                RatioCurve(np.zeros(1), np.ones(1)),
            )
            return Corner(spring, ratio, droop_rate=RIGID)
        spring, solid = self.law("spring_rate"), inf
        if self.value("tender_rate") is not None:
            rate = self.number("tender_rate", "rate", nan)
            travel = self.number("tender_travel", "length", nan)
            solid = spring.compression(rate * travel) + travel
            spring = with_tender(spring, rate, travel)
        stopped = self.value("bump_stop") is not None
        mount_step = self.value("mount_step")
        return Corner(
            spring=spring,
            ratio=RatioCurve(*self.rows("motion_ratio", "number")),
            droop_rate=self.number("droop_stop_rate", "rate", STOP_RATE),
            bump=self.law("bump_stop_rate") if stopped else NOTHING,
            bump_at=self.number("bump_stop", "length", inf),
            preload=self.number("preload", "length", nan),
            shock_travel=self.number("shock_travel", "length", nan),
            solid=solid,
            mount=Mount(
                lead=self.number("mount_lead", "length", nan),
                step=0.25 if mount_step is None else turns_of(mount_step),
                travel=tuple(self.value("mount_travel") or (-inf, inf)),
            ),
        )
