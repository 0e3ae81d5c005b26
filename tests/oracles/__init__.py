"""Models that share no code with the package: what it answers is held against them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

Numbers = Sequence[float] | np.ndarray
"""Some numbers in a row."""
