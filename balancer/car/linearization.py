"""What small moves do to a car on real corners where it stands: how it answers as a linear car."""

from dataclasses import replace

import numpy as np

from balancer.car.axle_state import at_the_shock, shock_under
from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.car.operating_point import OperatingPoint

_SOLID = 1e12
"""Rate that stands for a solid stop [N/m]: a turn of a perch there moves nothing to speak of."""
_TOUCH = 1e-9
"""A compression at which a spring is pressed at all [m]."""


def excess(point: OperatingPoint) -> Floats:
    """Compute how far each spring perch would come down before its shock leaves the droop stop.

    Returns:
        (4,), at the loads now [m]; 0 where a shock is not topped out.
    """
    found = np.zeros(4)
    for number in np.flatnonzero(point.topped_out).tolist():
        corner, pressed = point.car.corners[number], point.compression[number]
        unloaded = corner.spring.compression(point.axial(number))
        found[number] = pressed - point.shock[number] - unloaded
    return found


def lifts(point: OperatingPoint, perch: Floats, mount: Floats) -> Floats:
    """Compute how far moves lift their corners while the loads stay as they are.

    Args:
        perch, mount: (4,) [m].

    Returns:
        (4,) [m]; nothing for a perch at a shock that stays topped out. Bars are left out.
    """
    found = np.zeros(4)
    for number in np.flatnonzero((perch != 0) | (mount != 0)).tolist():
        corner, ratio = point.car.corners[number], point.ratios[number]
        pressed, shock = point.compression[number], point.shock[number]
        axial = point.axial(number)
        after = shock_under(at_the_shock(corner), pressed - shock + perch[number], axial)
        found[number] = -ratio.travel(float(after - shock - mount[number]))
    return found


def linear(point: OperatingPoint, stops: bool = True) -> Car:
    """Give the linear car that answers to small changes as this one does where it stands.

    Args:
        stops: False: as if no stop were touched, which is what a car is often taken for.

    Returns:
        Without corners. Its perches have the lead that turns have in effect: a
        perch pushes by its spring alone, against all that holds the corner.

    References:
        Wheel rate k_s·MR² + F·dMR/dz: D. C. Barton, J. D. Fieldhouse, *Automotive Chassis
        Engineering*, Springer 2018, eqs. 3.29-3.33.
    """
    here, rates, leverages, pushes = np.zeros(()), [], [], []
    topped_out = point.topped_out.tolist()
    for number, (corner, ratio) in enumerate(zip(point.car.corners, point.ratios, strict=True)):
        spring, shock = point.compression[number], point.shock[number]
        if not stops:
            # Without its stop a loose spring would be pressed.
            spring = max(spring, _TOUCH)
        leverage = float(ratio.value(here))
        rate = float(corner.spring.slope(spring))
        pushes.append(rate)
        axial = point.axial(number) if stops else float(corner.spring.force(spring))
        if stops:
            rate += float(corner.bump.slope(shock - corner.bump_at))
            rate += min(corner.droop_rate, _SOLID) if topped_out[number] else 0.0
        rates.append(rate + axial * float(ratio.slope(here)) / leverage**2)
        leverages.append(leverage)
    return replace(
        point.car,
        spring_rate=np.array(rates),
        motion_ratio=np.array(leverages),
        perch_lead=point.car.perch_lead * pushes / np.array(rates),
        bar_rate=point.bar_rate,
        corners=(),
        links=(),
    )
