"""Numbers as their source prints them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.sources import half_digit


def printed(digits: str) -> Any:
    """Give the printed number, to be compared within half a unit of its last digit.

    >>> 1.10842 == printed("1.1084"), 1.1085 == printed("1.1084")
    (True, False)
    """
    return pytest.approx(float(digits), rel=0, abs=half_digit(digits))
