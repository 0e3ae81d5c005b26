"""A mass put on the car: what it does to the axles, and how much of it a wanted split takes.

Where they were read:

* Peterbilt: https://www.easymanua.ls/peterbilt/220/manual/63601?p=77
* FAA knowledge question, a question bank's copy:
  https://aircraftweightandbal.passetra.com/question/an-aircraft-loaded-weighs-4954-08050b5daad083ef
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from balancer.car.model import Place, plain_car
from balancer.car.resting import added_loads
from balancer.files.units import INCH, US
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.plan import plan_ballast
from tests.published.printed import printed
from tests.sources import source


@source("Peterbilt 220 Body Builder Manual", "appendix B, figure B-2", "read")
def test_a_mass_between_the_axles() -> None:
    """ERRATUM: the front load is printed 38.86; the two must add up to 100 lb, so it is 37.86.

    62.14 is 62.15 cut, not rounded: the tolerance is one unit of the last digit.
    """
    loads = added_loads(plain_car(wheelbase=214 * INCH), US.to_si(100, "mass"), 133 * INCH, 0)
    front, rear = (US.from_si(axle.sum(), "load") for axle in (loads[:2], loads[2:]))
    assert rear == pytest.approx(62.14, rel=0, abs=0.01)
    assert front == pytest.approx(37.86, rel=0, abs=0.01)


@pytest.mark.parametrize("datum_to_rear", [100.0, 200.0])
@source(
    "FAA Aviation Mechanic General knowledge test",
    "loaded aircraft of 4,954 lb, center of gravity to be moved from +30.5 to +32.0 in",
    "read in a secondary copy",
)
def test_ballast_that_moves_the_center(datum_to_rear: float) -> None:
    """The datum is the front axle; where the rear axle is can't matter.

    The moment is about the wanted center, not the present one: the total grows by the ballast.
    """
    wheelbase = datum_to_rear * INCH
    station = Place("station 162", (162 * INCH, 162 * INCH), (0.0, 0.0), 0.0)
    car = replace(plain_car(wheelbase=wheelbase), places=(station,))
    loads = added_loads(car, US.to_si(4954, "mass"), 30.5 * INCH, 0)
    front = 1 - 32.0 / datum_to_rear
    plan = plan_ballast(car, loads, BallastGoal(front=(front, front)))
    assert plan.status == "met"
    assert US.from_si(plan.added, "mass") == printed("57.16")
    assert US.from_si(plan.shares.aft, "length") == printed("32.0")
