"""What is the car and what are the pads: one car weighed several times, with the pads moved around.

What another weighing of the same car can tell:

* Pads exchanged left with right: what gains and thicknesses had done to the cross weight changes
  its sign, and the car's own lies between the two. Thickness moves the free pattern alone, so it
  comes apart from the gains when two pads that stood on a diagonal are put on one axle.
* Pads exchanged front with rear: the same for the front share.
* The car turned round, LF where RR stood: a floor that leans shifts loads the other way, and so do
  pads that stay on their spots; front and left share of the car come out without telling which it
  was. The cross weight does not: the diagonal LF-RR stays where it was, pads, warped floor and all.
* Nothing here tells a gain that all four pads share from mass, or a warped floor from the car. The
  first takes a known mass; the second the heights under the wheels.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations
from typing import Literal, NamedTuple

import numpy as np

from balancer.car.conventions import Flags, Floats
from balancer.car.leaning import leaned_change
from balancer.car.model import Car
from balancer.car.statics import statics_of
from balancer.weighing.comparison import REAL
from balancer.weighing.least_squares import UNLIKELY, WeightedFit, chance, weighted_fit
from balancer.weighing.pad_model import MIXED, WARP, PadModel, PadWeighing, pad_model
from balancer.weighing.uncertainty import Shares, load_covariance, share_uncertainties, shares

DETERMINED = 3e-3
"""Uncertainty of a gain, a share or the cross weight above which it is called not determined. Pads
that nobody has compared leave more (`pad_model.WIDE`), and no use of a number needs less."""

DETERMINED_LENGTH, DETERMINED_LEAN = 1e-3, 5e-3
"""The same for thickness and floor, and for how far a leaning floor moves the center [m]."""


_SUREST = 1e-6
"""Relative uncertainty of a load: no reading is surer, also on scales that never scatter."""


class Pair(NamedTuple):
    """Two pads of which it is determined how they differ.

    Attributes:
        first, second: Numbers of the pads.
        more, uncertainty: How much more the first reads [1].
    """

    first: int
    second: int
    more: float
    uncertainty: float


class Lengths(NamedTuple):
    """Lengths estimated beside the loads, and their standard uncertainties [m]."""

    values: Floats
    uncertainties: Floats


class NextWeighing(NamedTuple):
    """The weighing that would determine most.

    Attributes:
        pads: Which pad to put under LF RF LR RR.
        determined: How many of the four gains would then be determined.
    """

    pads: tuple[str, ...]
    determined: int


@dataclass(frozen=True, eq=False)
class PadErrors:
    """The car and its pads, apart.

    Attributes:
        pads: Names, in the order in which they stood under LF RF LR RR at first.
        loads, covariance: arrays (4,), (4, 4), of the car on pads that all read alike and are
            equally thick [N], [N²].
        shares, uncertainties: Of these loads, with standard uncertainties.
        as_read: What the first weighing showed.
        gains, gain_uncertainties: (4,), how much of its load a pad reads too much, against the
            (geometric) mean of the four [1].
        gain_covariance: (4, 4)
        thickness: Of each pad against the mean of the four; None where it was measured.
        lean: How far the leaning floor moves the center of gravity aft and left, for the car
            not turned round; None where it never was, so that it is in the loads.
        floor: Warp of the floor, √(Σh²) of that part of the heights which puts load on LF and
            RR; None where it is in the loads, or where heights were measured in each weighing.
        floor_cross: Cross weight that this adds [1].
        level: Whether heights were measured, so that the loads are those on a level floor.
        chi_square, degrees, chance: Of the residuals: sum of squares in uncertainties [1],
            degrees of freedom, and the chance that scatter alone makes it this large.
        residuals: (m, 4), readings less the fit [N].
        next: None when all four gains and the cross weight are determined.
    """

    pads: tuple[str, ...]
    loads: Floats
    covariance: Floats
    shares: Shares
    uncertainties: Shares
    as_read: Shares
    gains: Floats
    gain_uncertainties: Floats
    gain_covariance: Floats
    thickness: Lengths | None
    lean: Lengths | None
    floor: Lengths | None
    floor_cross: float
    level: bool
    chi_square: float
    degrees: int
    chance: float
    residuals: Floats
    next: NextWeighing | None

    @property
    def determined(self) -> Flags:
        """Which gains the weighings determine, shape (4,)."""
        return np.asarray(self.gain_uncertainties <= DETERMINED)

    @property
    def beyond_chance(self) -> Flags:
        """Which gains are real: determined, and more than twice their uncertainties."""
        return np.asarray(self.determined & (np.abs(self.gains) > REAL * self.gain_uncertainties))

    @property
    def consistent(self) -> bool:
        """Whether the residuals are no more than scatter."""
        return self.chance >= UNLIKELY

    @property
    def pairs(self) -> list[Pair]:
        """Pads of which it is determined how they differ."""
        pairs = []
        for first, second in combinations(range(4), 2):
            difference = np.zeros(4)
            difference[[first, second]] = 1, -1
            uncertainty = float(np.sqrt(difference @ self.gain_covariance @ difference))
            more = float(self.gains[first] - self.gains[second])
            pairs.append(Pair(first, second, more, uncertainty))
        return [pair for pair in pairs if pair.uncertainty <= DETERMINED]

    @property
    def status(self) -> Literal["all", "some", "nothing"]:
        """Say what the weighings determine of the pads: `all` of them, `some`, or `nothing`."""
        if self.next is None:
            return "all"
        some = self.determined.any() or self.pairs or self.uncertainties.cross <= DETERMINED
        return "some" if some else "nothing"


def pad_errors(
    car: Car, weighings: Sequence[PadWeighing], thickness: Mapping[str, float] | None = None
) -> PadErrors:
    """Separate what pads and floor add from what the car is.

    Loads, gains, and where they were not measured thicknesses, are fitted to all readings by
    weighted least squares, repeated until the linear model stands still. The weights are those of
    resolution and repeatability. A gain that all pads share stays in the loads, and has the
    accuracy of the scales for an uncertainty.

    Args:
        weighings: Of the same car in the same state, on the same four pads and the same spots.
        thickness: Measured thickness of each pad [m]; None: not measured, so it is estimated as
            well. Heights measured under the wheels of a weighing have it in them.

    References:
        Derived here, model in `pad_model`, least squares in `weighted_fit`; see
        tests/properties/test_pad_errors.py.
    """
    shown = np.array([each.repeats.mean(axis=0) for each in weighings])
    # What pads do is small: a car that is not linear is taken where it stands.
    car = statics_of(car, shown[0]).linear
    model = pad_model(car, weighings, thickness)
    unknown, fit = _fitted(car, weighings, model, shown)
    chi_square = float(fit.residuals @ fit.residuals)
    degrees = shown.size - fit.rank
    likely = chance(chi_square, degrees)
    covariance = fit.covariance * (chi_square / degrees if likely < UNLIKELY else 1.0)
    loads = np.exp(unknown[:4])
    of_loads = _load_covariance(car, loads, covariance)
    of_gains = MIXED @ covariance[4:7, 4:7] @ MIXED.T
    uncertainties = share_uncertainties(car, loads, of_loads)

    def lengths(name: str, basis: Floats) -> Lengths | None:
        if name not in model.blocks:
            return None
        block = model.blocks[name]
        variances = np.diag(basis @ covariance[block, block] @ basis.T)
        return Lengths(basis @ unknown[block], np.sqrt(variances))

    floor = lengths("floor", np.eye(1))
    warped = leaned_change(car, (floor.values if floor else np.zeros(1)) * WARP, loads)
    return PadErrors(
        pads=tuple(weighings[0].pads),
        loads=loads,
        covariance=of_loads,
        shares=shares(car, loads),
        uncertainties=uncertainties,
        as_read=shares(car, shown[0]),
        gains=np.expm1(MIXED @ unknown[4:7]),
        gain_uncertainties=np.sqrt(np.diag(of_gains)),
        gain_covariance=of_gains,
        thickness=lengths("thickness", MIXED),
        lean=lengths("lean", np.eye(2)),
        floor=floor,
        floor_cross=float(warped[[1, 2]].sum() / loads.sum()),
        level=any(each.heights is not None for each in weighings),
        chi_square=chi_square,
        degrees=degrees,
        chance=likely,
        residuals=shown - model.readings(unknown)[0],
        next=_next(car, weighings, thickness, unknown)
        if max(*np.sqrt(np.diag(of_gains)), uncertainties.cross) > DETERMINED
        else None,
    )


def _fitted(
    car: Car, weighings: Sequence[PadWeighing], model: PadModel, shown: Floats
) -> tuple[Floats, WeightedFit]:
    """Fit the unknowns, from a linear model to the next until they stand still."""
    whiteners = _whiteners(car, weighings)
    unknown = np.zeros(len(model.limits))
    unknown[:4] = np.log(shown.mean(axis=0))
    for _ in range(30):
        expected, slopes = model.readings(unknown)
        off = (whiteners @ (shown - expected)[..., None]).ravel()
        design = (whiteners @ slopes).reshape(off.size, -1)
        fit = weighted_fit(design, off, model.limits)
        unknown = unknown + fit.values
        if np.abs(fit.values).max() < 1e-11:
            break
    return unknown, fit


def _whiteners(car: Car, weighings: Sequence[PadWeighing]) -> Floats:
    """Give for each weighing what turns newtons into independent uncertainties, (m, 4, 4)."""
    scales = car.scales._replace(accuracy=0.0, common_accuracy=0.0)

    def whitener(repeats: Floats) -> Floats:
        mean = repeats.mean(axis=0)
        covariance = load_covariance(scales, mean, repeats) + np.diag((_SUREST * mean) ** 2)
        return np.linalg.inv(np.linalg.cholesky(covariance))

    return np.array([whitener(each.repeats) for each in weighings])


def _load_covariance(car: Car, loads: Floats, covariance: Floats) -> Floats:
    """Give the covariance of the loads [N²], with the uncertainty of what the four pads share."""
    shared = car.scales.accuracy**2 / 4 + car.scales.common_accuracy**2
    return np.outer(loads, loads) * (covariance[:4, :4] + shared)


def _next(
    car: Car,
    weighings: Sequence[PadWeighing],
    thickness: Mapping[str, float] | None,
    unknown: Floats,
) -> NextWeighing:
    """Find the order of the pads that determines most of what is not determined yet.

    All 24 are tried, with the car as it stands: one reading each, as good as the first ones.
    """
    last, ranked = weighings[-1], []
    loads = np.exp(unknown[:4])
    for pads in permutations(last.pads):
        tried = [*weighings, last._replace(pads=pads, repeats=loads[None, :])]
        model = pad_model(car, tried, thickness)
        design = (_whiteners(car, tried) @ model.readings(unknown)[1]).reshape(4 * len(tried), -1)
        covariance = weighted_fit(design, np.zeros(len(design)), model.limits).covariance
        variances = np.diag(MIXED @ covariance[4:7, 4:7] @ MIXED.T)
        cross = share_uncertainties(car, loads, _load_covariance(car, loads, covariance)).cross
        determined = int((variances <= DETERMINED**2).sum())
        left = float(variances.sum() + 4 * cross**2) / DETERMINED**2
        moved = sum(a != b for a, b in zip(pads, last.pads, strict=True))
        gained = determined + (cross <= DETERMINED)
        ranked.append((-gained, round(left, 6), moved, pads, determined))
    *_, pads, determined = min(ranked)
    return NextWeighing(pads, determined)
