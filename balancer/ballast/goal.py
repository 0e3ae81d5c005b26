"""What ballast is to reach, and how a car stands to the rules that were asked for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from typing import NamedTuple

from balancer.ballast.margin import margin_of, minimum_mass
from balancer.car.conventions import CORNERS, GRAVITY, Floats
from balancer.car.finite import LARGEST, refuse, unusable
from balancer.car.model import Car
from balancer.errors import Fault

PIECE_TOLERANCE = 0.002
"""Front share within which whole pieces count as meeting a single wanted number."""


@dataclass(frozen=True, eq=False)
class BallastGoal:
    """What the ballast is to reach. Masses in kg, shares as fractions.

    A number that is not one, or that no car could mean, raises an InputError: such a rule must
    not vanish because every comparison with it is false.

    Attributes:
        minimum, maximum: Of the total mass, the margin included in the minimum [kg].
        front: Lowest and highest front share; None when any will do.
        left: Left share to come close to, after all else, as a fraction.
        axle_minimum: On the front and on the rear axle.
        wheel_minimum: On any wheel [kg].
        most: Most ballast in all [kg].
    """

    minimum: float = 0.0
    front: tuple[float, float] | None = None
    left: float = 0.5
    maximum: float = inf
    axle_minimum: tuple[float, float] = (0.0, 0.0)
    wheel_minimum: float = 0.0
    most: float = inf

    def __post_init__(self) -> None:
        """Refuse what no car could mean, all of it."""
        refuse(self._unusable())

    def _unusable(self) -> Iterator[Fault]:
        bounded = [("minimum", self.minimum), ("wheel_minimum", self.wheel_minimum)]
        bounded += [("axle_minimum", mass) for mass in self.axle_minimum]
        for name, mass in bounded:
            yield from unusable(name, mass, 0, LARGEST, "give kg, and 0 for no such rule")
        for name, mass in (("maximum", self.maximum), ("most", self.most)):
            yield from unusable(name, mass, 0, inf, "give kg, and inf for no such rule")
        shares = [("left", self.left), *(("front", share) for share in self.front or ())]
        for name, share in shares:
            yield from unusable(name, share, 0, 1, "give a fraction, 0.5 for 50 %")
        if self.front and self.front[0] > self.front[1]:
            what = f"runs backward, {self.front[0]:g} to {self.front[1]:g}"
            yield Fault("front", what, "give the lower share first")

    @classmethod
    def of(
        cls, car: Car, total_uncertainty: float = 0.0, front: tuple[float, float] | None = None
    ) -> BallastGoal:
        """Take the goal from the class rules in the car file.

        The uncertainty of the total [N] is for a margin that follows from a chance; a front share
        asked for goes before that of the class.
        """
        rules = car.rules
        front = front or rules.front
        if front and front[0] == front[1] and car.pieces:
            front = (front[0] - PIECE_TOLERANCE, front[1] + PIECE_TOLERANCE)
        minimum = minimum_mass(rules)
        return cls(
            minimum=minimum + margin_of(car, total_uncertainty).mass if minimum else 0.0,
            maximum=rules.maximum,
            front=front,
            axle_minimum=rules.axle_minimum,
            wheel_minimum=rules.wheel_minimum,
            most=rules.most_ballast,
        )


class RuleCheck(NamedTuple):
    """One rule, and how the car stands to it with the ballast in.

    Attributes:
        kind: `minimum`, `maximum`, `front_low`, `front_high`, `axle_front`, `axle_rear` or
            `wheel_LF` ….
        limit, value: Masses [kg] or shares [1].
    """

    kind: str
    limit: float
    value: float
    met: bool


def met_rules(goal: BallastGoal, loads: Floats) -> tuple[RuleCheck, ...]:
    """Hold the rules that the goal has against the loads, with the solver's tolerance.

    Args:
        loads: (4,), with the ballast [N].
    """
    masses = loads / GRAVITY
    total = float(masses.sum())
    asked = [
        ("minimum", goal.minimum, total),
        ("axle_front", goal.axle_minimum[0], float(masses[:2].sum())),
        ("axle_rear", goal.axle_minimum[1], float(masses[2:].sum())),
        *(
            (f"wheel_{corner}", goal.wheel_minimum, float(mass))
            for corner, mass in zip(CORNERS, masses, strict=True)
        ),
    ]
    rules = [
        RuleCheck(kind, limit, value, value >= limit - 1e-5)
        for kind, limit, value in asked
        if limit > 0
    ]
    if goal.maximum < inf:
        rules.append(RuleCheck("maximum", goal.maximum, total, total <= goal.maximum + 1e-5))
    if goal.front:
        front = float(masses[:2].sum()) / total
        low, high = goal.front
        rules.append(RuleCheck("front_low", low, front, front >= low - 1e-7))
        rules.append(RuleCheck("front_high", high, front, front <= high + 1e-7))
    return tuple(rules)
