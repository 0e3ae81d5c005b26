"""What the class asks for in numbers: the minimum mass, and how far above it to be.

The margin is there so that another scale does not find the car light.
"""

from __future__ import annotations

from statistics import NormalDist
from typing import NamedTuple

from balancer.car.conventions import GRAVITY
from balancer.car.finite import LARGEST, refuse, refuse_uncertainty, unusable
from balancer.car.model import Car, Rules
from balancer.errors import Fault


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
        JCGM 100:2008, G.1.2, for the normal quantile of a chance; which is Python's.
    """
    if not 0 < chance < 0.5:
        raise ValueError(f"a chance of {chance} is not between 0 and 0.5")
    refuse_uncertainty("own_uncertainty", own_uncertainty)
    refuse_uncertainty("other_uncertainty", other_uncertainty)
    quantile = -NormalDist().inv_cdf(chance)
    mass = quantile * (own_uncertainty**2 + other_uncertainty**2) ** 0.5
    return Margin(mass, own_uncertainty, other_uncertainty, chance)


def _faults(rules: Rules, name: str) -> list[Fault]:
    value: float = getattr(rules, name)
    return unusable(name, value, 0, LARGEST, "give a finite number, 0 for no such rule")
