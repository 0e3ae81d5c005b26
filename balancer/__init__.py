"""Spring-perch moves and ballast for a track car on four wheel scales.

>>> import balancer
>>> file = balancer.read_car("examples/coupe.toml")
>>> weighed = balancer.weigh(file.car, balancer.readings_of(file, [302, 288.5, 231, 244]))
>>> round(weighed.shares.cross, 4)
0.4876
"""

from __future__ import annotations

__version__ = "0.1.0"
"""Of the package; pyproject.toml and `balancer --version` read it here."""

# What `typing` takes to load would be half of all that comes before Ctrl-C is heard.
TYPE_CHECKING = False

if TYPE_CHECKING:
    from balancer.car.errors import BalancerError as BalancerError
    from balancer.car.errors import InputError as InputError
    from balancer.car.model import Car as Car
    from balancer.car.model import plain_car as plain_car
    from balancer.files.car_reader import read_car as read_car
    from balancer.files.parts_book import read_parts as read_parts
    from balancer.files.readings import read_readings as read_readings
    from balancer.files.readings import readings_of as readings_of
    from balancer.files.starter import write_starter as write_starter
    from balancer.jobs.door import carry as carry
    from balancer.jobs.door import compare as compare
    from balancer.jobs.door import meaning as meaning
    from balancer.jobs.door import plan_ballast as plan_ballast
    from balancer.jobs.door import plan_perches as plan_perches
    from balancer.jobs.door import prepare as prepare
    from balancer.jobs.door import step as step
    from balancer.jobs.door import variant as variant
    from balancer.jobs.door import weigh as weigh
    from balancer.planning.ballast.goal import BallastGoal as BallastGoal
    from balancer.planning.perches.goal import PerchGoal as PerchGoal
    from balancer.planning.session.session import Session as Session
    from balancer.weighing.weigh import Readings as Readings

_HOMES = {
    "BalancerError": "car.errors",
    "BallastGoal": "planning.ballast.goal",
    "Car": "car.model",
    "InputError": "car.errors",
    "PerchGoal": "planning.perches.goal",
    "Readings": "weighing.weigh",
    "Session": "planning.session.session",
    "carry": "jobs.door",
    "compare": "jobs.door",
    "meaning": "jobs.door",
    "plain_car": "car.model",
    "plan_ballast": "jobs.door",
    "plan_perches": "jobs.door",
    "prepare": "jobs.door",
    "read_car": "files.car_reader",
    "read_parts": "files.parts_book",
    "read_readings": "files.readings",
    "readings_of": "files.readings",
    "step": "jobs.door",
    "variant": "jobs.door",
    "weigh": "jobs.door",
    "write_starter": "files.starter",
}

__all__ = sorted(_HOMES)


if not TYPE_CHECKING:  # or no misspelled name would be found

    def __getattr__(name: str) -> object:
        """Load what is asked for when it is asked for: some of it stands on HiGHS."""
        if name not in _HOMES:
            raise AttributeError(f"module 'balancer' has no attribute {name!r}")
        import importlib

        return getattr(importlib.import_module(f"balancer.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return __all__
