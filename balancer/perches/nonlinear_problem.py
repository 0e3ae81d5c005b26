"""Whole steps on real corners: what is asked of them, and what they come to, settled."""

from __future__ import annotations

from typing import NamedTuple, cast

import numpy as np

from balancer.car.conventions import Flags, Floats, Integers
from balancer.car.equilibrium import Contacts, Equilibrium, Moves, contacts, solve_or_tip
from balancer.car.operating_point import OperatingPoint
from balancer.perches.steps import SLACK, Found


class NonlinearProblem(NamedTuple):
    """Which whole steps of the adjusters bring a real car to what is wanted.

    Attributes
    ----------
    cross, tolerance : float
        Cross weight wanted, and how near [1].
    rise : array (4,)
        Of the ride heights wanted [m].
    height_tolerance : float
        [m].
    perch, mount : array (n, 4)
        What a step of each adjuster moves [m]; one corner a row.
    link : array (n, 2)
        Likewise the left links, at the link [m].
    least, most : array (n,)
        Limits of the steps, least ≤ 0 ≤ most.
    turns_per_step : array (n,)
        [turn].
    now : Contacts
        What each corner stands on before, (4,) each.
    """

    point: OperatingPoint
    cross: float
    tolerance: float
    rise: Floats
    height_tolerance: float
    perch: Floats
    mount: Floats
    link: Floats
    least: Integers
    most: Integers
    turns_per_step: Floats
    now: Contacts

    def moves(self, steps: Integers) -> Moves:
        """Say what steps (m, n) move."""
        return Moves(steps @ self.perch, steps @ self.mount, steps @ self.link)

    def crosses(self, equilibrium: Equilibrium) -> Floats:
        """Give the cross weights (m,)."""
        across = equilibrium.loads[:, 1] + equilibrium.loads[:, 2]
        return np.asarray(across / self.point.loads.sum())


class Tried(NamedTuple):
    """Candidates settled.

    Attributes
    ----------
    steps : array (m, n)
    cross, height : array (m,)
        |cross weight - target| [1], and worst |height - wanted| [m].
    cross_met, heights_met : array of bool (m,)
        Whether that is within tolerance.
    stops : array (m,)
        How many corners come to stand on a stop, or off their pad, that did not before.
    turns : array (m,)
    idle : array of bool (m,)
        Where a perch is turned at a shock that is topped out before and after: that changes
        preload and nothing else, so no plan asks for it; or the car would tip over.
    """

    steps: Integers
    equilibrium: Equilibrium
    cross: Floats
    height: Floats
    cross_met: Flags
    heights_met: Flags
    stops: Integers
    turns: Floats
    idle: Flags

    def first(self, rows: Integers, order: tuple[str, ...]) -> tuple[list[float], int]:
        """Find the best of some rows: its ranks in this order, and which it is.

        Ties go to the front axle, then to lowering.
        """
        ranks = {
            "stops": self.stops.astype(float),
            "turns": np.round(self.turns, 9),
            "cross": np.round(self.cross, 10),
            "height": np.round(self.height, 10),
        }
        front_first = -np.abs(self.steps[:, :2]).sum(axis=1)
        keys = [*(ranks[name] for name in order), front_first, self.steps.sum(axis=1)]
        keys = [*(key[rows] for key in keys), *self.steps[rows].T]
        best = int(np.lexsort(keys[::-1])[0])
        return [float(key[best]) for key in keys], int(rows[best])

    def found(self, row: int) -> Found:
        """Give one of them as what a search finds."""
        return Found(
            steps=self.steps[row],
            cross_miss=float(self.cross[row]),
            height_miss=float(self.height[row]),
            cross_met=bool(self.cross_met[row]),
            heights_met=bool(self.heights_met[row]),
            stops=int(self.stops[row]),
        )

    def some_rows(self, rows: Integers) -> Tried:
        """Take some."""
        equilibrium = Equilibrium(*(each[rows] for each in self.equilibrium))
        others = {name: getattr(self, name)[rows] for name in self._fields if name != "equilibrium"}
        return Tried(equilibrium=equilibrium, **others)

    def with_more(self, more: Tried) -> Tried:
        """Put others behind these."""
        equilibrium = Equilibrium(
            *(np.concatenate(two) for two in zip(self.equilibrium, more.equilibrium, strict=True))
        )
        others = {
            name: np.concatenate([getattr(self, name), getattr(more, name)])
            for name in self._fields
            if name != "equilibrium"
        }
        return Tried(equilibrium=equilibrium, **others)


def tried(problem: NonlinearProblem, steps: Integers) -> Tried:
    """Settle candidates and measure them.

    Parameters
    ----------
    steps : array (m, n)

    Returns
    -------
    """
    moves = problem.moves(steps)
    equilibrium, tipped = solve_or_tip(problem.point, moves)
    cross = np.where(tipped, np.inf, np.abs(problem.crosses(equilibrium) - problem.cross))
    height = np.abs(equilibrium.heights - problem.rise).max(axis=1)
    height = np.where(tipped, np.inf, height)
    then = contacts(problem.point, equilibrium)
    stopped = then.stopped() & ~problem.now.stopped()
    idle = then.topped_out & problem.now.topped_out & (moves.perch != 0)
    return Tried(
        steps=steps,
        equilibrium=equilibrium,
        cross=cross,
        height=height,
        cross_met=cross <= problem.tolerance * (1 + SLACK) + 1e-12,
        heights_met=height <= problem.height_tolerance * (1 + SLACK) + 1e-12,
        stops=stopped.sum(axis=1),
        turns=np.abs(steps) @ problem.turns_per_step,
        idle=idle.any(axis=1) | tipped,
    )


def measured(problem: NonlinearProblem, steps: Floats) -> Found:
    """Work out what given steps miss, whole or not.

    Parameters
    ----------
    steps : array (n,)

    Returns
    -------
    Found
        Of which nothing is proved.
    """
    # Nothing here asks for whole ones but the type.
    return tried(problem, cast("Integers", steps[None])).found(0)._replace(proved=False)
