"""Where each corner of a car stands under its loads: spring, shock, stops and bar link.

The reading of a pad says what a corner carries; with the spring's law that is a compression of the
spring. How far the shock is closed, or how far the spring is compressed when it is not, says where
the stops are. Together they fix where the corner is on its law, and what a turn would do there.
"""

from dataclasses import dataclass, replace
from math import isinf, isnan, nan

import numpy as np

from balancer.car.answers import Springs
from balancer.car.axle_state import Stand, axle_stand
from balancer.car.body import body_basis, leaning_weight
from balancer.car.conventions import CORNERS, GRAVITY, Flags, Floats
from balancer.car.corner import Corner
from balancer.car.curves import ForceCurve, RatioCurve, with_tender
from balancer.car.errors import OperatingPointError, Unfit
from balancer.car.model import Car

RIGID = 1e10
"""Rate of a tire that the file does not describe [N/m]: a hundred thousand times a spring's."""


@dataclass(frozen=True, eq=False)
class OperatingPoint:
    """A car at rest under known loads, from where all its moves are counted.

    Attributes:
        loads: (4,) [N].
        compression: (4,), of the springs [m].
        shock: (4,), how far the shocks are closed from fully extended [m]; below 0 a droop stop
            that gives is loaded.
        stop: (4,), what droop stops hold back, along the shocks [N].
        ratios: Counted from here.
        tire_rate: (4,) [N/m], finite.
        bar_rate: (2,), of the bars that are connected [N/m].
        misfit: (2,), how far the bars are twisted here, left end up, at the wheel; those that are
            off as far as they would be if they went on now [m].
        basis: (4, 3) or (4, 4), how the body moves at the wheel stations: heave, pitch slope,
            and roll slope, or front and rear roll slope apart when the chassis twists.
        softening: (3,) or (4,), what weight above the ground takes off the stiffness against
            moving so [N·m].
    """

    car: Car
    loads: Floats
    compression: Floats
    shock: Floats
    stop: Floats
    ratios: tuple[RatioCurve, ...]
    tire_rate: Floats
    bar_rate: Floats
    misfit: Floats
    basis: Floats
    softening: Floats

    @property
    def topped_out(self) -> Flags:
        """Which shocks are on their droop stops (4,)."""
        pairs = zip(self.car.corners, self.shock.tolist(), strict=True)
        return np.array([corner.topped_out(shock) for corner, shock in pairs])

    def axial(self, number: int) -> float:
        """Give what spring and stops of a corner push along its shock [N]."""
        corner, shock = self.car.corners[number], self.shock[number]
        pushed = corner.spring.force(self.compression[number])
        return float(pushed + corner.bump.force(shock - corner.bump_at) - self.stop[number])


def operating_point(car: Car, loads: Floats) -> OperatingPoint:
    """Work out where each corner stands.

    Args:
        car: With corners, and the twist of its bars known: see `undone.standing`.
        loads: (4,), the loads that it stands under [N]: those as weighed, unless it is
            `anchored`.

    Raises:
        OperatingPointError: Where a corner can't carry its load as the file says, with a line
            for each corner.

    References:
        Derived here; held against a simulated car with linkages in tests/oracles.
    """
    bars = np.array([link.rate if link.connected else 0.0 for link in car.links] or [0.0, 0.0])
    carried = loads - car.unsprung_mass * GRAVITY
    found: list[Stand] = []
    misfit = np.zeros(2)
    reasons: list[Unfit] = []
    for axle in (0, 1):
        pair = slice(2 * axle, 2 * axle + 2)
        link = car.links[axle] if car.links else None
        try:
            two, misfit[axle] = axle_stand(
                car.corners[pair], carried[pair], link, CORNERS[pair], bars[axle]
            )
            found += two
        except OperatingPointError as error:
            reasons += error.reasons
    if reasons:
        raise OperatingPointError(reasons)
    return OperatingPoint(
        car=car,
        loads=loads,
        compression=np.array([one.compression for one in found]),
        shock=np.array([one.shock for one in found]),
        stop=np.array([one.stop for one in found]),
        ratios=tuple(one.ratio for one in found),
        tire_rate=np.where(np.isfinite(car.tire_rate), car.tire_rate, RIGID),
        bar_rate=bars,
        misfit=misfit,
        basis=body_basis(car),
        softening=car.cg_up * leaning_weight(car, loads),
    )


def anchored(point: OperatingPoint) -> Car:
    """Tie the corners to their shocks instead of to the loads as weighed.

    Returns:
        Which stands right under other loads too: with preload, motion ratio and link length counted
        from full droop.
    """
    car = point.car
    # Wheel travel from full droop.
    closed = [-ratio.travel(-shock) for ratio, shock in zip(point.ratios, point.shock, strict=True)]
    corners = [
        corner._replace(
            preload=compression - shock,
            shock_travel=nan,
            ratio=ratio.shifted(ratio.travel(-shock)),
            anchored=True,
        )
        for corner, ratio, compression, shock in zip(
            car.corners, point.ratios, point.compression.tolist(), point.shock.tolist(), strict=True
        )
    ]
    links = [
        link._replace(
            twist=link.ratio * (twist - closed[2 * axle] + closed[2 * axle + 1]), misfit=nan
        )
        for axle, (link, twist) in enumerate(zip(car.links, point.misfit.tolist(), strict=False))
    ]
    return replace(car, corners=tuple(corners), links=tuple(links))


def with_springs(point: OperatingPoint, springs: Springs) -> tuple[OperatingPoint, Floats]:
    """Put in other springs that push as hard as the old ones do, so that nothing moves yet.

    Returns:
        And how far perches that were left where they are now stand too high (4,) [m].

    References:
        Derived here; held against a simulated car on other springs in tests/oracles.
    """
    car, pressed = point.car, point.compression.copy()
    rates, corners = np.where(np.isnan(springs.rate), car.spring_rate, springs.rate), []
    for index, (corner, old) in enumerate(zip(car.corners, car.spring_rate.tolist(), strict=True)):
        if not isnan(springs.rate[index]):
            force = float(corner.spring.force(pressed[index]))
            corner = _with_spring(corner, old, float(rates[index]))
            pressed[index] = corner.spring.compression(force)
        corners.append(corner)
    other = replace(car, corners=tuple(corners), spring_rate=rates)
    too_high = point.compression + springs.longer - pressed
    return replace(point, car=other, compression=pressed), too_high


def _with_spring(corner: Corner, old: float, rate: float) -> Corner:
    """Put in another main spring [N/m]; the tender stays."""
    main = ForceCurve(np.zeros(1), np.array([rate]))
    if isinf(corner.solid):
        return corner._replace(spring=main)
    pressed_solid = float(corner.spring.force(np.array(corner.solid)))
    tender = 1 / (1 / float(corner.spring.rate[0]) - 1 / old)
    travel = pressed_solid / tender
    spring = with_tender(main, tender, travel)
    return corner._replace(spring=spring, solid=pressed_solid / rate + travel)
