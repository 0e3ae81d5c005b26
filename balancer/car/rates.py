"""All rates of a car: to name them, and to scale what a belief says of them."""

from dataclasses import replace

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.curves import RatioCurve
from balancer.car.model import Car


def rates_of(car: Car) -> Floats:
    """Give all numbers on which it depends how a car answers to turns, in one row.

    Returns:
        (n,), of mixed units.
    """
    rates = [
        car.tracks, car.spring_rate, car.motion_ratio, car.tire_rate, car.perch_lead, car.bar_rate,
        np.array([car.torsional_stiffness]),
    ]  # fmt: skip
    for corner in car.corners:
        spring, ratio, bump = corner.spring, corner.ratio, corner.bump
        rates += [
            spring.at, spring.rate, spring.ramp, ratio.at, ratio.ratio,
            bump.at, bump.rate, bump.ramp, np.array([corner.bump_at]),
        ]  # fmt: skip
    return np.concatenate(rates)


def with_rates(car: Car, springs: Floats, ratios: Floats, stiffer: float = 1.0) -> Car:
    """Give a car with other spring rates and motion ratios, and all else that gives way scaled.

    Args:
        springs: (4,), spring rates [N/m]; those of a curve go in proportion.
        ratios: (4,), motion ratios [1]; likewise.
        stiffer: Factor on tires, bars and chassis, as a ratio.

    Returns:
        With stops as they are.
    """
    corners = []
    for index, corner in enumerate(car.corners):
        spring = springs[index] / car.spring_rate[index]
        ratio = ratios[index] / car.motion_ratio[index]
        corners.append(
            corner._replace(
                spring=corner.spring.stiffer(spring),
                ratio=RatioCurve(corner.ratio.at, ratio * corner.ratio.ratio),
            )
        )
    return replace(
        car,
        motion_ratio=ratios,
        spring_rate=springs,
        corners=tuple(corners),
        links=tuple(link._replace(rate=stiffer * link.rate) for link in car.links),
        tire_rate=stiffer * car.tire_rate,
        bar_rate=stiffer * car.bar_rate,
        torsional_stiffness=stiffer * car.torsional_stiffness,
    )
