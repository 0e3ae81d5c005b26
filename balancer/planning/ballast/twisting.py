"""Places for which the ballast program is not exact: rectangles on a chassis that twists.

Such a chassis answers a side moment by where along it the mass sits: a product of two unknowns.
Shrunk to one station a place is exact; with its mass spread over all of it, it is a bound.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product

import numpy as np

from balancer.car.body import twists
from balancer.car.conventions import GRAVITY, Floats
from balancer.car.leaning import leaned_loads
from balancer.car.model import Car
from balancer.planning.ballast.outcome import BallastItem
from balancer.planning.ballast.program import Program, wider
from balancer.planning.solver import LinearConstraint

_MOST_MIXED = 2
"""Up to so many places every mix of their middles and ends is tried."""


def inexact_places(car: Car) -> list[int]:
    """Give the places where it matters to the wheels how far aft along them the mass sits."""
    if not twists(car):
        return []
    inexact = []
    for index, place in enumerate(car.places):
        low, high = np.clip(place.aft, 0, car.wheelbase)
        line = place.left[0] == place.left[1] and (low, high) == place.aft
        if any(place.left) and low < high and not line:
            inexact.append(index)
    return inexact


def spread(car: Car, program: Program, inexact: Sequence[int], loads: Floats) -> Program:
    """Let the mass at such places lie anywhere in them at once, which no ballast can better.

    What mass spread over a rectangle does at the wheels lies between what it does at the corners
    and where the rectangle passes an axle.

    Args:
        program: For the places of the car.
        inexact: Which of them are such.
        loads: (4,), as in `program.build` [N].
    """
    for index in inexact:
        place, own = car.places[index], program
        edges = {*place.aft, *np.clip((0.0, car.wheelbase), *place.aft).tolist()}
        spots = np.array(list(product(sorted(edges), sorted(set(place.left)))))
        number = len(spots)
        sums = [own.mass[index], own.aft_moment[index], own.left_moment[index]]
        parts = np.vstack([np.ones(number), spots.T])
        there = np.hstack([np.array(sums), -parts])
        wheels = own.wheels * (np.abs(sums).sum(axis=0) == 0)
        columns = [leaned_loads(car, loads, 1.0, *spot) / GRAVITY for spot in spots.tolist()]
        none = np.zeros((len(own.mass), number))
        program = own._replace(
            mass=np.hstack([own.mass, none]),
            aft_moment=np.hstack([own.aft_moment, none]),
            left_moment=np.hstack([own.left_moment, none]),
            wheels=np.hstack([wheels, np.transpose(columns)]),
            least=np.append(own.least, np.zeros(number)),
            most=np.append(own.most, np.full(number, np.inf)),
            whole=np.append(own.whole, np.zeros(number)),
            limits=[*(wider(limit, number) for limit in own.limits), LinearConstraint(there, 0, 0)],
        )
    return program


def at_stations(car: Car, items: Sequence[BallastItem], inexact: Sequence[int]) -> Iterator[Car]:
    """Give the car with each such place shrunk to one station: as planned, its middle and ends.

    Args:
        items: As planned.
        inexact: Which places are such.
    """
    planned = {item.place: item.aft for item in items}
    places = [car.places[index] for index in inexact]
    levels = [(place.aft[0], sum(place.aft) / 2, place.aft[1]) for place in places]
    own = tuple(
        planned.get(place.name, middle)
        for place, (_, middle, _) in zip(places, levels, strict=True)
    )
    mixed = product(*levels) if len(places) <= _MOST_MIXED else zip(*levels, strict=True)
    for stations in (own, *mixed):
        shrunk = list(car.places)
        for index, aft in zip(inexact, stations, strict=True):
            shrunk[index] = shrunk[index]._replace(aft=(aft, aft))
        yield replace(car, places=tuple(shrunk))
