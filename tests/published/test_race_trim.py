"""From the state on the scales to race trim: what is on board, fuel, and the margin for the rule.

Where they were read:

* Brantly B2-B:
  https://shergoodaviation.com/wiki/index.php?title=Brantly_B2-B/Weight_and_Balance&oldid=1951
* MASH test 3-21: https://www.nationalacademies.org/read/27896/chapter/19
* pounds per US gallon: https://quemist.com/convert/pounds-per-gallon-to-grams-per-cm3
* ASTM range of gasoline: https://lifeintheuktest.net/ne/chapter-3-test-12/
"""

from __future__ import annotations

from itertools import combinations
from math import sqrt

import numpy as np
import pytest
from scipy import stats

from balancer.car.model import FUEL_DENSITY, Item, plain_car
from balancer.car.resting import item_loads
from balancer.files.units import INCH, METRIC, US
from balancer.planning.ballast.margin import margin_for
from balancer.weighing.load_states import carry
from balancer.weighing.parts import Change, variant
from tests.published.printed import printed
from tests.sources import source

BRANTLY = "Brantly B2-B Flight Manual"
GUM = "JCGM 100:2008, Guide to the Expression of Uncertainty in Measurement"
EN_228 = "EN 228, unleaded petrol"

EMPTY, PILOT, PASSENGER, FUEL = (
    Item(name, US.to_si(mass, "mass"), arm * INCH, 0.0, 0.0)
    for name, mass, arm in (
        ("empty", 1109, 104.7),
        ("pilot", 180, 72.4),
        ("passenger", 160, 72.4),
        ("fuel", 150, 115.8),
    )
)
ON_BOARD = (PILOT, PASSENGER, FUEL)
WEIGHED_WITH = [was for count in range(4) for was in combinations(ON_BOARD, count)]


@pytest.mark.parametrize("was", WEIGHED_WITH, ids=lambda was: "+".join(i.name for i in was) or "-")
@pytest.mark.parametrize("wheelbase", [110.0, 150.0])
@source(BRANTLY, "section 5, weight and balance table", "read")
def test_loaded_from_any_state_it_was_weighed_in(wheelbase: float, was: tuple[Item, ...]) -> None:
    """The printed arms are from a datum, here the front axle: the wheelbase can't matter,
    as long as the center of gravity is between the axles."""
    car = plain_car(wheelbase=wheelbase * INCH)
    weighed = item_loads(car, [EMPTY, *was])
    loaded = carry(car, weighed, was, ON_BOARD)
    total, aft = US.from_si(loaded.shares.total, "load"), US.from_si(loaded.shares.aft, "length")
    assert total == printed("1599")
    assert aft == printed("98.9")
    # The manual rounds each moment, so its sum is good to a whole unit only.
    assert total * aft == pytest.approx(158_098, rel=0, abs=1)


@pytest.mark.parametrize("left", [-0.35, 0.0, 0.35])
@source(
    "MASH test 3-21, report at nationalacademies.org/read/27896",
    "chapter 19, table 98, vehicle mass with and without dummy",
    "read",
)
def test_a_dummy_put_on_and_taken_off(left: float) -> None:
    car = plain_car()
    dummy = Item("dummy", US.to_si(165, "mass"), 1.3, left, 0.5)
    inertial = np.full(4, US.to_si(5037, "load") / 4)
    gross = carry(car, inertial, [], [dummy])
    assert US.from_si(gross.shares.total, "load") == printed("5202")
    without = carry(car, gross.loads, [dummy], [])
    assert US.from_si(without.shares.total, "load") == printed("5037")


@source("Peterbilt 220 Body Builder Manual", "appendix B, figure B-2", "read")
def test_a_part_between_the_axles() -> None:
    """62.14 is 62.15 cut, not rounded: the tolerance is one unit of the last digit.

    ERRATUM: the front load is printed 38.86; the two must add up to 100 lb.
    """
    car = plain_car(wheelbase=214 * INCH)
    part = Item("part", US.to_si(100, "mass"), 133 * INCH, 0.0, 0.0)
    ((*front, rear_left, rear_right),) = variant(
        car, np.full(4, 2500.0), "with it", [Change("on", None, part)]
    ).each
    assert US.from_si(rear_left + rear_right, "load") == pytest.approx(62.14, rel=0, abs=0.01)
    assert US.from_si(sum(front), "load") == pytest.approx(37.86, rel=0, abs=0.01)


@source(
    "quemist.com",
    "pounds per US gallon to grams per cubic centimeter",
    "read in a secondary copy",
)
def test_pounds_per_gallon() -> None:
    assert METRIC.from_si(US.to_si(1, "density"), "density") == printed("0.119826")


@source("NIST SP 811", "appendix B: US gallon, exact", "from memory")
def test_gallons() -> None:
    assert METRIC.from_si(US.to_si(1, "volume"), "volume") == printed("3.785411784")


@source(
    "ASTM range of gasoline, as a test guide quotes it", "0.71 to 0.78", "read in a secondary copy"
)
def test_six_pounds_a_gallon_is_gasoline() -> None:
    """What the Brantly manual takes: in the range, and just under the lightest of EN 228."""
    density = METRIC.from_si(US.to_si(6, "density"), "density")
    assert 0.71 <= density <= 0.78
    assert density == pytest.approx(0.72, rel=0, abs=0.0011)


@pytest.mark.parametrize(("metric", "us"), [(0.72, "6.01"), (0.775, "6.47")])
@source(EN_228, "density of gasoline at 15 °C, kg/L and lb/US gal", "from memory")
def test_density_of_gasoline(metric: float, us: str) -> None:
    assert US.from_si(METRIC.to_si(metric, "density"), "density") == printed(us)


@source(EN_228, "density of gasoline at 15 °C, 0.720 to 0.775 kg/L", "from memory")
def test_density_taken_where_the_file_gives_none() -> None:
    usual = METRIC.from_si(FUEL_DENSITY, "density")
    assert usual - 0.720 == pytest.approx(0.775 - usual, rel=1e-9)


MOST_CHANCE = [0.2, 0.1, 0.05, 0.025, 0.01, 0.001]
SCALES = [(0.8, 1.0), (0.5, 0.0), (0.0, 2.0), (3.0, 0.4)]


@pytest.mark.parametrize("chance", MOST_CHANCE)
@pytest.mark.parametrize(("own", "other"), SCALES)
@source(GUM, "5.1.2: two independent scales; the quantile is scipy's, numbers ours", "from memory")
def test_margin_is_a_quantile_of_the_difference(own: float, other: float, chance: float) -> None:
    margin = margin_for(chance, own, other)
    expected = stats.norm.isf(chance, scale=np.hypot(own, other))
    assert margin.mass == pytest.approx(expected, rel=1e-12)
    assert margin[1:] == (own, other, chance)


@pytest.mark.parametrize("chance", [0.2, 0.05, 0.01])
@pytest.mark.parametrize(("own", "other"), SCALES)
@source("JCGM 101:2008", "Monte Carlo of two scales, numbers ours", "from memory")
def test_margin_leaves_the_stated_chance_of_being_light(
    own: float, other: float, chance: float
) -> None:
    """The car is ballasted until its own scale shows minimum and margin; then another looks."""
    rng = np.random.default_rng([228, round(1000 * chance)])
    trials, minimum = 200_000, 1040.0
    shown = minimum + margin_for(chance, own, other).mass
    true = shown - rng.normal(0, own, trials)
    light = np.mean(true + rng.normal(0, other, trials) < minimum)
    # Four standard deviations of a proportion.
    assert light == pytest.approx(chance, rel=0, abs=4 * sqrt(chance * (1 - chance) / trials))
