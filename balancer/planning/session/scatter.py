"""How far apart a car comes to rest from one settling to the next, and how sure that leaves things.

Dry friction in shocks and bushings, and tires that hold sideways, leave a car elsewhere each time.
How far is not known beforehand, so it is believed in as a few values with a weight each; whatever
hangs on it is worked out for each, and mixed by the weights.
"""

from math import erf, pi, sqrt
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats

SETTLING = np.array([0.0, *(1.25e-4 * 2.0 ** np.arange(8))])
"""Standard deviations of the cross weight [1] from one settling to the next."""

_USUALLY, _BINDS = 2e-4, 0.06
_FREE = 1 / (1 + (SETTLING / _USUALLY) ** 2)

USUAL = _FREE + _BINDS
"""How much each is believed before a car has shown anything: some hundredths of a point, but on one
car in seven something binds, and it is anything up to more than a point (common practice, no
published source)."""
USUAL /= USUAL.sum()

_APART = 5e-3
_BOUND = np.exp(-(np.log2(np.maximum(SETTLING, 1e-9) / _APART) ** 2) / 2)

SUSPECTED = (_FREE / _FREE.sum() + _BOUND / _BOUND.sum()) / 2
"""How much each is believed where a chance is told: of every other car that it binds, and rests
half a point apart, give or take a factor of two. What is done goes by the usual car; what is
told is to hold among cars of which many bind (no published source; held against simulated cars)."""

EXACTLY = np.where(SETTLING > 0, 0.0, 1.0)
"""A car that comes to rest in one place."""

SLIP, _FAR = 0.02, 0.03
"""Chance of each slip: that turns were not made, were made the wrong way, or that what was
turned or read is otherwise not what was said, and how far off that puts the cross weight [1];
common practice, no published source."""

SUREST = 0.9
"""The most that is said of a chance [1], however often a car has settled: one that binds may rest
alike each time as if it did not, and what is not in the model leaves no trace in the chance. Keeps
simulated cars that bind, and are far off, from more (no published source)."""


class Mixed(NamedTuple):
    """The cross weight as each value of the settling has it [1].

    Attributes:
        weights, means, sds: (..., k); weights add up to 1.
    """

    weights: Floats
    means: Floats
    sds: Floats

    @property
    def mean(self) -> float:
        """The best estimate [1]."""
        return float(self.weights @ self.means)

    @property
    def sd(self) -> float:
        """Standard deviation, with all of the tails [1]."""
        return float(sqrt(self.weights @ (self.sds**2 + (self.means - self.mean) ** 2)))

    @property
    def uncertainty(self) -> float:
        """Half of what holds the truth as often as a standard uncertainty does [1].

        A few unlikely values far out would say nothing of the rest.
        """
        low, high = 0.0, 10 * self.sd + 1e-12
        wanted, middle = erf(1 / sqrt(2)), self.mean
        for _ in range(50):
            half = (low + high) / 2
            held = float(self.chance(middle - half, middle + half))
            low, high = (half, high) if held < wanted else (low, half)
        return high

    @property
    def density(self) -> float:
        """How likely none at all is [1]."""
        return float(self.weights @ _normal(self.means, np.maximum(self.sds, 1e-12)))

    def chance(self, low: float, high: float) -> Floats:
        """Give the chance of being between two cross weights [1].

        Returns:
            (...)
        """
        sds = np.maximum(self.sds, 1e-12)
        held = below((high - self.means) / sds) - below((low - self.means) / sds)
        return np.asarray((self.weights * held).sum(axis=-1))


def suspected(now: Mixed) -> Mixed:
    """Take a cross weight that is believed for one of a car that is more likely to bind.

    Args:
        now: Believed from `USUAL` on.
    """
    weights = now.weights * SUSPECTED / USUAL
    return now._replace(weights=weights / weights.sum())


def below(z: Floats) -> Floats:
    """Give the chance that a standard normal is below.

    Args:
        z: (...)
    """
    return np.asarray((1 + _erf(z / sqrt(2))) / 2, dtype=np.float64)


_erf = np.vectorize(erf, otypes=[float])


def seen(weights: Floats, off: Floats, sds: Floats, turned: Floats) -> Floats:
    """Believe the settling by how far a weigh-in is off what was expected.

    Args:
        weights: (k,), before.
        off, sds: (k,), the miss and its standard deviation [1].
        turned: (k,), what the turns were to do [1].

    Returns:
        (k,). What a slip would explain as well tells little: turns not made, made the wrong way, or
        anything else.
    """
    slips = _normal(off + turned, sds) + _normal(off + 2 * turned, sds)
    slips += _normal(off, np.hypot(sds, _FAR))
    likely = (1 - 3 * SLIP) * _normal(off, sds) + SLIP * slips
    return _told(weights, np.log(np.maximum(likely, 1e-300)))


def repeated(weights: Floats, crosses: Floats, sds: Floats) -> Floats:
    """Believe the settling by how far repeats are apart.

    Args:
        weights: (k,), before.
        crosses: (r,), of the single readings [1].
        sds: (k,), of a single one [1].
    """
    apart, freedom = float(((crosses - crosses.mean()) ** 2).sum()), len(crosses) - 1
    sds = np.maximum(sds, 1e-9)
    return _told(weights, -freedom * np.log(sds) - apart / (2 * sds**2))


def _told(weights: Floats, logs: Floats) -> Floats:
    logs = np.where(weights > 0, logs, -np.inf)
    told = weights * np.exp(logs - logs.max())
    return np.asarray(told / told.sum())


def _normal(off: Floats, sds: Floats) -> Floats:
    return np.asarray(np.exp(-((off / sds) ** 2) / 2) / (sds * sqrt(2 * pi)))
