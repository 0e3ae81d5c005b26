"""Where the two corners of an axle stand under their loads, with the bar between them.

With preload or shock travel known, the spring's curve says where a corner is on it; a bar shifts
load from one corner to the other, so the two are found together.
"""

from collections.abc import Callable, Sequence
from math import isnan, nan
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.corner import Corner, Link
from balancer.car.curves import RatioCurve
from balancer.car.errors import OperatingPointError, Unfit

_CLOSE = 2e-15
"""Shock travel that is far less than any other, and yet more than rounding makes of it [m]."""


class Stand(NamedTuple):
    """Where one corner stands.

    Attributes:
        compression: Of the spring [m].
        shock: How far the shock is closed from fully extended [m].
        ratio: Counted from here.
        stop: What the droop stop holds back, along the shock [N].
    """

    compression: float
    shock: float
    ratio: RatioCurve
    stop: float = 0.0

    def from_droop(self) -> float:
        """Give the wheel travel from full droop."""
        return -self.ratio.travel(-self.shock)


def axle_stand(
    corners: Sequence[Corner], carried: Floats, link: Link | None, names: Sequence[str], bar: float
) -> tuple[list[Stand], float]:
    """Find where two corners and the bar between them stand, and how far the bar is twisted.

    Args:
        corners: Left and right.
        carried: (2,), loads less what wheels weigh [N].
        names: What to call the two in a fault.
        bar: Rate of the bar at the wheel, 0 where it is not connected [N/m].

    Returns:
        And how far the bar is twisted here, left end up, at the wheel [m].

    Raises:
        OperatingPointError: Where a corner can't carry its load as the file says, with a line
            for each corner.
    """

    def stand(twist: float) -> list[Stand]:
        found, reasons = [], []
        forces = carried + bar * twist * np.array([-1.0, 1.0])
        for name, corner, force in zip(names, corners, forces.tolist(), strict=True):
            one = _stand(corner, force)
            if isinstance(one, Unfit):
                reasons.append(one._replace(corner=name))
            else:
                found.append(one)
        if reasons:
            raise OperatingPointError(reasons)
        return found

    if link is None or not link.rate:
        return stand(0.0), 0.0
    misfit = link.twist / link.ratio
    if not corners[0].anchored:
        return stand(misfit), misfit

    def beyond(twist: float) -> float:
        left, right = stand(twist)
        return left.from_droop() - right.from_droop() + misfit - twist

    # A bar that is twisted more pushes the left wheel down and lets the right one up, so this
    # falls with the twist, and is nearly straight: secants, each kept within a bracket.
    twist = beyond(0.0) if not bar else _root(beyond)
    return stand(twist), twist


def _root(falling: Callable[[float], float]) -> float:
    """Find where a function of a twist that falls by at least its argument is 0."""
    before, at_before = 0.0, falling(0.0)
    # It falls at least as fast as its argument grows.
    low, high = sorted((0.0, at_before))
    here = at_before / 2
    for _ in range(60):
        at_here = falling(here)
        low, high = (here, high) if at_here > 0 else (low, here)
        if abs(at_here) < 1e-13 or high - low < 1e-15:
            break
        slope = (at_here - at_before) / (here - before) if here != before else -1.0
        before, at_before = here, at_here
        step = here - at_here / slope
        here = step if low < step < high else (low + high) / 2
    return here


def _stand(corner: Corner, force: float) -> Stand | Unfit:
    """Find where a corner stands under a force at the wheel, or why it can't."""
    if corner.anchored:
        shock = shock_under(corner, corner.preload, force)
        if isnan(shock):
            return _NOWHERE
        ratio = corner.ratio.shifted(corner.ratio.travel(shock))
        axial = force / float(ratio.value(np.zeros(())))
        return _standing(corner, corner.preload, shock, axial)._replace(ratio=ratio)
    axial = force / float(corner.ratio.value(np.zeros(())))
    if not corner.shock_travel > 0:
        # Where nothing is said, the shock tops out as its spring goes loose.
        preload = 0.0 if isnan(corner.preload) else corner.preload
        if corner.shock_travel == 0 and isnan(corner.preload):
            return Unfit(
                "topped out (shock_travel 0), so its load does not tell the spring's force",
                "give preload, the spring's compression at full droop",
            )
        shock = shock_under(at_the_shock(corner), preload, axial)
        if isnan(shock):
            return _NOWHERE
        if corner.shock_travel == 0 and shock > 0:
            # The eye is believed before the preload: a spring that just carries the load.
            return Stand(corner.spring.compression(axial), 0.0, corner.ratio)
        return _standing(corner, preload, shock, axial)
    bumped = float(corner.bump.force(np.array(corner.shock_travel - corner.bump_at)))
    if axial < 0:
        return Unfit(
            "its load is less than its wheel and bar bring, so it hangs from its shock, yet that is"
            " closed {0}",
            "check the reading, unsprung_mass and anti_roll_bar; if it hangs, write"
            " shock_travel = 0 and give preload",
            (corner.shock_travel,),
        )
    if bumped > axial:
        return Unfit(
            "its bump stop, pressed {0}, would carry more than its load",
            "measure shock_travel again, check bump_stop and bump_stop_rate",
            (corner.shock_travel - corner.bump_at,),
        )
    pressed = corner.spring.compression(axial - bumped)
    return Stand(pressed, corner.shock_travel, corner.ratio)


_NOWHERE = Unfit(
    "no shock travel carries its load", "check the reading, preload, spring_rate and bump_stop"
)


def _standing(corner: Corner, preload: float, shock: float, axial: float) -> Stand:
    """Say what the droop stop holds back of a spring where it carries so much along the shock."""
    spring = float(corner.spring.force(np.array(preload + shock)))
    stop = max(spring - axial, 0.0) if corner.topped_out(shock) else 0.0
    return Stand(preload + shock, shock, corner.ratio, stop)


def at_the_shock(corner: Corner) -> Corner:
    """Take the end of the shock for the wheel: a motion ratio of 1."""
    return corner._replace(ratio=RatioCurve(np.zeros(1), np.ones(1)))


def shock_under(corner: Corner, preload: float, force: float) -> float:
    """Find the shock travel at which a corner with this preload carries a force at the wheel.

    Args:
        corner: With its ratio counted from full droop.
        preload: [m].
        force: [N].

    Returns:
        [m]; NaN where there is none.
    """

    ratio = corner.ratio.one_by_one()

    def carried(shock: float) -> float:
        there = np.array(shock)
        axial = float(corner.spring.force(there + preload)) + float(corner.stops(there))
        return axial * ratio.value(ratio.travel(shock))

    low, high = 0.0 if corner.solid_droop else -0.05, 1.0
    if corner.solid_droop and carried(low) >= force:
        return 0.0
    if not carried(low) < force < carried(high):
        return nan
    from_here, to_there = _near(carried, force, low, high)
    # Sixty halvings leave 1e-18 m; most of them are known without looking.
    for _ in range(60):
        middle = (low + high) / 2
        if middle < from_here or (middle <= to_there and carried(middle) < force):
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _near(
    growing: Callable[[float], float], wanted: float, low: float, high: float
) -> tuple[float, float]:
    """Find two places close together between which a growing function comes to what is wanted.

    By false position, with what stays put halved (the Illinois rule; from memory).
    """
    start, end = low, high
    at_low, at_high = growing(low) - wanted, growing(high) - wanted
    here = low
    for _ in range(60):
        before, here = here, low - at_low * (high - low) / (at_high - at_low)
        at_here = growing(here) - wanted
        if at_here < 0:
            at_high = at_high / 2 if low == before else at_high
            low, at_low = here, at_here
        else:
            at_low = at_low / 2 if high == before else at_low
            high, at_high = here, at_here
        if abs(here - before) < _CLOSE or not at_here:
            break
    low, high = here - _CLOSE, here + _CLOSE
    return (low, high) if growing(low) < wanted <= growing(high) else (start, end)
