"""From the keys of a car file that go beyond a linear car to its corners and links."""

from math import inf, nan
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.car.corner import Corner, Link, Mount
from balancer.car.curves import NOTHING, ForceCurve, RatioCurve, points, ramps, with_tender
from balancer.car.operating_point import RIGID
from balancer.files.checks.sound import AXLES, corner_value


def corners_of(si: dict[str, Any]) -> tuple[Corner, ...]:
    """Make the four corners of a sound car file in SI.

    Examples:
        >>> axle = {"spring_rate": 6e4, "motion_ratio": 0.7}
        >>> axle |= {"tender_rate": 3e4, "tender_travel": 0.02}
        >>> corners_of({"front": axle, "rear": axle})[0].spring.rate.round().tolist()
        [20000.0, 60000.0]
    """
    return tuple(_Keys(si, corner).corner() for corner in CORNERS)


def links_of(si: dict[str, Any]) -> tuple[Link, ...]:
    """Make the anti-roll bar links of a sound car file in SI, front and rear.

    Examples:
        >>> links_of({"front": {"anti_roll_bar": 2e4, "link_twist": 0.002}, "rear": {}})[0].twist
        0.002
    """
    return tuple(_link(si[axle]) for axle in AXLES)


def _link(axle: dict[str, Any]) -> Link:
    keys = {key: axle[f"link_{key}"] for key in Link._fields if f"link_{key}" in axle}
    if "travel" in keys:
        keys["travel"] = tuple(keys["travel"])
    connected = axle.get("bar_connected", True)
    return Link(rate=axle.get("anti_roll_bar", 0.0), connected=connected, **keys)


class _Keys:
    def __init__(self, si: dict[str, Any], corner: str) -> None:
        self.si, self.name = si, corner

    def get(self, key: str, left_out: Any = None) -> Any:
        value = corner_value(self.si, self.name, key)[0]
        return left_out if value is None else value

    def rows(self, key: str) -> tuple[Any, Any]:
        value = self.get(key)
        at, second = np.array(value if isinstance(value, list) else [[0.0, value]]).T
        return at, second

    def corner(self) -> Corner:
        if self.get("spring_rate") is None:
            spring = ForceCurve(np.zeros(1), np.array([RIGID]))
            return Corner(spring, RatioCurve(np.zeros(1), np.ones(1)), droop_rate=RIGID)
        spring, solid = self.spring()
        return Corner(
            spring=spring,
            ratio=RatioCurve(*self.rows("motion_ratio")),
            droop_rate=self.get("droop_stop_rate", inf),
            bump=self.bump(),
            bump_at=self.get("bump_stop", inf),
            preload=self.get("preload", nan),
            shock_travel=self.get("shock_travel", nan),
            solid=solid,
            mount=Mount(
                lead=self.get("mount_lead", nan),
                step=self.get("mount_step", 0.25),
                travel=tuple(self.get("mount_travel", (-inf, inf))),
            ),
        )

    def curve(self, key: str, ramp: str) -> ForceCurve:
        """Give the curve of rows of rates."""
        rows = self.rows(key)
        return ramps(*rows) if self.get(ramp) and len(rows[0]) > 1 else ForceCurve(*rows)

    def bump(self) -> ForceCurve:
        """Give the bump stop, by its rates or by points."""
        if self.get("bump_stop") is None:
            return NOTHING
        if self.get("bump_stop_force") is not None:
            return points(*self.rows("bump_stop_force"))
        return self.curve("bump_stop_rate", "bump_stop_ramp")

    def spring(self) -> tuple[ForceCurve, float]:
        """Give the spring, and the compression at which its tender is solid."""
        spring, rate = self.curve("spring_rate", "spring_ramp"), self.get("tender_rate")
        if rate is None:
            return spring, inf
        travel = self.get("tender_travel")
        return with_tender(spring, rate, travel), spring.compression(rate * travel) + travel
