"""A session on a car that is not linear: what turns came to, for a belief that thinks linearly.

The belief scales what turns do. Where a stop or a tender makes them do more or less than the rates
at the start say, that is known and nothing to learn from: turns are counted by what they come to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import nan

import numpy as np

from balancer.car.adjusters import moved, on_mounts
from balancer.car.conventions import Floats
from balancer.car.equilibrium import Moves, solve_equilibrium
from balancer.car.linear import free_pattern, lift, load_change
from balancer.car.linearization import linear
from balancer.car.model import Car
from balancer.car.operating_point import anchored, operating_point
from balancer.errors import OperatingPointError

_LITTLE = 0.02
"""A part of the answer to all turns one way, below which turns are taken as they are."""


def taken_linear(car: Car, loads: Floats) -> Car:
    """Give the linear car that a belief is about: springs as they stand, no stops.

    Args:
        loads: (4,), of the first weigh-in [N].

    Returns:
        The same one where it is linear; its perches have the lead of the right adjuster of each
        corner.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> car = plain_car()
        >>> taken_linear(car, np.full(4, 2450.0)) is car
        True
    """
    if not car.corners:
        return car
    return replace(linear(operating_point(car, loads), stops=False), perch_lead=_lead(car))


def as_turned(car: Car, loads: Floats, made: Sequence[Floats]) -> Car:
    """Give a car as it stands after turns.

    Args:
        car: As its file has it.
        loads: (4,), before any of them [N].
        made: sequence of array (4,)

    Returns:
        Anchored; the same one where it is linear.

    Raises:
        OperatingPointError: As `operating_point.standing`, but not where a shock said to be
            topped out is not quite.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> car = plain_car()
        >>> as_turned(car, np.full(4, 2450.0), []) is car
        True
    """
    if not car.corners:
        return car
    turns = np.sum(made, axis=0) if len(made) else np.zeros(4)
    try:
        tied = anchored(car, loads)
    except OperatingPointError:
        # Rates as they are believed to be may not hold a shock topped out that the file's do: then
        # preload is believed, and not that it is.
        corners = [
            one if one.shock_travel > 0 else one._replace(shock_travel=nan) for one in car.corners
        ]
        tied = anchored(replace(car, corners=tuple(corners)), loads)
    return moved(tied, *split(car, turns))


def loads_before(car: Car, loads: Floats, made: Floats) -> Floats:
    """Turn turns back: give the loads that a car had before them.

    Args:
        car: As its file has it.
        loads: (4,), after them [N].
        made: (4,), turns.

    Returns:
        (4,) [N]; the same ones where nothing was turned or the car is linear.

    Raises:
        OperatingPointError: As `as_turned`.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> loads_before(plain_car(), np.full(4, 2450.0), np.zeros(4)).tolist()
        [2450.0, 2450.0, 2450.0, 2450.0]
    """
    if not car.corners or not made.any():
        return loads
    perch, mount = split(car, -made)
    point = operating_point(as_turned(car, loads, []), loads)
    moves = Moves(perch[None], mount[None], np.zeros((1, 2)))
    return np.asarray(solve_equilibrium(point, moves).loads[0])


def effective(car: Car, loads: Sequence[Floats], made: Sequence[Floats]) -> list[Floats]:
    """Count turns by what they come to on the real corners.

    Args:
        car: As its file has it.
        loads: sequence of array (4,), before each set of turns [N].
        made: sequence of array (4,), sets of turns.

    Returns:
        list of array (4,), those that do as much on the car `taken_linear`.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> made = [np.array([1.0, 0.0, 0.0, 0.0])]
        >>> effective(plain_car(), [np.full(4, 2450.0)], made)[0].tolist()
        [1.0, 0.0, 0.0, 0.0]
    """
    if not car.corners:
        return list(made)
    simple = taken_linear(car, loads[0])
    return [
        came_to(car, simple, as_turned(car, loads[0], made[:number]), loads[number], turns)
        for number, turns in enumerate(made)
    ]


def came_to(car: Car, simple: Car, before: Car, loads: Floats, turns: Floats) -> Floats:
    """Count one set of turns by what it comes to on the real corners.

    Args:
        car: As its file has it.
        simple: The same as `taken_linear`.
        before: The same `as_turned` until then.
        loads: (4,), before these turns [N].
        turns: (4,)

    Returns:
        (4,), those that do as much on the simple car; the same ones where the car is linear.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> car, turns = plain_car(), np.array([1.0, 0.0, 0.0, 0.0])
        >>> came_to(car, car, car, np.full(4, 2450.0), turns) is turns
        True
    """
    if not car.corners:
        return turns
    pattern = free_pattern(car.tracks)
    perch, mount = split(before, turns)
    point = operating_point(before, loads)
    moves = Moves(perch[None], mount[None], np.zeros((1, 2)))
    really = pattern @ (solve_equilibrium(point, moves).loads[0] - point.loads)
    thought = [load_change(simple, lift(simple, one)) @ pattern for one in np.diag(perch + mount)]
    answer, all_one_way = sum(thought), np.abs(thought).sum()
    sure = abs(answer) > _LITTLE * all_one_way
    return turns * (really / answer) if sure else turns


def split(car: Car, turns: Floats) -> tuple[Floats, Floats]:
    """Say what turns at the right adjuster of each corner move: perches and mounts.

    Args:
        car: With corners.
        turns: (4,)

    Returns:
        tuple of array (4,) [m].

    Examples:
        >>> from dataclasses import replace
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.corner import Mount
        >>> from balancer.car.adjusters import cornered
        >>> car = cornered(plain_car())
        >>> full = [one._replace(mount=Mount(1e-3)) for one in car.corners]
        >>> split(replace(car, corners=tuple(full)), np.array([2.0, 0, 0, 0]))[1].tolist()
        [0.002, 0.0, 0.0, 0.0]
    """
    mounts = on_mounts(car)
    lengths = turns * np.nan_to_num(_lead(car))
    return lengths * ~mounts, lengths * mounts


def _lead(car: Car) -> Floats:
    """Give the lead of the right adjuster of each corner [m]."""
    return np.where(on_mounts(car), [one.mount.lead for one in car.corners], car.perch_lead)
