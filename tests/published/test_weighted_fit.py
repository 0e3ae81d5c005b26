"""Weighted least squares against straight lines whose estimates and doubts are printed.

Data and results of the two examples were read as the GUM Tree Calculator restates them, commit
10d2b91b: https://github.com/MSLNZ/GTC/blob/v1.4.0/docs/API/straight_line_functions.rst
"""

from __future__ import annotations

import numpy as np
import pytest

from balancer.weighted_fit import weighted_fit
from tests.published.printed import printed
from tests.sources import source

STANDARD = "BS DD ISO/TS 28037:2010, Determination and use of straight-line calibration functions"
FREE = np.array([np.inf, np.inf])
NEARLY_FREE = np.array([np.inf, 1e4])
"""A limit that says next to nothing sends the same numbers down the other way."""


def line(
    y: list[float], doubts: list[float], limits: np.ndarray
) -> tuple[np.ndarray, np.ndarray, float]:
    """Fit a + b·x at x = 1 … 6: estimates, covariance and chi-square."""
    x, u = np.arange(1.0, 7.0), np.array(doubts)
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
    doubts = [0.5, 0.5, 0.5, 1.0, 1.0, 1.0]
    values, covariance, chi_square = line([3.2, 4.3, 7.6, 8.6, 11.7, 12.8], doubts, limits)
    assert values.tolist() == [printed("0.885"), printed("2.057")]
    assert np.sqrt(np.diag(covariance)).tolist() == [printed("0.530"), printed("0.178")]
    assert covariance[0, 1] == printed("-0.082")
    assert chi_square == printed("4.131")
