"""How many draws a slow test takes: a spread few, or with ALL_SEEDS=1 all there are."""

from __future__ import annotations

import os


def seeds(count: int, few: int) -> range:
    """Give the first and every so-many-th number below the count, `few` of them or one more."""
    return range(0, count, 1 if os.environ.get("ALL_SEEDS") else count // few)
