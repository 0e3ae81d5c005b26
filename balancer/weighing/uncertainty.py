"""How sure four pads can be: the uncertainty of each load, and what it makes of shares.

First order, as in JCGM 100:2008 (GUM), 5.1.2 and 5.2.2: u² = J V Jᵀ with the covariance V of
the four loads. Standard uncertainties throughout (k = 1).
"""

from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.model import Car, Scales

SETTLING = np.array([1.0, -1.0, -1.0, 1.0])
"""How pads go together as a car settles anew: along the free pattern, tracks taken as equal."""

SHARE, SHARE_READINGS, CORRELATION_READINGS = 0.5, 2.0, 12.0
"""What of the scatter settling is before any repeat, how many repeats that is worth, and how many
it is worth that nothing else goes together. Our choice: whether pads scatter on their own or all by
settling, the stated scatter of the cross weight is then that of the draws within 1.3 from two
readings on, where the pads' own is known (tests/properties/test_conversions.py)."""


class Shares(NamedTuple):
    """Where four loads lie; or, in the same order, how sure that is.

    Attributes:
        total: [N].
        front, left, cross: (LF+RF)/total, (LF+LR)/total, (RF+LR)/total, as fractions.
        aft, left_offset: Center of gravity in plan [m].
    """

    total: float
    front: float
    left: float
    cross: float
    aft: float
    left_offset: float


def shares(car: Car, loads: Floats) -> Shares:
    """Compute total, shares, cross weight and center of gravity in plan.

    Args:
        loads: (4,) [N], on level pads.

    Returns:
        The center of gravity is Σ N_i·(x_i, y_i) / Σ N_i.

    References:
        R. N. Jazar, *Vehicle Dynamics: Theory and Application*, Springer, ch. 2.
    """
    return Shares(*share_values(car, loads).tolist())


def cross_of(loads: Floats) -> float:
    """Give the cross weight of loads, as a fraction.

    Args:
        loads: (4,) [N].
    """
    return float((loads[1] + loads[2]) / loads.sum())


def share_values(car: Car, loads: Floats) -> Floats:
    """Compute what `Shares` holds as an array (..., 6).

    Args:
        loads: (..., 4) [N].
    """
    total = loads.sum(axis=-1, keepdims=True)
    picked = np.einsum("...ij,...j->...i", _picks(car), loads) / total
    return np.concatenate([total, picked], axis=-1)


def load_covariance(scales: Scales, loads: Floats, repeats: Floats) -> Floats:
    """Compute the covariance of the mean of several readings of the four pads.

    Args:
        loads: (4,), mean readings [N].
        repeats: (r, 4), the single readings [N].

    Returns:
        (4, 4) [N²]. Each pad: (accuracy·N)² + resolution²/12 + the scatter of the mean, which
        is the larger of repeatability/√r and the observed s/√r. All pads together: what
        accuracy they share, fully correlated; and the correlation of the observed scatter, drawn
        towards that of a car that settles.

    References:
        JCGM 100:2008, 4.2.3 (s/√n), F.2.2.1 (resolution, d/√12), 5.2.2 and H.2 (correlation).
        Drawing it towards a simpler one is that of O. Ledoit, M. Wolf, *J. Multivariate Anal.* 88,
        2004 (from memory); how far is ours.
    """
    count = repeats.shape[-2]
    # From the first reading on, so that a steady pad scatters by nothing at all: the spread of
    # equal numbers is a last bit, and to be correlated with that is to be divided by it.
    off = repeats - repeats[..., :1, :]
    observed = off.std(axis=-2, ddof=1) if count > 1 else np.zeros(loads.shape)
    accuracy, common, resolution, repeatability = (
        np.asarray(uncertainty)[..., None] for uncertainty in scales[:4]
    )
    scatter = np.maximum(observed, repeatability) / np.sqrt(count)
    alone = (accuracy * loads) ** 2 + resolution**2 / 12
    together = _outer(scatter) * _correlation(off, observed)
    return np.asarray(
        np.where(np.eye(4, dtype=bool), alone[..., None], 0.0) + together + _outer(common * loads)
    )


def scatter_covariance(scales: Scales, loads: Floats, repeats: Floats) -> Floats:
    """Compute what of `load_covariance` weighing again on the same pads would show [N²].

    Args:
        loads: (4,), mean readings [N].
        repeats: (r, 4), the single readings [N].

    Returns:
        (4, 4), without the accuracy: that is the same each time.
    """
    return load_covariance(scales._replace(accuracy=0.0, common_accuracy=0.0), loads, repeats)


def pad_effects(scales: Scales, loads: Floats, slopes: Floats) -> Floats:
    """Compute what pads do to the loads every time alike: errors that no repeat shows.

    Args:
        loads: (4,), mean readings [N].
        slopes: (4, 4), `linear.pad_slopes` [N/m]; what is not finite is left out.

    Returns:
        (9, 4) [N], what one standard uncertainty each of the accuracy of LF RF LR RR, of what
        they share of it, and of the heights of the four does. They are independent, so EᵀE is
        the covariance; two weighings on the same pads have these in common.

    References:
        JCGM 100:2008, 5.2.2 and F.1.2.3 (correlation by a common effect).
    """
    accuracy, common, level = (
        np.asarray(uncertainty)[..., None, None]
        for uncertainty in (scales.accuracy, scales.common_accuracy, scales.level)
    )
    alone = np.where(np.eye(4, dtype=bool), accuracy * loads[..., None, :], 0.0)
    heights = level * np.where(np.isfinite(slopes), slopes, 0.0)
    return np.concatenate([alone, common * loads[..., None, :], heights], axis=-2)


def _outer(values: Floats) -> Floats:
    return values[..., :, None] * values[..., None, :]


def _correlation(off: Floats, observed: Floats) -> Floats:
    """Give how the pads' scatter goes together; from few readings mostly what is usual."""
    count, pads = off.shape[-2:]
    if count < 2:
        return np.eye(pads)
    spread = np.where(observed > 0, observed, np.inf)
    around = (off - off.mean(axis=-2, keepdims=True)) / spread[..., None, :]
    seen = np.clip(np.einsum("...ri,...rj->...ij", around, around) / (count - 1), -1.0, 1.0)
    told = (count - 1) / (count - 1 + CORRELATION_READINGS)
    each = told * seen + (1 - told) * _usual(around)
    return np.where(np.eye(pads, dtype=bool), 1.0, each)


def _usual(around: Floats) -> Floats:
    """Give the correlation of pads that scatter on their own and settle together, some of each.

    Args:
        around: (..., r, 4), scatter of each reading in that of its pad [1].
    """
    free, whole = around.shape[-2] - 1, np.sum(around**2, axis=(-2, -1))
    settled = np.sum((around @ SETTLING) ** 2, axis=-1) / 4
    seen = np.divide(settled, whole, out=np.full_like(whole, 0.25), where=whole > 0)
    share = (SHARE_READINGS * SHARE + free * seen) / (SHARE_READINGS + free)
    return np.asarray((4 * share - 1)[..., None, None] / 3 * np.outer(SETTLING, SETTLING))


def share_uncertainties(car: Car, loads: Floats, covariance: Floats) -> Shares:
    """Carry the uncertainty of the loads to total, shares and center of gravity.

    Args:
        loads: (4,) [N].
        covariance: (4, 4), of the loads [N²].

    Returns:
        Standard uncertainties. For a share s = pᵀN / ΣN the derivative is (p - s) / ΣN.

    References:
        JCGM 100:2008, 5.1.2 and 5.2.2.
    """
    return Shares(*uncertainty_values(car, loads, covariance).tolist())


def uncertainty_values(car: Car, loads: Floats, covariance: Floats) -> Floats:
    """Compute what `share_uncertainties` holds as an array (..., 6).

    Args:
        loads: (..., 4) [N].
        covariance: (..., 4, 4) [N²].
    """
    return carried_uncertainties(share_slopes(car, loads), covariance)


def share_slopes(car: Car, loads: Floats) -> Floats:
    """Compute what a newton on each pad does to what `Shares` holds.

    Args:
        loads: (..., 4) [N].

    Returns:
        (..., 6, 4)
    """
    total, picks = loads.sum(axis=-1)[..., None, None], _picks(car)
    slopes = (picks - share_values(car, loads)[..., 1:, None]) / total
    return np.concatenate([np.ones((*slopes.shape[:-2], 1, 4)), slopes], axis=-2)


def carried_uncertainties(slopes: Floats, covariance: Floats) -> Floats:
    """Carry a covariance to what changes by such slopes, of any units.

    Args:
        slopes: (..., m, n), of any unit.
        covariance: (..., n, n), of any unit.

    Returns:
        Standard uncertainties (..., m).

    References:
        JCGM 100:2008, 5.2.2.
    """
    # What all pads share cancels in a share; rounding may leave a little less than nothing.
    squares = np.einsum("...ri,...ij,...rj->...r", slopes, covariance, slopes)
    return np.asarray(np.sqrt(np.maximum(squares, 0.0)))


def sampled_uncertainties(
    car: Car, loads: Floats, covariance: Floats, samples: int, seed: int = 0
) -> Shares:
    """Carry the uncertainty of the loads to total, shares and center by Monte Carlo.

    Args:
        loads: (4,) [N].
        covariance: (4, 4), of the loads [N²].
        samples: How many draws; at least 2.
        seed: The same seed draws the same.

    Returns:
        Standard deviations of the draws, to set beside `share_uncertainties`.

    References:
        JCGM 101:2008, 7.
    """
    drawn = np.random.default_rng(seed).multivariate_normal(loads, covariance, samples)
    total = drawn.sum(axis=1)
    columns = [total, *(_picks(car) @ drawn.T / total)]
    return Shares(*(float(column.std(ddof=1)) for column in columns))


def _picks(car: Car) -> Floats:
    """Give what each pad counts for in front, left, cross, aft and left offset."""
    fixed = np.array([[1, 1, 0, 0], [1, 0, 1, 0], [0, 1, 1, 0]], dtype=float)
    return np.stack(np.broadcast_arrays(*fixed, car.aft, car.left), axis=-2)
