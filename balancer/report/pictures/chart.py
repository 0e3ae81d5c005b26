"""A chart on a page: from values to points, axes with round numbers or dates, and what is drawn."""

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta
from math import ceil, floor, log10
from typing import NamedTuple

from balancer.report.pictures.page import MARGIN, ROOM, SMALL, Page
from balancer.report.pictures.svg import DASHED, FILL, LINE, SOFT, Look, Point
from balancer.report.words.numbers import number

NINETY = 1.645
"""Standard uncertainties to either side that hold 90 % of a normal distribution (NIST/SEMATECH,
*e-Handbook of Statistical Methods*, 1.3.6.7.1; value from memory)."""

Range = tuple[float, float]
Mark = tuple[float, str]

_AXIS = Look(SOFT, 0.8)
_LINE, _BAND, _EDGE = Look(), Look(width=0, fill=FILL), Look(LINE, 0.8, DASHED)


class Chart(NamedTuple):
    """A place on a page where values are drawn; x to the right, y upward, unless their ends swap.

    Attributes:
        left, top, width, height: [pt].
        x, y: Values at the left and the right, at the bottom and the top.
    """

    page: Page
    left: float
    top: float
    width: float
    height: float
    x: Range
    y: Range

    def at(self, x: float, y: float) -> Point:
        """Give the point on the page for a pair of values."""
        return self.right(x), self.down(y)

    def right(self, x: float) -> float:
        """Give how far right on the page a value is."""
        return self.left + (x - self.x[0]) / (self.x[1] - self.x[0]) * self.width

    def down(self, y: float) -> float:
        """Give how far down on the page a value is."""
        return self.top + (self.y[1] - y) / (self.y[1] - self.y[0]) * self.height

    def line(self, points: Iterable[Point], look: Look) -> None:
        """Draw a line through pairs of values."""
        self.page.line([self.at(*pair) for pair in points], look)

    def area(self, points: Iterable[Point], look: Look) -> None:
        """Fill what pairs of values surround."""
        self.page.area([self.at(*pair) for pair in points], look)

    def mark(self, x: float, y: float, look: Look) -> None:
        """Draw a pair of values as a point."""
        self.page.mark(self.at(x, y), look)

    def across(self, y: float, look: Look) -> None:
        """Draw a line at a value from side to side, where it is in the chart at all."""
        if min(self.y) <= y <= max(self.y):
            self.line([(self.x[0], y), (self.x[1], y)], look)

    def upright(self, x: float, look: Look) -> None:
        """Draw a line at a value from top to bottom, where it is in the chart at all."""
        if min(self.x) <= x <= max(self.x):
            self.line([(x, self.y[0]), (x, self.y[1])], look)

    def axis_below(self, marks: Sequence[Mark] = ()) -> None:
        """Draw the axis along the bottom, with its numbers under it."""
        bottom = self.top + self.height
        self.page.line([(self.left, bottom), (self.left + self.width, bottom)], _AXIS)
        for value, text in marks:
            x = self.right(value)
            self.page.line([(x, bottom), (x, bottom + 3)], _AXIS)
            self.page.label(text, x, bottom + 11, SOFT, anchor="center")

    def caption_below(self, text: str) -> None:
        """Write under the numbers of the axis along the bottom what it is of."""
        self.page.top += 20
        self.page.words(text, self.left, size=SMALL, color=SOFT)
        self.page.top += 22

    def axis_left(self, marks: Sequence[Mark]) -> None:
        """Draw the axis along the left, with its numbers beside it."""
        self.page.line([(self.left, self.top), (self.left, self.top + self.height)], _AXIS)
        for value, text in marks:
            y = self.down(value)
            self.page.line([(self.left - 3, y), (self.left, y)], _AXIS)
            self.page.label(text, self.left - 6, y, SOFT, anchor="right")


def chart(
    page: Page, height: float, x: Range, y: Range, left: float = MARGIN, width: float = ROOM
) -> Chart:
    """Open a chart at the end of what is on a page."""
    opened = Chart(page, left, page.top, width, height, x, y)
    page.top += height
    return opened


class Wanted(NamedTuple):
    """A cross weight that is wanted, and how near [%]."""

    value: float
    tolerance: float

    @property
    def ends(self) -> Range:
        """The least and the most that will do."""
        return self.value - self.tolerance, self.value + self.tolerance

    def draw(self, axes: Chart, upright: bool = False) -> None:
        """Draw it as a line in a band, along the chart or upright."""
        (low, high), (start, end) = self.ends, axes.y if upright else axes.x
        around = [(start, low), (end, low), (end, high), (start, high)]
        axes.area([pair[::-1] for pair in around] if upright else around, _BAND)
        line = axes.upright if upright else axes.across
        for value, look in ((low, _EDGE), (high, _EDGE), (self.value, _LINE)):
            line(value, look)

    def key(self, more: str = "") -> list[tuple[str, Look]]:
        """Say what line and band are."""
        band = _EDGE._replace(fill=FILL)
        return [
            (f"wanted, {number(self.value, 1)} %", _LINE),
            (f"± {self.tolerance:g}{more}", band),
        ]


def captioned(page: Page, text: str, color: str = SOFT) -> None:
    """Write what an axis is of."""
    page.words(text, MARGIN, size=SMALL, color=color)
    page.top += 16


def span(values: Iterable[float], least: float, margin: float = 0.08) -> Range:
    """Give limits around values, never narrower than `least`.

    >>> span([1.0, 3.0], 1.0, 0.5)
    (0.0, 4.0)
    """
    values = list(values)
    low, high = min(values), max(values)
    wide = max(high - low, least)
    middle = (low + high) / 2
    return middle - wide * (0.5 + margin), middle + wide * (0.5 + margin)


def marks(low: float, high: float, most: int) -> list[Mark]:
    """Give round numbers from low to high, about `most` steps, as they are written on an axis.

    >>> marks(49.5, 50.5, 3)
    [(49.5, '49.5'), (50.0, '50.0'), (50.5, '50.5')]
    """
    step = _step((high - low) / most)
    # What is an end but for rounding is inside.
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    decimals = next((n for n in range(6) if abs(round(step, n) - step) < 1e-9 * step), 6)
    places = [step * nth for nth in range(first, last + 1)]
    return [(place, number(place, decimals)) for place in places]


def _step(least: float) -> float:
    """Give the smallest round step that is not below."""
    power = 10.0 ** floor(log10(least))
    steps = (power * digit for digit in (1, 2, 2.5, 5, 10))
    return next(step for step in steps if step >= least * (1 - 1e-9))


def date_marks(low: float, high: float) -> list[Mark]:
    """Give round dates from low to high [day since 1970-01-01], at most five.

    >>> [text for _, text in date_marks(20500, 20700)]
    ['2026-03', '2026-05', '2026-07']
    """
    if high - low < 2:
        ends = (low + 0.1 * (high - low), high - 0.1 * (high - low))
        return [(end, f"{_moment(end):%m-%d %H:%M}") for end in ends]
    for days in (1, 2, 5, 10):
        if (high - low) / days <= 5:
            return _inside(_each_days(low, days), low, high, "%m-%d")
    for months in (1, 2, 3, 6, 12, 24, 60, 120, 600):
        if (high - low) / (30.4 * months) <= 4:
            break
    return _inside(_each_months(low, months), low, high, "%Y-%m" if months < 12 else "%Y")


def _each_days(low: float, days: int) -> list[date]:
    first = _moment(low).date().toordinal() // days * days
    ordinals = [first + nth * days for nth in range(7)]
    return [date.fromordinal(n) for n in ordinals if 1 <= n <= date.max.toordinal()]


def _each_months(low: float, months: int) -> list[date]:
    start = _moment(low)
    first = (12 * start.year + start.month - 1) // months * months
    counts = [first + nth * months for nth in range(7)]
    years = range(date.min.year, date.max.year + 1)
    return [date(n // 12, n % 12 + 1, 1) for n in counts if n // 12 in years]


def _inside(dates: Sequence[date], low: float, high: float, form: str) -> list[Mark]:
    epoch = date(1970, 1, 1)
    # At the ends a date would stick out of the page.
    edge = 0.04 * (high - low)
    each = [(float((day - epoch).days), f"{day:{form}}") for day in dates]
    return [(day, text) for day, text in each if low + edge <= day <= high - edge]


FIRST_DAY, LAST_DAY = -719_162.0, 2_932_896.99
"""The first and the last day that has a date, from 1970-01-01."""


def day_of(moment: datetime) -> float:
    """Give when it was, as the clock on the wall had it [day since 1970-01-01]."""
    return moment.replace(tzinfo=UTC).timestamp() / 86400


def _moment(day: float) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(days=day)
