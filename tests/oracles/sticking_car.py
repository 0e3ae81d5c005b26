"""A car that comes to rest elsewhere each time: a rigid body on four springs that stick.

Plain arrays, seven equations, nothing shared with the package: heave, two slopes and four hubs. Dry
friction is a force between body and hub, anywhere within its limits, drawn anew each settling.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


@dataclass
class StickingCar:
    """A car that has settled on its pads.

    Attributes:
        places: (4, 2), contacts forward and left [m].
        wheel_rates, tire_rates: (4,) [N/m].
        level: (4,), loads with no friction and nothing turned [N].
        friction: (4,), most that sticks at each wheel [N].
        lifts: (4,), of the body on its springs by turns so far, at the wheel [m].
    """

    places: np.ndarray
    wheel_rates: np.ndarray
    tire_rates: np.ndarray
    level: np.ndarray
    friction: np.ndarray
    rng: np.random.Generator
    lifts: np.ndarray = field(default_factory=lambda: np.zeros(4))
    stuck: np.ndarray = field(default_factory=lambda: np.zeros(4))

    def settle(self) -> None:
        self.stuck = self.rng.uniform(-1, 1, 4) * self.friction

    def change(self, forces: np.ndarray) -> np.ndarray:
        """Give what forces that push body and hubs apart do to the loads, (4,) [N]."""
        body = np.column_stack([np.ones(4), self.places])
        rates, tires = np.diag(self.wheel_rates), np.diag(self.tire_rates)
        both = -rates @ body
        stiffness = np.block([[body.T @ rates @ body, both.T], [both, rates + tires]])
        moved = np.linalg.solve(stiffness, np.concatenate([body.T @ forces, -forces]))
        return np.asarray(-self.tire_rates * moved[3:])

    @property
    def free(self) -> np.ndarray:
        """Loads as they would be if nothing stuck, (4,) [N]."""
        return np.asarray(self.level + self.change(self.wheel_rates * self.lifts))

    @property
    def loads(self) -> np.ndarray:
        """Loads as they are, (4,) [N]."""
        return np.asarray(self.free + self.change(self.stuck))

    @property
    def cross(self) -> float:
        """Cross weight if nothing stuck: what the car has on average."""
        loads = self.free
        return float((loads[1] + loads[2]) / loads.sum())
