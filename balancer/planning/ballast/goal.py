"""What ballast is to reach, and how a car stands to the rules that were asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, GRAVITY, Floats
from balancer.car.errors import Fault, refuse
from balancer.car.finite import LARGEST, unusable
from balancer.car.model import Car
from balancer.planning.ballast.margin import OtherScale, inset, margin_of, minimum_mass, miss_chance

PIECE_TOLERANCE = 0.002
"""Share within which a single wanted number counts as met: front by whole pieces, others always."""

_A_HAIR = 1e-4
"""By so much of itself an uncertainty is taken for more when a plan is made than when it is held
against the rules: it changes a little with the ballast."""

SHARES = {
    "front": np.array([1.0, 1.0, 0.0, 0.0]),
    "left": np.array([1.0, 0.0, 1.0, 0.0]),
    "cross": np.array([0.0, 1.0, 1.0, 0.0]),
}
"""Which wheels a share counts."""

_WHEELS = {f"wheel_{corner}": row for corner, row in zip(CORNERS, np.eye(4), strict=True)}
_AXLES = {"axle_front": SHARES["front"], "axle_rear": 1 - SHARES["front"]}


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
        left_band, cross: Lowest and highest left share and cross weight; None when any will do.
        near: Names of shares for which a single number was asked for: to be near it is all that
            is wanted, and no chance is held against it.
        floor: The minimum without its margin; None where that is not known [kg].
        other_scale: How far it may read from this weigh-in; None: rules are held against the
            loads as they are.
    """

    minimum: float = 0.0
    front: tuple[float, float] | None = None
    left: float = 0.5
    maximum: float = inf
    axle_minimum: tuple[float, float] = (0.0, 0.0)
    wheel_minimum: float = 0.0
    most: float = inf
    left_band: tuple[float, float] | None = None
    cross: tuple[float, float] | None = None
    near: tuple[str, ...] = ()
    floor: float | None = None
    other_scale: OtherScale | None = None

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
        shares = [("left", self.left)]
        shares += [(name, share) for name, band in self.bands.items() for share in band]
        for name, share in shares:
            yield from unusable(name, share, 0, 1, "give a fraction, 0.5 for 50 %")
        for name, band in self.bands.items():
            if band[0] > band[1]:
                what = f"runs backward, {band[0]:g} to {band[1]:g}"
                yield Fault(name, what, "give the lower share first")

    @classmethod
    def of(
        cls,
        car: Car,
        total_uncertainty: float = 0.0,
        front: tuple[float, float] | None = None,
        covariance: Floats | None = None,
        cross: tuple[float, float] | None = None,
    ) -> BallastGoal:
        """Take the goal from the class rules in the car file.

        The uncertainty of the total [N] is for a margin that follows from a chance, the covariance
        of the loads [N²] for the chance of missing any other rule on another scale. A front share
        asked for goes before that of the class. The cross weight of the class is for ballast where
        no perch can be turned; else where it is asked for.
        """
        rules = car.rules
        if not car.adjustable.any():
            cross = cross or rules.cross
        asked = {"front": front or rules.front, "left": rules.left, "cross": cross}
        near = tuple(name for name, band in asked.items() if band and band[0] == band[1])
        bands = {
            name: _around(band, name != "front" or bool(car.pieces)) for name, band in asked.items()
        }
        minimum = minimum_mass(rules)
        return cls(
            minimum=minimum + margin_of(car, total_uncertainty).mass if minimum else 0.0,
            maximum=rules.maximum,
            front=bands["front"],
            left_band=bands["left"],
            cross=bands["cross"],
            near=near,
            floor=minimum,
            other_scale=None if covariance is None else OtherScale.of(car, covariance),
            axle_minimum=rules.axle_minimum,
            wheel_minimum=rules.wheel_minimum,
            most=rules.most_ballast,
        )

    @property
    def bands(self) -> dict[str, tuple[float, float]]:
        """Lowest and highest of the shares for which there is a rule, by name."""
        bands = {"front": self.front, "left": self.left_band, "cross": self.cross}
        return {name: band for name, band in bands.items() if band}

    def narrowed(self, trims: Sequence[Floats], chance: float | None = None) -> BallastGoal | None:
        """Give the goal for these pads, so that another scale misses no rule of this one too often.

        Args:
            trims: (4,) each, in the race trims [N].
            chance: Allowed; None: what the goal says.

        Returns:
            As if another scale read the same; None where a band is too narrow for that.
        """
        scale = self.other_scale
        if scale is None:
            return self
        scale = scale if chance is None else scale._replace(chance=chance)

        def least(kind: str, limit: float, pick: Floats) -> float:
            return limit and limit + max(_depth(self, scale, kind, pick, one) for one in trims)

        bands = {}
        for name, (low, high) in self.bands.items():
            depth = max(
                _depth(self, scale, name, _slope(SHARES[name], one), one, high - low)
                for one in trims
            )
            if 2 * depth > high - low:
                return None
            bands[name] = low + depth, high - depth
        front, rear = (
            least(kind, limit, pick / GRAVITY)
            for (kind, pick), limit in zip(_AXLES.items(), self.axle_minimum, strict=True)
        )
        wheels = (least(kind, self.wheel_minimum, pick / GRAVITY) for kind, pick in _WHEELS.items())
        return replace(
            self,
            front=bands.get("front"),
            left_band=bands.get("left"),
            cross=bands.get("cross"),
            axle_minimum=(front, rear),
            wheel_minimum=max(wheels),
            other_scale=None,
        )


def with_class_cross(car: Car, goal: BallastGoal) -> BallastGoal:
    """Add the rule of the class for the cross weight; a goal that has one, or needs none, as it is.

    Args:
        car: With the rules of its class.
    """
    band = car.rules.cross
    if goal.cross or band is None:
        return goal
    near = ("cross",) if band[0] == band[1] else ()
    return replace(goal, cross=_around(band, widened=True), near=(*goal.near, *near))


def _around(band: tuple[float, float] | None, widened: bool) -> tuple[float, float] | None:
    """Give what counts as a single number; a band is left as it is."""
    if not band or band[0] < band[1] or not widened:
        return band
    return band[0] - PIECE_TOLERANCE, band[1] + PIECE_TOLERANCE


def _slope(pick: Floats, loads: Floats) -> Floats:
    """Give what a newton on each pad adds to a share; see `share_uncertainties`."""
    total = float(loads.sum())
    return (pick - pick @ loads / total) / total


def _depth(
    goal: BallastGoal,
    scale: OtherScale,
    name: str,
    slope: Floats,
    loads: Floats,
    width: float = inf,
) -> float:
    """Say how far inside a limit the loads are to be; 0 where a single number was asked for."""
    if name in goal.near:
        return 0.0
    return inset(scale.deviation(loads, slope) * (1 + _A_HAIR), scale.chance, width)


class RuleCheck(NamedTuple):
    """One rule, and how the car stands to it with the ballast in.

    Attributes:
        kind: `minimum`, `maximum`, `axle_front`, `axle_rear`, `wheel_LF` …, and `front_low`,
            `front_high`, the same of `left` and `cross`.
        limit, value: Masses [kg] or shares [1].
        met: Here, and on another scale with at most the allowed chance of missing it.
        chance: Of missing it on another scale, as a fraction; None where that is not known.
        within: Whether it is met as weighed here, whatever another scale may say.
    """

    kind: str
    limit: float
    value: float
    met: bool
    chance: float | None = None
    within: bool = True

    @property
    def share(self) -> str:
        """The share that it is a rule for; empty where it is one for a mass."""
        name = self.kind.partition("_")[0]
        return name if name in SHARES else ""


def met_rules(goal: BallastGoal, loads: Floats) -> tuple[RuleCheck, ...]:
    """Hold the rules that the goal has against the loads, with the solver's tolerance.

    Args:
        loads: (4,), with the ballast [N].
    """
    return (*_masses(goal, loads), *_bands(goal, loads))


def _masses(goal: BallastGoal, loads: Floats) -> Iterator[RuleCheck]:
    total, scale = float(loads.sum()) / GRAVITY, goal.other_scale
    everything = np.ones(4)
    if goal.minimum > 0:
        # Its margin is in it already.
        met = total >= goal.minimum - 1e-5
        chance = None
        if scale and goal.floor is not None:
            chance = _chance(scale, total - goal.floor, everything / GRAVITY, loads)
        yield RuleCheck("minimum", goal.minimum, total, met, chance, met)
    limits = [*goal.axle_minimum, *[goal.wheel_minimum] * 4]
    for (kind, pick), limit in zip([*_AXLES.items(), *_WHEELS.items()], limits, strict=True):
        if limit > 0:
            yield _least(goal, kind, limit, pick, loads)
    if goal.maximum < inf:
        met = total <= goal.maximum + 1e-5
        chance = scale and _chance(scale, goal.maximum - total, everything / GRAVITY, loads)
        yield RuleCheck("maximum", goal.maximum, total, met, chance, met)


def _least(goal: BallastGoal, kind: str, limit: float, pick: Floats, loads: Floats) -> RuleCheck:
    value, slope, scale = float(pick @ loads) / GRAVITY, pick / GRAVITY, goal.other_scale
    within = value >= limit - 1e-5
    if scale is None:
        return RuleCheck(kind, limit, value, within, None, within)
    depth = inset(scale.deviation(loads, slope), scale.chance)
    chance = _chance(scale, value - limit, slope, loads)
    return RuleCheck(kind, limit, value, value >= limit + depth - 1e-5, chance, within)


def _bands(goal: BallastGoal, loads: Floats) -> Iterator[RuleCheck]:
    for name, (low, high) in goal.bands.items():
        value, slope = float(SHARES[name] @ loads / loads.sum()), _slope(SHARES[name], loads)
        scale, depth = (None if name in goal.near else goal.other_scale), 0.0
        if scale:
            depth = inset(scale.deviation(loads, slope), scale.chance, high - low)
        for end, limit, spare in (("low", low, value - low), ("high", high, high - value)):
            chance = scale and _chance(scale, spare, slope, loads)
            met, within = spare >= depth - 1e-7, spare >= -1e-7
            yield RuleCheck(f"{name}_{end}", limit, value, met, chance, within)


def _chance(scale: OtherScale, spare: float, slope: Floats, loads: Floats) -> float:
    return miss_chance(spare, scale.deviation(loads, slope))
