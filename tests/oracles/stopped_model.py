"""The car of stopped_car.py: what it is, and its model in mujoco's language."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from tests.oracles import Numbers, linkage_car
from tests.oracles.linkage_car import (
    CORNERS,
    GRAVITY,
    HUB_UP,
    LINK_LENGTH,
    SPRING_LENGTH,
    UPRIGHT_TIE,
    Four,
    LinkageCar,
    Mass,
)

NONE: Four = (0.0, 0.0, 0.0, 0.0)
FAR = 100.0  # m, a length that no spring ever has
SOLID_STIFFNESS = 1e9  # N/m, coil on coil: 1e-4 of the compliance of a main spring
MOST_FORCE = 1e6  # N, of a spring
HALVINGS = 60
PART_MASS = 1e-3  # kg, between main and tender, taken off the body: a moving part can't be massless

Table = tuple[tuple[float, float], ...]
"""Rows (compression from which [m], rate [N/m]); rates may rise only."""
Rate = float | Table


@dataclass(frozen=True)
class StoppedCar(LinkageCar):
    """A linkage car with stops, tenders and preloads; by default without any of them in reach.

    Its parent's fields mean what they mean there: spring_rate is that of the main spring, and
    motion_ratio (shock per wheel travel) holds at design. At design the springs carry the bare car
    level as far as stops and link preload let them, and then `misset` puts it out.

    Parameters
    ----------
    spring_table : four tables
        Progressive springs instead of spring_rate; (): spring_rate at any compression.
    tender_rate : four floats
        In series with the main spring [N/m]; 0: there is none.
    tender_travel : four floats
        Compression at which the tender is solid [m].
    seat_up : four floats
        How far the spring's seat on the link lies above the line through the ends of the link [m].
        The motion ratio falls by about (seat_up + seat_up²/0.35)/0.45² for each meter of bump.
    shock_travel : four floats
        Of the shock at design, from full extension [m].
    droop_rate : float
        Of the stop at full extension [N/m of shock travel].
    bump_stop : four floats
        Shock travel at which the bump stop is touched [m]; inf: none.
    bump_rate : four rates
        Of the bump stop: a number [N/m] or a table.
    link_ratio : (float, float)
        Travel of the drop link per wheel travel, front and rear.
    link_longer : (float, float)
        How much longer the left drop link is than one that leaves the bar without load at design,
        front and rear [m].
    """

    spring_table: tuple[Table, ...] = ((), (), (), ())
    tender_rate: Four = NONE
    tender_travel: Four = NONE
    seat_up: Four = NONE
    shock_travel: Four = (0.06, 0.06, 0.06, 0.06)
    droop_rate: float = 5e6
    bump_stop: Four = (inf, inf, inf, inf)
    bump_rate: tuple[Rate, ...] = (1e5, 1e5, 1e5, 1e5)
    link_ratio: tuple[float, float] = (1.0, 1.0)
    link_longer: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Unit:
    """The coilover of one corner as it is set up, in the pose that is design.

    compression : of main and tender together [m]
    tender : compression of the tender [m]
    shock : shock travel [m]
    """

    compression: float
    tender: float
    shock: float


def table_of(rate: Rate) -> Table:
    return rate if isinstance(rate, tuple) else ((0.0, rate),)


def main_table(car: StoppedCar, i: int) -> Table:
    return car.spring_table[i] or table_of(car.spring_rate[i])


def segments(table: Table) -> list[tuple[float, float]]:
    """(compression from which, rate that begins there) of springs that together have this table."""
    starts, rates = np.array(table, dtype=float).T
    more = np.diff(rates, prepend=0.0)
    if (np.diff(starts, prepend=-1.0) <= 0.0).any() or (more < 0.0).any():
        raise ValueError(f"{table}: neither compression nor rate may fall from row to row")
    return list(zip(starts.tolist(), more.tolist(), strict=True))


def compression_under(car: StoppedCar, i: int, force: float) -> float:
    """Of the spring unit i under a force [m]."""
    left, compression, table = force, 0.0, main_table(car, i)
    for (start, rate), (end, _) in zip(table, (*table[1:], (inf, 0.0)), strict=True):
        compression = start + min(left / rate, end - start)
        left = max(left - rate * (end - start), 0.0)
        if not left:
            break
    return compression + tender_under(car, i, force)


def tender_under(car: StoppedCar, i: int, force: float) -> float:
    """Compression of tender i under a force [m]."""
    rate, travel = car.tender_rate[i], car.tender_travel[i]
    if not rate:
        return 0.0
    return min(force / rate, travel + (force - rate * travel) / (rate + SOLID_STIFFNESS))


def tender_at(car: StoppedCar, i: int, compression: float) -> float:
    """Compression of tender i where it and the main spring have this together [m].

    A start for the search of rest, no more: mujoco knows both springs, and not this.
    """
    if compression <= 0.0:  # the part between them lies on the main spring
        return compression - PART_MASS * GRAVITY / main_table(car, i)[0][1]
    low, high = 0.0, MOST_FORCE
    for _ in range(HALVINGS):
        force = (low + high) / 2.0
        if compression_under(car, i, force) > compression:
            high = force
        else:
            low = force
    return tender_under(car, i, high)


def set_up(car: StoppedCar, i: int, perch: float, mount: float) -> Unit:
    load = linkage_car.spring_load(car, i)
    return Unit(
        compression=compression_under(car, i, load) + car.misset[i] + perch + mount,
        tender=tender_under(car, i, load),
        shock=car.shock_travel[i] + mount,
    )


def stopped_xml(
    car: StoppedCar,
    units: Sequence[Unit],
    link: Numbers,
    pads: Numbers,
    added: Sequence[Mass],
) -> str:
    """The whole model in mujoco's language."""
    parts = [linkage_car.corner_xml(car, i, car.seat_up[i]) for i in range(4)]
    mass = car.sprung_mass
    moment = mass * np.array(car.sprung_cg)
    for i in range(4):
        if car.tender_rate[i]:
            parts.append(_between_xml(car, i))
            mass -= PART_MASS
            moment -= PART_MASS * _mount_place(car, i)
    bars = (
        linkage_car.bar_xml(*pair, rate, (longer + more) / ratio)
        for pair, rate, longer, more, ratio in zip(
            (CORNERS[:2], CORNERS[2:]),
            car.bar_rate,
            car.link_longer,
            link,
            car.link_ratio,
            strict=True,
        )
    )
    return linkage_car.model_xml(
        car,
        sprung=(mass, *(moment / mass).tolist()),
        parts=parts,
        tendons=[*(_unit_xml(car, i, unit) for i, unit in enumerate(units)), *bars],
        pads=pads,
        added=added,
    )


def _mount_place(car: StoppedCar, i: int) -> np.ndarray:
    """Body end of coilover i at design: aft, left, up [m]."""
    x, y = linkage_car.stations(car)[i]
    inboard = np.sign(y) * LINK_LENGTH * (1.0 - car.motion_ratio[i])
    return np.array([-x, y - inboard, HUB_UP + car.seat_up[i] + SPRING_LENGTH])


def _between_xml(car: StoppedCar, i: int) -> str:
    """The part between main spring and tender: it slides along the shock, up is positive."""
    corner, (aft, left, up) = CORNERS[i], _mount_place(car, i)
    side = np.sign(linkage_car.stations(car)[i][1])
    return f"""
    <body pos="{-aft} {left} {up}">
      <joint name="shock_{corner}" type="hinge" axis="{side} 0 0"/>
      <joint name="tender_{corner}" type="slide" axis="0 0 1"/>
      {linkage_car.point_mass(PART_MASS)}
      <site name="between_{corner}"/>
    </body>"""


def _unit_xml(car: StoppedCar, i: int, unit: Unit) -> str:
    """Springs and stops of corner i, and the tie of its upright.

    The shock leans with the link; the tie that turns it is exact at design and wrong by less than
    0.005 rad over 30 mm, which shortens what slides on it by 1e-5.
    """
    corner = CORNERS[i]
    top = f"between_{corner}" if car.tender_rate[i] else f"perch_{corner}"
    free = SPRING_LENGTH + unit.compression - unit.tender
    extended = SPRING_LENGTH + unit.shock
    tendons = [
        f'<spatial name="droop_{corner}" stiffness="{car.droop_rate}" springlength="0 {extended}">'
        f'<site site="seat_{corner}"/><site site="perch_{corner}"/></spatial>'
    ]
    tendons += [
        f'<spatial name="main_{corner}_{n}" stiffness="{rate}" springlength="{free - start} {FAR}">'
        f'<site site="seat_{corner}"/><site site="{top}"/></spatial>'
        for n, (start, rate) in enumerate(segments(main_table(car, i)))
    ]
    if np.isfinite(car.bump_stop[i]):
        touched = extended - car.bump_stop[i]
        tendons += [
            f'<spatial stiffness="{rate}" springlength="{touched - start} {FAR}">'
            f'<site site="seat_{corner}"/><site site="perch_{corner}"/></spatial>'
            for start, rate in segments(table_of(car.bump_rate[i]))
        ]
    if car.tender_rate[i]:
        tendons += [
            f'<fixed stiffness="{rate}" springlength="{-FAR} {start - unit.tender}">'
            f'<joint joint="tender_{corner}" coef="1"/></fixed>'
            for start, rate in (
                (0.0, car.tender_rate[i]),
                (car.tender_travel[i], SOLID_STIFFNESS),
            )
        ]
        tendons.append(
            f'<fixed stiffness="{UPRIGHT_TIE}" springlength="0">'
            f'<joint joint="shock_{corner}" coef="1"/>'
            f'<joint joint="link_{corner}" coef="{car.seat_up[i] / SPRING_LENGTH}"/></fixed>'
        )
    return "".join(tendons) + linkage_car.tie_xml(corner)
