"""How far above the minimum to be, so that another scale does not find the car light."""

from __future__ import annotations

from statistics import NormalDist
from typing import NamedTuple

from balancer.car.finite import refuse_uncertainty


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
        InputError: When a uncertainty is negative or not finite.

    References:
        JCGM 100:2008, G.1.2, for the normal quantile of a chance; which is Python's.

    Examples:
        >>> round(margin_for(0.01, 0.8, 1.0).mass, 2)
        2.98
    """
    if not 0 < chance < 0.5:
        raise ValueError(f"a chance of {chance} is not between 0 and 0.5")
    refuse_uncertainty("own_uncertainty", own_uncertainty)
    refuse_uncertainty("other_uncertainty", other_uncertainty)
    quantile = -NormalDist().inv_cdf(chance)
    mass = quantile * (own_uncertainty**2 + other_uncertainty**2) ** 0.5
    return Margin(mass, own_uncertainty, other_uncertainty, chance)
