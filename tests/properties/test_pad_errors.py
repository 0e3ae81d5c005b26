"""Pads and car taken apart: known pads come back, what can't be known is said to be so.

The readings are made here, wheel by wheel, from the statics of a car on four springs; nothing is
taken from the model under test but `load_change` and `added_loads`, which have their own oracles.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares
from scipy.stats import chi2, kstest

from balancer.car.conventions import GRAVITY
from balancer.car.linear import load_change
from balancer.car.model import Car, Scales, plain_car
from balancer.car.resting import added_loads
from balancer.weighing.least_squares import chance, weighted_fit
from balancer.weighing.pad_errors import DETERMINED, pad_errors
from balancer.weighing.pad_model import PadWeighing
from balancer.weighing.uncertainty import shares
from tests.conftest import random_car, random_loads

law = settings(max_examples=40)

SCALES = Scales(accuracy=1e-3, common_accuracy=0.0, resolution=0.0, repeatability=0.4 * GRAVITY)
ALL_ROUND = ("ABCD", "BADC", "CDAB", "DBAC", "ADBC")
"""Tells everything: pairs of pads stand side by side, one behind the other and across."""

seeds = st.integers(0, 2**32 - 1)


class Garage:
    """A car, its pads and its floor, of which all is known."""

    def __init__(self, rng: np.random.Generator, equal_tracks: bool = False) -> None:
        self.rng = rng
        car = random_car(rng)
        tracks = np.full(2, car.tracks[0]) if equal_tracks else car.tracks
        self.car: Car = replace(car, tracks=tracks, scales=SCALES)
        self.loads = random_loads(rng)
        gain = np.exp(rng.normal(0, 0.005, 4))
        self.gain = dict(zip("ABCD", gain / np.exp(np.log(gain).mean()), strict=True))
        self.thickness = dict(zip("ABCD", 0.05 + rng.normal(0, 0.5e-3, 4), strict=True))
        self.floor = rng.normal(0, 2e-3, 4)
        self.lean = rng.normal(0, 3e-3, 2)
        self.scatter = 0.0

    @property
    def gains(self) -> np.ndarray:
        return np.array(list(self.gain.values())) - 1

    def leaning(self) -> np.ndarray:
        """What the leaning floor does to the loads of the car that is not turned."""
        mass, middle = self.loads.sum() / GRAVITY, self.car.wheelbase / 2
        there = added_loads(self.car, mass, middle + self.lean[0], self.lean[1])
        return there - added_loads(self.car, mass, middle, 0.0)

    def weigh(
        self,
        pads: Sequence[str],
        turned: bool = False,
        flat: bool = True,
        leans: bool = False,
        measured: bool = False,
    ) -> PadWeighing:
        """Put pads under LF RF LR RR on spots 1 to 4, or 4 to 1 for a car turned round."""
        spots = np.zeros(4) if flat else self.floor
        under = spots[::-1] if turned else spots
        under = under + np.array([self.thickness[pad] for pad in pads])
        loads = self.loads + load_change(self.car, under)
        if leans:
            loads = loads + (-1 if turned else 1) * self.leaning()
        shown = loads * np.array([self.gain[pad] for pad in pads])
        shown = shown + self.rng.normal(0, self.scatter, 4) if self.scatter else shown
        heights = under - under.min() if measured else None
        return PadWeighing(tuple(pads), shown[None, :], turned, heights)


@law
@given(seeds)
def test_measured_pads_come_back(seed: int) -> None:
    """Thickness measured with a caliper: three weighings tell loads and gains."""
    it = Garage(np.random.default_rng(seed))
    weighings = [it.weigh(pads) for pads in ("ABCD", "BADC", "CDAB")]
    found = pad_errors(it.car, weighings, it.thickness)
    assert found.status == "all"
    assert found.loads == pytest.approx(it.loads, rel=1e-9)
    assert found.gains == pytest.approx(it.gains, abs=1e-9)
    assert found.chi_square < 1e-6
    assert found.thickness is None


@law
@given(seeds)
def test_heights_under_the_wheels_come_off_exactly(seed: int) -> None:
    """Pads and floor measured together, a warped floor and all: the loads are on a level floor."""
    it = Garage(np.random.default_rng(seed))
    weighings = [
        it.weigh(pads, flat=False, measured=True) for pads in ("ABCD", "BADC", "CDAB", "DCBA")
    ]
    found = pad_errors(it.car, weighings)
    assert found.level
    assert (found.thickness, found.floor, found.lean) == (None, None, None)
    assert found.loads == pytest.approx(it.loads, rel=1e-9)
    assert found.gains == pytest.approx(it.gains, abs=1e-9)


# Thickness that is left out of the fit where it is nearly undetermined pulls the rest by less than
# the uncertainty it was given; scales that never scatter leave nothing out.
FINE = SCALES._replace(repeatability=1e-3 * GRAVITY)


@law
@given(seeds)
def test_thickness_and_gain_come_apart(seed: int) -> None:
    it = Garage(np.random.default_rng(seed))
    it.car = replace(it.car, scales=FINE)
    found = pad_errors(it.car, [it.weigh(pads) for pads in ALL_ROUND])
    assert found.status == "all"
    assert found.loads == pytest.approx(it.loads, rel=1e-9)
    assert found.gains == pytest.approx(it.gains, abs=1e-9)
    assert found.thickness is not None
    thick = np.array(list(it.thickness.values()))
    assert found.thickness.values == pytest.approx(thick - thick.mean(), abs=1e-8)


@law
@given(seeds)
def test_a_leaning_floor_shows_when_the_car_is_turned(seed: int) -> None:
    it = Garage(np.random.default_rng(seed))
    weighings = [it.weigh(pads, leans=True) for pads in ("ABCD", "BADC", "CDAB")]
    weighings.append(it.weigh("ABCD", turned=True, leans=True))
    found = pad_errors(it.car, weighings, it.thickness)
    assert found.lean is not None
    # Its weight is taken from the readings, so as right as the mean of the pads.
    assert found.lean.values == pytest.approx(it.lean, rel=5e-3, abs=1e-9)
    assert found.loads == pytest.approx(it.loads, rel=1e-9)
    assert found.gains == pytest.approx(it.gains, abs=1e-9)


@law
@given(seeds)
def test_a_warped_floor_is_the_car_until_it_is_measured(seed: int) -> None:
    """Turned round or not, with equal tracks the floor's warp is in the loads, to the digit."""
    it = Garage(np.random.default_rng(seed), equal_tracks=True)
    weighings = [it.weigh(pads, flat=False) for pads in ("ABCD", "BADC", "CDAB")]
    weighings.append(it.weigh("ABCD", turned=True, flat=False))
    found = pad_errors(it.car, weighings, it.thickness)
    assert (found.level, found.floor) == (False, None)
    warped = it.loads + load_change(it.car, it.floor)
    assert found.loads == pytest.approx(warped, rel=1e-9)
    measured = it.weigh("ABCD", flat=False, measured=True)
    found = pad_errors(it.car, [*weighings, measured], it.thickness)
    assert found.level
    assert found.loads == pytest.approx(it.loads, rel=1e-9)
    added = shares(it.car, warped).cross - shares(it.car, it.loads).cross
    assert found.floor_cross == pytest.approx(added, abs=1e-9)


@law
@given(seeds)
def test_the_car_turned_round_on_pads_that_stay(seed: int) -> None:
    """Pads and leaning floor change sides together: shares are told, no pad is, nor the cross."""
    it = Garage(np.random.default_rng(seed))
    weighings = [it.weigh("ABCD", leans=True), it.weigh("DCBA", turned=True, leans=True)]
    found = pad_errors(it.car, weighings, it.thickness)
    assert not found.determined.any()
    assert (
        max(found.uncertainties.front, found.uncertainties.left)
        < DETERMINED
        < found.uncertainties.cross
    )
    true = shares(it.car, it.loads)
    assert abs(found.shares.front - true.front) < found.uncertainties.front
    assert abs(found.shares.left - true.left) < found.uncertainties.left


@law
@given(seeds, st.integers(1, 3), st.booleans())
def test_one_arrangement_tells_nothing(seed: int, often: int, measured: bool) -> None:
    it = Garage(np.random.default_rng(seed))
    thickness = it.thickness if measured else None
    found = pad_errors(it.car, [it.weigh("BDAC")] * often, thickness)
    assert found.status == "nothing"
    assert not found.determined.any()
    assert found.pairs == []
    assert found.uncertainties.cross > DETERMINED
    assert found.next is not None
    assert found.gains.tolist() == pytest.approx([0] * 4, abs=1e-9)
    assert sorted(found.pads) == list("ABCD")


@law
@given(seeds)
def test_left_and_right_exchanged_tell_the_cross_weight_first(seed: int) -> None:
    """Also on pads of unknown thickness; which pad reads high only where that is known."""
    it = Garage(np.random.default_rng(seed))
    found = pad_errors(it.car, [it.weigh("ABCD"), it.weigh("BADC")])
    assert found.status == "some"
    assert not found.determined.any()
    assert found.uncertainties.cross <= DETERMINED < found.uncertainties.front
    assert abs(found.shares.cross - shares(it.car, it.loads).cross) < found.uncertainties.cross
    known = pad_errors(it.car, [it.weigh("ABCD"), it.weigh("BADC")], it.thickness)
    assert [(pair.first, pair.second) for pair in known.pairs] == [(0, 1), (2, 3)]
    for pair in known.pairs:
        more = it.gains[pair.first] - it.gains[pair.second]
        assert abs(pair.more - more) < 0.2 * pair.uncertainty


@law
@given(seeds, st.booleans())
def test_the_advice_leads_to_all_four_pads(seed: int, measured: bool) -> None:
    it = Garage(np.random.default_rng(seed))
    thickness = it.thickness if measured else None
    weighings = [it.weigh("ABCD")]
    for _ in range(4):
        found = pad_errors(it.car, weighings, thickness)
        if found.next is None:
            break
        assert sorted(found.next.pads) == list("ABCD")
        weighings.append(it.weigh(found.next.pads))
    assert found.status == "all"
    assert found.determined.all()


@law
@given(seeds, st.permutations("ABCD"))
def test_the_names_of_the_pads_mean_nothing(seed: int, names: list[str]) -> None:
    it = Garage(np.random.default_rng(seed))
    it.scatter = 4.0
    weighings = [it.weigh(pads) for pads in ALL_ROUND]
    other = dict(zip("ABCD", names, strict=True))
    renamed = [one._replace(pads=tuple(other[pad] for pad in one.pads)) for one in weighings]
    found, again = pad_errors(it.car, weighings), pad_errors(it.car, renamed)
    assert again.pads == tuple(names)
    assert again.gains == pytest.approx(found.gains, abs=1e-12)
    assert again.loads == pytest.approx(found.loads, rel=1e-12)


@law
@given(seeds)
def test_the_mass_has_the_uncertainty_of_what_the_pads_share(seed: int) -> None:
    """Pads that all read 1 % high make a heavy car of the same shares; no weighing tells."""
    it = Garage(np.random.default_rng(seed))
    weighings = [it.weigh(pads) for pads in ALL_ROUND]
    heavy = [one._replace(repeats=1.01 * one.repeats) for one in weighings]
    found, again = pad_errors(it.car, weighings), pad_errors(it.car, heavy)
    assert again.shares.total == pytest.approx(1.01 * found.shares.total, rel=1e-6)
    assert again.shares.cross == pytest.approx(found.shares.cross, abs=1e-6)
    # Four pads of 0.1 % each, and a little scatter.
    assert found.uncertainties.total >= 0.5e-3 * found.shares.total
    assert found.uncertainties.total <= 1e-3 * found.shares.total


def simulated(often: int, measured: bool) -> tuple[np.ndarray, list[float], list[float]]:
    """Weigh one garage over and over: errors in uncertainties, chi-squares, chances."""
    it = Garage(np.random.default_rng(11))
    it.scatter = SCALES.repeatability
    scores, squares, chances, degrees = [], [], [], set[int]()
    orders = ["ABCD", "BADC", "CADB", "DCBA", "BDAC"]
    for _ in range(often):
        weighings = [it.weigh(pads) for pads in orders]
        found = pad_errors(it.car, weighings, it.thickness if measured else None)
        true = shares(it.car, it.loads)
        errors = [
            *((found.gains - it.gains) / found.gain_uncertainties),
            (found.shares.front - true.front) / found.uncertainties.front,
            (found.shares.left - true.left) / found.uncertainties.left,
            (found.shares.cross - true.cross) / found.uncertainties.cross,
        ]
        scores.append(errors)
        squares.append(found.chi_square)
        chances.append(found.chance)
        degrees.add(found.degrees)
    # Of three unknown thicknesses these orders tell one combination well enough.
    assert degrees == {20 - (7 if measured else 8)}
    return np.array(scores), squares, chances


@pytest.mark.parametrize("measured", [True, False], ids=["thickness measured", "not measured"])
def test_the_uncertainties_are_as_large_as_the_errors(measured: bool) -> None:
    """300 draws: the deviation of a deviation is 4 %, so 0.9 to 1.1 is 2.4 of them."""
    scores, squares, chances = simulated(300, measured)
    assert np.all(np.abs(scores.mean(axis=0)) < 0.2)
    deviations = scores.std(axis=0)
    assert np.all((deviations > 0.9) & (deviations < 1.1)), deviations
    assert kstest(squares, chi2(13 if measured else 12).cdf).pvalue > 0.01
    assert kstest(chances, "uniform").pvalue > 0.01


@law
@given(seeds)
def test_against_another_least_squares(seed: int) -> None:
    """Noisy weighings, minimized by scipy over the same unknowns written down another way."""
    it = Garage(np.random.default_rng(seed))
    it.scatter = SCALES.repeatability
    weighings = [it.weigh(pads) for pads in ALL_ROUND]
    found = pad_errors(it.car, weighings, it.thickness)

    def off(unknown: np.ndarray) -> np.ndarray:
        gain = dict(zip("ABCD", [*unknown[4:], 1 / np.prod(unknown[4:])], strict=True))
        lines = []
        for one in weighings:
            under = np.array([it.thickness[pad] for pad in one.pads])
            loads = 1000 * unknown[:4] + load_change(it.car, under)
            shown = loads * np.array([gain[pad] for pad in one.pads])
            lines.append((one.repeats[0] - shown) / SCALES.repeatability)
        return np.concatenate(lines)

    start = np.array([*(it.loads / 1000), 1.0, 1.0, 1.0])
    fit = least_squares(off, start, xtol=1e-14, ftol=1e-14, gtol=1e-14, x_scale="jac")
    assert found.loads == pytest.approx(1000 * fit.x[:4], rel=1e-7)
    assert found.gains[:3] == pytest.approx(fit.x[4:] - 1, abs=1e-7)
    # Where residuals are beyond chance the uncertainties grow with them; a limit of 2 % takes off
    # little.
    grown = 1.0 if found.consistent else found.chi_square / found.degrees
    slopes = np.asarray(fit.jac)
    covariance = grown * np.linalg.inv(slopes.T @ slopes)
    assert found.gain_uncertainties[:3] == pytest.approx(np.sqrt(np.diag(covariance)[4:]), rel=0.02)
    assert found.chi_square == pytest.approx(2 * fit.cost, rel=1e-6)


@law
@given(st.integers(0, 2**32 - 1), st.integers(5, 12), st.integers(1, 4))
def test_the_fit_against_numpy(seed: int, rows: int, columns: int) -> None:
    rng = np.random.default_rng(seed)
    design, readings = rng.normal(size=(rows, columns)), rng.normal(size=rows)
    limits = np.full(columns, 1e6)
    limits[0] = np.inf
    fit = weighted_fit(design, readings, limits)
    values = np.linalg.lstsq(design, readings, rcond=None)[0]
    assert fit.values == pytest.approx(values, rel=1e-6, abs=1e-9)
    assert fit.covariance == pytest.approx(np.linalg.inv(design.T @ design), rel=1e-6, abs=1e-9)
    assert fit.rank == columns


@pytest.mark.parametrize("degrees", range(1, 40))
def test_chance_against_scipy(degrees: int) -> None:
    for chi_square in (0.0, 0.1, 1.0, 7.0, 30.0, 200.0):
        expected = chi2.sf(chi_square, degrees)
        assert chance(chi_square, degrees) == pytest.approx(expected, rel=1e-9)


def test_what_is_more_than_scatter_makes_the_uncertainties_larger() -> None:
    """A wheel of one weighing 3 kg off: said, and every uncertainty grows."""
    it = Garage(np.random.default_rng(3))
    weighings = [it.weigh(pads) for pads in ALL_ROUND]
    calm = pad_errors(it.car, weighings, it.thickness)
    off = weighings[2].repeats + np.array([0.0, 3.0 * GRAVITY, 0.0, 0.0])
    weighings[2] = weighings[2]._replace(repeats=off)
    found = pad_errors(it.car, weighings, it.thickness)
    assert calm.consistent
    assert not found.consistent
    assert int(np.abs(found.residuals).argmax()) == 4 * 2 + 1
    grown = np.sqrt(found.chi_square / found.degrees)
    assert grown > 1.4
    assert found.gain_uncertainties == pytest.approx(grown * calm.gain_uncertainties, rel=0.01)


def test_the_order_asked_for_is_the_best_of_all() -> None:
    """Each of the 24 tried in earnest: none leaves less uncertainty of the four gains."""
    car = replace(plain_car(), scales=SCALES)
    loads = np.array([300.0, 285.0, 230.0, 245.0]) * GRAVITY
    once = PadWeighing(tuple("ABCD"), loads[None, :])
    alike = dict.fromkeys("ABCD", 0.05)
    advised = pad_errors(car, [once], alike).next
    assert advised is not None

    def left(pads: tuple[str, ...]) -> float:
        found = pad_errors(car, [once, once._replace(pads=pads)], alike)
        return float((found.gain_uncertainties**2).sum() + 4 * found.uncertainties.cross**2)

    best = min(left(pads) for pads in permutations("ABCD"))
    assert left(advised.pads) == pytest.approx(best, rel=1e-6)


def test_scales_without_any_scatter_are_fitted_all_the_same() -> None:
    it = Garage(np.random.default_rng(5))
    it.car = replace(it.car, scales=Scales(0.0, 0.0, 0.0, 0.0))
    weighings = [it.weigh(pads) for pads in ALL_ROUND]
    found = pad_errors(it.car, weighings, it.thickness)
    assert found.gains == pytest.approx(it.gains, abs=1e-9)
