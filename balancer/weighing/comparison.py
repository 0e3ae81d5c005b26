"""Two weigh-ins beside each other: what is different, whether it is real, and where it sits."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import Literal, NamedTuple

import numpy as np

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.leaning import upright
from balancer.car.linear import free_pattern
from balancer.car.model import Car, Item
from balancer.car.statics import statics_of
from balancer.weighing.false_alarms import limit_of
from balancer.weighing.least_squares import UNLIKELY, chance
from balancer.weighing.load_states import carry
from balancer.weighing.uncertainty import Shares, carried_uncertainties, share_slopes, shares
from balancer.weighing.weigh import WeighIn

REAL = 2.0
"""Times its uncertainty that a number must be to be called more than chance where it is judged by
itself: about 95 % (JCGM 100, G.1)."""

JUDGED = ("total", "front", "left", "cross")
"""What is called real or not, all of it together: as `Shares` has them first."""

Pads = Literal["same", "moved", "other"]
"""On which pads the second weighing was: the same ones, where they stood; the same ones, set up
anew; other ones."""

OVERHANG = 1.0
"""How far beyond an axle the center of a mass on a car can be [m]."""

BESIDE = 0.3
"""How far outside the middle of a tire the center of a mass on a car can be [m]."""

Placed = Literal["on_the_car", "off_the_car", "too_unsure", "no_change"]


class Center(NamedTuple):
    """Where a mass sits in plan, and how sure that is.

    Attributes:
        mass, mass_uncertainty: [kg].
        aft, left, aft_uncertainty, left_uncertainty: [m]; infinite uncertainties where the mass
            is lost in its own uncertainty.
    """

    mass: float
    mass_uncertainty: float
    aft: float
    left: float
    aft_uncertainty: float
    left_uncertainty: float


@dataclass(frozen=True, eq=False)
class Difference:
    """A second weigh-in less a first.

    Attributes:
        loads, load_uncertainties: (4,) [N].
        shares, uncertainties: Differences of total, shares and center of gravity, and their
            standard uncertainties.
        added: Where the added mass sits, from the change of the moments.
        rest: (4,), what a prediction leaves unexplained [N]; the loads themselves where there
            is none.
        limit: Times its uncertainty that one of what is `JUDGED` must be to be called real [1]: so
            that any of them is by chance in `ALARM` of all cases.
        pads: On which ones the second weighing was; see `Pads`.
    """

    loads: Floats
    load_uncertainties: Floats
    shares: Shares
    uncertainties: Shares
    added: Center
    rest: Floats
    limit: float
    pads: Pads

    def placed(self, car: Car) -> Placed:
        """Say whether the added mass has a place that means something.

        Returns:
            no_change: the total is the same within its uncertainty. off_the_car: no one place on
            the car would do it, so that more than one mass was changed or moved. too_unsure: it
            may be anywhere, off the car as well, within REAL times the uncertainty of its place.
        """
        if not self.real("total") or not np.isfinite(self.added.aft_uncertainty):
            return "no_change"
        low = np.array([-OVERHANG, car.left.min() - BESIDE])
        high = np.array([car.aft.max() + OVERHANG, car.left.max() + BESIDE])
        place = np.array([self.added.aft, self.added.left])
        sure = REAL * np.array([self.added.aft_uncertainty, self.added.left_uncertainty])
        if ((place + sure < low) | (place - sure > high)).any():
            return "off_the_car"
        within = (place - sure >= low) & (place + sure <= high)
        return "on_the_car" if within.all() else "too_unsure"

    def real(self, name: str) -> bool:
        """Say whether the difference of a share is more than chance."""
        value, uncertainty = getattr(self.shares, name), getattr(self.uncertainties, name)
        return bool(abs(value) > self.limit * uncertainty)


def carried(car: Car, weigh_in: WeighIn, was: Sequence[Item], now: Sequence[Item]) -> WeighIn:
    """Give a weigh-in as it would have been with something else on board.

    Args:
        was, now: What was on board, and what is to be.

    Returns:
        As uncertain as it was: what is put on board or taken off is taken for known. To go on
        from: a wheel that is off the ground is tied to it; see `standing`.
    """
    return weigh_in.with_loads(car, carry(car, weigh_in.loads, was, now).held)


def standing(car: Car, weigh_in: WeighIn) -> WeighIn:
    """Give a weigh-in that was carried as pads would show it: no wheel pulls at one."""
    stands = statics_of(car, weigh_in.loads).standing.loads
    return weigh_in if stands is weigh_in.loads else weigh_in.with_loads(car, stands)


def compare(
    car: Car,
    first: WeighIn,
    second: WeighIn,
    predicted: Floats | None = None,
    second_car: Car | None = None,
    pads: Pads = "same",
) -> Difference:
    """Compare two weigh-ins.

    Args:
        car: Of the first weigh-in.
        predicted: (4,) or None, change of the loads that was expected [N].
        second_car: Of the second weigh-in, where it is another car.
        pads: On which ones the second weighing was.

    Returns:
        What the pads get wrong each time alike drops out, but for what it does to the change
        itself: their accuracy on the same pads, their heights too where they stood as before.

    References:
        JCGM 100:2008, 5.2.2, with the correlation of F.1.2.3 by effects that both share.
    """
    other = second_car or car
    loads = second.loads - first.loads
    before, after = shares(car, first.loads), shares(other, second.loads)
    # Both weigh-ins, each with where its own car's wheels are, as one set of eight pads.
    heavier = max(first.loads, second.loads, key=np.sum)
    eight = np.concatenate([-first.loads, first.loads + upright(car, loads, heavier)])
    level = np.array_equal(first.readings.pad_heights, second.readings.pad_heights)
    scatters = _scatters((car, first), (other, second))
    covariance = pair_covariance(scatters, (first.pads, second.pads), pads, level)
    for half, owner, one in ((slice(4), car, first), (slice(4, 8), other, second)):
        covariance[half, half] += _of_carrying(owner, one)
    aft, left = np.concatenate([car.aft, other.aft]), np.concatenate([car.left, other.left])
    slopes = np.concatenate(
        [share_slopes(car, first.loads), share_slopes(other, second.loads)], axis=-1
    )
    judged = slopes[: len(JUDGED)]
    return Difference(
        loads=loads,
        load_uncertainties=carried_uncertainties(_EACH, covariance),
        shares=Shares(*(b - a for a, b in zip(before, after, strict=True))),
        uncertainties=Shares(*carried_uncertainties(slopes, covariance).tolist()),
        added=center_of(aft, left, eight, covariance),
        rest=loads if predicted is None else loads - predicted,
        limit=limit_of(judged @ covariance @ judged.T),
        pads=pads,
    )


def _of_carrying(car: Car, weigh_in: WeighIn) -> Floats:
    """Give what carrying a weigh-in leaves open of its loads, all along the free pattern."""
    pattern = free_pattern(car.tracks)
    diagonal = weigh_in.carried * weigh_in.shares.total / (pattern[1] + pattern[2])
    return np.asarray(diagonal**2 * np.outer(pattern, pattern))


def _scatters(*weighed: tuple[Car, WeighIn]) -> tuple[Floats, Floats]:
    """Give the scatter of both: as stated, unless the repeats of the two contradict that.

    The larger of stated and observed, pad by pad, is right for one weigh-in that is to be on the
    safe side; among few repeats one is always large, and in a comparison that hides changes.

    References:
        JCGM 100:2008, 4.2.4: where scatter is known from longer experience, that counts.
    """
    squares, free, stated = 0.0, 0, []
    for car, one in weighed:
        scales, repeats = car.scales, one.readings.repeats
        if not scales.stated or not scales.repeatability or one.readings.covariance is not None:
            return weighed[0][1].scatter, weighed[1][1].scatter
        rounded, scatter = scales.resolution**2 / 12, scales.repeatability**2
        squares += float(repeats.var(axis=0).sum()) * len(repeats) / (rounded + scatter)
        free += 4 * (len(repeats) - 1)
        # What is rounded off is chance, too, where the car scatters over the steps.
        dithered = scales.repeatability >= scales.resolution / 2
        mean = (rounded + scatter) if dithered else rounded * len(repeats) + scatter
        stated.append(mean / len(repeats) * np.eye(4))
    if free and chance(squares, free) < UNLIKELY:
        return weighed[0][1].scatter, weighed[1][1].scatter
    return stated[0], stated[1]


_EACH = np.concatenate([np.eye(4), np.eye(4)], axis=-1)
"""From loads before, negative, and after to their change."""


def pair_covariance(
    scatter: tuple[Floats, Floats], effects: tuple[Floats, Floats], pads: Pads, level: bool = True
) -> Floats:
    """Put the covariance of loads before, negative, and loads after together.

    Args:
        scatter: Twice (..., 4, 4), as `WeighIn.scatter` [N²].
        effects: Twice (..., 9, 4), as `WeighIn.pads` [N].
        pads: On which ones the second weighing was.
        level: Whether the same is said of the pads' heights both times.

    Returns:
        (..., 8, 8) [N²].
    """
    heights = np.arange(9) >= 5
    shared = np.full(9, pads != "other") & ~(heights & ((pads == "moved") or not level))
    first, second = (np.where(shared[:, None], each, 0.0) for each in effects)
    together = np.concatenate([-first, second], axis=-1)
    covariance = np.swapaxes(together, -1, -2) @ together
    for half, each, effect in zip((slice(4), slice(4, 8)), scatter, effects, strict=True):
        own = np.where(shared[:, None], 0.0, effect)
        covariance[..., half, half] += each + np.swapaxes(own, -1, -2) @ own
    return np.asarray(covariance)


def center_of(aft: Floats, left: Floats, loads: Floats, covariance: Floats) -> Center:
    """Find where a mass sits from what it does to the pads.

    Args:
        aft, left: (n,), where the pads are [m].
        loads: (n,), change of their loads [N].
        covariance: (n, n), of that change [N²].

    Returns:
        x = Σ ΔN·x_i / Σ ΔN, first-order uncertainties; with a mass within its own uncertainty
        they are infinite, for then a ratio says nothing.

    References:
        JCGM 100:2008, 5.1.2.
    """
    return Center(*center_values(aft, left, loads, covariance).tolist())


def center_values(aft: Floats, left: Floats, loads: Floats, covariance: Floats) -> Floats:
    """Compute what `Center` holds as an array (..., 6).

    Args:
        aft, left: (..., n) [m].
        loads: (..., n) [N].
        covariance: (..., n, n) [N²].
    """
    total = loads.sum(axis=-1)
    uncertainty = _spread(np.ones(loads.shape), covariance)
    divided = np.where(total == 0, inf, total)
    known = np.abs(total) > REAL * uncertainty
    places, sure = [], []
    for axis in (aft, left):
        place = np.einsum("...i,...i", axis, loads) / divided
        slope = (axis - place[..., None]) / divided[..., None]
        places.append(place)
        sure.append(np.where(known, _spread(slope, covariance), inf))
    return np.stack([total / GRAVITY, uncertainty / GRAVITY, *places, *sure], axis=-1)


def _spread(slope: Floats, covariance: Floats) -> Floats:
    # What the pads share cancels; rounding may leave a little less than nothing.
    squares = np.einsum("...i,...ij,...j", slope, covariance, slope)
    return np.asarray(np.sqrt(np.maximum(squares, 0.0)))
