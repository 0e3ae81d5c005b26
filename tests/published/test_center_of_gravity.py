"""Loads on the wheels and the center of gravity in plan, in both directions.

Where they were read:

* Jazar: https://fliphtml5.com/wmjai/xhga/Vehicle_Dynamics/3
* NCERT: https://ask.learncbse.in/t/a-car-of-weight-1800-kg/13959 and
  https://questions.zollege.in/exams/questions/a-car-weighs-1800-kg-the-distance-between-its-fron-6549e8fb0fb7547942651ef0
* Halliday, Resnick, Walker, inputs only:
  https://www.physicsforums.com/threads/static-equilibrium-of-an-automobile.221879/
* FAA-H-8083-1: https://www.flight-study.com/2021/11/electronic-calculator.html
* Brantly B2-B:
  https://shergoodaviation.com/wiki/index.php?title=Brantly_B2-B/Weight_and_Balance&oldid=1951
* MASH test 3-21: https://www.nationalacademies.org/read/27896/chapter/19
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY
from balancer.car.model import Item, plain_car
from balancer.car.resting import added_loads
from balancer.files.units import INCH, US
from balancer.weighing.uncertainty import shares
from balancer.weighing.weigh import Readings, weigh
from tests.published.printed import printed
from tests.sources import source

BOOK_GRAVITY = 9.8


@source(
    "R. N. Jazar, Vehicle Dynamics: Theory and Application, Springer",
    "ch. 2, Example 40, p. 41",
    "read",
)
def test_center_from_the_load_on_each_wheel() -> None:
    car = plain_car(wheelbase=2.34)
    weighed = weigh(car, Readings.of(np.array([2000.0, 2000.0, 1800.0, 1800.0])))
    assert weighed.shares.aft == printed("1.1084")
    assert car.wheelbase - weighed.shares.aft == printed("1.2316")
    assert weighed.shares.left_offset == 0


@source("NCERT, Physics, Class XI", "rotational motion, exercises, car of 1800 kg", "read")
def test_loads_of_a_school_book_car() -> None:
    car = plain_car(wheelbase=1.8)
    loads = added_loads(car, 1800, 1.05, 0) * BOOK_GRAVITY / GRAVITY
    assert loads.tolist() == [printed("3675")] * 2 + [printed("5145")] * 2


@source("NCERT, Physics, Class XI", "rotational motion, exercises, car of 1800 kg", "read")
def test_school_book_car_from_its_loads() -> None:
    weighed = weigh(
        plain_car(wheelbase=1.8), Readings.of(np.array([3675.0, 3675.0, 5145.0, 5145.0]))
    )
    assert weighed.shares.total / BOOK_GRAVITY == printed("1800")
    assert weighed.shares.aft == printed("1.05")


@source(
    "D. Halliday, R. Resnick, J. Walker, Fundamentals of Physics",
    "equilibrium and elasticity, automobile of 1360 kg",
    "from memory",
)
def test_loads_of_a_university_book_car() -> None:
    """The inputs were read; the two printed loads are from memory."""
    loads = added_loads(plain_car(wheelbase=3.05), 1360, 1.78, 0) * BOOK_GRAVITY / GRAVITY / 1e3
    assert loads.tolist() == [printed("2.77")] * 2 + [printed("3.89")] * 2


@source(
    "FAA-H-8083-1, Aircraft Weight and Balance Handbook",
    "nosewheel airplane weighed on three scales",
    "read",
)
def test_three_scales_are_a_car_with_one_front_wheel() -> None:
    """The book's zero is the main wheels, here the rear axle; half the nose load on each side."""
    nose, mains = 340.0, 2006.0 - 340.0
    car = plain_car(wheelbase=US.to_si(78, "length"))
    loads = np.array([nose, nose, mains, mains]) / 2 * US.factors["load"]
    found = weigh(car, Readings.of(loads)).shares
    assert US.from_si(found.total, "load") == printed("2006")
    assert US.from_si(found.aft - car.wheelbase, "length") == printed("-13.2")


@pytest.mark.parametrize("wheelbase", [60.0, 150.0])
@source("Brantly B2-B Flight Manual", "section 5, weight and balance table", "read")
def test_items_on_board_add_up(wheelbase: float) -> None:
    """The printed arms are from a datum, here the front axle: the wheelbase can't matter."""
    on_board = tuple(
        Item(name, US.to_si(mass, "mass"), US.to_si(arm, "length"), 0.0, 0.0)
        for name, mass, arm in (
            ("empty", 1109, 104.7),
            ("pilot", 180, 72.4),
            ("passenger", 160, 72.4),
            ("fuel", 150, 115.8),
        )
    )
    car = replace(plain_car(wheelbase=wheelbase * INCH), on_board=on_board)
    loads = sum(added_loads(car, item.mass, item.aft, item.left) for item in car.on_board)
    found = shares(car, np.asarray(loads))
    total, aft = US.from_si(found.total, "load"), US.from_si(found.aft, "length")
    assert total == printed("1599")
    assert aft == printed("98.9")
    # The manual rounds each moment, so its sum is good to a whole unit only.
    assert total * aft == pytest.approx(158_098, rel=0, abs=1)


@source(
    "MASH test 3-21, report at nationalacademies.org/read/27896",
    "chapter 19, table 98, vehicle mass with and without dummy",
    "read",
)
def test_a_dummy_adds_its_mass_wherever_it_sits() -> None:
    car = plain_car()
    loads = np.full(4, US.to_si(5037, "load") / 4)
    after = loads + added_loads(car, US.to_si(165, "mass"), 1.3, -0.35)
    assert US.from_si(weigh(car, Readings.of(after)).shares.total, "load") == printed("5202")
