"""Where the car of stopped_car.py comes to rest.

Newton's method on the forces that mujoco's inverse dynamics leaves over, as in linkage_car.py; but
stops and solid tenders put kinks into them, so a step goes no further than it leads down in energy.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf

import mujoco
import numpy as np

from tests.oracles import Numbers, linkage_car
from tests.oracles.linkage_car import (
    CORNERS,
    FORCE_TOLERANCE,
    GRAVITY,
    LINK_LENGTH,
    SPRING_LENGTH,
    WEIGHT_TOLERANCE,
    Mass,
)
from tests.oracles.stopped_model import StoppedCar, Unit, main_table, set_up, stopped_xml, tender_at

RATIO_STEP = 1e-5  # rad of the link, for the motion ratio by differences
MOST_STEPS = 60
LONGEST_STEP = 0.03  # m or rad
MOST_PARTS = 40  # of a step that overshoots
NEXT_TO_REST = 1e-6  # m or rad, a step that ends the search
CLEARLY_LESS = 0.3  # of the forces left over: a whole step is taken as it is
ENOUGH_DOWN = 0.1  # of the slope at the start of a step that may be left at its end


@dataclass(frozen=True)
class Resting:
    """A car with its model, on its way to rest or there."""

    car: StoppedCar
    units: Sequence[Unit]
    pads: Numbers
    model: mujoco.MjModel
    data: mujoco.MjData

    def leftover(self, position: np.ndarray) -> np.ndarray:
        """Forces [N, N·m] that would be needed to hold the car still at this position."""
        self.data.qpos[:] = position
        mujoco.mj_inverse(self.model, self.data)
        return np.array(self.data.qfrc_inverse)

    def near(self, position: np.ndarray) -> np.ndarray:
        """The position with the stiffest parts where they are about at rest by themselves.

        Tires on their pads (see linkage_car), and the parts between main springs and tenders. Only
        a better place to go on from.
        """
        position = linkage_car.feet_on_pads(self.model, self.data, position, self.pads)
        for i, corner in enumerate(CORNERS):
            if self.car.tender_rate[i]:
                tender = tender_at(self.car, i, self.compression(i))
                address = self.model.joint(f"tender_{corner}").qposadr[0]
                position[address] = tender - self.units[i].tender
        return position

    def _lying_on_pads(self) -> np.ndarray:
        """The design position, moved and tilted with the pads."""
        forward, left = linkage_car.stations(self.car).T
        tilt = np.column_stack([np.ones(4), -forward, left])  # heave, pitch and roll joint
        position = np.zeros(self.model.nq)
        position[[2, 4, 5]] = np.linalg.lstsq(tilt, np.array(self.pads), rcond=None)[0]
        return position

    def _closed(self, i: int) -> float:
        """How far shock i is closed from design [m]."""
        seat, perch = (self.data.site(f"{end}_{CORNERS[i]}").xpos for end in ("seat", "perch"))
        return SPRING_LENGTH - float(np.linalg.norm(seat - perch))

    def find_rest(self, weight: float) -> None:
        """Leave `data` where all forces balance, at a stable rest."""
        enough = FORCE_TOLERANCE * weight
        position = self.near(self._lying_on_pads())
        for _ in range(MOST_STEPS):
            force = self.leftover(position)
            step = _step(linkage_car.stiffness_at(self.leftover, position), force)
            left = np.abs(self.leftover(position + step)).max()
            if left < enough:
                self._assert_stable(position + step)
                return
            if left < CLEARLY_LESS * np.abs(force).max():
                position = position + step
                continue
            # Next to rest what `near` is wrong by is more than what is left to go.
            near = self.near if np.abs(step).max() > NEXT_TO_REST else np.copy
            part = self._part_of(position, step, float(force @ step), near)
            position = near(position + part * step)
        raise RuntimeError(f"no rest found in {MOST_STEPS} steps")

    def _part_of(
        self,
        position: np.ndarray,
        step: np.ndarray,
        start: float,
        near: Callable[[np.ndarray], np.ndarray],
    ) -> float:
        """How much of a step to go: to where it no longer leads down, where that comes before 1.

        The leftover forces are the slope of the potential energy; along the step it is `start` [J].
        """
        low, high, part = 0.0, 1.0, 1.0
        at_low, at_high = start, inf
        for _ in range(MOST_PARTS):
            slope = float(self.leftover(near(position + part * step)) @ step)
            if (slope <= 0.0 and part == 1.0) or abs(slope) <= ENOUGH_DOWN * abs(start):
                return part
            if slope > 0.0:
                high, at_high = part, slope
            else:
                low, at_low = part, slope
            part = low + (high - low) * min(max(at_low / (at_low - at_high), 0.1), 0.9)
        return part

    def _assert_stable(self, position: np.ndarray) -> None:
        stiffness = linkage_car.stiffness_at(self.leftover, position)
        self.leftover(position)
        if np.linalg.eigvalsh(stiffness + stiffness.T).min() <= 0.0:
            raise RuntimeError("the car balances there, but would tip over at a touch")

    def shock_travel(self, i: int) -> float:
        """Of shock i, from full extension [m]."""
        return self.units[i].shock + self._closed(i)

    def compression(self, i: int) -> float:
        """Of main spring and tender i together [m]."""
        return self.units[i].compression + self._closed(i)

    def is_solid(self, i: int) -> bool:
        if not self.car.tender_rate[i]:
            return False
        tender = self.units[i].tender + self.data.joint(f"tender_{CORNERS[i]}").qpos[0]
        return bool(tender > self.car.tender_travel[i])

    def spring_force(self, i: int) -> float:
        """What the main spring pushes with [N]."""
        force, n = 0.0, len(main_table(self.car, i))
        for name in (f"main_{CORNERS[i]}_{k}" for k in range(n)):
            tendon = self.model.tendon(name).id
            shorter = self.model.tendon_lengthspring[tendon, 0] - self.data.ten_length[tendon]
            force += float(self.model.tendon_stiffness[tendon] * max(shorter, 0.0))
        return force

    def sweep(self, at_rest: np.ndarray, i: int, travels: Numbers) -> tuple[np.ndarray, np.ndarray]:
        """Motion ratio and shock travel of corner i at each wheel travel from rest."""
        joint = self.model.joint(f"link_{CORNERS[i]}").qposadr[0]

        def hub_and_shock(angle: float) -> np.ndarray:
            self.data.qpos[:] = at_rest
            self.data.qpos[joint] = angle
            mujoco.mj_kinematics(self.model, self.data)
            hub = self.model.joint(f"upright_{CORNERS[i]}").id
            frame = self.data.body("body")
            up = (self.data.xanchor[hub] - frame.xpos) @ frame.xmat.reshape(3, 3)[:, 2]
            return np.array([up, self.shock_travel(i)])

        ratios, shocks = [], []
        for travel in travels:
            angle = at_rest[joint]
            wanted = hub_and_shock(angle)[0] + travel
            for _ in range(6):
                angle += (wanted - hub_and_shock(angle)[0]) / (LINK_LENGTH * np.cos(angle))
            rise = hub_and_shock(angle + RATIO_STEP) - hub_and_shock(angle - RATIO_STEP)
            ratios.append(rise[1] / rise[0])
            shocks.append(hub_and_shock(angle)[1])
        return np.array(ratios), np.array(shocks)


def _step(stiffness: np.ndarray, force: np.ndarray) -> np.ndarray:
    """Newton's step, or where energy isn't convex one that leads down all the same.

    Where a spring is loose and no stop is touched yet, nothing but this ends a step.
    """
    both = (stiffness + stiffness.T) / 2.0
    try:
        np.linalg.cholesky(both)
    except np.linalg.LinAlgError:
        values, vectors = np.linalg.eigh(both)
        step = -vectors @ (vectors.T @ force / np.maximum(np.abs(values), 1.0))
    else:
        step = -np.linalg.solve(both, force)
    return np.asarray(step * min(1.0, LONGEST_STEP / np.abs(step).max()))


def come_to_rest(
    car: StoppedCar,
    perch: Numbers,
    mount: Numbers,
    link: Numbers,
    pads: Numbers,
    added: Sequence[Mass],
) -> Resting:
    if max(car.tire_rate) >= linkage_car.CONTACT_STIFFNESS:
        raise ValueError(f"tire_rate {max(car.tire_rate):g} N/m: too stiff for its contact")
    units = [set_up(car, i, perch[i], mount[i]) for i in range(4)]
    model = mujoco.MjModel.from_xml_string(stopped_xml(car, units, link, pads, added))
    resting = Resting(car, units, pads, model, mujoco.MjData(model))
    weight = GRAVITY * float(model.body_mass.sum())
    resting.find_rest(weight)
    carried = linkage_car.pad_loads(model, resting.data).sum()
    if abs(carried - weight) > WEIGHT_TOLERANCE * weight:
        raise RuntimeError(f"the pads carry {carried:.3f} N, the car weighs {weight:.3f} N")
    return resting
