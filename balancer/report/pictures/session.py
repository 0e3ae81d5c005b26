"""A session as a picture: the way to the target, from one weigh-in down to the next."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from balancer.car.conventions import Floats
from balancer.car.errors import InputError
from balancer.files.car_file import CarFile
from balancer.log.entry import Entry
from balancer.log.last_session import PastSession, past_session
from balancer.log.reader import effective
from balancer.log.resume import is_of, session_of, told_in
from balancer.planning.session.expected import expected
from balancer.planning.session.lessons import remembering
from balancer.planning.session.session import Session, until
from balancer.report.log import Book
from balancer.report.pictures.chart import NINETY, Chart, Wanted, chart, marks, span
from balancer.report.pictures.page import MARGIN, ROOM, SMALL, Page
from balancer.report.pictures.svg import BLUE, PAPER, SOFT, VERMILLION, Look
from balancer.report.words.lettering import width
from balancer.report.words.numbers import number, percent
from balancer.report.words.turns import turned_corners
from balancer.weighing.weigh import WeighIn


class Stage(NamedTuple):
    """A leg of a session, and the cross weight with its uncertainty that was expected of it [1]."""

    entry: Entry
    weighed: WeighIn
    turns: Floats | None
    assumed: bool
    expected: tuple[float, float] | None


class Way(NamedTuple):
    """A session: the cross weight it wanted, how near [1], and its stages."""

    target: float
    tolerance: float
    legs: tuple[Stage, ...]


def last_way(book: Book) -> Way:
    """Follow the last session of a log that has a weigh-in.

    Returns:
        What was expected is worked out anew with the usual uncertainties of the file; it is
        left out where the rates in the car file have changed since.

    Raises:
        InputError: When there is no such session.
    """
    kept = effective(book.entries)
    for start in reversed(range(len(kept))):
        if kept[start].begins and (session := past_session(kept, start, book.weighed)):
            goal = session.goal
            return Way(goal.cross, goal.tolerance, _stages(book, kept, start, session))
    way_out = "balancer session begins one"
    raise InputError.one("--session", "the log has no session with a weigh-in", way_out)


def _stages(
    book: Book, kept: Sequence[Entry], start: int, session: PastSession
) -> tuple[Stage, ...]:
    legs, weigh_ins = session.lines.legs, session.weigh_ins
    expectations: list[tuple[float, float] | None] = [None] * len(legs)
    if is_of(kept[start], book.file.car):
        terms = told_in(session.lines, book.file)
        whole = session_of(book.file, kept, start, (session.lines, weigh_ins), terms)
        # In the state that the session plans for, as what was expected is.
        weigh_ins, expectations = whole.weigh_ins, _expectations(whole, session)
    told = zip(legs, weigh_ins, expectations, strict=True)
    return tuple(Stage(leg.entry, read, leg.turns, leg.assumed, what) for leg, read, what in told)


def _expectations(whole: Session, session: PastSession) -> list[tuple[float, float] | None]:
    """Give the cross weight expected at each weigh-in, and its standard uncertainty [1]."""
    legs = session.lines.legs
    if len(legs) == 1:
        return [None]
    known = remembering(until(whole, len(legs) - 1))
    return [
        None if leg.turns is None else expected(until(known, count), leg.turns)
        for count, leg in enumerate(legs)
    ]


_TURNED, _EXPECTED, _READ, _END = 12.0, 32.0, 52.0, 66.0
"""Where the lines of a leg stand, and its end [pt]; a leg without turns has only the reading."""

_FIRST_READ, _FIRST_END = 26.0, 44.0

_LEFT = MARGIN + 62
_WIDE = ROOM - 62

_BLANK = Look(width=0, fill=PAPER)
_WEIGHED = Look(BLUE, 3.2, shape="circle", size=6.5)
_FORESEEN = Look(VERMILLION, 3.2, shape="square", fill=PAPER)


def session_picture(file: CarFile, way: Way) -> str:
    """Draw the way of a session to its target."""
    first = way.legs[0].entry.wall
    page = Page()
    page.head(file.car.name, f"Cross weight (RF+LR), %, in the session of {first:%Y-%m-%d}")
    wanted = Wanted(100 * way.target, 100 * way.tolerance)
    axes = _open(page, way, wanted)
    down = axes.top
    for count, leg in enumerate(way.legs, 1):
        _leg(axes, file, leg, count, down)
        down += _height(leg)
    axes.axis_below(marks(*axes.x, 5))
    page.top += 26
    foreseen = [("expected from the turns", _FORESEEN)] * any(leg.expected for leg in way.legs)
    page.key([("weighed", _WEIGHED), *foreseen, *wanted.key()])
    page.top += 4
    page.prose("Thick bar: one standard uncertainty to either side; thin bar: 90 %.", SMALL)
    told = " ".join(_told(file, leg, count) for count, leg in enumerate(way.legs, 1))
    told = f"Wanted: {percent(way.target)} ± {wanted.tolerance:g}. {told}"
    return page.finish(f"{file.car.name}: the way of a session", told)


def _open(page: Page, way: Way, wanted: Wanted) -> Chart:
    values = [*wanted.ends, *(value for leg in way.legs for value in _reach(leg))]
    x = span(values, 1.0)
    axes = chart(page, sum(map(_height, way.legs)), x, (0.0, 1.0), _LEFT, _WIDE)
    wanted.draw(axes, upright=True)
    return axes


def _height(leg: Stage) -> float:
    return _FIRST_END if leg.turns is None else _END


def _reach(leg: Stage) -> Iterator[float]:
    """Give the ends of all 90 % bars [%]."""
    for cross, sure in filter(None, (_read(leg), leg.expected)):
        yield from (100 * (cross - NINETY * sure), 100 * (cross + NINETY * sure))


def _read(leg: Stage) -> tuple[float, float]:
    return leg.weighed.shares.cross, leg.weighed.repeatable.cross


def _leg(axes: Chart, file: CarFile, leg: Stage, count: int, top: float) -> None:
    page, y = axes.page, top + _FIRST_READ
    if leg.turns is not None:
        y = top + _READ
        # The words have the whole width: the band pauses for them.
        page.box((_LEFT, top + 2), (_LEFT + _WIDE, top + 22), _BLANK)
        turned = "turned as planned" if leg.assumed else "turned"
        page.label(f"{turned}: {_corners(file, leg.turns)}", MARGIN, top + _TURNED)
    if leg.expected:
        _point(axes, *leg.expected, top + _EXPECTED, _FORESEEN)
    _point(axes, *_read(leg), y, _WEIGHED)
    when = leg.entry.wall
    page.label(f"{count}", MARGIN, y, bold=True)
    page.label(f"{when:%H:%M}", MARGIN + 22, y, SOFT)


def _point(axes: Chart, share: float, standard: float, y: float, look: Look) -> None:
    """Draw a share, its uncertainty and 90 % of it, and write it where there is room."""
    value, sure = 100 * share, 100 * standard
    page, x = axes.page, axes.right(value)
    left, right = axes.right(value - NINETY * sure), axes.right(value + NINETY * sure)
    text = f"{number(value, 2)} ± {number(sure, 2)}"
    wide = width(text, SMALL)
    after = max(right, x + 4) + 5 + wide < _LEFT + _WIDE
    start = max(right, x + 4) + 5 if after else min(left, x - 4) - 5 - wide
    page.box((start - 2, y - 6), (start + wide + 2, y + 6), _BLANK)
    page.label(text, start, y)
    thin, thick = look._replace(width=1.2), look._replace(width=4.6)
    page.line([(left, y), (right, y)], thin)
    for end in (left, right):
        page.line([(end, y - 4), (end, y + 4)], thin)
    page.line([(axes.right(value - sure), y), (axes.right(value + sure), y)], thick)
    page.mark((x, y), look)


def _corners(file: CarFile, turns: Floats) -> str:
    return turned_corners(turns, file.counts()) or "nothing"


def _told(file: CarFile, leg: Stage, count: int) -> str:
    told = [] if leg.turns is None else [f"Turned {_corners(file, leg.turns)}."]
    if leg.expected:
        told.append(f"Expected {_words(*leg.expected)}.")
    return " ".join([*told, f"Weigh-in {count}: {_words(*_read(leg))}."])


def _words(share: float, standard: float) -> str:
    return f"{percent(share, 2)} ± {number(100 * standard, 2)}"
