"""The log as a picture: what a car weighed, and where, over its seasons."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any, NamedTuple

from matplotlib.axes import Axes

from balancer.errors import InputError
from balancer.files.states import race_state, state_of, words_of
from balancer.log.entry import Entry
from balancer.report.log import Book
from balancer.report.pictures.page import (
    BLUE,
    INK,
    LINE,
    MARGIN,
    NINETY,
    ROOM,
    SMALL,
    SOFT,
    VERMILLION,
    Paper,
    drawn,
    mark,
    marks,
    span,
)
from balancer.report.pictures.words import width
from balancer.report.words import amount, number, percent
from balancer.weighing.weigh import WeighIn

_LEFT = MARGIN + 42
_WIDE = ROOM - 50
_HIGH = 74.0
_MOST_NOTES = 12
_MOST_DRAWN = 240
"""More would only cover each other, and a picture of all that is in a long log never ends."""

_LANE = 13.0

_RACE: dict[str, Any] = {"color": BLUE, "marker": "o", "markersize": 5.5}
_OTHER: dict[str, Any] = {
    "color": VERMILLION, "marker": "D", "markersize": 5, "markerfacecolor": "white",
    "markeredgewidth": 1.4,
}  # fmt: skip

_SESSION: dict[str, Any] = {"marker": "^", "markersize": 6, "color": INK, "linestyle": "none"}


class _Panel(NamedTuple):
    """What is drawn of each weigh-in: values, and their standard uncertainties."""

    label: str
    values: list[float]
    uncertainties: list[float]
    least: float


def log_picture(book: Book) -> str:
    """Draw every weigh-in of a log that was not undone against its date.

    Returns
    -------
    str
        SVG.

    Raises
    ------
    InputError
        When there is nothing to draw.
    """
    weigh_ins = list(book.operating_point("weigh_in"))
    found = _thinned(book, weigh_ins)
    if not found:
        raise InputError.one("--svg", "the log has no weigh-ins", "nothing was written")
    panels = _panels(book, [seen for _, seen in found])
    racing = [_in_race_trim(book, seen) for _, seen in found]
    days = [_day(one) for one, _ in found]
    notes = list(book.operating_point("note"))
    shown = notes[-_MOST_NOTES:]
    begun = [one for one in book.operating_point("session") if one.data.get("event") == "begin"]
    sessions = [_day(group[-1]) for group in _groups(begun)]
    count = len(found) if len(weigh_ins) <= _MOST_DRAWN else len(weigh_ins)

    def draw(paper: Paper) -> None:
        paper.head(book.file.car.name, _counted(count, len(found), len(begun)))
        wide = span([*days, *sessions, *map(_day, shown)], 0.02, 0.05)
        low, high = (min(max(end, _FIRST), _LAST) for end in wide)
        drawn_panels = [_draw(paper, panel, days, racing, (low, high)) for panel in panels]
        paper.top += 6
        lanes = _lanes(paper, sessions, shown, (low, high))
        for axes in drawn_panels:
            for one in shown:
                axes.axvline(_day(one), color=LINE, linewidth=0.8, linestyle=(0, (1, 2)))
        for where, text in date_marks(low, high):
            x = _LEFT + (where - low) / (high - low) * _WIDE
            paper.words(text, x, paper.top, SMALL, SOFT, anchor="center")
            lanes.plot([where, where], [lanes.get_ylim()[0], lanes.get_ylim()[0] - 4], color=SOFT,
                       linewidth=0.8, clip_on=False)  # fmt: skip
        paper.top += 22
        _legend(paper, racing, sessions, shown, len(notes))

    told = "; ".join(_told(book, one, seen) for one, seen in found)
    said = "; ".join(f"note {one.number}: {_note(one)}" for one in notes[-_MOST_DRAWN:])
    return drawn(f"{book.file.car.name}: the log", f"{told}. {said}".strip(), draw)


def _groups(entries: Sequence[Entry]) -> list[Sequence[Entry]]:
    """Put neighbors together where there are too many to draw each.

    >>> [len(group) for group in _groups([Entry(1, "", "note", {})] * 600)] == [2, 3] * 120
    True
    """
    count = len(entries)
    if count <= _MOST_DRAWN:
        return [[one] for one in entries]
    ends = [number * count // _MOST_DRAWN for number in range(_MOST_DRAWN + 1)]
    return [entries[low:high] for low, high in pairwise(ends)]


def _thinned(book: Book, weigh_ins: Sequence[Entry]) -> list[tuple[Entry, WeighIn]]:
    """Weigh the car by the last of each group that can be used."""
    found = []
    for group in _groups(weigh_ins):
        for one in reversed(group):
            if seen := book.weighed(one):
                found.append((one, seen))
                break
    return found


def _panels(book: Book, found: Sequence[WeighIn]) -> list[_Panel]:
    units = book.file.units
    unit = units.from_si(1.0, "load")

    def panel(label: str, name: str, scale: float, least: float) -> _Panel:
        return _Panel(
            label,
            [scale * getattr(one.shares, name) for one in found],
            [scale * getattr(one.uncertainties, name) for one in found],
            least,
        )

    return [
        panel(f"total, {units.labels['load']}", "total", unit, 10.0),
        panel("front share, %", "front", 100, 1.0),
        panel("left share, %", "left", 100, 1.0),
        panel("cross weight (RF+LR), %", "cross", 100, 1.0),
    ]


def _draw(
    paper: Paper,
    panel: _Panel,
    days: Sequence[float],
    racing: Sequence[bool],
    limits: tuple[float, float],
) -> Axes:
    paper.words(panel.label, size=SMALL)
    paper.top += 16
    axes = paper.axes(_HIGH, _LEFT, _WIDE)
    paper.top += 6
    axes.set_xlim(*limits)
    ends = [
        v + s * NINETY * d
        for v, d in zip(panel.values, panel.uncertainties, strict=True)
        for s in (-1, 1)
    ]
    axes.set_ylim(*span(ends, panel.least, 0.15))
    mark(axes, "x", [])
    mark(axes, "y", marks(*axes.get_ylim(), 4))
    for day, value, uncertainty, race in zip(
        days, panel.values, panel.uncertainties, racing, strict=True
    ):
        style = _RACE if race else _OTHER
        wide = NINETY * uncertainty
        axes.plot([day, day], [value - wide, value + wide], color=style["color"], linewidth=1.4)
        axes.plot([day], [value], linestyle="none", **style)
    return axes


def _lanes(
    paper: Paper, sessions: Sequence[float], notes: Sequence[Entry], limits: tuple[float, float]
) -> Axes:
    """Draw where notes and sessions are, a lane for those and one for these."""
    low, high = limits
    rows = bool(notes) + bool(sessions)
    if notes:
        paper.words("notes", size=SMALL, color=SOFT)
    axes = paper.axes(_LANE * rows + 3, _LEFT, _WIDE)
    axes.set_xlim(low, high)
    axes.set_ylim(_LANE * rows + 3, 0)
    axes.spines.left.set_visible(False)
    mark(axes, "x", [])
    mark(axes, "y", [])
    for x, text in grouped(
        [((_day(one) - low) / (high - low) * _WIDE, one.number) for one in notes]
    ):
        axes.text(
            low + x / _WIDE * (high - low),
            _LANE / 2,
            text,
            fontsize=SMALL,
            horizontalalignment="center",
            verticalalignment="center_baseline",
        )
    for day in sessions:
        axes.plot([day], [_LANE * (rows - 0.5)], **_SESSION)
    paper.top += 6
    return axes


def grouped(notes: Sequence[tuple[float, int]]) -> list[tuple[float, str]]:
    """Give where numbers of notes stand, those together that have no room side by side.

    >>> grouped([(10.0, 3), (100.0, 7), (104.0, 8), (109.0, 9)])
    [(10.0, '3'), (104.5, '7–9')]
    """
    groups: list[list[tuple[float, int]]] = []
    for one in sorted(notes):
        groups.append([one])
        while len(groups) > 1 and _end(groups[-2], 1) > _end(groups[-1], -1):
            last = groups.pop()
            groups[-1] += last
    return [(_center(group), _numbers(group)) for group in groups]


def _center(group: Sequence[tuple[float, int]]) -> float:
    return (group[0][0] + group[-1][0]) / 2


def _numbers(group: Sequence[tuple[float, int]]) -> str:
    first, last = group[0][1], group[-1][1]
    return str(first) if first == last else f"{first}–{last}"


def _end(group: Sequence[tuple[float, int]], side: int) -> float:
    return _center(group) + side * (width(_numbers(group), SMALL) / 2 + 2)


def _legend(
    paper: Paper,
    racing: Sequence[bool],
    sessions: Sequence[float],
    notes: Sequence[Entry],
    many: int,
) -> None:
    key = []
    if any(racing):
        key.append(("weighed in race trim; bar: 90 % doubt", {**_RACE, "linewidth": 1.4}))
    if not all(racing):
        key.append(("weighed with something else on board", {**_OTHER, "linewidth": 1.4}))
    if sessions:
        key.append(("a session", _SESSION))
    paper.key(key)
    paper.top += 4
    for one in notes:
        paper.words(str(one.number), MARGIN + 30, size=SMALL, anchor="right", bold=True, room=30)
        paper.words(f"{one.at[:10]}  {_note(one)}", MARGIN + 38, size=SMALL)
        paper.top += 14
    if many > len(notes):
        paper.prose(f"{many - len(notes)} earlier notes: see balancer log.", SMALL, SOFT)


def _in_race_trim(book: Book, found: WeighIn) -> bool:
    on_board = found.readings.on_board
    if found.readings.aboard:
        return False
    if on_board is None:
        return True
    try:
        was = state_of(book.file, on_board, "on_board").items
    except InputError:
        return False
    units = book.file.units
    return set(words_of(was, units)) == set(words_of(race_state(book.file).items, units))


def _counted(weigh_ins: int, shown: int, sessions: int) -> str:
    said = f"{weigh_ins} weigh-in{'' if weigh_ins == 1 else 's'}"
    if shown < weigh_ins:
        said += f", {shown} of them drawn, evenly picked"
    return f"{said}, {sessions} session{'' if sessions == 1 else 's'}" if sessions else said


def _told(book: Book, entry: Entry, found: WeighIn) -> str:
    shares, uncertainties = found.shares, found.uncertainties
    total = amount(shares.total, "load", book.file.units, unit=True)
    return (
        f"{entry.number}, {entry.at[:10]}: {total}, front {percent(shares.front)}, left"
        f" {percent(shares.left)}, cross {percent(shares.cross)}"
        f" ± {number(100 * uncertainties.cross, 2)}"
    )


def _note(entry: Entry) -> str:
    return str(entry.data["text"])


def _day(entry: Entry) -> float:
    """Give when it was, as the clock on the wall had it [day]."""
    wall = datetime.fromisoformat(entry.at).replace(tzinfo=UTC)
    return wall.timestamp() / 86400


def date_marks(low: float, high: float) -> list[tuple[float, str]]:
    """Give round dates from low to high [day since 1970-01-01], at most five.

    >>> [text for _, text in date_marks(20500, 20700)]
    ['2026-03', '2026-05', '2026-07']
    """
    if high - low < 2:
        ends = (low + 0.1 * (high - low), high - 0.1 * (high - low))
        return [(end, f"{_moment(end):%m-%d %H:%M}") for end in ends]
    for days in (1, 2, 5, 10):
        if (high - low) / days <= 5:
            first = _moment(low).date().toordinal() // days * days
            ordinals = [first + n * days for n in range(7)]
            several = [date.fromordinal(n) for n in ordinals if 1 <= n <= date.max.toordinal()]
            return _inside(several, low, high, "%m-%d")
    for months in (1, 2, 3, 6, 12, 24, 60, 120, 600):
        if (high - low) / (30.4 * months) <= 4:
            break
    start = _moment(low)
    count = (12 * start.year + start.month - 1) // months * months
    counts = [count + n * months for n in range(7)]
    years = range(date.min.year, date.max.year + 1)
    several = [date(n // 12, n % 12 + 1, 1) for n in counts if n // 12 in years]
    return _inside(several, low, high, "%Y-%m" if months < 12 else "%Y")


def _inside(
    several: Sequence[date], low: float, high: float, written: str
) -> list[tuple[float, str]]:
    epoch = date(1970, 1, 1)
    # At the ends a date would stick out of the page.
    edge = 0.04 * (high - low)
    found = [(float((one - epoch).days), f"{one:{written}}") for one in several]
    return [(day, text) for day, text in found if low + edge <= day <= high - edge]


_FIRST, _LAST = -719_162.0, 2_932_896.99
"""The first and the last day that has a date, from 1970-01-01."""


def _moment(day: float) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(days=day)
