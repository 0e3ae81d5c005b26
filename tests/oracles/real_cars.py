"""Cars on real corners for the package, drawn at random or written down from a simulated one."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.corner import Corner, Link, Mount
from balancer.car.curves import NOTHING, ForceCurve, RatioCurve, ramps, with_tender
from balancer.car.model import Car
from tests.cars import constant
from tests.conftest import random_car, random_loads
from tests.oracles.stopped_car import Measured, StoppedCar

SWEEP = np.linspace(-0.03, 0.03, 13)


def law_of(rate: float | tuple[tuple[float, float], ...]) -> ForceCurve:
    """Give a law of a rate or of rows (compression from which, rate)."""
    rows = rate if isinstance(rate, tuple) else ((0.0, rate),)
    at, rates = np.array(rows, dtype=float).T
    return ForceCurve(at, rates)


def written_down(car: StoppedCar, measured: Measured) -> Car:
    """Write the car file of a simulated car from what a person can measure of it."""
    corners = []
    for i in range(4):
        spring, solid = law_of(car.spring_table[i] or car.spring_rate[i]), inf
        if car.tender_rate[i]:
            solid = spring.compression(car.tender_rate[i] * car.tender_travel[i])
            solid += car.tender_travel[i]
            spring = with_tender(spring, car.tender_rate[i], car.tender_travel[i])
        corners.append(
            Corner(
                spring=spring,
                ratio=RatioCurve(measured.travels, measured.motion_ratios[i]),
                droop_rate=car.droop_rate,
                bump=law_of(car.bump_rate[i]) if np.isfinite(measured.bump_stop[i]) else NOTHING,
                bump_at=float(measured.bump_stop[i]),
                preload=float(measured.preload[i]),
                shock_travel=max(float(measured.rest.shock_travel[i]), 0.0),
                solid=solid,
            )
        )
    links = tuple(
        Link(rate, ratio=ratio, twist=twist * ratio)
        for rate, ratio, twist in zip(
            car.bar_rate, car.link_ratio, measured.bar_twist.tolist(), strict=True
        )
    )
    return Car(
        name="simulated car",
        wheelbase=car.wheelbase,
        tracks=np.array(car.tracks),
        spring_rate=np.array(car.spring_rate),
        motion_ratio=measured.motion_ratio,
        tire_rate=np.array(car.tire_rate),
        unsprung_mass=np.array(car.unsprung_mass),
        bar_rate=np.array(car.bar_rate),
        perch_lead=np.full(4, 1.5e-3),
        perch_step=np.full(4, 0.25),
        perch_travel=np.tile([-10.0, 10.0], (4, 1)),
        cg_up=float(measured.cg[2]),
        corners=tuple(corners),
        links=links,
    )


class RealCar(NamedTuple):
    """A car on real corners, what it stands under, and its springs taken apart.

    Attributes
    ----------
    car : Car
    loads : array (4,)
        [N].
    mains : list of ForceCurve
    tenders : array (4, 2)
        Rate [N/m] and travel to solid [m]; zeros where there is none.
    """

    car: Car
    loads: Floats
    mains: list[ForceCurve]
    tenders: Floats


def random_real_car(seed: int, constant_ratio: bool = False) -> RealCar:
    """Draw a car on real corners and the loads that it stands under."""
    rng = np.random.default_rng([seed, 5])
    car, loads = random_car(rng, rigid=seed % 5 == 0), random_loads(rng)
    corners, mains, tenders = [], [], np.zeros((4, 2))
    for i in range(4):
        spring, solid = constant(float(car.spring_rate[i])), inf
        kind = rng.integers(6)
        if kind == 0:
            rates = car.spring_rate[i] * np.array([1.0, 1.6])
            at = np.array([0.0, rng.uniform(0.01, 0.05)])
            spring = ramps(at, rates) if seed % 2 else ForceCurve(at, rates)
        mains.append(spring)
        axial = loads[i] / car.motion_ratio[i]
        if kind == 1:
            rate = float(car.spring_rate[i]) * rng.uniform(0.4, 1.2)
            travel = (axial + rng.uniform(-400, 400)) / rate
            tenders[i] = rate, travel
            solid = spring.compression(rate * travel) + travel
            spring = with_tender(spring, rate, travel)
        shock = rng.uniform(0.0, 0.04)
        bump, bump_at, preload = NOTHING, inf, nan
        if kind == 2:
            bump, bump_at = constant(rng.uniform(50e3, 300e3)), shock + rng.uniform(-1e-3, 3e-3)
        if kind == 3:
            shock, preload = 0.0, spring.compression(axial + rng.uniform(10, 500))
        ratio = RatioCurve(np.zeros(1), car.motion_ratio[[i]])
        if kind == 4 and not constant_ratio:
            change = car.motion_ratio[i] * rng.uniform(0.9, 1.1, 2)
            three = np.array([change[0], car.motion_ratio[i], change[1]])
            ratio = RatioCurve(np.array([-0.03, 0.0, 0.03]), three)
        mount = Mount()
        if seed % 3 == 0 and rng.random() < 0.5:
            mount = Mount(1e-3, 0.5, (-8.0, 8.0))
        corners.append(
            Corner(
                spring=spring,
                ratio=ratio,
                bump=bump,
                bump_at=bump_at,
                preload=preload,
                shock_travel=shock,
                droop_rate=5e6 if seed % 7 == 2 else inf,
                solid=solid,
                mount=mount,
            )
        )
    barred = seed % 4 == 1
    links = tuple(
        Link(
            rate=float(rng.uniform(5e3, 25e3)) if barred else 0.0,
            ratio=float(rng.uniform(0.4, 1.0)),
            twist=float(rng.uniform(-2e-3, 2e-3)),
            lead=1e-3,
            travel=(-4.0, 4.0),
        )
        for _ in range(2)
    )
    car = replace(
        car,
        cg_up=float(rng.uniform(0.3, 0.55)),
        torsional_stiffness=float(rng.uniform(1e5, 6e5)) if seed % 2 else inf,
        corners=tuple(corners),
        links=links,
    )
    return RealCar(car, loads, mains, tenders)
