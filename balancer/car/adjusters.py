"""What is turned at a corner, how far it can still go, and the car after it was turned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, Flags, Floats
from balancer.car.corner import LINKS, Mount
from balancer.car.model import Car

NO_LINK = np.zeros(2)
"""Of drop links that are left as they are [m]."""


class Moves(NamedTuple):
    """Cases to bring to equilibrium, one a row, each counted from where the car stands.

    Attributes:
        perch, mount: (m, 4), of the spring perches, and of the lower mounts; positive raises
            the car [m].
        link: (m, 2), how much higher the left links hold their ends of the bars [m].
    """

    perch: Floats
    mount: Floats
    link: Floats

    @classmethod
    def none(cls, cases: int = 1) -> Moves:
        """Move nothing."""
        return cls(np.zeros((cases, 4)), np.zeros((cases, 4)), np.zeros((cases, 2)))


class Adjusters(NamedTuple):
    """What is turned: the perch or the lower mount of each corner, and maybe drop links.

    Attributes:
        mounts: (4,) of bool, where it is the lower mount.
        lead: (4,), how far one turn moves that [m]; NaN where nothing can be turned.
        axles: Of the links that are turned too, 0 front, 1 rear.
        link_lead: How much higher one turn that makes the left one longer takes its end of the
            bar [m].
        step: (n,), the smallest move of each corner's, then of each link [turn].
        travel: (n, 2), turns left, down (≤ 0) and up (≥ 0); infinite where the file does not say.
    """

    mounts: Flags
    lead: Floats
    axles: tuple[int, ...]
    link_lead: tuple[float, ...]
    step: Floats
    travel: Floats

    @property
    def names(self) -> tuple[str, ...]:
        """Corners, then links."""
        return (*CORNERS, *(LINKS[axle] for axle in self.axles))

    @property
    def usable(self) -> Flags:
        """Which of them can be turned (n,)."""
        return np.append(np.isfinite(self.lead), np.ones(len(self.axles), dtype=bool))

    def in_order(self, turns: Floats) -> Floats:
        """Put turns of corners and of both left links (4,) or (6,) in the order of these (n,)."""
        links = np.zeros(2)
        links[: len(turns) - 4] = turns[4:]
        return np.append(turns[:4], links[list(self.axles)])

    def moves(self, turns: Floats) -> Moves:
        """Say what turns (n,) or (m, n) move."""
        rows = np.atleast_2d(turns)
        lengths = rows[:, :4] * np.nan_to_num(self.lead)
        link = np.zeros((len(rows), 2))
        # Turns of the corners alone leave the links as they are.
        for column, axle in enumerate(self.axles[: rows.shape[1] - 4]):
            link[:, axle] = rows[:, 4 + column] * self.link_lead[column]
        return Moves(lengths * ~self.mounts, lengths * self.mounts, link)

    def link_turns(self, turns: Floats) -> Floats:
        """Give the turns at front and rear link (2,) out of those of all (n,)."""
        at_links = np.zeros(2)
        at_links[list(self.axles)] = turns[4:]
        return at_links


def adjusters_of(car: Car) -> Adjusters:
    """Give the right adjuster of each corner.

    The lower mount sets the height and leaves preload and shock travel alone, so where there is one
    it is the right one.
    """
    return next(ways_to_turn(car))


def ways_to_turn(car: Car, links: bool = False) -> Iterator[Adjusters]:
    """Give the right adjuster of each corner, then others: a perch serves where mounts can't do it.

    Args:
        links: Whether the drop links of bars that are connected may be used too.
    """
    mountable = np.isfinite([one.lead for one in _mounts(car)])
    both = np.flatnonzero(mountable & np.isfinite(car.perch_lead)).tolist()
    for count in range(len(both) + 1):
        for on_perch in combinations(both, count):
            mounts = mountable.copy()
            mounts[list(on_perch)] = False
            yield _adjusters(car, mounts, links)


def _adjusters(car: Car, mounts: Flags, links: bool) -> Adjusters:
    mount = _mounts(car)
    turned = [axle for axle, link in enumerate(car.links if links else ()) if link.usable]
    step = np.where(mounts, [one.step for one in mount], car.perch_step)
    travel = np.where(mounts[:, None], [one.travel for one in mount], car.perch_travel)
    return Adjusters(
        mounts=mounts,
        lead=np.where(mounts, [one.lead for one in mount], car.perch_lead),
        axles=tuple(turned),
        link_lead=tuple(car.links[axle].way * car.links[axle].lead for axle in turned),
        step=np.append(step, [car.links[axle].step for axle in turned]),
        travel=np.vstack([travel, *(car.links[axle].travel for axle in turned)]),
    )


def _mounts(car: Car) -> list[Mount]:
    return [corner.mount for corner in car.corners] or [Mount()] * 4


def moves_of(car: Car, turns: Floats) -> Moves:
    """Say what turns move that were made at the right adjusters.

    Args:
        turns: (4,), or (6,) where the left drop links of front and rear were turned too.
    """
    adjusters = next(ways_to_turn(car, links=len(turns) > 4))
    return adjusters.moves(adjusters.in_order(turns))


def all_turns(made: Sequence[Floats]) -> Floats:
    """Add up sets of turns.

    Args:
        made: sequence of array (4,), or (6,) where drop links were turned too; maybe none.

    Returns:
        As long as the longest, and at least (4,).
    """
    total = np.zeros(max(map(len, made), default=4))
    for each in made:
        total[: len(each)] += each
    return total


def with_travel_spent(car: Car, spent: Floats) -> Car:
    """Take turns that were made off the travel that is left.

    Args:
        spent: (4,), at the right adjuster of each corner, or (6,) with both links [turn].

    Examples:
        >>> from balancer.car.model import plain_car
        >>> with_travel_spent(plain_car(), np.array([2.0, 0, 0, 0])).perch_travel[0].tolist()
        [-12.0, 8.0]
    """
    mounts = adjusters_of(car).mounts
    travel = car.perch_travel - np.where(mounts, 0.0, spent[:4])[:, None]
    left = np.column_stack([travel[:, 0].clip(max=0), travel[:, 1].clip(min=0)])
    corners = []
    for corner, turns, mounted in zip(car.corners, spent.tolist(), mounts, strict=False):
        mount = corner.mount
        if mounted:
            mount = mount._replace(travel=_less(mount.travel, turns))
        corners.append(corner._replace(mount=mount))
    at_links = [*spent[4:].tolist(), 0.0, 0.0]
    links = (
        one._replace(travel=_less(one.travel, turns))
        for one, turns in zip(car.links, at_links, strict=False)
    )
    return replace(car, perch_travel=left, corners=tuple(corners), links=tuple(links))


def _less(travel: tuple[float, float], turns: float) -> tuple[float, float]:
    """Take turns off the travel down and up."""
    down, up = travel
    return min(down - turns, 0.0), max(up - turns, 0.0)


def moved(car: Car, perch: Floats, mount: Floats, longer: Floats = NO_LINK) -> Car:
    """Give an anchored car after its perches, lower mounts and drop links were moved.

    Args:
        car: See `operating_point.anchored`; one without corners stays as it is.
        perch, mount: (4,) [m].
        longer: (2,), as a row of `Moves.link` [m].

    Returns:
        With other preloads where perches were moved, other ratios where mounts were, and bars
        twisted otherwise.
    """
    if not car.corners:
        return car
    corners, lower = [], np.zeros(4)
    for index, (corner, raised) in enumerate(zip(car.corners, perch.tolist(), strict=True)):
        # A longer unit lets the wheel hang lower at full droop.
        lower[index] = -corner.ratio.travel(-float(mount[index]))
        ratio = corner.ratio.shifted(-lower[index]) if lower[index] else corner.ratio
        corners.append(corner._replace(preload=corner.preload + raised, ratio=ratio))
    links = [
        link._replace(twist=link.twist + float(more) - link.ratio * float(left - right))
        for link, more, left, right in zip(car.links, longer, lower[::2], lower[1::2], strict=False)
    ]
    return replace(car, corners=tuple(corners), links=tuple(links))
