"""What the class asks for in numbers: the least mass, and the margin above it."""

from __future__ import annotations

from balancer.ballast.margin import Margin, margin_for
from balancer.car.conventions import GRAVITY
from balancer.car.finite import LARGEST, refuse, refuse_uncertainty, unusable
from balancer.car.model import Car, Rules
from balancer.errors import Fault


def least_mass(rules: Rules) -> float:
    """Give the least mass that the rules allow: the minimum, or what the power asks for.

    Returns:
        [kg]; 0 when the rules ask for nothing.

    Raises:
        InputError: When one of its numbers is negative or not finite.

    Examples:
        >>> least_mass(Rules(minimum=900, power=150e3, mass_per_power=7e-3))
        1050.0
    """
    refuse([*_odd(rules, "minimum"), *_odd(rules, "power"), *_odd(rules, "mass_per_power")])
    return max(rules.minimum, rules.power * rules.mass_per_power)


def _odd(rules: Rules, name: str) -> list[Fault]:
    value: float = getattr(rules, name)
    return unusable(name, value, 0, LARGEST, "give a finite number, 0 for no such rule")


def margin_of(car: Car, total_uncertainty: float) -> Margin:
    """Give the margin above the least mass: as the file has it, or from the chance it allows.

    Args:
        total_uncertainty: Standard uncertainty of the total [N].

    Raises:
        InputError: When the margin, or a uncertainty it rests on, is negative or not finite.

    References:
        See `margin.margin_for`.

    Examples:
        >>> from dataclasses import replace
        >>> from balancer.car.model import plain_car
        >>> car = replace(plain_car(), rules=Rules(minimum=1000, shortfall_chance=0.01))
        >>> round(margin_of(car, 0.8 * GRAVITY).mass, 2)
        2.98
    """
    rules = car.rules
    refuse_uncertainty("total_uncertainty", total_uncertainty)
    refuse_uncertainty("scale_accuracy", rules.scale_accuracy)
    refuse(_odd(rules, "margin"))
    own, other = total_uncertainty / GRAVITY, rules.scale_accuracy * least_mass(rules)
    if rules.shortfall_chance and not rules.margin:
        return margin_for(rules.shortfall_chance, own, other)
    return Margin(rules.margin, own, other, 0.0)
