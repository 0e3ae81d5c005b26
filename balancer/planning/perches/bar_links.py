"""Anti-roll bars: the link length at which a bar goes on without load, and what an error costs."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from balancer.car.adjusters import Moves
from balancer.car.conventions import Floats
from balancer.car.equilibrium import solve_equilibrium
from balancer.car.model import Car, Item
from balancer.car.undone import standing
from balancer.planning.perches.question import PerchMoves
from balancer.weighing.uncertainty import cross_of

_ERROR = 1e-3
"""Of a link, by which its cost is measured [m]."""


class BarFit(NamedTuple):
    """How the bar of an axle goes on.

    Attributes:
        axle: 0 front, 1 rear.
        longer: How much longer the left link is to be than now, so that the bar carries nothing
            [m].
        turns: The same at the link [turn]; NaN where it can't be turned.
        cross: Cross weight with the bars on so, as a fraction.
        cross_per_meter: What a left link longer than that does to it [1/m].
    """

    axle: int
    longer: float
    turns: float
    cross: float
    cross_per_meter: float


def bar_fits(
    car: Car,
    loads: Floats,
    moves: PerchMoves | None = None,
    put_on: Sequence[Item] = (),
    taken_off: Sequence[Item] = (),
) -> tuple[BarFit, ...]:
    """Find the link lengths at which the bars go on without load.

    Args:
        loads: (4,), the loads now [N].
        moves: Turns made before the bars go on.
        put_on, taken_off: What else changes before: from as weighed to race trim.

    Returns:
        One for each axle with a bar; none for a car whose file says nothing of links.

    References:
        Derived here; held against a simulated car in tests/oracles.
    """
    if not any(link.rate for link in car.links):
        return ()
    point = standing(car, loads)
    perch, mounts = np.zeros(4), np.zeros(4, dtype=bool)
    if moves is not None:
        perch, mounts = moves.perch, mounts if moves.mounts is None else moves.mounts

    def equilibrium(rates: Floats, longer: Floats) -> tuple[Floats, float]:
        bars = replace(point, bar_rate=rates)
        moved = Moves(np.atleast_2d(perch * ~mounts), np.atleast_2d(perch * mounts), longer[None])
        after = solve_equilibrium(bars, moved, put_on=put_on, taken_off=taken_off)
        return after.travel[0], cross_of(after.loads[0])

    travel, _ = equilibrium(np.zeros(2), np.zeros(2))
    ratio = np.array([link.ratio for link in car.links])
    neutral = -ratio * (point.misfit + travel[[0, 2]] - travel[[1, 3]])
    rates = np.array([link.rate for link in car.links])
    _, cross = equilibrium(rates, neutral)
    fits = []
    for axle in np.flatnonzero(rates).tolist():
        link = car.links[axle]
        _, off = equilibrium(rates, neutral + link.way * _ERROR * np.eye(2)[axle])
        longer = link.way * float(neutral[axle])
        turns = longer / link.lead
        fits.append(BarFit(axle, longer, turns, cross, (off - cross) / _ERROR))
    return tuple(fits)
