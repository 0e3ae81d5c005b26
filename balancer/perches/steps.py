"""Whole steps at four corners: what is asked of them, and what given steps miss."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats, Integers

SLACK = 1e-9
"""Relative slack on every limit, so that a plan on the very edge of a tolerance counts."""


class StepProblem(NamedTuple):
    """Which whole steps bring the cross weight and the heights to what is wanted.

    Attributes
    ----------
    cross_off : float
        Cross weight now less the target [1].
    cross_per_step : array (4,)
        [1].
    heights_off : array (4,)
        Heights now less the wanted ones [m].
    height_per_step : array (4, 4)
        At station i for a step at corner j [m].
    tolerance, height_tolerance : float
        [1], [m].
    least, most : array (4,)
        Limits of the steps, least ≤ 0 ≤ most.
    turns_per_step : array (4,)
        [turn].
    """

    cross_off: float
    cross_per_step: Floats
    heights_off: Floats
    height_per_step: Floats
    tolerance: float
    height_tolerance: float
    least: Integers
    most: Integers
    turns_per_step: Floats


class Found(NamedTuple):
    """Steps found for one number of corners, and what they miss (0: within tolerance).

    Attributes
    ----------
    steps : array (4,)
    cross_miss : float
        |cross weight - target| [1].
    height_miss : float
        Worst |height - wanted| [m].
    cross_met, heights_met : bool
    proved : bool
        Whether it is proved that no steps at this number of corners are better.
    stops : int
        How many corners come to stand on a stop that did not before; see `settled_steps`.
    """

    steps: Integers
    cross_miss: float
    height_miss: float
    cross_met: bool
    heights_met: bool
    proved: bool = True
    stops: int = 0


def measure(problem: StepProblem, steps: Integers, proved: bool = True) -> Found:
    """Work out what given steps miss.

    Parameters
    ----------
    steps : array (4,)
    proved : bool

    Examples
    --------
    >>> lean = StepProblem(0.01, np.full(4, -0.002), np.zeros(4), np.eye(4) / 1e3,
    ...                    0.002, 1e-3, np.full(4, -9), np.full(4, 9), np.full(4, 0.25))
    >>> measure(lean, np.array([1, 1, 1, 1])).cross_met
    True
    """
    cross = float(abs(problem.cross_off + problem.cross_per_step @ steps))
    height = float(np.abs(problem.heights_off + problem.height_per_step @ steps).max())
    return Found(
        steps=steps,
        cross_miss=cross,
        height_miss=height,
        cross_met=cross <= problem.tolerance * (1 + SLACK) + 1e-12,
        heights_met=height <= problem.height_tolerance * (1 + SLACK) + 1e-12,
        proved=proved,
    )


def order_of(hold_cross: bool, hold_heights: bool) -> tuple[str, str, str]:
    """Give what counts first, second and third when these are held within tolerance.

    Parameters
    ----------
    hold_cross, hold_heights : bool

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> order_of(True, True)
    ('turns', 'cross', 'height')
    """
    if hold_cross:
        return ("turns", "cross", "height") if hold_heights else ("height", "turns", "cross")
    return ("cross", "turns", "height") if hold_heights else ("cross", "height", "turns")
