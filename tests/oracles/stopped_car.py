"""A car on four scale pads whose corners leave the linear range, settled by mujoco.

The linkages, tires and pads are those of linkage_car.py. Here each corner has a coilover between
its lower link and the body, and springs only push:

       body mount ----+------+         spring, from the perch: a main spring, and maybe a tender on
                      |   tender       top of it; the part between them slides on its own, and
                      |      |         stops where the tender is solid
                    shock   part       shock: a stop at full extension, and a bump stop
                      |      |
                      |     main       motion ratio: it changes with travel where the seat lies
             seat ----+------+         above or below the line of the link

Nothing is said of two springs in series: the part between them comes to rest like the rest of the
car. Two tables are stated segment by segment (progressive spring, bump stop), each a spring that
begins to push at a certain length.

Anti-roll bars push on the hubs by the difference of wheel travel and by drop links of unequal
length. SI units, order of corners LF RF LR RR; shock travel is 0 at full extension and grows in
bump.
"""

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

import numpy as np

from tests.oracles import Numbers, linkage_car
from tests.oracles.linkage_car import CORNERS, LINK_LENGTH, Mass
from tests.oracles.stopped_model import NONE, StoppedCar
from tests.oracles.stopped_rest import Resting, come_to_rest

__all__ = ["Measured", "Stopped", "StoppedCar", "ratio_tables", "solve_equilibrium"]

DROOP_STOP = "on droop stop"
BUMP_STOP = "on bump stop"
SOLID = "tender solid"
LOOSE = "spring loose"
IN_AIR = "wheel in the air"


@dataclass(frozen=True)
class Stopped:
    """The car at rest on its pads.

    Attributes
    ----------
    loads : array (4,)
        Vertical force on each pad [N]; 0 under a wheel in the air.
    heights : array (4,)
        Height above the ground of the body over the wheel stations, as in linkage_car.Equilibrium
        [m].
    shock_travel : array (4,)
        From full extension [m]; on the droop stop a little below 0, by its force over its rate.
    spring_force : array (4,)
        Of the spring unit [N].
    spring_compression : array (4,)
        Of main and tender together [m]; negative is a gap.
    active : four frozensets of words
        Of DROOP_STOP, BUMP_STOP, SOLID, LOOSE, IN_AIR, those that hold there.
    """

    loads: np.ndarray
    heights: np.ndarray
    shock_travel: np.ndarray
    spring_force: np.ndarray
    spring_compression: np.ndarray
    active: tuple[AbstractSet[str], ...]


@dataclass(frozen=True)
class Measured:
    """What somebody with the real car on scales could measure of it, as it stands at rest.

    Attributes
    ----------
    rest : Stopped
        Loads, heights, shock travel and the like.
    cg : array (3,)
        Center of gravity of the whole car, aft, left and above the ground [m].
    preload : array (4,)
        Compression of the spring unit at full extension of the shock [m]; negative is a gap.
    bump_stop : array (4,)
        Shock travel at which the bump stop is touched [m]; inf: none.
    travels : array (n,)
        Wheel travel from rest, hub against body, positive in bump [m].
    motion_ratios : array (4, n)
        Shock per wheel travel at each of them.
    shock_travels : array (4, n)
        Shock travel at each of them [m].
    motion_ratio : array (4,)
        Shock per wheel travel at rest.
    bar_force : array (2,)
        Of the bars on the left hub, downwards, front and rear [N].
    bar_twist : array (2,)
        The wheel travel, left less right, that would give this force without link preload [m]:
        bar_force / bar_rate; 0 for a bar that is disconnected.
    """

    rest: Stopped
    cg: np.ndarray
    preload: np.ndarray
    bump_stop: np.ndarray
    travels: np.ndarray
    motion_ratios: np.ndarray
    shock_travels: np.ndarray
    motion_ratio: np.ndarray
    bar_force: np.ndarray
    bar_twist: np.ndarray


def solve_equilibrium(
    car: StoppedCar,
    perch: Numbers = NONE,
    mount: Numbers = NONE,
    link: Numbers = (0.0, 0.0),
    pads: Numbers = NONE,
    added: Sequence[Mass] = (),
) -> Stopped:
    """Let the car come to rest, and read the pads, the ride heights and the shocks.

    Parameters
    ----------
    car : StoppedCar
    perch : four floats
        Extra move of each perch [m at the spring]; positive squeezes the spring.
    mount : four floats
        How much longer each whole unit is made at its lower mount [m at the shock]: where the
        wheel stands the same, spring and shock are both squeezed by it.
    link : two floats
        How much longer the left drop link is made, front and rear [m].
    pads : four floats
        Height of each pad above the ground [m].
    added : sequence of (mass, aft, left, up)
        Masses bolted to the body [kg, m, m, m]; the place is that on the level car at design.

    Returns
    -------
    Stopped

    Raises
    ------
    ValueError
        A tire as stiff as the contact with the pad, a rate that falls with travel, or anything else
        that mujoco can't build.
    RuntimeError
        No rest found, rest found but unstable, or the loads don't add up to the weight.
    """
    return _read(come_to_rest(car, perch, mount, link, pads, added))


def ratio_tables(
    car: StoppedCar,
    travels: Numbers,
    perch: Numbers = NONE,
    mount: Numbers = NONE,
    link: Numbers = (0.0, 0.0),
    pads: Numbers = NONE,
    added: Sequence[Mass] = (),
) -> Measured:
    """Measure the car at rest: as `settle`, and the linkages through their travel.

    Parameters
    ----------
    car, perch, mount, link, pads, added :
        As for `settle`.
    travels : n floats
        Wheel travel from rest at which to measure, hub against body, positive in bump [m].

    Returns
    -------
    Measured

    Raises
    ------
    ValueError, RuntimeError
        As `settle`.
    """
    return measure(come_to_rest(car, perch, mount, link, pads, added), travels, link)


def measure(resting: Resting, travels: Numbers, link: Numbers = (0.0, 0.0)) -> Measured:
    """As `ratio_tables`, of a car at rest with its left drop links made so much longer."""
    car, rest = resting.car, _read(resting)
    cg = resting.data.subtree_com[0] * [-1.0, 1.0, 1.0]
    at_rest = resting.data.qpos.copy()
    swept = [resting.sweep(at_rest, i, [0.0, *travels]) for i in range(4)]
    ratios, shocks = (np.array(rows) for rows in zip(*swept, strict=True))
    joints = [at_rest[resting.model.joint(f"link_{corner}").qposadr[0]] for corner in CORNERS]
    longer = (np.array(car.link_longer) + link) / car.link_ratio
    bar = LINK_LENGTH * (np.array(joints[::2]) - joints[1::2]) + longer
    bar *= np.array(car.bar_rate) > 0.0
    return Measured(
        rest=rest,
        cg=cg,
        preload=rest.spring_compression - rest.shock_travel,
        bump_stop=np.array(car.bump_stop),
        travels=np.array(travels, dtype=float),
        motion_ratios=ratios[:, 1:],
        shock_travels=shocks[:, 1:],
        motion_ratio=ratios[:, 0],
        bar_force=bar * car.bar_rate,
        bar_twist=bar,
    )


def _read(resting: Resting) -> Stopped:
    """What can be read of the car at rest."""
    loads = linkage_car.pad_loads(resting.model, resting.data)
    shock = np.array([resting.shock_travel(i) for i in range(4)])
    compression = np.array([resting.compression(i) for i in range(4)])
    stations = [resting.data.site(f"station_{corner}") for corner in CORNERS]
    words = [
        {
            DROOP_STOP: shock[i] < 0.0,
            BUMP_STOP: shock[i] > resting.car.bump_stop[i],
            SOLID: resting.is_solid(i),
            LOOSE: compression[i] <= 0.0,
            IN_AIR: loads[i] == 0.0,
        }
        for i in range(4)
    ]
    return Stopped(
        loads=loads,
        heights=np.array([station.xpos[2] for station in stations]),
        shock_travel=shock,
        spring_force=np.array([resting.spring_force(i) for i in range(4)]),
        spring_compression=compression,
        active=tuple(frozenset(word for word in at if at[word]) for at in words),
    )
