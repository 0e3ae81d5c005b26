"""What small moves do to a car on real corners where it stands: how it answers as a linear car."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from balancer.car.axle_state import at_the_shock, shock_under
from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import Car
from balancer.car.operating_point import OperatingPoint, operating_point


def excess(point: OperatingPoint) -> Floats:
    """Compute how far each spring perch would come down before its shock leaves the droop stop.

    Returns:
        (4,), at the loads now [m]; 0 where a shock is not topped out.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.adjusters import cornered
        >>> car = cornered(plain_car())
        >>> said = [one._replace(preload=0.06, shock_travel=0.0) for one in car.corners]
        >>> point = operating_point(replace(car, corners=tuple(said)), np.full(4, 2450.0))
        >>> excess(point).round(6).tolist()
        [0.01, 0.01, 0.001667, 0.001667]
    """
    found = np.zeros(4)
    for number in np.flatnonzero(point.shock < 0).tolist():
        corner, pressed = point.car.corners[number], point.compression[number]
        unloaded = corner.spring.compression(_axial(point, number))
        found[number] = pressed - point.shock[number] - unloaded
    return found


def lifts(point: OperatingPoint, perch: Floats, mount: Floats) -> Floats:
    """Compute how far moves lift their corners while the loads stay as they are.

    Args:
        perch, mount: (4,) [m].

    Returns:
        (4,) [m]; nothing for a perch at a shock that stays topped out. Bars are left out.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.adjusters import cornered
        >>> point = operating_point(cornered(plain_car()), np.full(4, 2450.0))
        >>> lifts(point, np.array([0.7e-3, 0, 0, 0]), np.array([0, 1.4e-3, 0, 0])).round(6).tolist()
        [0.001, 0.002, 0.0, 0.0]
    """
    found = np.zeros(4)
    for number in np.flatnonzero((perch != 0) | (mount != 0)).tolist():
        corner, ratio = point.car.corners[number], point.ratios[number]
        pressed, shock = point.compression[number], point.shock[number]
        axial = _axial(point, number)
        after = shock_under(at_the_shock(corner), pressed - shock + perch[number], axial)
        found[number] = -ratio.travel(float(after - shock - mount[number]))
    return found


def linear(point: OperatingPoint, stops: bool = True) -> Car:
    """Give the linear car that answers to small changes as this one does where it stands.

    Args:
        stops: False: as if no stop were touched, which is what a car is often taken for.

    Returns:
        Without corners, for `statics`. Its perches have the lead that turns have in effect: a
        perch pushes by its spring alone, against all that holds the corner.

    References:
        Wheel rate k_s·MR² + F·dMR/dz: D. C. Barton, J. D. Fieldhouse, *Automotive Chassis
        Engineering*, Springer 2018, eqs. 3.29-3.33.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.adjusters import cornered
        >>> point = operating_point(cornered(plain_car()), np.full(4, 2450.0))
        >>> linear(point).spring_rate.round().tolist()
        [70000.0, 70000.0, 60000.0, 60000.0]
    """
    here, rates, leverages, pushes = np.zeros(()), [], [], []
    for number, (corner, ratio) in enumerate(zip(point.car.corners, point.ratios, strict=True)):
        spring, shock = point.compression[number], point.shock[number]
        leverage = float(ratio.value(here))
        rate = float(corner.spring.slope(spring))
        pushes.append(rate)
        axial = _axial(point, number) if stops else float(corner.spring.force(spring))
        if stops:
            rate += float(corner.bump.slope(shock - corner.bump_at))
            rate += corner.droop_rate if shock < 0 else 0.0
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


def linear_at(car: Car, loads: Floats) -> Car:
    """Give a linear car for small changes from these loads; a car without corners as it is.

    Args:
        loads: (4,) [N].

    Examples:
        >>> from balancer.car.model import plain_car
        >>> car = plain_car()
        >>> linear_at(car, np.full(4, 2450.0)) is car
        True
    """
    return linear(operating_point(car, loads)) if car.corners else car


def odd_preloads(car: Car, loads: Floats, beyond: float = 3e-3) -> dict[str, float]:
    """Find corners whose measured shock travel does not fit preload, rate and ratio.

    Args:
        car: As its file has it.
        loads: (4,), as weighed [N].
        beyond: What is not worth a word [m]; common practice, no published source.

    Returns:
        By corner, the shock travel that the others say [m].

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.adjusters import cornered
        >>> car = cornered(plain_car())
        >>> said = [one._replace(preload=0.01, shock_travel=0.03) for one in car.corners]
        >>> odd = odd_preloads(replace(car, corners=tuple(said)), np.full(4, 2450.0))
        >>> round(odd["LF"], 6)
        0.04
    """
    odd = {}
    if car.corners:
        point = operating_point(car, loads)
        for place, corner in enumerate(car.corners):
            said = float(point.compression[place]) - corner.preload
            if corner.shock_travel > 0 and abs(said - corner.shock_travel) > beyond:
                odd[CORNERS[place]] = said
    return odd


def _axial(point: OperatingPoint, number: int) -> float:
    """Give what spring and stops of a corner push along its shock."""
    corner, shock = point.car.corners[number], float(point.shock[number])
    axial = float(corner.spring.force(point.compression[number]))
    axial += float(corner.bump.force(point.shock[number] - corner.bump_at))
    return axial + corner.droop_rate * min(shock, 0.0)
