"""Units and constants against the definitions, two libraries and an open data set.

The definitions are those of NIST SP 811, appendix B, typed in from memory and equal to
scipy.constants.
"""

from __future__ import annotations

import pint
import pytest
from scipy import constants

from balancer.car.conventions import GRAVITY
from balancer.files.units import FOOT, INCH, METRIC, POUND, SYSTEMS, US, Dimension
from tests.published.printed import printed
from tests.sources import source

SP_811 = "NIST SP 811, Guide for the Use of the International System of Units"

PINT: dict[str, dict[Dimension, str]] = {
    "metric": {
        "mass": "kilogram",
        "load": "kilogram_force",
        "force": "newton",
        "length": "millimeter",
        "rate": "newton / millimeter",
        "torsion": "newton * meter / degree",
        "volume": "liter",
        "density": "kilogram / liter",
        "power": "kilowatt",
        "per_power": "kilogram / kilowatt",
        "number": "",
    },
    "us": {
        "mass": "pound",
        "load": "pound_force",
        "force": "pound_force",
        "length": "inch",
        "rate": "pound_force / inch",
        "torsion": "pound_force * foot / degree",
        "volume": "gallon",
        "density": "pound / gallon",
        "power": "horsepower",
        "per_power": "pound / horsepower",
        "number": "",
    },
}
SI: dict[Dimension, str] = {
    "mass": "kilogram",
    "load": "newton",
    "force": "newton",
    "length": "meter",
    "rate": "newton / meter",
    "torsion": "newton * meter / radian",
    "volume": "meter**3",
    "density": "kilogram / meter**3",
    "power": "watt",
    "per_power": "kilogram / watt",
    "number": "",
}
EVERY = [(units.name, dimension) for units in SYSTEMS.values() for dimension in units.factors]


@source(SP_811, "appendix B: exact definitions", "from memory")
def test_definitions() -> None:
    assert POUND == 0.45359237
    # scipy gets it from the grain, one unit in the last place away.
    assert pytest.approx(constants.pound, rel=1e-15, abs=0) == POUND
    assert pytest.approx(25.4, rel=1e-15, abs=0) == METRIC.from_si(INCH, "length")
    assert constants.inch == INCH
    assert GRAVITY == 9.80665 == constants.g
    assert US.factors["load"] == 4.4482216152605 == constants.pound_force


@source(SP_811, "appendix B: lbf/in and lbf·ft", "from memory")
def test_rates_and_torques() -> None:
    assert METRIC.from_si(US.to_si(1, "rate"), "rate") == printed("0.175126835")
    pound_foot_per_radian = US.factors["torsion"] / METRIC.factors["torsion"]
    assert pound_foot_per_radian == printed("1.355817948")
    assert US.from_si(METRIC.to_si(1, "rate"), "rate") == printed("5.710147")


@source(SP_811, "appendix B: 1 kgf/mm", "from memory")
def test_a_spring_marked_in_kilograms() -> None:
    one = METRIC.factors["load"] / METRIC.factors["length"]
    assert METRIC.from_si(one, "rate") == printed("9.80665")
    assert US.from_si(one, "rate") == printed("55.9974")


@pytest.mark.parametrize(("system", "dimension"), EVERY)
@source(SP_811, "appendix B, as the library pint has it", "from memory")
def test_every_factor_against_pint(system: str, dimension: Dimension) -> None:
    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    one = registry.Quantity(1.0, PINT[system][dimension]).to(SI[dimension])
    assert SYSTEMS[system].to_si(1, dimension) == pytest.approx(one.magnitude, rel=1e-14, abs=0)


@source(
    "commonroad-vehicle-models 3.0.2 (open package, file as installed)",
    "vehicle 1: 84 slug, and axles 2.9 and 4.95 ft from the center of gravity",
    "read",
)
def test_a_car_given_in_slugs_and_feet() -> None:
    """One slug is what one pound-force speeds up by one foot per second squared.

    Its roll stiffness is not used: it is not 1,500 lbf/ft exactly, as it seems to mean.
    """
    slug = US.factors["load"] / FOOT
    assert 84 * slug == pytest.approx(1225.8878467253344, rel=1e-15, abs=0)
    assert US.to_si(2.9 * 12, "length") == pytest.approx(0.88392, rel=1e-15, abs=0)
    assert US.to_si(4.95 * 12, "length") == pytest.approx(1.50876, rel=1e-15, abs=0)


@pytest.mark.parametrize(
    ("metal", "metric", "us"),
    [("lead", 11.34, "0.4097"), ("steel", 7.85, "0.2836"), ("tungsten", 19.25, "0.6955")],
)
@source("densities of metals as any handbook has them", "g/cm³ and lb/in³", "from memory")
def test_the_metals_of_ballast(metal: str, metric: float, us: str) -> None:
    """The package knows no metals, but pounds and inches: a cubic inch of each weighs this."""
    cubic_inch = 1e3 * metric * INCH**3
    assert US.from_si(cubic_inch, "mass") == printed(us), metal
