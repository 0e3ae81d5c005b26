"""The car from above as SVG: wheels, loads, the diagonal, and ballast, drawn to scale.

All words stand around the car, never on it, so that none can cover another: loads in the side
margins, shares above and below, and what is bolted in at the inner edge of the margins with a line
to its place.
"""

from collections.abc import Iterator, Sequence
from html import escape
from typing import NamedTuple

from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import Car
from balancer.files.units import Units
from balancer.planning.ballast.outcome import BallastItem
from balancer.report.pictures.svg import Point, element, points_of
from balancer.report.words.lettering import width
from balancer.report.words.numbers import amount, percent
from balancer.weighing.uncertainty import Shares

_HIGH, _WIDE = 310.0, 250.0
"""Most of the drawing, in its units, for all that is to scale."""

_SIDE, _END, _LEAST = 114.0, 30.0, 310.0
"""Room for words beside it, above and below it, and the least of the whole width."""

_OVERHANG = 0.45
"""Of the body beyond the axles, as far as nobody has said [m]."""

_APART, _APART_TURNED = 96.0, 118.0
"""Least distance between the words of the front and of the rear wheels, and where they say turns
too."""

_MUCH = 38.0
"""Size of the type of turns, where there is room."""

_PITCH = 18.0
"""From one number of ballast to the next."""

_SAID = 6
"""Up to so many, ballast has its mass beside its number."""


class Turned(NamedTuple):
    """What to turn at a corner: how much, and which way; no way where it is left alone."""

    much: str
    way: str


class _Frame(NamedTuple):
    """From places on the car [m] to the drawing."""

    scale: float
    middle: float
    ahead: float
    width: float
    height: float
    apart: float = _APART

    def at(self, aft: float, left: float) -> Point:
        """Give the point of the drawing for a place on the car."""
        return self.middle - self.scale * left, _END + self.scale * (aft + self.ahead)


def plan_view(
    car: Car, units: Units, loads: Floats, shares: Shares, items: Sequence[BallastItem] = (),
    turns: Sequence[Turned] = (), place: tuple[float, float, float, float] | None = None,
) -> str:  # fmt: skip
    """Draw a car from above, the front at the top, left on the left; its look is in a style sheet.

    Args:
        items: Ballast to show, numbered from 1 in this order.
        turns: What to turn at each corner, large, with the loads small; none: loads alone.
        place: Where in another drawing: left, top, width, height.
    """
    frame = _frame(car, bool(turns))
    parts = [
        element("title", "The car from above", id="plan-title"),
        element("desc", escape(_described(units, loads, shares, items)), id="plan-words"),
        *_car(car, frame),
        *_places(car, frame),
        *_shares(frame, shares),
        *(_turns(car, frame, units, loads, turns) if turns else _loads(car, frame, units, loads)),
        *_ballast(car, frame, units, items),
    ]
    return element(
        "svg", "\n".join(["", *parts, ""]),
        **dict(zip(("x", "y", "width", "height"), place or (), strict=False)),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {frame.width:.0f} {frame.height:.0f}", role="img", class_="plan",
        aria_labelledby="plan-title plan-words",
    )  # fmt: skip


def view_size(car: Car, turns: bool = False) -> Point:
    """Give how wide and how high the drawing is, in its units, with turns or without."""
    frame = _frame(car, turns)
    return frame.width, frame.height


def without_number(car: Car, items: Sequence[BallastItem]) -> list[int]:
    """Find the ballast whose number finds no room beside the car in the drawing.

    >>> from balancer.car.model import plain_car
    >>> without_number(plain_car(), [])
    []
    """
    shown = _slots(car, _frame(car), items)
    return [number for number in range(1, len(items) + 1) if number not in shown]


def _described(units: Units, loads: Floats, shares: Shares, items: Sequence[BallastItem]) -> str:
    each = zip(CORNERS, loads, strict=True)
    told = [f"{corner} {amount(load, 'load', units, unit=True)}" for corner, load in each]
    shared = (
        f"front {percent(shares.front)}, left {percent(shares.left)},"
        f" cross weight (RF+LR) {percent(shares.cross)}"
    )
    bolted = [
        f"ballast {number}: {amount(item.mass, 'mass', units, unit=True)}"
        for number, item in enumerate(items, 1)
    ]
    return "; ".join([", ".join(told), shared, *bolted])


def _frame(car: Car, turns: bool = False) -> _Frame:
    """Fit the car and every place into the room that there is."""
    apart = _APART_TURNED if turns else _APART
    ahead, behind = _OVERHANG, car.wheelbase + _OVERHANG
    aside = float(car.tracks.max()) / 2 + 0.12
    for place in car.places:
        ahead, behind = max(ahead, 0.1 - place.aft[0]), max(behind, place.aft[1] + 0.1)
        aside = max(aside, *(abs(left) + 0.06 for left in place.left))
    scale = min(_HIGH / (ahead + behind), _WIDE / (2 * aside))
    wide = max(2 * (_SIDE + scale * aside), _LEAST)
    drawn = scale * (ahead + behind)
    # A short car far from the places must still have room for its words.
    height = max(drawn, apart + 60) + 2 * _END
    return _Frame(scale, wide / 2, ahead, wide, height, apart)


def _car(car: Car, frame: _Frame) -> Iterator[str]:
    body = 0.37 * float(car.tracks.min())
    x1, y1 = frame.at(-_OVERHANG + 0.05, body)
    x2, y2 = frame.at(car.wheelbase + _OVERHANG - 0.05, -body)
    # The nose is narrower, so that nobody holds the sheet upside down.
    nose, tail = 0.42 * (x2 - x1), 0.12 * (x2 - x1)
    outline = [
        f"M{x1:.1f} {y1 + nose:.1f}Q{x1:.1f} {y1:.1f} {x1 + nose:.1f} {y1:.1f}",
        f"H{x2 - nose:.1f}Q{x2:.1f} {y1:.1f} {x2:.1f} {y1 + nose:.1f}V{y2 - tail:.1f}",
        f"Q{x2:.1f} {y2:.1f} {x2 - tail:.1f} {y2:.1f}H{x1 + tail:.1f}",
        f"Q{x1:.1f} {y2:.1f} {x1:.1f} {y2 - tail:.1f}Z",
    ]
    yield element("path", class_="body", d="".join(outline))
    wheels = [frame.at(aft, left) for aft, left in zip(car.aft, car.left, strict=True)]
    for one, other in ((0, 1), (2, 3)):
        yield _line("axle", wheels[one], wheels[other])
    yield _line("cross", wheels[1], wheels[2])
    long = 0.26 * frame.scale * min(car.wheelbase, 2.4)
    wide = min(0.2 * frame.scale, 0.3 * frame.scale * float(car.tracks.min()))
    for x, y in wheels:
        yield _box("wheel", (x - wide / 2, y - long / 2), wide, long, round_=wide / 4)


def _places(car: Car, frame: _Frame) -> Iterator[str]:
    """Draw where ballast may go: a rectangle, or a small cross for a point."""
    for place in car.places:
        x1, y1 = frame.at(place.aft[0], place.left[1])
        x2, y2 = frame.at(place.aft[1], place.left[0])
        if x2 - x1 < 1 and y2 - y1 < 1:
            cross = f"M{x1 - 5:.1f} {y1 - 5:.1f}l10 10m0 -10l-10 10"
            yield element("path", class_="place", d=cross)
        else:
            yield _box("place", (x1, y1), max(x2 - x1, 1), max(y2 - y1, 1))


def _shares(frame: _Frame, shares: Shares) -> Iterator[str]:
    x, y = frame.at(shares.aft, shares.left_offset)
    circle = f"M{x - 7:.1f} {y:.1f}a7 7 0 1 0 14 0a7 7 0 1 0 -14 0"
    cross = f"M{x - 11:.1f} {y:.1f}h22M{x:.1f} {y - 11:.1f}v22"
    yield element("path", class_="center", d=cross + circle)
    both = f"front {percent(shares.front)}, left {percent(shares.left)}"
    yield _text("share", "middle", frame.middle, 20, both)
    low = frame.height - 9
    words = f"RF+LR {percent(shares.cross)}"
    yield _line("cross", (frame.middle - 104, low + 1), (frame.middle - 62, low - 13))
    yield _text("share", "middle", frame.middle + 12, low, words)


def _loads(car: Car, frame: _Frame, units: Units, loads: Floats) -> Iterator[str]:
    for corner, load, (anchor, x, y) in zip(CORNERS, loads, _margins(car, frame), strict=True):
        yield _text("corner", anchor, x, y - 9, corner)
        yield _text("load", anchor, x, y + 15, amount(load, "load", units))


def _turns(
    car: Car, frame: _Frame, units: Units, loads: Floats, turns: Sequence[Turned]
) -> Iterator[str]:
    places = _margins(car, frame)
    for corner, load, (anchor, x, y), turn in zip(CORNERS, loads, places, turns, strict=True):
        size = min(_MUCH, (_SIDE - 20) / width(turn.much, 1, bold=True)) if turn.way else 16.0
        yield _text("corner", anchor, x, y - 26, f"{corner} {amount(load, 'load', units)}")
        yield _text("much", anchor, x, y + 9, turn.much, size=round(size, 1))
        if turn.way:
            yield _text("way", anchor, x, y + 27, turn.way)


def _margins(car: Car, frame: _Frame) -> list[tuple[str, float, float]]:
    """Give where the words of each corner stand: the side that they begin from, and a point."""
    sides = (("start", 8.0), ("end", frame.width - 8))
    return [(*side, y) for y in _word_heights(car, frame) for side in sides]


def _word_heights(car: Car, frame: _Frame) -> Point:
    """Give how far down the words of the axles stand: at the wheels, but never too near."""
    front, rear = frame.at(0, 0)[1], frame.at(car.wheelbase, 0)[1]
    more = max(0.0, frame.apart - (rear - front)) / 2
    top = min(max(front - more, _END + 24), frame.height - _END - 24 - frame.apart)
    return top, max(rear + more, top + frame.apart)


def _ballast(car: Car, frame: _Frame, units: Units, items: Sequence[BallastItem]) -> Iterator[str]:
    for item in items:
        x, y = frame.at(item.aft, item.left)
        size = min(4.0 + 1.4 * item.mass**0.5, 16.0)
        yield _box("ballast", (x - size / 2, y - size / 2), size, size)
    for number, (turn, end) in _slots(car, frame, items).items():
        item = items[number - 1]
        start, left = frame.at(item.aft, item.left), end[0] < frame.middle
        yield element("polyline", class_="lead", points=points_of([start, turn, end]))
        words = str(number)
        if len(items) <= _SAID:
            words += f": {amount(item.mass, 'mass', units)}"
        side = -3 if left else 3
        yield _text("key", "end" if left else "start", end[0] + side, end[1] + 5, words)


def _slots(car: Car, frame: _Frame, items: Sequence[BallastItem]) -> dict[int, tuple[Point, Point]]:
    """Find where the number of each item stands: on its own side, else on the other, else nowhere.

    On each side they stand in the order of their places, so that no two lines cross, between the
    words of the front and of the rear wheel. More than one column would hide one line by another.
    """
    front, rear = _word_heights(car, frame)
    top, bottom = front + 30, rear - 40
    rows = max(int((bottom - top) / _PITCH) + 1, 0)
    edges = {True: _SIDE - 4, False: frame.width - _SIDE + 4}
    sides: dict[bool, list[int]] = {True: [], False: []}
    for number, item in enumerate(items, 1):
        own = item.left > 0
        side = own if len(sides[own]) < rows else not own
        if len(sides[side]) < rows:
            sides[side].append(number)
    slots: dict[int, tuple[Point, Point]] = {}
    for left, numbers in sides.items():
        numbers.sort(key=lambda number: (items[number - 1].aft, number))
        wanted = [frame.at(items[number - 1].aft, 0)[1] for number in numbers]
        for number, y in zip(numbers, _spread(wanted, top, bottom), strict=True):
            edge = edges[left]
            slots[number] = ((edge + (10 if left else -10), y), (edge, y))
    return dict(sorted(slots.items()))


def _spread(wanted: Sequence[float], top: float, bottom: float) -> list[float]:
    """Put rows as near to where they are wanted as their distance and the ends allow.

    >>> _spread([10, 11, 90], 0, 100)
    [10, 28.0, 90]
    """
    rows: list[float] = []
    for index, y in enumerate(wanted):
        least = top + index * _PITCH
        most = bottom - (len(wanted) - 1 - index) * _PITCH
        after = rows[-1] + _PITCH if rows else least
        rows.append(max(min(max(y, least), most), after))
    return rows


def _line(kind: str, start: Point, end: Point) -> str:
    (x1, y1), (x2, y2) = start, end
    return element("line", class_=kind, x1=x1, y1=y1, x2=x2, y2=y2)


def _box(kind: str, corner: Point, wide: float, high: float, round_: float | str = "") -> str:
    x, y = corner
    return element("rect", class_=kind, x=x, y=y, width=wide, height=high, rx=round_)


def _text(kind: str, anchor: str, x: float, y: float, words: str, size: float | str = "") -> str:
    return element("text", escape(words), class_=kind, text_anchor=anchor, x=x, y=y, font_size=size)
