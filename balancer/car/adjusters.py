"""What is turned at a corner, how far it can still go, and the car after it was turned."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite

import numpy as np

from balancer.car.conventions import Flags, Floats
from balancer.car.corner import Corner
from balancer.car.curves import ForceCurve, RatioCurve
from balancer.car.model import Car


def cornered(car: Car) -> Car:
    """Describe the corners of a linear car, whose dampers never run out of travel.

    Returns:
        With corners: springs that only push; each shock tops out where its spring goes loose.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> cornered(plain_car()).corners[0].spring.rate.tolist()
        [70000.0]
    """
    corners = (
        Corner(
            ForceCurve(np.zeros(1), np.array([rate])), RatioCurve(np.zeros(1), np.array([ratio]))
        )
        for rate, ratio in zip(car.spring_rate.tolist(), car.motion_ratio.tolist(), strict=True)
    )
    return replace(car, corners=tuple(corners))


def on_mounts(car: Car) -> Flags:
    """Say at which corners the lower mount is the right adjuster.

    Returns:
        (4,) of bool.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> on_mounts(plain_car()).any()
        np.False_
    """
    return np.array([isfinite(one.mount.lead) for one in car.corners] or [False] * 4)


def adjuster_travel(car: Car) -> Floats:
    """Give the turns left, down and up, at the right adjuster of each corner.

    Returns:
        (4, 2)

    Examples:
        >>> from balancer.car.model import plain_car
        >>> adjuster_travel(plain_car())[0].tolist()
        [-10.0, 10.0]
    """
    if not car.corners:
        return car.perch_travel
    mounts = np.array([corner.mount.travel for corner in car.corners])
    return np.where(on_mounts(car)[:, None], mounts, car.perch_travel)


def with_travel_spent(car: Car, spent: Floats) -> Car:
    """Take turns that were made off the travel that is left.

    Args:
        spent: (4,), at the right adjuster of each corner [turn].

    Examples:
        >>> from balancer.car.model import plain_car
        >>> with_travel_spent(plain_car(), np.array([2.0, 0, 0, 0])).perch_travel[0].tolist()
        [-12.0, 8.0]
    """
    mounts = on_mounts(car)
    travel = car.perch_travel - np.where(mounts, 0.0, spent)[:, None]
    left = np.column_stack([travel[:, 0].clip(max=0), travel[:, 1].clip(min=0)])
    corners = []
    for corner, turns, mounted in zip(car.corners, spent.tolist(), mounts, strict=False):
        down, up = corner.mount.travel
        less = min(down - turns, 0.0), max(up - turns, 0.0)
        mount = corner.mount._replace(travel=less) if mounted else corner.mount
        corners.append(corner._replace(mount=mount))
    return replace(car, perch_travel=left, corners=tuple(corners))


def moved(car: Car, perch: Floats, mount: Floats) -> Car:
    """Give an anchored car after its perches and lower mounts were moved.

    Args:
        car: See `operating_point.anchored`; a car without corners stays as it is.
        perch, mount: (4,) [m].

    Returns:
        With other preloads where perches were moved, other ratios where mounts were.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> car = cornered(plain_car())
        >>> tied = [one._replace(preload=0.02, anchored=True) for one in car.corners]
        >>> up = np.array([3e-3, 0, 0, 0])
        >>> after = moved(replace(car, corners=tuple(tied)), up, np.zeros(4))
        >>> round(after.corners[0].preload, 6)
        0.023
    """
    corners, lower = [], np.zeros(4)
    for index, (corner, raised) in enumerate(zip(car.corners, perch.tolist(), strict=False)):
        # A longer unit lets the wheel hang lower at full droop.
        lower[index] = -corner.ratio.travel(-float(mount[index]))
        ratio = corner.ratio.shifted(-lower[index]) if lower[index] else corner.ratio
        corners.append(corner._replace(preload=corner.preload + raised, ratio=ratio))
    links = [
        link._replace(misfit=link.misfit - link.ratio * float(left - right))
        for link, left, right in zip(car.links, lower[::2], lower[1::2], strict=False)
    ]
    return replace(car, corners=tuple(corners), links=tuple(links))


def scaled(car: Car, springs: Floats, ratios: Floats) -> tuple[Corner, ...]:
    """Give the corners of a car whose spring rates and motion ratios are by factors what they were.

    Args:
        springs, ratios: (4,), factors [1].

    Returns:
        Stops as they are.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> scaled(cornered(plain_car()), np.full(4, 2.0), np.ones(4))[0].spring.rate.tolist()
        [140000.0]
    """
    return tuple(
        corner._replace(
            spring=ForceCurve(corner.spring.at, spring * corner.spring.rate),
            ratio=RatioCurve(corner.ratio.at, ratio * corner.ratio.ratio),
        )
        for corner, spring, ratio in zip(car.corners, springs, ratios, strict=False)
    )
