"""A session on a car that is not linear: what turns came to, for a belief that thinks linearly.

The belief scales what turns do. Where a stop or a tender makes them do more or less than the rates
at the start say, that is known and nothing to learn from: turns are counted by what they come to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import nan

import numpy as np

from balancer.car.adjusters import moved, on_mounts, with_travel_spent
from balancer.car.conventions import Floats
from balancer.car.equilibrium import Moves, solve_equilibrium
from balancer.car.linear import free_pattern, lift, load_change
from balancer.car.linearization import linear
from balancer.car.model import Car
from balancer.car.operating_point import OperatingPoint, anchored, operating_point
from balancer.errors import OperatingPointError

_LITTLE = 0.02
"""A part of the answer to all turns one way, below which turns are taken as they are."""


def linear_car(car: Car, loads: Floats) -> Car:
    """Give the linear car that a belief is about: springs as they stand, no stops.

    Args:
        loads: (4,), of the first weigh-in [N].

    Returns:
        The same one where it is linear; its perches have the lead of the right adjuster of each
        corner.
    """
    if not car.corners:
        return car
    return replace(linear(operating_point(car, loads), stops=False), perch_lead=_lead(car))


def with_turns(car: Car, loads: Floats, made: Sequence[Floats]) -> Car:
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
    """
    if not car.corners:
        return car
    try:
        tied = anchored(car, loads)
    except OperatingPointError:
        # Rates as they are believed to be may not hold a shock topped out that the file's do: then
        # preload is believed, and not that it is.
        corners = [
            corner if corner.shock_travel > 0 else corner._replace(shock_travel=nan)
            for corner in car.corners
        ]
        tied = anchored(replace(car, corners=tuple(corners)), loads)
    return moved(tied, *_moves(car, _sum(made)))


def with_travel_left(car: Car, made: Sequence[Floats]) -> Car:
    """Take what has been turned off the travel that is left.

    Args:
        made: sequence of array (4,)
    """
    return with_travel_spent(car, _sum(made))


def loads_before(car: Car, loads: Floats, made: Floats) -> Floats:
    """Turn turns back: give the loads that a car had before them.

    Args:
        car: As its file has it.
        loads: (4,), after them [N].
        made: (4,), turns.

    Returns:
        (4,) [N]; the same ones where nothing was turned or the car is linear.

    Raises:
        OperatingPointError: As `with_turns`.
    """
    if not car.corners or not made.any():
        return loads
    lengths = _moves(car, -made)
    return _loads_after(operating_point(with_turns(car, loads, []), loads), *lengths)


def effective_turns(car: Car, simple: Car, before: Car, loads: Floats, turns: Floats) -> Floats:
    """Count one set of turns by what it comes to on the real corners.

    Args:
        car: As its file has it.
        simple: The same as `linear_car`.
        before: The same `with_turns` until then.
        loads: (4,), before these turns [N].
        turns: (4,)

    Returns:
        (4,), those that do as much on the simple car; the same ones where the car is linear.
    """
    if not car.corners:
        return turns
    pattern = free_pattern(car.tracks)
    perch, mount = _moves(before, turns)
    point = operating_point(before, loads)
    really = pattern @ (_loads_after(point, perch, mount) - point.loads)
    singly = [load_change(simple, lift(simple, move)) @ pattern for move in np.diag(perch + mount)]
    answer, all_one_way = sum(singly), np.abs(singly).sum()
    sure = abs(answer) > _LITTLE * all_one_way
    return turns * (really / answer) if sure else turns


def _loads_after(point: OperatingPoint, perch: Floats, mount: Floats) -> Floats:
    moves = Moves(perch[None], mount[None], np.zeros((1, 2)))
    return np.asarray(solve_equilibrium(point, moves).loads[0])


def _sum(made: Sequence[Floats]) -> Floats:
    return np.asarray(np.sum(made, axis=0)) if len(made) else np.zeros(4)


def _moves(car: Car, turns: Floats) -> tuple[Floats, Floats]:
    """Say what turns at the right adjuster of each corner move: perches and mounts [m]."""
    mounts = on_mounts(car)
    lengths = turns * np.nan_to_num(_lead(car))
    return lengths * ~mounts, lengths * mounts


def _lead(car: Car) -> Floats:
    """Give the lead of the right adjuster of each corner [m]."""
    return np.where(on_mounts(car), [corner.mount.lead for corner in car.corners], car.perch_lead)
