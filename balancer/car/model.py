"""The car on its four wheels, in SI: what the file says, nothing computed.

Arrays of four are in the order LF RF LR RR. Positions are aft of the front axle, left of the
centerline and up from the ground.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf, isfinite
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from balancer.car.conventions import GRAVITY, Flags, Floats

if TYPE_CHECKING:
    from balancer.car.corner import Corner, Link

USUAL_LEVEL = 1e-3
"""Standard uncertainty of how level pads stand where the file says nothing [m]; common practice,
no published source."""

FUEL_DENSITY = 747.5
"""Of gasoline where the file gives none [kg/m³]: the middle of the 720 to 775 that EN 228 allows at
15 °C (value from memory)."""


class Scales(NamedTuple):
    """What is known of the four pads, each as a standard uncertainty.

    Attributes:
        accuracy: Of the reading, each pad on its own [1].
        common_accuracy: Of the reading, the part that all four pads share [1].
        resolution: The smallest step of the display [N].
        repeatability: Scatter of one reading when the car is rolled off and on again [N].
        level: Of the height of each pad against the others, beyond what is said of it [m].
        stated: False when the file says nothing and these are assumed.
        level_stated: False when the file says nothing of `level`.
    """

    accuracy: float
    common_accuracy: float
    resolution: float
    repeatability: float
    level: float = 0.0
    stated: bool = True
    level_stated: bool = True


class Item(NamedTuple):
    """Something that comes and goes: driver, fuel, spares.

    Attributes:
        mass: What is usually there [kg].
        aft, left, up: Where its center is [m].
        density: Of a fluid [kg/m³]; 0 for a solid.
        tank: Most that its tank holds [kg].
        reserve: What is left of it at the end of a stint [kg].
    """

    name: str
    mass: float
    aft: float
    left: float
    up: float
    density: float = 0.0
    tank: float = inf
    reserve: float = 0.0


class Place(NamedTuple):
    """Where ballast may go: a point, or a rectangle on the floor plan.

    Attributes:
        aft, left: Lowest and highest [m]; twice the same for a point.
        up: Height of the ballast [m].
        most: Most mass [kg]; infinite when there is no such limit.
        most_pieces: Most pieces; None when there is no such limit.
    """

    name: str
    aft: tuple[float, float]
    left: tuple[float, float]
    up: float
    most: float = inf
    most_pieces: int | None = None


class Piece(NamedTuple):
    """A kind of ballast piece: mass [kg] and how many there are (None: plenty)."""

    mass: float
    stock: int | None = None


class Rules(NamedTuple):
    """What the class asks for in race trim. Masses in kg, shares as fractions.

    Attributes:
        minimum, margin: Least mass, and how far above it the car is to be [kg].
        weighed_with: Names of the items on board when the class weighs the car, maybe with an
            amount.
        maximum: Most mass [kg].
        moment: `before` or `after` the race: after it, fluids without an amount are at reserve.
        power, mass_per_power: Of the engine [W], and the least mass for it [kg/W].
        shortfall_chance: Allowed chance of reading under the minimum on another scale, as a
            fraction; 0: the margin is given.
        scale_accuracy: Standard uncertainty of that scale, as a fraction of the reading.
        front, left, cross: Lowest and highest share; twice the same for a single number.
        axle_minimum: Least mass on the front and on the rear axle.
        wheel_minimum: Least mass on any wheel [kg].
        most_ballast: Most ballast in all [kg].
    """

    minimum: float = 0.0
    margin: float = 0.0
    weighed_with: tuple[str, ...] = ()
    maximum: float = inf
    moment: str = "before"
    power: float = 0.0
    mass_per_power: float = 0.0
    shortfall_chance: float = 0.0
    scale_accuracy: float = 1e-3
    front: tuple[float, float] | None = None
    left: tuple[float, float] | None = None
    cross: tuple[float, float] | None = None
    axle_minimum: tuple[float, float] = (0.0, 0.0)
    wheel_minimum: float = 0.0
    most_ballast: float = inf


class RaceTrim(NamedTuple):
    """A state that the car races in: its name, and what is on board, maybe with amounts."""

    name: str
    on_board: tuple[str, ...]


class Target(NamedTuple):
    """What the perches are to reach, as the car file says it; None: it does not.

    Attributes:
        cross, tolerance: Of the cross weight, as fractions.
        equal: Instead of a cross weight, the axle whose wheels are to carry the same.
        height_tolerance: [m].
    """

    cross: float | None = None
    equal: Literal["front", "rear"] | None = None
    tolerance: float | None = None
    height_tolerance: float | None = None


@dataclass(frozen=True, eq=False)
class Car:
    """A car as its file describes it, in SI.

    Attributes:
        wheelbase: [m].
        tracks: (2,), front and rear, contact patch to contact patch [m].
        spring_rate: (4,) [N/m]; infinite on an unsprung axle, whose perches are spacers.
        motion_ratio: (4,), spring travel divided by wheel travel [1]; some books use the
            inverse. 1 if unsprung.
        tire_rate: (4,) [N/m]; infinite for a rigid tire.
        unsprung_mass: (4,) [kg].
        bar_rate: (2,), Anti-roll bar at the wheel, one wheel against the other [N/m]; 0 when
            disconnected.
        perch_lead: (4,), perch travel in one turn [m]; NaN where there is no threaded perch.
        perch_step: (4,), the smallest move [turn].
        perch_travel: (4, 2), turns left, down (≤ 0) and up (≥ 0); infinite where the file does
            not say.
        cg_up: Height of the center of gravity [m]; 0 when not known.
        torsional_stiffness: Of the chassis between the axles [N·m/rad]; infinite for a rigid
            one.
        corners: The four corners where the file says more of them than a rate and a ratio; else
            empty, and the car is linear.
        links: Front and rear anti-roll bar links, with `corners`.
        race_trims: By name; none: the car races as the class weighs it.
    """

    name: str
    wheelbase: float
    tracks: Floats
    spring_rate: Floats
    motion_ratio: Floats
    tire_rate: Floats
    unsprung_mass: Floats
    bar_rate: Floats
    perch_lead: Floats
    perch_step: Floats
    perch_travel: Floats
    cg_up: float = 0.0
    torsional_stiffness: float = inf
    scales: Scales = field(
        default_factory=lambda: Scales(
            1e-3, 0.0, 0.5 * GRAVITY, 0.5 * GRAVITY, USUAL_LEVEL, stated=False, level_stated=False
        )
    )
    on_board: tuple[Item, ...] = ()
    rules: Rules = field(default_factory=Rules)
    places: tuple[Place, ...] = ()
    pieces: tuple[Piece, ...] = ()
    corners: tuple[Corner, ...] = ()
    links: tuple[Link, ...] = ()
    target: Target = field(default_factory=Target)
    race_trims: tuple[RaceTrim, ...] = ()

    @property
    def aft(self) -> Floats:
        """Where the contact patches are, behind the front axle [m], shape (4,)."""
        return np.asarray(np.multiply.outer(self.wheelbase, np.array([0.0, 0.0, 1.0, 1.0])))

    @property
    def left(self) -> Floats:
        """Where the contact patches are, left of the centerline [m], shape (4,)."""
        half = self.tracks[..., [0, 0, 1, 1]] / 2
        return np.asarray(half * np.array([1.0, -1.0, 1.0, -1.0]))

    @property
    def adjustable(self) -> Flags:
        """Which corners have a threaded perch, or a lower mount that can be turned, shape (4,)."""
        mounts: Flags = np.array([isfinite(one.mount.lead) for one in self.corners] or [False] * 4)
        return np.asarray(np.isfinite(self.perch_lead) | mounts)

    @property
    def ramped(self) -> Flags:
        """Which springs have a rate that goes straight from row to row, shape (4,)."""
        ramps = [bool(one.spring.ramp.any()) for one in self.corners]
        return np.array(ramps or [False] * 4)

    @property
    def solid(self) -> Flags:
        """Which corners have no spring, shape (4,)."""
        return np.isinf(self.spring_rate)


def plain_car(
    wheelbase: float = 2.4,
    tracks: tuple[float, float] = (1.45, 1.45),
    spring_rate: tuple[float, float] = (70e3, 60e3),
    motion_ratio: tuple[float, float] = (0.7, 0.7),
    tire_rate: tuple[float, float] = (inf, inf),
) -> Car:
    """Make a car that is the same left and right from a few numbers, front and rear.

    Its perches have 1.5 mm of lead, quarter-turn steps and ten turns up and down.

    Args:
        wheelbase: [m].
        tracks, spring_rate, motion_ratio, tire_rate: Front and rear, as in `Car` [m], [N/m],
            [1], [N/m].

    Returns:
        With no bars, no chassis twist and nothing on board.

    Examples:
        >>> plain_car(wheelbase=2.5).aft.tolist()
        [0.0, 0.0, 2.5, 2.5]
    """

    def corners(pair: tuple[float, float]) -> Floats:
        return np.repeat(np.array(pair, dtype=float), 2)

    return Car(
        name="plain car",
        wheelbase=wheelbase,
        tracks=np.array(tracks, dtype=float),
        spring_rate=corners(spring_rate),
        motion_ratio=corners(motion_ratio),
        tire_rate=corners(tire_rate),
        unsprung_mass=np.zeros(4),
        bar_rate=np.zeros(2),
        perch_lead=np.full(4, 1.5e-3),
        perch_step=np.full(4, 0.25),
        perch_travel=np.tile([-10.0, 10.0], (4, 1)),
    )
