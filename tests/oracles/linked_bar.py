"""The car of stopped_car.py with an anti-roll bar on its front axle that is there to be seen.

    stands                                 hangs

      o==== arm of the bar                        strut
      |                                             o
      | drop link                                   | drop link
      o                                             |
    lower link -----o wheel                  o======o arm of the bar

Each arm swings on a bearing on the body, a torsion spring holds the two arms against each other,
and each drop link is a rod between the end of its arm and the lower link, some way out, or the
upright. Which way a longer rod twists the bar is nowhere said: it follows from where its ends are.
A rod that is undone is not there, and the gap is what it is longer than the distance of its holes.

SI units, left before right.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import mujoco
import numpy as np

from tests.oracles import Numbers, linkage_car
from tests.oracles.linkage_car import CORNERS, GRAVITY, HUB_UP, LINK_LENGTH
from tests.oracles.stopped_car import Measured, measure
from tests.oracles.stopped_model import NONE, StoppedCar, set_up, stopped_xml
from tests.oracles.stopped_rest import Resting

ARM = 0.22  # m
ROD = 0.16  # m, as it leaves the bar without load at design
ROD_STIFFNESS = 1e9  # N/m
STRUT_HOLE_UP = 0.2  # m, of a hanging rod above the wheel center


@dataclass(frozen=True)
class LinkedBar:
    """A front bar, its arms level and without load at design.

    rate : at the wheel, one wheel against the other [N/m]
    hangs : whether the rods hang from the uprights; else they stand on the lower links
    ratio : how far out on the lower link a standing rod is; a hanging one goes as the wheel does
    longer : how much longer the left rod is than ROD [m]
    undone : whether the left rod is undone
    """

    rate: float
    hangs: bool
    ratio: float
    longer: float = 0.0
    undone: bool = False


@dataclass(frozen=True)
class Linked:
    """The car at rest with its bar.

    measured : what can be measured of the car, its bar left out
    twist : how much higher the left arm's end stands than the right one's, against the body [m]
    gap : how much longer the left rod is than its holes are apart [m]; next to none where it holds
    """

    measured: Measured
    twist: float
    gap: float


def settled(car: StoppedCar, bar: LinkedBar, travels: Numbers = ()) -> Linked:
    """Let the car come to rest with its bar instead of those of the file.

    travels : wheel travel from rest at which motion ratios are measured [m]
    """
    resting = _resting(car, bar)
    weight = GRAVITY * float(resting.model.body_mass.sum())
    resting.find_rest(weight)
    data = resting.data
    body = data.body("body")
    place, rows = body.xpos.copy(), body.xmat.reshape(3, 3).copy()
    tips, holes = (
        [(data.site(f"{name}_{corner}").xpos - place) @ rows for corner in CORNERS[:2]]
        for name in ("tip", "hole")
    )
    apart = float(np.linalg.norm(tips[0] - holes[0]))
    twist, gap = float(tips[0][2] - tips[1][2]), ROD + bar.longer - apart
    return Linked(measure(resting, travels), twist, gap)


def _resting(car: StoppedCar, bar: LinkedBar) -> Resting:
    car = replace(car, bar_rate=(0.0, 0.0))
    units = [set_up(car, i, 0.0, 0.0) for i in range(4)]
    xml = stopped_xml(car, units, (0.0, 0.0), NONE, [])
    for i in (0, 1):
        xml = _with_hole(xml, car, bar, i)
    arms = "".join(_arm_xml(car, bar, i) for i in (0, 1))
    xml = xml.replace("</body>\n      </worldbody>", f"{arms}</body></worldbody>")
    xml = xml.replace("</tendon>", f"{_tendons_xml(bar)}</tendon>")
    model = mujoco.MjModel.from_xml_string(xml)
    return Resting(car, units, NONE, model, mujoco.MjData(model))


def _with_hole(xml: str, car: StoppedCar, bar: LinkedBar, i: int) -> str:
    """The hole of the rod in the lower link, or in the upright."""
    side = np.sign(linkage_car.stations(car)[i][1])
    name = "upright" if bar.hangs else "link"
    place = f"0 0 {STRUT_HOLE_UP}" if bar.hangs else f"0 {side * bar.ratio * LINK_LENGTH} 0"
    joint = f'<joint name="{name}_{CORNERS[i]}" type="hinge" axis="{side} 0 0"/>'
    assert xml.count(joint) == 1
    return xml.replace(joint, f'{joint}<site name="hole_{CORNERS[i]}" pos="{place}"/>')


def _arm_xml(car: StoppedCar, bar: LinkedBar, i: int) -> str:
    """The arm, on its bearing behind its end; a positive angle takes the end up."""
    x, y = linkage_car.stations(car)[i]
    across, up = (y, HUB_UP + STRUT_HOLE_UP - ROD)
    if not bar.hangs:
        across, up = y - np.sign(y) * (1 - bar.ratio) * LINK_LENGTH, HUB_UP + ROD
    return f"""
    <body pos="{x - ARM} {across} {up}">
      <joint name="arm_{CORNERS[i]}" type="hinge" axis="0 -1 0"/>
      {linkage_car.point_mass(1e-3)}
      <site name="tip_{CORNERS[i]}" pos="{ARM} 0 0"/>
    </body>"""


def _tendons_xml(bar: LinkedBar) -> str:
    """The bar between the arms, and the rods."""
    ratio = 1.0 if bar.hangs else bar.ratio
    left, right = CORNERS[:2]
    torsion = f"""
    <fixed stiffness="{bar.rate / ratio**2 * ARM**2}" springlength="0">
      <joint joint="arm_{left}" coef="1"/><joint joint="arm_{right}" coef="-1"/>
    </fixed>"""
    rods: Sequence[tuple[str, float]] = [(left, ROD + bar.longer), (right, ROD)]
    return torsion + "".join(
        f'<spatial stiffness="{ROD_STIFFNESS}" springlength="{length}">'
        f'<site site="tip_{corner}"/><site site="hole_{corner}"/></spatial>'
        for corner, length in rods
        if not (bar.undone and corner == left)
    )
