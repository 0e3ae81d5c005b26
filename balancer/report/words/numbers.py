"""How numbers are said: signs that can be seen, masses and lengths, shares, uncertainties."""

from collections.abc import Iterable

from balancer.files.units import Dimension, Units
from balancer.weighing.uncertainty import Shares

_DECIMALS = {
    "metric": {"mass": 1, "load": 1, "length": 1, "rate": 1},
    "us": {"mass": 1, "load": 1, "length": 2, "rate": 0},
}


def number(value: float, decimals: int, sign: bool = False) -> str:
    """Write a number with a minus that can be told from a dash, and no minus zero.

    >>> number(-0.04, 1), number(-2.25, 2), number(3, 0, sign=True)
    ('0.0', '−2.25', '+3')
    """
    text = f"{value:.{decimals}f}"
    if not float(text):
        return text.lstrip("-")
    return text.replace("-", "−") if value < 0 else f"+{text}" if sign else text


def amount(
    value: float, dimension: Dimension, units: Units, sign: bool = False, unit: bool = False
) -> str:
    """Write an SI value in the car file's units, in the decimals that hands and eyes can use.

    >>> from balancer.files.units import US
    >>> amount(0.0254, "length", US, unit=True)
    '1.00 in'
    """
    text = number(units.from_si(value, dimension), _DECIMALS[units.name][dimension], sign)
    return f"{text} {units.labels[dimension]}" if unit else text


def amounts(
    values: Iterable[float], dimension: Dimension, units: Units, sign: bool = False
) -> list[str]:
    """Write SI values as cells of a table.

    >>> from balancer.files.units import METRIC
    >>> amounts([0.001, -0.0025], "length", METRIC, sign=True)
    ['+1.0', '−2.5']
    """
    return [amount(value, dimension, units, sign) for value in values]


def place(meters: float, units: Units, finer: int = 0) -> str:
    """Write where something is along the car: to a millimeter, or a tenth of an inch.

    >>> from balancer.files.units import METRIC
    >>> place(1.2344, METRIC), place(1.2344, METRIC, finer=1)
    ('1234', '1234.4')
    """
    return number(units.from_si(meters, "length"), place_decimals(units) + finer)


def place_decimals(units: Units) -> int:
    """Give the decimals that a place along the car is told with."""
    return 0 if units.name == "metric" else 1


def percent(share: float, decimals: int = 1) -> str:
    """Write a share as percent.

    >>> percent(0.5)
    '50.0 %'
    """
    return f"{number(100 * share, decimals)} %"


def side(left: float) -> str:
    """Say on which side something is; what is in the middle but for a last bit is left of it.

    >>> side(0.02), side(-1e-17), side(-0.02)
    ('left', 'left', 'right')
    """
    return "left" if left > -1e-9 else "right"


def chance(value: float) -> str:
    """Write a chance as percent; nothing that rests on the stated scatter of pads is sure.

    >>> chance(0.9312), chance(0.99996)
    ('93 %', 'over 99 %')
    """
    return "over 99 %" if value > 0.99 else f"{100 * value:.0f} %"


def uncertainty(standard: float, decimals: int) -> str:
    """Write a standard uncertainty, with one decimal more than asked when it would vanish.

    >>> uncertainty(0.04, 1), uncertainty(0.3, 1)
    ('± 0.04', '± 0.3')
    """
    if 0 < standard < 10**-decimals:
        decimals += 1
    return f"± {number(standard, decimals)}"


def sure_percent(share: float, standard: float) -> str:
    """Write a share and its standard uncertainty.

    >>> sure_percent(0.5, 0.0011)
    '50.00 % ± 0.11'
    """
    return f"{percent(share, 2)} {uncertainty(100 * standard, 2)}"


def wanted(cross: float, tolerance: float) -> str:
    """Write a cross weight that is wanted, and how near.

    >>> wanted(0.5, 0.002)
    '50.0 % ± 0.2'
    """
    return f"{percent(cross)} ± {100 * tolerance:g}"


def three(shares: Shares) -> tuple[float, float, float]:
    """Give front, left and cross, in the order in which they are told everywhere."""
    return shares.front, shares.left, shares.cross
