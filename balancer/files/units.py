"""The one place where a car file's units meet SI.

Everything inside the package is SI (kg, m, N, N/m, N·m/rad); a `Units` multiplies on the way
in and divides on the way out. The factors are exact by definition: 1 lb = 0.45359237 kg and
1 in = 25.4 mm (international yard and pound agreement, 1959, as in NIST SP 811, appendix B),
1 US gal = 231 in³, 1 hp = 550 ft·lbf/s (NIST SP 811), standard gravity 9.80665 m/s² (3rd CGPM,
1901).
"""

from math import pi
from typing import Literal, NamedTuple

from balancer.car.conventions import GRAVITY

Dimension = Literal[
    "mass",
    "load",
    "force",
    "length",
    "rate",
    "torsion",
    "number",
    "volume",
    "density",
    "power",
    "per_power",
]
"""`force` is that of springs, as in their rates; `load` is a force that a scale shows in units of
mass; `number` has no unit; `per_power` is the mass for each unit of power."""

POUND = 0.45359237
INCH = 0.0254
FOOT = 12 * INCH
GALLON = 231 * INCH**3
HORSEPOWER = 550 * FOOT * POUND * GRAVITY
DEGREE = pi / 180


class Units(NamedTuple):
    """A system of units for the outside.

    Attributes:
        name: As the car file spells it: `metric` or `us`.
        factors: Dimension to the size of its unit in SI: kg, N, m, N/m, N·m/rad.
        labels: Dimension to how the unit is written.
    """

    name: str
    factors: dict[Dimension, float]
    labels: dict[Dimension, str]

    def to_si(self, value: float, dimension: Dimension) -> float:
        """Convert a number of these units to SI.

        >>> US.to_si(1, "length")
        0.0254
        """
        return value * self.factors[dimension]

    def from_si(self, value: float, dimension: Dimension) -> float:
        """Convert an SI number to these units.

        >>> METRIC.from_si(0.0254, "length")
        25.4
        """
        return value / self.factors[dimension]


METRIC = Units(
    "metric",
    {
        "mass": 1.0,
        "load": GRAVITY,
        "force": 1.0,
        "length": 1e-3,
        "rate": 1e3,
        "torsion": 1 / DEGREE,
        "number": 1.0,
        "volume": 1e-3,
        "density": 1e3,
        "power": 1e3,
        "per_power": 1e-3,
    },
    {
        "mass": "kg",
        "load": "kg",
        "force": "N",
        "length": "mm",
        "rate": "N/mm",
        "torsion": "N·m/deg",
        "number": "",
        "volume": "L",
        "density": "kg/L",
        "power": "kW",
        "per_power": "kg/kW",
    },
)
US = Units(
    "us",
    {
        "mass": POUND,
        "load": POUND * GRAVITY,
        "force": POUND * GRAVITY,
        "length": INCH,
        "rate": POUND * GRAVITY / INCH,
        "torsion": POUND * GRAVITY * FOOT / DEGREE,
        "number": 1.0,
        "volume": GALLON,
        "density": POUND / GALLON,
        "power": HORSEPOWER,
        "per_power": POUND / HORSEPOWER,
    },
    {
        "mass": "lb",
        "load": "lb",
        "force": "lb",
        "length": "in",
        "rate": "lb/in",
        "torsion": "lb·ft/deg",
        "number": "",
        "volume": "gal",
        "density": "lb/gal",
        "power": "hp",
        "per_power": "lb/hp",
    },
)
SYSTEMS = {units.name: units for units in (METRIC, US)}


def other(units: Units) -> Units:
    """Give the system that a file in the wrong units was probably written in.

    Examples:
        >>> other(METRIC).name
        'us'
    """
    return US if units is METRIC else METRIC
