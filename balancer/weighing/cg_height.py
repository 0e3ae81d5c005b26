"""Height of the center of gravity by lifting an axle."""

from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Item

METHOD_UNCERTAINTY = 0.025
"""Of the height, for what the readings don't show: tires that give way as the load moves, links
that flex. It is the 2 to 3 % that a 1998 SAE paper, *Vehicle Center of Gravity Height Measurement
Errors*, states for lifts with the suspension dealt with (abstract read)."""

TOO_UNSURE = 0.1
"""Uncertainty of the height [m] above which lifts say nothing: a car's is between 0.4 and 0.7."""


class Lift(NamedTuple):
    """One reading with an axle lifted.

    Attributes:
        axle: Which axle was lifted: `front` or `rear`.
        height: How far its wheel centers were lifted [m]; 0 for the level reading.
        load: On the axle that stayed on its pads [N].
        uncertainty: Standard uncertainty of that load [N].
    """

    axle: Literal["front", "rear"]
    height: float
    load: float
    uncertainty: float


class CgHeight(NamedTuple):
    """What the lifts say.

    Attributes:
        up, uncertainty: Height of the center of gravity above ground and its standard
            uncertainty [m].
        scatter: The part of that uncertainty that comes from the pads [m]; the rest is
            `METHOD_UNCERTAINTY`.
        means: Whether that says anything: the uncertainty is below `TOO_UNSURE`.
        slopes: Lifted axle to the change of load with tan θ [N], for each axle that was lifted.
        residuals: (n,), readings less the straight line, in uncertainties of the reading.
    """

    up: float
    uncertainty: float
    scatter: float
    means: bool
    slopes: dict[str, float]
    residuals: Floats


def bare_height(height: CgHeight, weight: float, aboard: Sequence[Item]) -> tuple[float, float]:
    """Take what was on board off the height: a car file has that of the car without it.

    Args:
        weight: Of the car as it was lifted [N].
        aboard: What was on board; what has no height is taken to be where the car's is.

    Returns:
        Height of the center of gravity and its standard uncertainty [m].

    Examples:
        >>> height = CgHeight(0.5, 0.01, 0.0, True, {}, np.zeros(2))
        >>> up, uncertainty = bare_height(height, 1000 * GRAVITY, [Item("jack", 100, 1, 0, 0.7)])
        >>> round(up, 4), round(uncertainty, 4)
        (0.4778, 0.0111)
    """
    high = [item for item in aboard if item.up > 0]
    mass = weight / GRAVITY - sum(item.mass for item in high)
    moment = height.up * weight / GRAVITY - sum(item.mass * item.up for item in high)
    return moment / mass, height.uncertainty * weight / GRAVITY / mass


def cg_height(
    lifts: Sequence[Lift], weight: float, wheelbase: float, radii: tuple[float, float], aft: float
) -> CgHeight:
    """Find the height of the center of gravity from lifts of either axle.

    The load on the axle that stays grows with tan θ: F' = F + W·(h - r)·tan θ / l, with θ from
    the lift, sin θ = H / l. A straight line is fitted to each axle's readings, weighted by their
    uncertainties; both axles together give one height.

    Args:
        lifts: At least one level and one lifted reading for an axle; suspension blocked, brakes
            off.
        weight: W [N].
        wheelbase: l [m].
        radii: Loaded radii of front and rear tires [m].
        aft: Center of gravity behind the front axle [m].

    Raises:
        ValueError: When no axle has two different lifts, an axle is lifted beyond the wheelbase,
            or a reading has no uncertainty.

    References:
        ISO 10392:2011, 6.2.2-6.2.6 (straight line over tan θ, both axles); the height of the axle
        line at the center of gravity, (R_f·b + R_r·a) / l, from the geometry. Held against three
        published forms in tests/published/test_cg_height.py.
    """
    radius = (radii[0] * (wheelbase - aft) + radii[1] * aft) / wheelbase
    if any(lift.uncertainty <= 0 for lift in lifts):
        raise ValueError("every reading has an uncertainty: give the scales'")
    slopes: dict[str, float] = {}
    precision, moment = 0.0, 0.0
    residuals = np.zeros(len(lifts))
    for axle in ("rear", "front"):
        where = [number for number, lift in enumerate(lifts) if lift.axle == axle]
        if not where:
            continue
        height, load, unsure = np.array([lifts[number][1:] for number in where]).T
        if np.abs(height).max() >= wheelbase:
            raise ValueError(f"the {axle} axle is lifted by more than the wheelbase")
        if np.ptp(height) <= 0:
            raise ValueError(f"the {axle} axle needs a level and a lifted reading")
        tangent = np.tan(np.arcsin(height / wheelbase))
        slope, uncertainty, residuals[where] = _line(tangent, load, unsure)
        slopes[axle] = slope
        precision += 1 / uncertainty**2
        moment += slope / uncertainty**2
    if not slopes:
        raise ValueError("no lifts were given")
    up = radius + wheelbase * moment / precision / weight
    scatter = float(wheelbase / weight / np.sqrt(precision))
    sure = float(np.hypot(scatter, METHOD_UNCERTAINTY * up))
    return CgHeight(float(up), sure, scatter, sure < TOO_UNSURE, slopes, residuals)


def _line(x: Floats, y: Floats, uncertainty: Floats) -> tuple[float, float, Floats]:
    """Fit a line by weighted least squares: slope, its uncertainty, residuals in uncertainties."""
    weight = 1 / uncertainty**2
    middle = weight @ x / weight.sum()
    spread = weight @ (x - middle) ** 2
    slope = weight @ ((x - middle) * y) / spread
    level = weight @ y / weight.sum()
    off = (y - level - slope * (x - middle)) / uncertainty
    return float(slope), float(1 / np.sqrt(spread)), off
