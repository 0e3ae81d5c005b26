"""What the class asks for in numbers: the least mass, and the margin above it."""

from __future__ import annotations

from balancer.car import GRAVITY, Car, Rules
from balancer.margins import Margin, margin_for


def least_mass(rules: Rules) -> float:
    """Give the least mass that the rules allow: the minimum, or what the power asks for.

    Parameters
    ----------
    rules : Rules

    Returns
    -------
    float
        [kg]; 0 when the rules ask for nothing.

    Examples
    --------
    >>> least_mass(Rules(minimum=900, power=150e3, mass_per_power=7e-3))
    1050.0
    """
    return max(rules.minimum, rules.power * rules.mass_per_power)


def margin_of(car: Car, total_doubt: float) -> Margin:
    """Give the margin above the least mass: as the file has it, or from the chance it allows.

    Parameters
    ----------
    car : Car
    total_doubt : float
        Standard uncertainty of the total [N].

    Returns
    -------
    Margin

    References
    ----------
    See `margins.margin_for`.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from balancer.car import plain_car
    >>> car = replace(plain_car(), rules=Rules(minimum=1000, shortfall_chance=0.01))
    >>> round(margin_of(car, 0.8 * GRAVITY).mass, 2)
    2.98
    """
    rules = car.rules
    own, other = total_doubt / GRAVITY, rules.scale_accuracy * least_mass(rules)
    if rules.shortfall_chance and not rules.margin:
        return margin_for(rules.shortfall_chance, own, other)
    return Margin(rules.margin, own, other, 0.0)
