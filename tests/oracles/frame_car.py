"""A car on four springs as a space frame, solved by PyNiteFEA: an oracle for loads and heights.

Nothing here knows the free load pattern or any closed form: the car is drawn, and a general frame
solver says where it comes to rest.

                front hub ===== spine ===== rear hub        plan view, left is up
        LF ======== + ======== RF      LR ======== + ======== RR      (cross beams)
         |                     |        |                     |
       spring                spring   spring                spring
         |                     |        |                     |
       wheel                 wheel    wheel                 wheel      (on a tire, or on its pad)

Order of corners LF RF LR RR. Frame axes: X aft of the front axle, Y up, Z left of the centerline.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from Pynite import FEModel3D

from tests.oracles import Numbers

G = 9.80665  # standard gravity [m/s^2]
CORNERS = ("LF", "RF", "LR", "RR")
HUBS = ("front hub", "front hub", "rear hub", "rear hub")
NO_LIFT = (0.0, 0.0, 0.0, 0.0)
# Beams this many times stiffer than the springs, and more: see "Rigid" below. Stiffer beams bring
# more rounding error than they take away of their own bending.
STIFFER = 1e3


class Equilibrium(NamedTuple):
    """Where the car came to rest.

    loads : (4,) force on each pad [N]
    heights : (4,) rise of the body at each wheel station [m]
    """

    loads: np.ndarray
    heights: np.ndarray


@dataclass(frozen=True)
class Car:
    """What `settle` was asked, in SI; see there."""

    wheelbase: float
    tracks: tuple[float, float]
    rate: tuple[float, ...]
    masses: tuple[tuple[float, float, float], ...]
    lift: tuple[float, ...]
    bars: tuple[float, float]
    torsion: float
    tire_rate: tuple[float, ...] | None
    pads: tuple[float, ...]

    @property
    def stations(self) -> list[tuple[float, float]]:
        """(aft, left) of the wheel stations [m]."""
        front, rear = (track / 2 for track in self.tracks)
        return [(0.0, front), (0.0, -front), (self.wheelbase, rear), (self.wheelbase, -rear)]


def solve_equilibrium(
    wheelbase: float,
    tracks: Numbers,
    ride_rate: Numbers,
    masses: Sequence[tuple[float, float, float]],
    lift: Numbers = NO_LIFT,
    *,
    bars: Numbers = (0.0, 0.0),
    torsion: float = math.inf,
    tire_rate: Numbers | None = None,
    pads: Numbers = NO_LIFT,
) -> Equilibrium:
    """Let a car settle on its four springs, and read the four pads.

    The body is an H of beams that do not bend (see "Rigid" below). At each wheel station hangs one
    vertical spring. Forward, sideways and turning in plan are held at the front hub, where a
    vertical force cannot leak away. Small angles: the loads act straight down where the masses were
    before the car moved, so the softening by a high center of gravity is *not* in it.

    Without masses the answer is the *change* of loads and heights that the lifts and pads bring;
    the system is linear, so that changes add up.

    Parameters
    ----------
    wheelbase : [m]
    tracks : front, rear [m]
    ride_rate : (4,) rate of each corner [N/m]: wheel rate and tire rate in series. When `tire_rate`
        is given it is the *wheel* rate instead, and the frame puts the tire in series itself.
        Infinite: no spring, the wheel station sits on its wheel (as stiff as the beams, so that the
        extrapolation below takes it to rigid with them).
    masses : sequence of (mass [kg], aft [m], left [m])
        Each on a stiff post of its own on the front hub if aft <= wheelbase/2, else on the rear hub
        (it makes a difference only with `torsion`).
    lift : (4,) [m]
        How much longer each spring is made: the corner would rise by this much at constant load.
        A perch move p with motion ratio MR is a lift p/MR. In the frame the spring pushes its two
        ends apart by rate*lift, which without bars is the same as moving its ground end by `lift`.
    bars : front, rear [N/m]
        Anti-roll bars, energy k_b (z_left - z_right)^2 / 2 with z the travel of wheel against body.
        In the frame a torsion bar in two bearings on the body, with an arm at each end and a drop
        link from the arm to the wheel. A lift moves the body, not the wheel: the bar feels it only
        through the travel it causes. With ride rates alone the tire is rigid; use `tire_rate` for a
        bar with tires.
    torsion : [N*m/rad]
        Twist of the spine between the front and the rear hub, about the centerline; the spine does
        not bend. Infinite: rigid.
    tire_rate : (4,) [N/m], or None: the wheel point on its pad, rigid
    pads : (4,) [m] height of each pad above level

    Returns
    -------
    Equilibrium(loads [N], heights [m]) : heights are the rise of the body above its place on
    unloaded
        springs and level pads, so a car that carries something has negative heights.

    Rigid
    -----
    PyNiteFEA 3.2 has no rigid links. The frame is solved with beams 1, 2 and 4 times STIFFER as
    stiff as the stiffest spring, and the answers are extrapolated to endless stiffness (a quadratic
    in the flexibility). Measured against a direct solution of the rigid body over 600 random cars
    (rates 10 to 200 N/mm, mixed): with masses within 3e-9 of the largest load and 4e-9 of the
    largest height; without masses, where loads are small differences, within 2e-7 and 1e-9.
    """
    car = Car(
        float(wheelbase),
        (float(tracks[0]), float(tracks[1])),
        tuple(map(float, ride_rate)),
        tuple((float(kg), float(aft), float(left)) for kg, aft, left in masses),
        tuple(map(float, lift)),
        (float(bars[0]), float(bars[1])),
        float(torsion),
        None if tire_rate is None else tuple(map(float, tire_rate)),
        tuple(map(float, pads)),
    )
    at_1, at_2, at_4 = (_solve(car, STIFFER * factor) for factor in (1, 2, 4))
    return Equilibrium(*((a - 6 * b + 8 * c) / 3 for a, b, c in zip(at_1, at_2, at_4, strict=True)))


def _solve(car: Car, stiffer: float) -> Equilibrium:
    """The frame with beams of finite stiffness."""
    frame = FEModel3D()
    frame.add_material("unit", 1.0, 1.0, 0.0, 0.0)  # so that sections hold stiffnesses [N, N*m^2]
    rates = [rate for rate in (*car.rate, *(car.tire_rate or ())) if math.isfinite(rate)]
    if math.inf in car.rate:
        # With springs the stiffest spring sets the scale, as measured under "Rigid".
        stiff = stiffer * max(rates or [car.torsion / min(car.tracks) ** 2])
        car = replace(car, rate=tuple(min(rate, stiff) for rate in car.rate))
    else:
        stiff = stiffer * max(car.rate)
    _body(frame, car, stiff)
    _corners(frame, car)
    for axle in (0, 1):
        if car.bars[axle]:
            _bar(frame, car, axle, stiff)
    for number, mass in enumerate(car.masses):
        _mass(frame, car, number, stiff, *mass)
    frame.analyze_linear(sparse=False)
    return Equilibrium(_loads(frame), _heights(frame))


def _node(frame: FEModel3D, name: str, aft: float, up: float, left: float) -> str:
    return str(frame.add_node(name, aft, up, left))


def _beam(frame: FEModel3D, i: str, j: str, stiff: float, twist: float | None = None) -> str:
    """A beam between two nodes.

    Its end stiffnesses are `stiff` [N/m] whatever its length, which keeps the system well
    conditioned. `twist` is its GJ [N*m^2], when that is not to be stiff.
    """
    name = f"{i} to {j}"
    length = frame.nodes[i].distance(frame.nodes[j])
    bending = stiff * length**3
    frame.add_section(name, stiff * length, bending, bending, bending if twist is None else twist)
    return str(frame.add_member(name, i, j, "unit", name))


def _body(frame: FEModel3D, car: Car, stiff: float) -> None:
    """Hubs, spine and cross beams; held in plan at the front hub."""
    _node(frame, "front hub", 0.0, 0.0, 0.0)
    _node(frame, "rear hub", car.wheelbase, 0.0, 0.0)
    frame.def_support("front hub", support_DX=True, support_DZ=True, support_RY=True)
    twist = None if math.isinf(car.torsion) else car.torsion * car.wheelbase
    _beam(frame, "front hub", "rear hub", stiff, twist)
    for corner, hub, (aft, left) in zip(CORNERS, HUBS, car.stations, strict=True):
        _beam(frame, hub, _node(frame, corner, aft, 0.0, left), stiff)


def _corners(frame: FEModel3D, car: Car) -> None:
    """Spring, wheel, tire and pad under each wheel station."""
    down = car.wheelbase / 2
    for i, (corner, (aft, left)) in enumerate(zip(CORNERS, car.stations, strict=True)):
        wheel = _node(frame, f"{corner} wheel", aft, -down, left)
        frame.add_spring(f"{corner} spring", wheel, corner, car.rate[i])
        frame.add_node_load(corner, "FY", car.rate[i] * car.lift[i])
        frame.add_node_load(wheel, "FY", -car.rate[i] * car.lift[i])
        frame.def_support(wheel, True, car.tire_rate is None, True, True, True, True)
        ground = wheel
        if car.tire_rate is not None:
            ground = _node(frame, f"{corner} pad", aft, -2 * down, left)
            frame.def_support(ground, True, True, True, True, True, True)
            frame.add_spring(f"{corner} tire", ground, wheel, car.tire_rate[i])
        frame.def_node_disp(ground, "DY", car.pads[i])


def _bar(frame: FEModel3D, car: Car, axle: int, stiff: float) -> None:
    """An anti-roll bar on two bearings, with drop links to the wheels.

    Twist of the bar is (z_left - z_right)/arm, and its torque is the link force times the arm, so
    k_b = GJ / (track * arm^2). The arm is free; long, it spares the system short members.
    """
    arm, below = car.wheelbase / 2, -car.wheelbase / 4
    ends = []
    for i in (2 * axle, 2 * axle + 1):
        corner, (aft, left) = CORNERS[i], car.stations[i]
        bracket = _node(frame, f"{corner} bracket", aft + arm, below, 2 * left)
        end = _node(frame, f"{corner} bar end", aft + arm, below, left)
        tip = _node(frame, f"{corner} arm tip", aft, below, left)
        _beam(frame, HUBS[i], bracket, stiff)
        bearing = _beam(frame, bracket, end, stiff)
        frame.def_releases(bearing, Rxj=True)
        _beam(frame, end, tip, stiff)
        frame.add_spring(f"{corner} link", f"{corner} wheel", tip, stiff)
        ends.append(end)
    _beam(frame, ends[0], ends[1], 0.0, car.bars[axle] * car.tracks[axle] * arm**2)


def _mass(
    frame: FEModel3D, car: Car, number: int, stiff: float, kg: float, aft: float, left: float
) -> None:
    """A mass on a post.

    The height of a post is free. Each has its own, so that it does not end on or pass through a
    node of another part: PyNite ties a member to every node on its line.
    """
    hub = "front hub" if aft <= car.wheelbase / 2 else "rear hub"
    up = car.wheelbase / 4 * (1 + (number + 1) / len(car.masses))
    top = _node(frame, f"mass {number}", aft, up, left)
    _beam(frame, hub, top, stiff)
    frame.add_node_load(top, "FY", -kg * G)


def _loads(frame: FEModel3D) -> np.ndarray:
    """Reactions of the pads [N]."""
    grounds = [f"{c} pad" if f"{c} pad" in frame.nodes else f"{c} wheel" for c in CORNERS]
    return np.array([frame.nodes[ground].RxnFY["Combo 1"] for ground in grounds])


def _heights(frame: FEModel3D) -> np.ndarray:
    """Rise of the wheel stations of the body [m]."""
    return np.array([frame.nodes[corner].DY["Combo 1"] for corner in CORNERS])
