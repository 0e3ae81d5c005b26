"""What the class asks for in numbers, and how far inside its limits to be.

The margin is there so that another scale does not find the car light, or a share out of its band.
"""

from __future__ import annotations

from math import erfc, inf, sqrt
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.errors import Fault, refuse
from balancer.car.finite import LARGEST, refuse_uncertainty, unusable
from balancer.car.model import Car, Rules

USUAL_CHANCE = 0.05
"""Allowed of missing a limit on another scale, where the car file states none."""


class OtherScale(NamedTuple):
    """How far another scale may read from what is known here.

    Attributes:
        covariance: (4, 4), of the loads as weighed here [N²].
        accuracy: Standard uncertainty of the other scale, as a fraction of what it reads.
        chance: Of missing a limit there that is allowed, as a fraction.
        stated: False where the car file states none and the usual one is taken.
    """

    covariance: Floats
    accuracy: float
    chance: float = USUAL_CHANCE
    stated: bool = False

    @classmethod
    def of(cls, car: Car, covariance: Floats) -> OtherScale:
        """Take accuracy and chance from the class; the covariance [N²] from a weigh-in."""
        chance = car.rules.shortfall_chance
        return cls(covariance, car.rules.scale_accuracy, chance or USUAL_CHANCE, chance > 0)

    def deviation(self, loads: Floats, slope: Floats) -> float:
        """Give the standard uncertainty of slope·loads as the other scale will read it.

        Args:
            loads: (4,), in the state that it weighs [N].
            slope: (4,), what a newton on each pad adds to it.

        Returns:
            √(sᵀVs + w²), V being the covariance here. Of the other scale only the accuracy is
            known, not how its pads go together: w is the larger of what pads that err alone make
            of it, √Σ(s·a·N)², and what pads that err alike do, |Σ s·a·N|.

        References:
            JCGM 100:2008, 5.2.2, for both terms; that the larger is taken is decided here.
        """
        own = float(slope @ self.covariance @ slope)
        parts = slope * self.accuracy * loads
        return float(np.sqrt(max(own, 0.0) + max(float(parts @ parts), float(parts.sum()) ** 2)))


def miss_chance(spare: float, deviation: float) -> float:
    """Give the chance that what is inside a limit by so much reads outside on another scale.

    Args:
        spare: How far inside, negative outside; a number of any unit.
        deviation: Standard uncertainty, in the unit of `spare`.

    Examples:
        >>> round(miss_chance(1.645, 1.0), 3), miss_chance(0.1, 0.0)
        (0.05, 0.0)
    """
    if deviation <= 0:
        return float(spare < 0)
    return erfc(spare / deviation / sqrt(2)) / 2


def inset(deviation: float, chance: float, width: float = inf) -> float:
    """Choose how far inside a limit to be so that another scale misses it this rarely.

    Args:
        deviation: Standard uncertainty, a number of any unit.
        chance: Allowed, of missing either end, as a fraction.
        width: Of the band, infinite for a limit that stands alone; in the unit of `deviation`.

    Returns:
        Infinite where nothing in the band will do; 0 where its very edge does.

    References:
        Derived here: the least d with Φ(-d/σ) + Φ(-(w - d)/σ) = chance, by halving.

    Examples:
        >>> round(inset(1.0, 0.05), 3), round(inset(1.0, 0.05, 4.0), 3), inset(1.0, 0.05, 3.0)
        (1.645, 1.796, inf)
    """

    def missed(depth: float) -> float:
        return miss_chance(depth, deviation) + miss_chance(width - depth, deviation)

    low, high = 0.0, min(width / 2, 40 * deviation)
    if missed(low) <= chance:
        return low
    if missed(high) > chance:
        return inf
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if missed(middle) <= chance else (middle, high)
    return high


class Margin(NamedTuple):
    """A margin above the minimum, and where it comes from.

    Attributes:
        mass: [kg].
        own_uncertainty, other_uncertainty: Standard uncertainty of the total on these pads and
            on the scrutineer's scale [kg].
        chance: Of reading under the minimum there, as a fraction; 0 where the margin was simply
            given.
    """

    mass: float
    own_uncertainty: float
    other_uncertainty: float
    chance: float


def minimum_mass(rules: Rules) -> float:
    """Give the minimum mass [kg], or what the power asks for; 0 when the rules ask for nothing.

    Raises:
        InputError: When one of its numbers is negative or not finite.
    """
    refuse(
        [*_faults(rules, "minimum"), *_faults(rules, "power"), *_faults(rules, "mass_per_power")]
    )
    return max(rules.minimum, rules.power * rules.mass_per_power)


def margin_of(car: Car, total_uncertainty: float) -> Margin:
    """Give the margin above the minimum mass: as the file has it, or from the chance it allows.

    Args:
        total_uncertainty: Standard uncertainty of the total [N].

    Raises:
        InputError: When the margin, or an uncertainty it rests on, is negative or not finite.
    """
    rules = car.rules
    refuse_uncertainty("total_uncertainty", total_uncertainty)
    refuse_uncertainty("scale_accuracy", rules.scale_accuracy)
    refuse(_faults(rules, "margin"))
    own, other = total_uncertainty / GRAVITY, rules.scale_accuracy * minimum_mass(rules)
    if rules.shortfall_chance and not rules.margin:
        return margin_for(rules.shortfall_chance, own, other)
    return Margin(rules.margin, own, other, 0.0)


def margin_for(chance: float, own_uncertainty: float, other_uncertainty: float) -> Margin:
    """Choose the margin that keeps the chance of reading light on another scale this small.

    Args:
        chance: Allowed, as a fraction between 0 and 0.5.
        own_uncertainty, other_uncertainty: Standard uncertainties of the total on either scale
            [kg].

    Returns:
        z·√(u² + v²) with z the normal quantile of the chance.

    Raises:
        ValueError: When the chance is not between 0 and 0.5.
        InputError: When an uncertainty is negative or not finite.

    References:
        JCGM 100:2008, G.1.2, for the normal quantile of a chance.
    """
    if not 0 < chance < 0.5:
        raise ValueError(f"a chance of {chance} is not between 0 and 0.5")
    refuse_uncertainty("own_uncertainty", own_uncertainty)
    refuse_uncertainty("other_uncertainty", other_uncertainty)
    mass = inset(1.0, chance) * (own_uncertainty**2 + other_uncertainty**2) ** 0.5
    return Margin(mass, own_uncertainty, other_uncertainty, chance)


def _faults(rules: Rules, name: str) -> list[Fault]:
    value: float = getattr(rules, name)
    return unusable(name, value, 0, LARGEST, "give a finite number, 0 for no such rule")
