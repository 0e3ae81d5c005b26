"""Random cars for stopped_car.py."""

from dataclasses import replace
from math import inf
from typing import Any

import numpy as np

from tests.oracles import Numbers, linkage_car
from tests.oracles.linkage_car import LINK_LENGTH, SPRING_LENGTH, Four, LinkageCar
from tests.oracles.stopped_car import StoppedCar, solve_equilibrium
from tests.oracles.stopped_model import FAR, compression_under


def stopped(car: LinkageCar, **changes: Any) -> StoppedCar:
    """The same car on coilovers, with these fields of StoppedCar."""
    fields = {name: getattr(car, name) for name in LinkageCar.__dataclass_fields__}
    return StoppedCar(**(fields | changes))


def random_stopped_car(rng: np.random.Generator) -> StoppedCar:
    """Draw a light track car with at least one corner out of its linear range, or close to it.

    Parameters
    ----------
    rng : numpy.random.Generator
        The same seed gives the same car.

    Returns
    -------
    StoppedCar
        A car of linkage_car.random_car with, each by chance: corners topped out by 50-600 N at the
        spring more than they need; bump stops touched by up to 2 mm or 0-4 mm away; tenders
        20-300 N short of solid or beyond; bars with link preload; ratios that fall by up to 8 %
        or rise by up to 3 % in 30 mm of bump; progressive springs.
    """
    car = stopped(linkage_car.random_car(rng))
    topped, bumped, tender, barred, changing, progressive = rng.random(6) < 0.4
    if not (topped or bumped or tender):
        topped, bumped, tender = np.eye(3, dtype=bool)[rng.integers(3)]
    car = replace(car, shock_travel=_four(rng.uniform(0.03, 0.06, 4)))
    if changing:
        change = np.repeat(rng.uniform(-0.08, 0.03, 2) / 0.03, 2)
        car = replace(car, seat_up=_four(_seat_up(car, change)))
    if barred:
        car = replace(
            car,
            bar_rate=tuple(rng.uniform(5e3, 25e3, 2).tolist()),
            link_ratio=tuple(rng.uniform(0.4, 0.9, 2).tolist()),
            link_longer=tuple(rng.uniform(-3e-3, 3e-3, 2).tolist()),
        )
    if tender:
        car = _with_tenders(car, rng)
    elif progressive:
        car = _with_progressive_springs(car, rng)
    if bumped:
        car = _with_bump_stops(car, rng)
    return _topped_out(car, rng) if topped else car


def _seat_up(car: StoppedCar, change: np.ndarray) -> np.ndarray:
    """Where seats must lie for about this relative change of motion ratio with travel [1/m].

    A shock that leans with travel loses ratio, so it can't rise by more than a certain amount.
    """
    lost = np.maximum(-change * car.motion_ratio * LINK_LENGTH**2, -0.2 * SPRING_LENGTH)
    return SPRING_LENGTH / 2.0 * (np.sqrt(1.0 + 4.0 * lost / SPRING_LENGTH) - 1.0)


def _with_tenders(car: StoppedCar, rng: np.random.Generator) -> StoppedCar:
    """Tenders on one axle or both, each just open or just solid."""
    axles = np.repeat(_some(rng, 2), 2)
    main = np.array(car.spring_rate) * np.where(axles, np.repeat(rng.uniform(1.3, 1.6, 2), 2), 1.0)
    rate = np.repeat(rng.uniform(0.6, 1.5, 2), 2) * main * axles
    car = replace(car, spring_rate=_four(main), tender_rate=_four(rate), tender_travel=(FAR,) * 4)
    force = solve_equilibrium(car).spring_force + rng.choice([-1.0, 1.0], 4) * rng.uniform(
        20.0, 300.0, 4
    )
    travel = np.where(axles, np.maximum(force, 50.0) / np.where(axles, rate, 1.0), 0.0)
    return replace(car, tender_travel=_four(travel))


def _with_progressive_springs(car: StoppedCar, rng: np.random.Generator) -> StoppedCar:
    """All four springs rise by 10-60 % within 6 mm of where they stand."""
    compression = solve_equilibrium(car).spring_compression + rng.uniform(-6e-3, 6e-3, 4)
    knee = np.maximum(compression, 2e-3)
    rise = rng.uniform(1.1, 1.6, 4) * car.spring_rate
    tables = (
        ((0.0, low), (at, high)) for low, at, high in zip(car.spring_rate, knee, rise, strict=True)
    )
    return replace(car, spring_table=tuple(tables))


def _with_bump_stops(car: StoppedCar, rng: np.random.Generator) -> StoppedCar:
    """Bump stops at some corners, touched or a few mm away."""
    gap = rng.uniform(-2e-3, 4e-3, 4)
    at = np.where(_some(rng, 4), solve_equilibrium(car).shock_travel + gap, inf)
    soft = rng.uniform(40e3, 120e3, 4)
    rates = [
        float(rate) if rng.random() < 0.5 else ((0.0, rate), (3e-3, 3 * rate), (8e-3, 8 * rate))
        for rate in soft
    ]
    return replace(car, bump_stop=_four(at), bump_rate=tuple(rates))


def _topped_out(car: StoppedCar, rng: np.random.Generator) -> StoppedCar:
    """Shocks at full extension where some corners stand, and more spring than they need."""
    rest, corners = solve_equilibrium(car), _some(rng, 4) & np.isinf(car.bump_stop)
    if not corners.any():
        corners = np.arange(4) == rng.integers(4)
    excess = rng.uniform(50.0, 600.0, 4)
    rise = np.array(
        [
            compression_under(car, i, rest.spring_force[i] + excess[i])
            - compression_under(car, i, rest.spring_force[i])
            for i in range(4)
        ]
    )
    return replace(
        car,
        shock_travel=_four(car.shock_travel - corners * rest.shock_travel),
        bump_stop=_four(np.where(corners, car.bump_stop - rest.shock_travel, car.bump_stop)),
        misset=_four(car.misset + corners * rise),
    )


def _some(rng: np.random.Generator, of: int) -> np.ndarray:
    """At least one True."""
    chosen = rng.random(of) < 0.5
    chosen[rng.integers(of)] = True
    return chosen


def _four(values: Numbers) -> Four:
    first, second, third, fourth = np.asarray(values).tolist()
    return first, second, third, fourth
