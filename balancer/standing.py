"""Where each corner of a car stands under its loads: spring, shock, stops and bar link.

The reading of a pad says what a corner carries; with the spring's law that is a compression of the
spring. How far the shock is closed, or how far the spring is compressed when it is not, says where
the stops are. Together they fix where the corner is on its law, and what a turn would do there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import isfinite, isnan, nan
from typing import NamedTuple

import numpy as np

from balancer.car import CORNERS, GRAVITY, Car, Floats
from balancer.corner import Corner, Link
from balancer.errors import StandingError, Unfit
from balancer.laws import Ratio

RIGID = 1e10
"""Rate of a tire that the file does not describe [N/m]: a hundred thousand times a spring's."""


@dataclass(frozen=True, eq=False)
class Standing:
    """A car at rest under known loads, from where all its moves are counted.

    Attributes
    ----------
    car : Car
    loads : array (4,)
        [N].
    compression : array (4,)
        Of the springs [m].
    shock : array (4,)
        How far the shocks are closed from fully extended [m]; below 0 a droop stop is loaded.
    ratios : tuple of Ratio
        Counted from here.
    tire_rate : array (4,)
        [N/m], finite.
    bar_rate : array (2,)
        Of the bars that are connected [N/m].
    misfit : array (2,)
        How much too long the left links are here, at the wheel [m].
    basis : array (4, 3) or (4, 4)
        How the body moves at the wheel stations: heave, pitch slope, and roll slope, or front and
        rear roll slope apart when the chassis twists.
    softening : array (3,) or (4,)
        What weight above the ground takes off the stiffness against moving so [N·m].
    """

    car: Car
    loads: Floats
    compression: Floats
    shock: Floats
    ratios: tuple[Ratio, ...]
    tire_rate: Floats
    bar_rate: Floats
    misfit: Floats
    basis: Floats
    softening: Floats


def standing(car: Car, loads: Floats) -> Standing:
    """Work out where each corner stands.

    Parameters
    ----------
    car : Car
        With corners.
    loads : array (4,)
        The loads that it stands under [N]: those as weighed, unless it is `anchored`.

    Returns
    -------
    Standing

    Raises
    ------
    StandingError
        Where a corner can't carry its load as the file says, with a line for each corner.

    References
    ----------
    Derived here; held against a simulated car with linkages in tests/oracles.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.corner import plain_corners
    >>> car = plain_car()
    >>> stands = standing(replace(car, corners=plain_corners(car)), np.full(4, 2450.0))
    >>> stands.compression.round(6).tolist()
    [0.05, 0.05, 0.058333, 0.058333]
    """
    bars = np.array([link.rate if link.connected else 0.0 for link in car.links] or [0.0, 0.0])
    carried = loads - car.unsprung_mass * GRAVITY
    found: list[_Stand] = []
    misfit = np.zeros(2)
    reasons: list[Unfit] = []
    for axle in (0, 1):
        pair = slice(2 * axle, 2 * axle + 2)
        link = car.links[axle] if car.links else None
        try:
            two, misfit[axle] = _axle(
                car.corners[pair], carried[pair], link, CORNERS[pair], bars[axle]
            )
            found += two
        except StandingError as error:
            reasons += error.reasons
    if reasons:
        raise StandingError(reasons)
    twists = isfinite(car.torsional_stiffness)
    front = np.array([1.0, 1.0, 0.0, 0.0])
    roll = [car.left * front, car.left * (1 - front)] if twists else [car.left]
    over = [loads[:2].sum(), loads[2:].sum()] if twists else [loads.sum()]
    return Standing(
        car=car,
        loads=loads,
        compression=np.array([one.compression for one in found]),
        shock=np.array([one.shock for one in found]),
        ratios=tuple(one.ratio for one in found),
        tire_rate=np.where(np.isfinite(car.tire_rate), car.tire_rate, RIGID),
        bar_rate=bars,
        misfit=misfit,
        basis=np.column_stack([np.ones(4), car.aft, *roll]),
        softening=car.cg_up * np.array([0.0, loads.sum(), *over]),
    )


def anchored(car: Car, loads: Floats) -> Car:
    """Tie the corners to their shocks instead of to the loads as weighed.

    Parameters
    ----------
    car : Car
    loads : array (4,)
        As weighed [N].

    Returns
    -------
    Car
        Which stands right under other loads too: with preload and motion ratio counted from full
        droop. A car without corners as it is.

    Raises
    ------
    StandingError
        As `standing`.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.corner import plain_corners
    >>> car = plain_car()
    >>> tied = anchored(replace(car, corners=plain_corners(car)), np.full(4, 2450.0))
    >>> standing(tied, np.full(4, 2800.0)).shock.round(6).tolist()[0]
    0.057143
    """
    if not car.corners:
        return car
    stands = standing(car, loads)
    corners = []
    for corner, ratio, compression, shock in zip(
        car.corners, stands.ratios, stands.compression.tolist(), stands.shock.tolist(), strict=True
    ):
        corners.append(
            corner._replace(
                preload=compression - shock,
                shock_travel=nan,
                ratio=ratio.shifted(ratio.travel(-shock)),
                anchored=True,
            )
        )
    hang = [-ratio.travel(-shock) for ratio, shock in zip(stands.ratios, stands.shock, strict=True)]
    links = [
        link._replace(misfit=link.ratio * (twist - hang[2 * axle] + hang[2 * axle + 1]))
        for axle, (link, twist) in enumerate(zip(car.links, stands.misfit.tolist(), strict=False))
    ]
    return replace(car, corners=tuple(corners), links=tuple(links))


def excess(stands: Standing) -> Floats:
    """Compute how far each spring perch would come down before its shock leaves the droop stop.

    Parameters
    ----------
    stands : Standing

    Returns
    -------
    array (4,)
        At the loads now [m]; 0 where a shock is not topped out.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.corner import plain_corners
    >>> car = plain_car()
    >>> said = [one._replace(preload=0.06, shock_travel=0.0) for one in plain_corners(car)]
    >>> stands = standing(replace(car, corners=tuple(said)), np.full(4, 2450.0))
    >>> excess(stands).round(6).tolist()
    [0.01, 0.01, 0.001667, 0.001667]
    """
    found = np.zeros(4)
    for number in np.flatnonzero(stands.shock < 0).tolist():
        corner, pressed = stands.car.corners[number], stands.compression[number]
        axial = float(corner.spring.force(pressed)) + corner.droop_rate * stands.shock[number]
        found[number] = pressed - stands.shock[number] - corner.spring.compression(axial)
    return found


def lifts(stands: Standing, perch: Floats, mount: Floats) -> Floats:
    """Compute how far moves lift their corners while the loads stay as they are.

    Parameters
    ----------
    stands : Standing
    perch, mount : array (4,)
        [m].

    Returns
    -------
    array (4,)
        [m]; nothing for a perch at a shock that stays topped out. Bars are left out.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.corner import plain_corners
    >>> car = plain_car()
    >>> stands = standing(replace(car, corners=plain_corners(car)), np.full(4, 2450.0))
    >>> lifts(stands, np.array([0.7e-3, 0, 0, 0]), np.array([0, 1.4e-3, 0, 0])).round(6).tolist()
    [0.001, 0.002, 0.0, 0.0]
    """
    found = np.zeros(4)
    for number in np.flatnonzero((perch != 0) | (mount != 0)).tolist():
        corner, ratio = stands.car.corners[number], stands.ratios[number]
        pressed, shock = stands.compression[number], stands.shock[number]
        axial = float(corner.spring.force(pressed)) + corner.droop_rate * min(shock, 0.0)
        axial += float(corner.bump.force(shock - corner.bump_at))
        alone = corner._replace(ratio=Ratio(np.zeros(1), np.ones(1)))
        after = _shock(alone, pressed - shock + perch[number], axial)
        found[number] = -ratio.travel(float(after - shock - mount[number]))
    return found


def linear(stands: Standing, stops: bool = True) -> Car:
    """Give the linear car that answers to small changes as this one does where it stands.

    Parameters
    ----------
    stands : Standing
    stops : bool
        False: as if no stop were touched, which is what a car is often taken for.

    Returns
    -------
    Car
        Without corners, for `statics`. Its perches have the lead that turns have in effect: a
        perch pushes by its spring alone, against all that holds the corner.

    References
    ----------
    Wheel rate k_s·MR² + F·dMR/dz: D. C. Barton, J. D. Fieldhouse, *Automotive Chassis
    Engineering*, Springer 2018, eqs. 3.29-3.33.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.corner import plain_corners
    >>> car = plain_car()
    >>> stands = standing(replace(car, corners=plain_corners(car)), np.full(4, 2450.0))
    >>> linear(stands).spring_rate.round().tolist()
    [70000.0, 70000.0, 60000.0, 60000.0]
    """
    here, rates, leverages, pushes = np.zeros(()), [], [], []
    for number, (corner, ratio) in enumerate(zip(stands.car.corners, stands.ratios, strict=True)):
        spring, shock = stands.compression[number], stands.shock[number]
        leverage = float(ratio.value(here))
        rate = float(corner.spring.slope(spring))
        pushes.append(rate)
        axial = float(corner.spring.force(spring))
        if stops:
            rate += float(corner.bump.slope(shock - corner.bump_at))
            rate += corner.droop_rate if shock < 0 else 0.0
            axial += float(corner.bump.force(shock - corner.bump_at))
            axial += corner.droop_rate * min(shock, 0.0)
        rates.append(rate + axial * float(ratio.slope(here)) / leverage**2)
        leverages.append(leverage)
    return replace(
        stands.car,
        spring_rate=np.array(rates),
        motion_ratio=np.array(leverages),
        perch_lead=stands.car.perch_lead * pushes / np.array(rates),
        bar_rate=stands.bar_rate,
        corners=(),
        links=(),
    )


def linear_at(car: Car, loads: Floats) -> Car:
    """Give a linear car for small changes from these loads; a car without corners as it is.

    Parameters
    ----------
    car : Car
    loads : array (4,)
        [N].

    Returns
    -------
    Car

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> car = plain_car()
    >>> linear_at(car, np.full(4, 2450.0)) is car
    True
    """
    return linear(standing(car, loads)) if car.corners else car


def odd_preloads(car: Car, loads: Floats, beyond: float = 3e-3) -> dict[str, float]:
    """Find corners whose measured shock travel does not fit preload, rate and ratio.

    Parameters
    ----------
    car : Car
        As its file has it.
    loads : array (4,)
        As weighed [N].
    beyond : float
        What is not worth a word [m]; common practice, no published source.

    Returns
    -------
    dict of str to float
        By corner, the shock travel that the others say [m].

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.corner import plain_corners
    >>> car = plain_car()
    >>> said = [one._replace(preload=0.01, shock_travel=0.03) for one in plain_corners(car)]
    >>> odd = odd_preloads(replace(car, corners=tuple(said)), np.full(4, 2450.0))
    >>> round(odd["LF"], 6)
    0.04
    """
    odd = {}
    if car.corners:
        stands = standing(car, loads)
        for place, corner in enumerate(car.corners):
            said = float(stands.compression[place]) - corner.preload
            if corner.shock_travel > 0 and abs(said - corner.shock_travel) > beyond:
                odd[CORNERS[place]] = said
    return odd


class _Stand(NamedTuple):
    """Where one corner stands: its spring, its shock, and its ratio from here."""

    compression: float
    shock: float
    ratio: Ratio

    def hang(self) -> float:
        """Give the wheel travel from full droop."""
        return -self.ratio.travel(-self.shock)


def _axle(
    corners: Sequence[Corner], carried: Floats, link: Link | None, names: Sequence[str], bar: float
) -> tuple[list[_Stand], float]:
    """Find where two corners and the bar between them stand, and how far the bar is twisted."""

    def stand(twist: float) -> list[_Stand]:
        found, reasons = [], []
        forces = carried + bar * twist * np.array([-1.0, 1.0])
        for name, corner, force in zip(names, corners, forces.tolist(), strict=True):
            stands = _stand(corner, force)
            if isinstance(stands, Unfit):
                reasons.append(stands._replace(corner=name))
            else:
                found.append(stands)
        if reasons:
            raise StandingError(reasons)
        return found

    if link is None or not link.rate:
        return stand(0.0), 0.0
    misfit = link.misfit / link.ratio
    if not corners[0].anchored:
        return stand(misfit), misfit

    def beyond(twist: float) -> float:
        left, right = stand(twist)
        return left.hang() - right.hang() + misfit - twist

    # A bar that is twisted more pushes the left wheel down and lets the right one up, so this
    # falls with the twist, and is nearly straight: secants, each kept within a bracket.
    twist = beyond(0.0) if not bar else _root(beyond)
    return stand(twist), twist


def _root(falling: Callable[[float], float]) -> float:
    """Find where a function of a twist that falls by at least its argument is 0."""
    before, at_before = 0.0, falling(0.0)
    # It falls at least as fast as its argument grows.
    low, high = sorted((0.0, at_before))
    here = at_before / 2
    for _ in range(60):
        at_here = falling(here)
        low, high = (here, high) if at_here > 0 else (low, here)
        if abs(at_here) < 1e-13 or high - low < 1e-15:
            break
        slope = (at_here - at_before) / (here - before) if here != before else -1.0
        before, at_before = here, at_here
        step = here - at_here / slope
        here = step if low < step < high else (low + high) / 2
    return here


def _stand(corner: Corner, force: float) -> _Stand | Unfit:
    """Find where a corner stands under a force at the wheel, or why it can't."""
    if corner.anchored:
        shock = _shock(corner, corner.preload, force)
        if isnan(shock):
            return _NOWHERE
        ratio = corner.ratio.shifted(corner.ratio.travel(shock))
        return _Stand(corner.preload + shock, shock, ratio)
    axial = force / float(corner.ratio.value(np.zeros(())))
    if not corner.shock_travel > 0:
        # Where nothing is said, the shock tops out as its spring goes loose.
        preload = 0.0 if isnan(corner.preload) else corner.preload
        if corner.shock_travel == 0 and isnan(corner.preload):
            return Unfit(
                "topped out (shock_travel 0), so its load does not tell the spring's force",
                "give preload, the spring's compression at full droop",
            )
        shock = _shock(corner._replace(ratio=Ratio(np.zeros(1), np.ones(1))), preload, axial)
        if isnan(shock):
            return _NOWHERE
        if corner.shock_travel == 0 and shock > 0:
            return Unfit(
                "not topped out (shock_travel 0), its load closes the shock {0} with this preload",
                "at {1} or more of preload it would be; check it and spring_rate,"
                " or leave out shock_travel",
                (shock, corner.spring.compression(axial)),
            )
        return _Stand(preload + shock, shock, corner.ratio)
    bumped = float(corner.bump.force(np.array(corner.shock_travel - corner.bump_at)))
    if axial < 0:
        return Unfit(
            "its load is less than its wheel and bar bring, so it hangs from its shock, yet that is"
            " closed {0}",
            "check the reading, unsprung_mass and anti_roll_bar; if it hangs, write"
            " shock_travel = 0 and give preload",
            (corner.shock_travel,),
        )
    if bumped > axial:
        return Unfit(
            "its bump stop, pressed {0}, would carry more than its load",
            "measure shock_travel again, check bump_stop and bump_stop_rate",
            (corner.shock_travel - corner.bump_at,),
        )
    pressed = corner.spring.compression(axial - bumped)
    return _Stand(pressed, corner.shock_travel, corner.ratio)


_NOWHERE = Unfit(
    "no shock travel carries its load", "check the reading, preload, spring_rate and bump_stop"
)


def _shock(corner: Corner, preload: float, force: float) -> float:
    """Find the shock travel at which a corner with this preload carries a force at the wheel.

    NaN where there is none.
    """

    def carried(shock: float) -> float:
        there = np.array(shock)
        spring = float(corner.spring.force(there + preload))
        stops = float(corner.bump.force(there - corner.bump_at)) + corner.droop_rate * min(shock, 0)
        return (spring + stops) * float(corner.ratio.value(np.array(corner.ratio.travel(shock))))

    low, high = -0.05, 1.0
    if not carried(low) < force < carried(high):
        return nan
    # Sixty halvings leave 1e-18 m.
    for _ in range(60):
        middle = (low + high) / 2
        if carried(middle) < force:
            low = middle
        else:
            high = middle
    return (low + high) / 2
