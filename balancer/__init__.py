"""Spring-perch moves and ballast for a track car on four wheel scales.

>>> import balancer
>>> file = balancer.read_car("examples/coupe.toml")
>>> weighed = balancer.weigh(file.car, balancer.readings_of(file, [302, 288.5, 231, 244]))
>>> round(weighed.shares.cross, 4)
0.4876
"""

from __future__ import annotations

# What `typing` takes to load would be half of all that comes before Ctrl-C is heard.
TYPE_CHECKING = False

if TYPE_CHECKING:
    from balancer.ballast import plan_ballast as plan_ballast
    from balancer.ballast_goal import BallastGoal as BallastGoal
    from balancer.car import Car as Car
    from balancer.car import plain_car as plain_car
    from balancer.carfile import read_car as read_car
    from balancer.checking import meaning as meaning
    from balancer.errors import BalancerError as BalancerError
    from balancer.errors import InputError as InputError
    from balancer.perches import plan_perches as plan_perches
    from balancer.readings import read_readings as read_readings
    from balancer.readings import readings_of as readings_of
    from balancer.starter import write_starter as write_starter
    from balancer.targets import PerchGoal as PerchGoal
    from balancer.weighing import Readings as Readings
    from balancer.weighing import weigh as weigh

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


if not TYPE_CHECKING:  # or no misspelled name would be found

    def __getattr__(name: str) -> object:
        """Load what is asked for when it is asked for: some of it stands on scipy."""
        if name not in _HOMES:
            raise AttributeError(f"module 'balancer' has no attribute {name!r}")
        import importlib

        return getattr(importlib.import_module(f"balancer.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return __all__
