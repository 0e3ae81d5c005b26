"""A car on four scale pads as a rigid-body model with real linkages, settled by mujoco.

This is an oracle: it shares no code with the package that it checks. The body is free to heave,
pitch and roll by any angle. At each corner two equal, parallel links carry an upright on an arc, a
coil spring stands between the lower link and the body, and a tire (a vertical spring) presses a
foot on a frictionless pad. Positions are meters aft of the front axle, left of the centerline and
up from the ground; corners come in the order LF RF LR RR, seen from the driver's seat.

    body ====o-----------o upright          travel, loads and attitude all follow from
             |  | spring |                  where the springs let the links come to rest
             o--+--------o
           pivot         | tire
                     ____v____ pad

What is in it that a linear model leaves out: the arcs of the links, the small change of motion
ratio with travel, and the overturning moment of a high center of gravity as the body leans. The
feet are fixed to the uprights, so that moment has its full arm, center of gravity to ground, in
roll and in pitch alike (a wheel that is free to roll would shorten it in pitch). A wheel may leave
its pad. There are no stops: springs push and pull at any length.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import mujoco
import numpy as np

from tests.oracles import Numbers

CORNERS = ("LF", "RF", "LR", "RR")
GRAVITY = 9.80665  # m/s²
STATION_UP = 0.12  # m, design height above the ground of the body points whose heights are reported

LINK_LENGTH = 0.45  # m, pivot to upright: 20 mm of travel swings the link by 2.5 degrees
HUB_UP = 0.29  # m, wheel center above the ground
SPRING_LENGTH = 0.35  # m, seat to seat at design; the spring stands upright there
FOOT_MASS = 0.1  # kg, part of the unsprung mass: a moving part can't be massless here
LINK_MASS = 0.01  # kg, likewise
FOOT_RADIUS = 0.005  # m, small: the contact stays under one point of the wheel

# N/m, foot on pad. It acts in series with the tire, whose spring is made stiffer to make up for it.
CONTACT_STIFFNESS = 1e8
# mujoco states a contact by acceleration per penetration and an impedance; this is what 1 N/m comes
# to at the highest impedance and FOOT_MASS (measured, within 0.2 %: 5e-6 of a tire's compliance).
CONTACT_ACCELERATION = 6e-4  # 1/kg
# N·m/rad, the tie that keeps each upright parallel to the body, as the second link would.
UPRIGHT_TIE = 1e7
# Nothing pushes a car on frictionless pads sideways, so these carry no force; they only give
# it one place to stand. N/m fore-aft and sideways, N·m/rad in yaw.
DRIFT_STIFFNESS = 100.0

DIFFERENCE_STEP = 1e-8  # m or rad; a step must not break the contact of a wheel that hardly touches
FORCE_TOLERANCE = 1e-7  # largest force or moment left over, as a share of the weight
WEIGHT_TOLERANCE = 1e-5  # of the weight, on the sum of the four loads
MOST_STEPS = 40

Four = tuple[float, float, float, float]
Mass = tuple[float, float, float, float]


@dataclass(frozen=True)
class LinkageCar:
    """A car by its masses, springs and tires, as it stands level at its design ride height.

    Parameters
    ----------
    wheelbase : float
        Front to rear axle [m].
    tracks : (float, float)
        Front and rear track, between contact patches at design [m].
    sprung_mass : float
        Body with everything fixed on it [kg].
    sprung_cg : (float, float, float)
        Its center of gravity at design: aft, left, up [m].
    unsprung_mass : four floats
        Wheel, upright and brake of each corner, at the wheel center [kg].
    spring_rate : four floats
        Force per spring travel [N/m].
    motion_ratio : four floats
        Spring travel per wheel travel at design [-].
    tire_rate : four floats
        Vertical [N/m], below CONTACT_STIFFNESS; 5e7 is as good as rigid.
    misset : four floats
        How far each perch stands above the place that carries the design load [m at the spring];
        positive raises the car.
    bar_rate : (float, float)
        Anti-roll bars, front and rear, at the wheel: the force on the left wheel is bar_rate times
        (left - right wheel travel) [N/m]. 0: disconnected. Without load at design.
    """

    wheelbase: float
    tracks: tuple[float, float]
    sprung_mass: float
    sprung_cg: tuple[float, float, float]
    unsprung_mass: Four
    spring_rate: Four
    motion_ratio: Four
    tire_rate: Four
    misset: Four
    bar_rate: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Equilibrium:
    """The car at rest on its pads.

    Attributes
    ----------
    loads : array (4,)
        Vertical force on each pad [N]; 0 under a wheel in the air.
    heights : array (4,)
        Height above the ground (not above the pad) of the four points fixed on the body that stand
        straight above the contact patches at design, STATION_UP above the ground [m].
    """

    loads: np.ndarray
    heights: np.ndarray


def solve_equilibrium(
    car: LinkageCar,
    perch: Numbers = (0.0, 0.0, 0.0, 0.0),
    pads: Numbers = (0.0, 0.0, 0.0, 0.0),
    added: Sequence[Mass] = (),
) -> Equilibrium:
    """Let the car come to rest, and read the four pads and the four ride heights.

    Rest is found by Newton's method on the forces that mujoco's inverse dynamics leaves over: the
    place where a damped simulation ends, without running through time.

    Parameters
    ----------
    car : LinkageCar
        Its springs carry the bare car level at design, and then `misset` puts it out.
    perch : four floats
        Extra move of each perch [m at the spring]; positive raises the car.
    pads : four floats
        Height of each pad above the ground [m].
    added : sequence of (mass, aft, left, up)
        Masses bolted to the body [kg, m, m, m]; the place is that on the level car at design.

    Returns
    -------
    Equilibrium

    Raises
    ------
    ValueError
        A tire as stiff as the contact with the pad, or anything else that mujoco can't build.
    RuntimeError
        No rest found, rest found but unstable, or the loads don't add up to the weight.
    """
    if max(car.tire_rate) >= CONTACT_STIFFNESS:
        raise ValueError(
            f"tire_rate {max(car.tire_rate):g} N/m: it must be below {CONTACT_STIFFNESS:g}"
        )
    xml = model_xml(
        car,
        sprung=(car.sprung_mass, *car.sprung_cg),
        parts=[corner_xml(car, i) for i in range(4)],
        tendons=[
            *(_spring_xml(car, i, perch[i]) + tie_xml(CORNERS[i]) for i in range(4)),
            bar_xml("LF", "RF", car.bar_rate[0]),
            bar_xml("LR", "RR", car.bar_rate[1]),
        ],
        pads=pads,
        added=added,
    )
    model = mujoco.MjModel.from_xml_string(xml)
    data = mujoco.MjData(model)
    weight = GRAVITY * float(model.body_mass.sum())
    _find_rest(model, data, weight, pads)
    loads = pad_loads(model, data)
    if abs(loads.sum() - weight) > WEIGHT_TOLERANCE * weight:
        raise RuntimeError(f"the pads carry {loads.sum():.3f} N, the car weighs {weight:.3f} N")
    heights = np.array([data.site(f"station_{corner}").xpos[2] for corner in CORNERS])
    return Equilibrium(loads=loads, heights=heights)


def random_car(rng: np.random.Generator) -> LinkageCar:
    """Draw a light track car: four unequal corners, cross weight off by up to about 3 points.

    Parameters
    ----------
    rng : numpy.random.Generator
        The same seed gives the same car.

    Returns
    -------
    LinkageCar
        600-1300 kg, springs 30-120 N/mm, motion ratios 0.55-0.95, tires 180-300 N/mm, bars
        disconnected.
    """
    total = rng.uniform(600.0, 1300.0)
    wheelbase = rng.uniform(2.2, 2.7)
    tracks = rng.uniform(1.34, 1.56) + rng.uniform(-0.04, 0.04, 2)
    unsprung = total * np.repeat(rng.uniform(0.024, 0.034, 2), 2)
    sprung = total - unsprung.sum()
    aft, left, up = (
        wheelbase * rng.uniform(0.42, 0.58),
        rng.uniform(-0.05, 0.05),
        rng.uniform(0.40, 0.52),
    )
    ratio = np.repeat(rng.uniform(0.57, 0.93, 2), 2) + rng.uniform(-0.015, 0.015, 4)
    # Springs by ride frequency, so that a heavy car isn't given springs that it would sit flat on.
    share = np.repeat([1.0 - aft / wheelbase, aft / wheelbase], 2) / 2.0
    frequency = np.repeat(rng.uniform(1.5, 2.6, 2), 2) * rng.uniform(0.97, 1.03, 4)
    spring = np.clip(sprung * share * (2.0 * np.pi * frequency / ratio) ** 2, 30e3, 120e3)
    tire = np.repeat(rng.uniform(190e3, 290e3, 2), 2) * rng.uniform(0.97, 1.03, 4)
    misset = ratio * uneven_lift(
        rng, tracks, 1.0 / (spring * ratio**2) + 1.0 / tire, total * GRAVITY
    )
    return LinkageCar(
        wheelbase=float(wheelbase),
        tracks=tuple(tracks.tolist()),
        sprung_mass=float(sprung),
        sprung_cg=(aft, left, up),
        unsprung_mass=tuple(unsprung.tolist()),
        spring_rate=tuple(spring.tolist()),
        motion_ratio=tuple(ratio.tolist()),
        tire_rate=tuple(tire.tolist()),
        misset=tuple(misset.tolist()),
    )


def uneven_lift(
    rng: np.random.Generator, tracks: np.ndarray, compliance: np.ndarray, weight: float
) -> np.ndarray:
    """Corner lifts [m at the wheel] that tilt the car a little and put its cross weight off.

    Only the size of a random draw hangs on this linear estimate; mujoco says what the car weighs.
    """
    lift = rng.uniform(-0.005, 0.005, 4)
    twist = np.array([1.0, -1.0, -1.0, 1.0]) / np.repeat(tracks, 2)
    amount = rng.uniform(-0.03, 0.03) * weight / (twist[1] + twist[2])  # of the pattern, N·m
    along = amount * (twist**2 @ compliance) - twist @ lift
    return np.asarray(lift + twist * along / (twist @ twist))


# The model ----------------------------------------------------------------------------------------


def stations(car: LinkageCar) -> np.ndarray:
    """Contact patches at design, (4, 2) [m], in mujoco's axes: x forward, y left."""
    front, rear = (track / 2.0 for track in car.tracks)
    return np.array([[0.0, front], [0.0, -front], [-car.wheelbase, rear], [-car.wheelbase, -rear]])


def design_loads(car: LinkageCar) -> np.ndarray:
    """Pad forces (4,) [N] that hold the bare car level; of all such patterns the smallest."""
    places = stations(car)
    aft, left, _ = car.sprung_cg
    unsprung = np.array(car.unsprung_mass)
    moments = car.sprung_mass * np.array([1.0, -aft, left])
    moments += np.array([unsprung.sum(), unsprung @ places[:, 0], unsprung @ places[:, 1]])
    balance = np.vstack([np.ones(4), places.T])
    return np.asarray(np.linalg.lstsq(balance, GRAVITY * moments, rcond=None)[0])


def model_xml(
    car: LinkageCar,
    sprung: Mass,
    parts: Sequence[str],
    tendons: Sequence[str],
    pads: Numbers,
    added: Sequence[Mass],
) -> str:
    """The whole model in mujoco's language; all joints at zero is the design position.

    `sprung` is the body without the `parts` that hang on it.
    """
    mass, aft, left, up = sprung
    inertia = mass * np.array([0.2, 0.9, 1.0])  # plausible; rest doesn't depend on it
    return f"""
    <mujoco>
      <compiler angle="radian"/>
      <option gravity="0 0 {-GRAVITY}"/>
      <worldbody>
        {"".join(_pad_xml(*place) for place in zip(CORNERS, stations(car), pads, strict=True))}
        <body name="body">
          <joint type="slide" axis="1 0 0" stiffness="{DRIFT_STIFFNESS}"/>
          <joint type="slide" axis="0 1 0" stiffness="{DRIFT_STIFFNESS}"/>
          <joint type="slide" axis="0 0 1"/>
          <joint type="hinge" axis="0 0 1" stiffness="{DRIFT_STIFFNESS}"/>
          <joint type="hinge" axis="0 1 0"/>
          <joint type="hinge" axis="1 0 0"/>
          <inertial mass="{mass}" pos="{-aft} {left} {up}" diaginertia="{row(inertia)}"/>
          {"".join(_added_xml(*each) for each in added)}
          {"".join(parts)}
        </body>
      </worldbody>
      <contact>{"".join(_contact_xml(corner) for corner in CORNERS)}</contact>
      <tendon>{"".join(tendons)}</tendon>
    </mujoco>"""


def _pad_xml(corner: str, station: np.ndarray, height: float) -> str:
    """A scale platform whose top is at the given height [m]; only its own foot can touch it."""
    return (
        f'<geom name="pad_{corner}" type="box" size="0.3 0.3 0.02" contype="0" conaffinity="0" '
        f'pos="{row(station)} {height - 0.02}"/>'
    )


def _contact_xml(corner: str) -> str:
    """One frictionless contact (condim 1: a normal force and nothing else), as stiff as it goes."""
    return (
        f'<pair geom1="pad_{corner}" geom2="foot_{corner}" condim="1" '
        f'solref="{-CONTACT_ACCELERATION * CONTACT_STIFFNESS} -1000" '
        'solimp="0.9999 0.9999 0.001 0.5 2"/>'
    )


def _added_xml(mass: float, aft: float, left: float, up: float) -> str:
    """A mass [kg] bolted to the body; no joint, so it moves with it."""
    return f'<body pos="{-aft} {left} {up}">{point_mass(mass)}</body>'


def corner_xml(car: LinkageCar, i: int, seat_up: float = 0.0) -> str:
    """Link, upright, tire and foot of corner i. Positive joint values move the wheel up.

    The spring's seat on the link lies `seat_up` [m] above the line through its two ends.
    """
    corner, (x, y) = CORNERS[i], stations(car)[i]
    side = np.sign(y)
    seat = side * car.motion_ratio[i] * LINK_LENGTH  # outboard of the pivot
    pivot = y - side * LINK_LENGTH
    hub_mass = car.unsprung_mass[i] - FOOT_MASS - LINK_MASS
    tire_squash = (design_loads(car)[i] - FOOT_MASS * GRAVITY) / car.tire_rate[i]
    tire_rate = 1.0 / (1.0 / car.tire_rate[i] - 1.0 / CONTACT_STIFFNESS)
    return f"""
    <site name="station_{corner}" pos="{x} {y} {STATION_UP}"/>
    <site name="perch_{corner}" pos="{x} {pivot + seat} {HUB_UP + seat_up + SPRING_LENGTH}"/>
    <body pos="{x} {pivot} {HUB_UP}">
      <joint name="link_{corner}" type="hinge" axis="{side} 0 0"/>
      {point_mass(LINK_MASS, side * LINK_LENGTH)}
      <site name="seat_{corner}" pos="0 {seat} {seat_up}"/>
      <body pos="0 {side * LINK_LENGTH} 0">
        <joint name="upright_{corner}" type="hinge" axis="{side} 0 0"/>
        {point_mass(hub_mass)}
        <body pos="0 0 {FOOT_RADIUS - HUB_UP}">
          <joint name="tire_{corner}" type="slide" axis="0 0 1"
                 stiffness="{tire_rate}" springref="{-tire_squash}"/>
          {point_mass(FOOT_MASS)}
          <geom name="foot_{corner}" type="sphere" size="{FOOT_RADIUS}"
                contype="0" conaffinity="0"/>
        </body>
      </body>
    </body>"""


def spring_load(car: LinkageCar, i: int) -> float:
    """Force of spring i that carries the bare car level at design [N]."""
    return float(design_loads(car)[i] - GRAVITY * car.unsprung_mass[i]) / car.motion_ratio[i]


def _spring_xml(car: LinkageCar, i: int, perch: float) -> str:
    """Coil spring of corner i, its perch moved [m]."""
    corner = CORNERS[i]
    squash = spring_load(car, i) / car.spring_rate[i]
    free_length = SPRING_LENGTH + squash + car.misset[i] + perch
    return f"""
    <spatial stiffness="{car.spring_rate[i]}" springlength="{free_length}">
      <site site="seat_{corner}"/><site site="perch_{corner}"/>
    </spatial>"""


def tie_xml(corner: str) -> str:
    """The tie that stands for the second link: the upright turns back as far as the link turns."""
    return f"""
    <fixed stiffness="{UPRIGHT_TIE}" springlength="0">
      <joint joint="link_{corner}" coef="1"/><joint joint="upright_{corner}" coef="1"/>
    </fixed>"""


def bar_xml(left: str, right: str, rate: float, longer: float = 0.0) -> str:
    """Anti-roll bar of this rate at the wheel [N/m], stretched by unequal wheel travel.

    It has no load where the left wheel stands `longer` [m] lower than the right.
    """
    return f"""
    <fixed stiffness="{rate}" springlength="{-longer}">
      <joint joint="link_{left}" coef="{LINK_LENGTH}"/>
      <joint joint="link_{right}" coef="{-LINK_LENGTH}"/>
    </fixed>"""


def point_mass(mass: float, left: float = 0.0) -> str:
    """A mass [kg] with next to no extent, this far left [m] of its part's origin."""
    return f'<inertial mass="{mass}" pos="0 {left} 0" diaginertia="1e-3 1e-3 1e-3"/>'


def row(values: np.ndarray) -> str:
    return " ".join(str(value) for value in values)


# Coming to rest -----------------------------------------------------------------------------------


def _find_rest(model: mujoco.MjModel, data: mujoco.MjData, weight: float, pads: Numbers) -> None:
    """Leave `data` where all forces balance, at a stable rest."""

    def leftover(position: np.ndarray) -> np.ndarray:
        """Forces [N, N·m] that would be needed to hold the car still at this position."""
        data.qpos[:] = position
        mujoco.mj_inverse(model, data)
        return np.array(data.qfrc_inverse)

    position = np.zeros(model.nq)
    for _ in range(MOST_STEPS):
        position = feet_on_pads(model, data, position, pads)
        force, stiffness = leftover(position), stiffness_at(leftover, position)
        try:
            position = position - np.linalg.solve(stiffness, force)
        except np.linalg.LinAlgError as error:
            raise RuntimeError("no rest found: a way to move that nothing resists") from error
        if np.abs(leftover(position)).max() < FORCE_TOLERANCE * weight:
            if np.linalg.eigvalsh(stiffness + stiffness.T).min() <= 0.0:
                raise RuntimeError("the car balances there, but would tip over at a touch")
            return
    raise RuntimeError(f"no rest found in {MOST_STEPS} steps")


def stiffness_at(leftover: Callable[[np.ndarray], np.ndarray], position: np.ndarray) -> np.ndarray:
    """Change of the leftover forces with each joint, by central differences [N/m and the like]."""
    moves = DIFFERENCE_STEP * np.eye(len(position))
    columns = [leftover(position + move) - leftover(position - move) for move in moves]
    return np.array(columns).T / (2.0 * DIFFERENCE_STEP)


def feet_on_pads(
    model: mujoco.MjModel, data: mujoco.MjData, position: np.ndarray, pads: Numbers
) -> np.ndarray:
    """The position with each tire squashed until its foot presses the pad, or free if out of reach.

    A loaded foot sinks in by some 30 µm only, so the curvature of one Newton step would otherwise
    lift it off its pad, and a foot in the air knows nothing of the pad to find the way back by.
    """
    position = position.copy()
    data.qpos[:] = position
    mujoco.mj_kinematics(model, data)
    for corner, pad in zip(CORNERS, pads, strict=True):
        tire = model.joint(f"tire_{corner}")
        address, free = tire.qposadr[0], model.qpos_spring[tire.qposadr[0]]
        overlap = pad + FOOT_RADIUS - data.geom(f"foot_{corner}").xpos[2]
        squash = position[address] + overlap / data.joint(tire.id).xaxis[2] - free
        share = CONTACT_STIFFNESS / (CONTACT_STIFFNESS + model.jnt_stiffness[tire.id])
        position[address] = free + share * max(squash, 0.0)  # the foot's sinking in is the rest
    return position


def pad_loads(model: mujoco.MjModel, data: mujoco.MjData) -> np.ndarray:
    """Normal force in each contact (4,) [N]."""
    loads = np.zeros(4)
    corner_of = {model.geom(f"pad_{corner}").id: i for i, corner in enumerate(CORNERS)}
    force = np.zeros(6)
    for index, contact in enumerate(data.contact):
        mujoco.mj_contactForce(model, data, index, force)
        (pad,) = corner_of.keys() & contact.geom.tolist()  # mujoco orders the two geoms as it likes
        loads[corner_of[pad]] += force[0]
    return loads
