"""Weighted least squares that says which of its unknowns the readings determine, and how well."""

from math import erfc, exp, pi, sqrt
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats

UNLIKELY = 0.01
"""Chance below which residuals are more than the scatter that is stated."""


class WeightedFit(NamedTuple):
    """What the readings say of the unknowns.

    Attributes:
        values: (p,), best estimates; combinations that the readings leave open are taken as 0.
        covariance: (p, p), of the estimates. A combination left open is as uncertain as its
            limits.
        rank: How many combinations of the unknowns the readings determine.
        residuals: (m,), readings less the fit, in uncertainties of a reading.
    """

    values: Floats
    covariance: Floats
    rank: int
    residuals: Floats


def weighted_fit(design: Floats, readings: Floats, limits: Floats) -> WeightedFit:
    """Fit unknowns to readings, each in its own uncertainties.

    Plain least squares for every combination of the unknowns that the readings determine to better
    than its limit; the others stay at 0 and have their limits for an uncertainty. The limits pull
    no estimate.

    Args:
        design: (m, p), change of each reading with each unknown, in uncertainties of the
            reading.
        readings: (m,), in uncertainties of each.
        limits: (p,), how large an unknown may be, as a standard uncertainty; infinite: the
            readings alone say. The columns without a limit must be independent.

    References:
        ISO/TS 28037:2010, 6.2 and 6.3 (straight lines), see tests/published/test_weighted_fit.py;
        the combinations are those of the singular value decomposition.
    """
    bounded = np.isfinite(limits)
    free = design[:, ~bounded]
    basis = np.linalg.qr(free)[0]
    # What the free unknowns can't explain is all that tells of the others.
    scaled = design[:, bounded] * limits[bounded]
    left, sizes, right = np.linalg.svd(scaled - basis @ (basis.T @ scaled), full_matrices=False)
    determined = sizes > 1
    values = np.zeros(len(limits))
    parts = (left[:, determined].T @ readings) / sizes[determined]
    values[bounded] = limits[bounded] * (right[determined].T @ parts)
    rest = readings - design @ values
    values[~bounded] = np.linalg.lstsq(free, rest, rcond=None)[0]
    precision = design.T @ design + np.diag(1 / limits**2)
    return WeightedFit(
        values=values,
        covariance=np.asarray(np.linalg.inv(precision), dtype=np.float64),
        rank=free.shape[1] + int(determined.sum()),
        residuals=readings - design @ values,
    )


def chance(chi_square: float, degrees: int) -> float:
    """Compute the chance that scatter alone makes residuals this large or larger.

    Args:
        chi_square: Sum of squares of the residuals, in standard uncertainties of a reading [1].
        degrees: Readings less the combinations fitted; 0: nothing could disagree, and the
            chance is 1.

    Returns:
        Upper tail of the chi-square distribution, by its finite series for whole degrees.

    References:
        M. Abramowitz, I. A. Stegun, *Handbook of Mathematical Functions*, 26.4.4 and 26.4.5 (value
        from memory); held against scipy in tests/properties/test_pad_errors.py.
    """
    if degrees <= 0:
        return 1.0
    half = chi_square / 2
    if degrees % 2:
        total, term, start = erfc(sqrt(half)), 2 * sqrt(half / pi) * exp(-half), 3
    else:
        total, term, start = 0.0, exp(-half), 2
    for order in range(start, degrees + 1, 2):
        total, term = total + term, term * half / (order / 2)
    return total
