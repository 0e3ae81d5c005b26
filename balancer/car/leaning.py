"""Loads of a linear car whose center of gravity is known to be high: as it leans, it leans on.

A body that leans carries its weight sideways, the farther the higher it is. That is worth little
beside what leans it, and is had in the same solve: weight times height is taken off the stiffness
in pitch and in roll, as it is for heights. The total stays, and the moments are those about the
center of gravity where it has moved to. A car of which `cg_up` is not known answers as in `linear`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from balancer.car.body import leaning_arms, leaning_weight, twists, weight_arms
from balancer.car.conventions import GRAVITY, Floats
from balancer.car.linear import compliance, free_pattern, lift, load_change
from balancer.car.model import Car, Item
from balancer.car.resting import added_loads, at_rest

_ROUNDS = 4
"""After which the axle loads of a bare car are found to the last digits."""


_LITTLE = 0.02
"""A part of the answer to all turns one way, below which turns are taken as they are."""


class Masses(NamedTuple):
    """What is on board, one a row; for many cars (k, m) each.

    Attributes:
        mass: (k,) [kg].
        aft, left: (k,), where it is [m].
        up: (k,) [m]; 0: not known, and taken to be as high as the center of gravity of the car.
    """

    mass: Floats
    aft: Floats
    left: Floats
    up: Floats

    @classmethod
    def of(cls, items: Sequence[Item | None]) -> Masses:
        """Set out what is to be put on one car; None is nothing."""
        rows = [item[1:5] if item else (0.0,) * 4 for item in items]
        return cls(*np.array(rows, dtype=np.float64).reshape(len(rows), 4).T)


def softening(car: Car, loads: Floats) -> Floats:
    """Give what weight above the ground takes off the stiffness against each move of the body.

    Args:
        loads: (4,) [N].

    Returns:
        (n,) [N·m].
    """
    return np.asarray(np.asarray(car.cg_up)[..., None] * leaning_weight(car, loads))


def lean_of(car: Car, masses: Masses) -> Floats:
    """Give what masses, as high as they are, take off the stiffness of a car that they sit on.

    Returns:
        (n,) [N·m]; nothing where `cg_up` is not known.
    """
    height = np.where(masses.up > 0, masses.up, car.cg_up) * (np.asarray(car.cg_up) > 0)
    each = (masses.mass * GRAVITY * height)[..., None] * leaning_arms(car, masses.aft)
    return np.asarray(each.sum(axis=0))


def leaned_change(car: Car, lifts: Floats, loads: Floats) -> Floats:
    """Compute the loads' answer to lifts at the corners, or to pads that are not level.

    Args:
        lifts: (4,) or (m, 4), d [m], positive up.
        loads: (4,), the loads now [N].

    Returns:
        shape of `lifts` [N]. The total stays; the moments change by weight times how far the
        center of gravity moves as the body leans. Without `cg_up` it is `linear.load_change`,
        where they stay too.

    Raises:
        UnstableCarError: When weight times height is more than the springs hold up in pitch or
            roll.

    References:
        Derived here; held against mujoco in tests/oracles/test_leaning.py.

    Examples:
        >>> from dataclasses import replace
        >>> from balancer.car.model import plain_car
        >>> high, loads = replace(plain_car(), cg_up=0.5), np.full(4, 2500.0)
        >>> leaned_change(high, np.array([0.001, 0, 0, 0]), loads).round(2).tolist()
        [6.95, -7.39, -8.33, 8.78]
    """
    if not np.any(car.cg_up) or not lifts.any():
        return load_change(car, lifts)
    soft = softening(car, loads)
    return at_rest(car, lifts, np.zeros(soft.shape), soft)[0]


def leaned_loads(
    car: Car, loads: Floats, mass: float, aft: Floats | float, left: Floats | float
) -> Floats:
    """Compute what a mass adds that is as little in the car's lean as ballast: in proportion to it.

    Args:
        loads: (4,), before [N]: their weight leans, and that of the mass is left out.
        mass: [kg].
        aft, left: Where it is [m]; (k,), each place by itself.

    Returns:
        (4,) or (k, 4) [N], as `resting.added_loads` where `cg_up` is not known.
    """
    if not car.cg_up:
        return added_loads(car, mass, aft, left)
    down = mass * GRAVITY * weight_arms(car, aft, left)
    return at_rest(car, np.zeros((*np.shape(aft), 4)), down, softening(car, loads))[0]


def put_loads(car: Car, loads: Floats, now: Masses, was: Masses) -> tuple[Floats, Floats]:
    """Compute what each mass does to the loads, with all of them on board.

    Args:
        loads: (4,), with what was on board [N].
        now, was: What comes on board, k of them, and what was and leaves, l of them.

    Returns:
        (k, 4), and (l, 4), put on the car without any of them [N]. `cg_up` is taken for that of
        this bare car, and each mass leans at its own height where that is known.

    Raises:
        UnstableCarError: As `leaned_change`.

    References:
        Derived here; held against mujoco in tests/oracles/test_leaning.py.
    """
    if not np.any(car.cg_up):
        return added_loads(car, *now[:3]), added_loads(car, *was[:3])
    bare = loads
    for _ in range(_ROUNDS if twists(car) else 2):
        soft = softening(car, bare)
        before = _put(car, was, soft)
        bare = loads - before.sum(axis=0)
    return _put(car, now, softening(car, bare)), before


def carried_loads(car: Car, loads: Floats, now: Masses, was: Masses) -> Floats:
    """Compute the loads with other masses on board.

    Args:
        loads: (4,), with what was on board [N].
        now, was: What comes on board, and what was and leaves.

    Returns:
        (4,) [N]. There and back is nothing, whatever the order, and by way of others too.
    """
    put_on, taken_off = put_loads(car, loads, now, was)
    return np.asarray(loads + put_on.sum(axis=0) - taken_off.sum(axis=0))


def upright(car: Car, change: Floats, loads: Floats) -> Floats:
    """Take from a change of the loads what the body adds as it leans for it.

    Args:
        change: (4,), by masses [N].
        loads: (4,), of the heavier of the two [N].

    Returns:
        (4,), with the moments that the masses have where they are [N].
    """
    if not np.any(car.cg_up):
        return change
    rise = -np.einsum("...ij,...j->...i", compliance(car), change)
    pitch = (rise[..., 2:].sum(axis=-1) - rise[..., :2].sum(axis=-1)) / 2 / car.wheelbase
    rolls = (rise[..., [0, 2]] - rise[..., [1, 3]]) / car.tracks
    slopes = [np.zeros_like(pitch), pitch, rolls[..., 0], rolls[..., 1]]
    rigid = not twists(car)
    leaned = softening(car, loads) * np.stack(slopes[: 3 if rigid else 4], axis=-1)
    moments = leaned if rigid else np.stack([*leaned[..., :2].T, leaned[..., 2:].sum(axis=-1)], -1)
    arms = np.stack(np.broadcast_arrays(1.0, car.aft, car.left), axis=-1)
    across = np.swapaxes(arms, -1, -2)
    back = arms @ np.linalg.solve(across @ arms, moments[..., None])
    return np.asarray(change + back[..., 0])


def counted(simple: Car, lengths: Floats, change: Floats, turns: Floats) -> Floats:
    """Count turns by what they come to: those that do as much where nothing leans, nor stops.

    A belief scales what turns do. Where lean, a stop or a tender makes them do more or less than
    the rates at the start say, that is known and nothing to learn from.

    Args:
        simple: A linear car, whose lean is left out.
        lengths: (4,), what the turns move [m].
        change: (4,), what they really do to the loads [N].
        turns: (4,)

    Returns:
        (4,), as they are where they do next to nothing together.
    """
    pattern = free_pattern(simple.tracks)
    each = [load_change(simple, lift(simple, one)) @ pattern for one in np.diag(lengths)]
    answer, all_one_way = sum(each), np.abs(each).sum()
    sure = abs(answer) > _LITTLE * all_one_way
    return turns * (pattern @ change / answer) if sure else turns


def turns_like(simple: Car, change: Floats, axle: int) -> Floats:
    """Give the turns that would do what an anti-roll bar did: alike at both sides of its axle.

    Args:
        simple: A linear car, whose lean is left out.
        change: (4,), of the loads, by a drop link [N].
        axle: 0 front, 1 rear; the other serves where nothing can be turned on it.

    Returns:
        (4,); nothing where nothing can be turned at all.
    """
    pattern, able = free_pattern(simple.tracks), simple.adjustable
    on_axle = able & (np.arange(4) // 2 == axle)
    unit = np.array([1.0, -1.0, -1.0, 1.0]) * (on_axle if on_axle.any() else able)
    each = load_change(simple, lift(simple, np.nan_to_num(simple.perch_lead) * unit)) @ pattern
    return np.asarray(unit * (pattern @ change / each) if each else unit)


def _put(car: Car, masses: Masses, bare: Floats) -> Floats:
    """Put masses on a car whose own weight softens it by so much (n,)."""
    soft = bare + lean_of(car, masses)
    down = (masses.mass * GRAVITY)[..., None] * weight_arms(car, masses.aft, masses.left)
    return at_rest(car, np.zeros((*masses.mass.shape, 4)), down, soft)[0]
