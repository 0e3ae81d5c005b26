"""Weighted least squares against straight lines whose estimates and uncertainties are printed.

Data and results of the two examples were read as the GUM Tree Calculator restates them, commit
10d2b91b: https://github.com/MSLNZ/GTC/blob/v1.4.0/docs/API/straight_line_functions.rst

A rigid body on springs is a weighted fit, too: of all loads in balance those of the springs are the
ones that a tilted plane fits, each residual weighted by 1/k (least energy). Where they were read:

* pile group of four, sheet 4-PILE-GROUP 3/B: https://id.scribd.com/document/417790842/UER6U
* R. N. Jazar: https://fliphtml5.com/wmjai/xhga/Vehicle_Dynamics/39
"""

from __future__ import annotations

import numpy as np
import pytest

from balancer.weighing.least_squares import weighted_fit
from tests.published.printed import printed
from tests.sources import source

PILES = "Pile group of four under 1,693 kN, piles off position, sheet 4-PILE-GROUP 3/B"
JAZAR = "R. N. Jazar, Vehicle Dynamics: Theory and Application, Springer"
STANDARD = "BS DD ISO/TS 28037:2010, Determination and use of straight-line calibration functions"
FREE = np.array([np.inf, np.inf])
NEARLY_FREE = np.array([np.inf, 1e4])
"""A limit that says next to nothing sends the same numbers down the other way."""


def line(
    y: list[float], uncertainties: list[float], limits: np.ndarray
) -> tuple[np.ndarray, np.ndarray, float]:
    """Fit a + b·x at x = 1 … 6: estimates, covariance and chi-square."""
    x, u = np.arange(1.0, 7.0), np.array(uncertainties)
    design = np.column_stack([np.ones(6), x]) / u[:, None]
    fit = weighted_fit(design, np.array(y) / u, limits)
    assert fit.rank == 2
    return fit.values, fit.covariance, float(fit.residuals @ fit.residuals)


@pytest.mark.parametrize("limits", [FREE, NEARLY_FREE], ids=["free", "nearly free"])
@source(STANDARD, "6.3, page 13: equal weights", "read in a secondary copy")
def test_a_straight_line_with_equal_weights(limits: np.ndarray) -> None:
    values, covariance, chi_square = line([3.3, 5.6, 7.1, 9.3, 10.7, 12.1], [0.5] * 6, limits)
    assert values.tolist() == [printed("1.867"), printed("1.757")]
    assert np.sqrt(np.diag(covariance)).tolist() == [printed("0.465"), printed("0.120")]
    assert covariance[0, 1] == printed("-0.050")
    assert chi_square == printed("1.665")


@pytest.mark.parametrize("limits", [FREE, NEARLY_FREE], ids=["free", "nearly free"])
@source(STANDARD, "6.3, page 15: unequal weights", "read in a secondary copy")
def test_a_straight_line_with_unequal_weights(limits: np.ndarray) -> None:
    uncertainties = [0.5, 0.5, 0.5, 1.0, 1.0, 1.0]
    values, covariance, chi_square = line([3.2, 4.3, 7.6, 8.6, 11.7, 12.8], uncertainties, limits)
    assert values.tolist() == [printed("0.885"), printed("2.057")]
    assert np.sqrt(np.diag(covariance)).tolist() == [printed("0.530"), printed("0.178")]
    assert covariance[0, 1] == printed("-0.082")
    assert chi_square == printed("4.131")


PILE_X = np.array([393.0, 437.0, -339.0, -385.0])
PILE_Y = np.array([376.0, -376.0, -370.0, 336.0])


@pytest.mark.parametrize(
    ("at", "off", "squares", "moment"),
    [(PILE_X, "26.50", "605755", "44.86"), (PILE_Y, "-8.50", "532259", "-14.39")],
    ids=["x", "y"],
)
@source(PILES, "eccentricities, sums of squares and moments", "read")
def test_where_the_middle_of_four_piles_is(
    at: np.ndarray, off: str, squares: str, moment: str
) -> None:
    """The mean of the places is a fit of one number; a slope over them has 1/Σ for a variance."""
    middle = float(weighted_fit(np.ones((4, 1)), at, FREE[:1]).values[0])
    assert middle == printed(off)
    assert 1.693 * middle == printed(moment)
    sloped = weighted_fit(np.column_stack([np.ones(4), at - middle]), at, FREE)
    assert 1 / sloped.covariance[1, 1] == pytest.approx(float(squares), rel=0, abs=0.5)


def on_springs(rates: np.ndarray, places: np.ndarray, balanced: np.ndarray) -> np.ndarray:
    """Give what springs under a rigid body carry, from any loads in balance with it."""
    root = np.sqrt(rates)
    fit = weighted_fit(root[:, None] * places, balanced / root, np.full(places.shape[1], np.inf))
    return np.asarray(balanced - root * fit.residuals)


@source(
    PILES,
    "places and load, loads of a solver: the sheet's own leave Σxy out",
    "formula read, numbers ours",
)
def test_four_equal_piles_under_a_rigid_cap() -> None:
    """The load is in the middle of where the piles should be, so its moments about 0 are 0."""
    places = np.column_stack([np.ones(4), PILE_X, PILE_Y])
    # On the first three piles alone.
    three = np.linalg.solve(places[:3].T, np.array([1693.0, 0.0, 0.0]))
    loads = on_springs(np.ones(4), places, np.append(three, 0.0))
    assert sorted(loads.tolist()) == [
        printed(one) for one in ("384.224", "405.753", "441.233", "461.789")
    ]


@source(JAZAR, "eqs. 2.264 to 2.268, p. 77: three axles", "formula read, numbers ours")
def test_a_rigid_body_on_three_axles() -> None:
    """The closed form printed below them, 2.269 to 2.275, does not fulfill these equations."""
    rates, aft = np.array([40.0, 50.0, 60.0]), np.array([1.5, -1.0, -2.2])
    # On the first two axles alone, each wheel: in balance, and nothing like the springs' loads.
    balanced = np.array([400.0, 600.0, 0.0])
    loads = on_springs(rates, np.column_stack([np.ones(3), aft]), balanced)
    assert loads.tolist() == [printed(one) for one in ("493.9206", "310.4115", "195.6679")]
    (k1, k2, k3), (x1, x2, x3) = rates, aft
    compatible = np.array([k2 * k3 * (x2 - x3), k1 * k3 * (x3 - x1), k1 * k2 * (x1 - x2)])
    assert compatible @ loads == pytest.approx(0, abs=1e-6)
