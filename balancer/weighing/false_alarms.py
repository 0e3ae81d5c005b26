"""How far the largest of several differences goes by chance alone."""

from functools import cache

import numpy as np

from balancer.car.conventions import Floats

ALARM = 0.05
"""Chance that anything of a table is called real where nothing has changed."""

_DRAWS = 1 << 14
"""So many that the chance is met within 0.002 (one standard deviation of a share of the draws)."""


def limit_of(covariance: Floats, chance: float = ALARM) -> float:
    """Find how many of its standard uncertainties a difference is to be to be called real.

    Args:
        covariance: (n, n), of the differences that are judged together; of any units.
        chance: That the largest of them is beyond, where none is real, as a fraction.

    Returns:
        The quantile of the largest of n normal numbers, each in its standard uncertainty, with
        the correlation they have: by draws, the same ones each time. 0 where all is certain.

    References:
        JCGM 101:2008, 7 (by draws); Z. Šidák, *Rectangular Confidence Regions for the Means of
        Multivariate Normal Distributions*, J. Am. Stat. Assoc. 62 (1967), for independent ones,
        1 - (1 - chance)^(1/n) each (from memory).

    Examples:
        >>> round(limit_of(np.eye(1)), 1), round(limit_of(np.eye(4)), 1)
        (2.0, 2.5)
    """
    spread = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    unsure = spread > 1e-9 * max(float(spread.max()), 1e-300)
    if not spread.any():
        return 0.0
    scaled = covariance[np.ix_(unsure, unsure)] / np.outer(spread[unsure], spread[unsure])
    values, vectors = np.linalg.eigh(scaled)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    largest = np.abs(_draws(len(root)) @ root.T).max(axis=1)
    return float(np.quantile(largest, 1 - chance))


@cache
def _draws(count: int) -> Floats:
    return np.random.default_rng(0).standard_normal((_DRAWS, count))
