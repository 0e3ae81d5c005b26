"""Spring-perch moves and ballast for a track car on four wheel scales.

>>> import balancer
>>> file = balancer.read_car("examples/coupe.toml")
>>> weighed = balancer.weigh(file.car, balancer.readings_of(file, [302, 288.5, 231, 244]))
>>> round(weighed.shares.cross, 4)
0.4876
"""

from __future__ import annotations

import importlib
from typing import Any

_HOMES = {
    "BallastGoal": "ballast_goal",
    "BalancerError": "errors",
    "Car": "car",
    "InputError": "errors",
    "PerchGoal": "targets",
    "Readings": "weighing",
    "meaning": "checking",
    "plain_car": "car",
    "plan_ballast": "ballast",
    "plan_perches": "perches",
    "read_car": "carfile",
    "read_readings": "readings",
    "readings_of": "readings",
    "weigh": "weighing",
    "write_starter": "starter",
}

__all__ = sorted(_HOMES)


def __getattr__(name: str) -> Any:
    """Load what is asked for when it is asked for: some of it stands on scipy."""
    if name not in _HOMES:
        raise AttributeError(f"module 'balancer' has no attribute {name!r}")
    return getattr(importlib.import_module(f"balancer.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return __all__
