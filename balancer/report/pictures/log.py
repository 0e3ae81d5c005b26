"""The log as a picture: what a car weighed, and where, over its seasons."""

from collections.abc import Sequence
from typing import NamedTuple

from balancer.car.errors import InputError
from balancer.files.units import Units
from balancer.log.entry import Entry
from balancer.report.log import Book
from balancer.report.pictures import chart as charts
from balancer.report.pictures import svg
from balancer.report.pictures.chart import NINETY, Chart, captioned, chart, marks, span
from balancer.report.pictures.log_shown import MOST_DRAWN, REST, Shown, day_of, shown_of
from balancer.report.pictures.page import MARGIN, ROOM, SMALL, Page
from balancer.report.pictures.svg import INK, SOFT, Look
from balancer.report.words.floor import cross_apart
from balancer.report.words.lettering import width
from balancer.report.words.numbers import amount, percent
from balancer.weighing.uncertainty import Shares
from balancer.weighing.weigh import WeighIn

_LEFT = MARGIN + 42
_WIDE = ROOM - 50
_HIGH, _LOW = 74.0, 46.0
_LANE = 13.0


_SESSION = Look(svg.INK, 0, shape="triangle")
_NOTE = Look(svg.LINE, 0.8, svg.DOTTED)


class _Panel(NamedTuple):
    """What is drawn of each weigh-in: a share, or the total, in so many of its units.

    Attributes:
        apart: Whether each state has a chart of its own: beside a driver nothing shows what a
            car has gained.
    """

    label: str
    name: str
    scale: float
    least: float
    apart: bool = False

    def of(self, shares: Shares) -> float:
        """Give what is drawn of a weigh-in's shares, or of their standard uncertainties."""
        return self.scale * float(getattr(shares, self.name))


def log_picture(book: Book) -> str:
    """Draw every weigh-in of a log that was not undone against its date.

    Raises:
        InputError: When there is nothing to draw.
    """
    weigh_ins, notes = (
        sorted(book.kept("weigh_in"), key=lambda one: one.moment),
        list(book.kept("note")),
    )
    begun = [one for one in book.kept("session") if one.data.get("event") == "begin"]
    shown = shown_of(book, weigh_ins, begun, notes)
    if not shown.weigh_ins:
        raise InputError.one("--svg", "the log has no weigh-ins", "nothing was written")
    drawn = len(shown.weigh_ins)
    count = drawn if len(weigh_ins) <= MOST_DRAWN else len(weigh_ins)
    page = Page()
    page.head(book.file.car.name, _counted(count, drawn, len(begun)))
    _draw(page, _panels(book.file.units), shown)
    _legend(page, shown, len(notes))
    told = "; ".join(_told(book, *each) for each in shown.weigh_ins)
    if shown.target:
        told = f"Wanted: {shown.target[0].value:.1f} % ± {shown.target[0].tolerance:g}. {told}"
    said = "; ".join(f"note {one.number}: {_note(one)}" for one in notes[-MOST_DRAWN:])
    return page.finish(f"{book.file.car.name}: the log", f"{told}. {said}".strip())


def _draw(page: Page, panels: Sequence[_Panel], shown: Shown) -> None:
    for panel in panels:
        if panel.apart and len(shown.looks) > 1:
            for state in shown.looks:
                _draw_panel(page, panel, shown, [state])
        else:
            _draw_panel(page, panel, shown, list(shown.looks))
    page.top += 6
    lanes = _lanes(page, shown)
    lanes.axis_below(charts.date_marks(*shown.range))
    page.top += 28


def _panels(units: Units) -> list[_Panel]:
    total = f"total, {units.labels['load']}"
    return [
        _Panel(total, "total", units.from_si(1.0, "load"), 10.0, apart=True),
        _Panel("front share, %", "front", 100, 1.0),
        _Panel("left share, %", "left", 100, 1.0),
        _Panel("cross weight (RF+LR), %", "cross", 100, 1.0),
    ]


def _draw_panel(page: Page, panel: _Panel, shown: Shown, states: Sequence[str]) -> None:
    """Draw weigh-ins in some states, those in one joined by a line."""
    alone = panel.apart and len(shown.looks) > 1
    captioned(page, f"{panel.label}: {states[0]}" if alone else panel.label, color=INK)
    bars: dict[str, list[tuple[float, float, float, float]]] = {state: [] for state in states}
    for day, state, (_, weighed) in zip(shown.days, shown.states, shown.weigh_ins, strict=True):
        value, sure = panel.of(weighed.shares), NINETY * panel.of(weighed.uncertainties)
        bars.get(state, []).append((day, value - sure, value, value + sure))
    wanted = shown.target[0] if shown.target and panel.name == "cross" else None
    ends = [end for each in bars.values() for bar in each for end in bar[1:]]
    ends += wanted.ends if wanted else ()
    axes = chart(
        page, _LOW if alone else _HIGH, shown.range, span(ends, panel.least, 0.15), _LEFT, _WIDE
    )
    if wanted:
        wanted.draw(axes)
    for note in shown.notes:
        axes.upright(day_of(note), _NOTE)
    axes.axis_below()
    axes.axis_left(marks(*axes.y, 3 if alone else 4))
    for state, each in bars.items():
        look = shown.looks[state]
        if state != REST:
            axes.line([(day, value) for day, _, value, _ in each], look._replace(width=0.7))
        for day, low, value, most in each:
            axes.line([(day, low), (day, most)], look)
            axes.mark(day, value, look)
    page.top += 6


def _lanes(page: Page, shown: Shown) -> Chart:
    """Draw where notes and sessions are, a lane for those and one for these."""
    high = _LANE * (bool(shown.notes) + bool(shown.sessions)) + 3
    if shown.notes:
        page.words("notes", size=SMALL, color=SOFT)
    axes = chart(page, high, shown.range, (high, 0.0), _LEFT, _WIDE)
    for x, text in grouped([(axes.right(day_of(one)), one.number) for one in shown.notes]):
        page.label(text, x, axes.top + _LANE / 2, anchor="center")
    for day in shown.sessions:
        axes.mark(day, high - 3 - _LANE / 2, _SESSION)
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


def _legend(page: Page, shown: Shown, notes: int) -> None:
    key = [(f"weighed: {state}", look) for state, look in shown.looks.items()]
    if shown.sessions:
        key.append(("a session", _SESSION))
    if shown.target:
        wanted, said = shown.target
        key += wanted.key(said)
    page.key(key)
    joined = " A line joins those with the same on board." if len(shown.looks) > 1 else ""
    page.prose(f"Bar: 90 % uncertainty.{joined}", SMALL)
    page.top += 4
    for note in shown.notes:
        page.words(str(note.number), MARGIN + 30, size=SMALL, anchor="right", bold=True, room=30)
        page.words(f"{note.at[:10]}  {_note(note)}", MARGIN + 38, size=SMALL)
        page.top += 14
    if notes > len(shown.notes):
        page.prose(f"{notes - len(shown.notes)} earlier notes: see balancer log.", SMALL, SOFT)


def _counted(weigh_ins: int, shown: int, sessions: int) -> str:
    said = f"{weigh_ins} weigh-in{'' if weigh_ins == 1 else 's'}"
    if shown < weigh_ins:
        said += f", {shown} of them drawn, evenly picked"
    return f"{said}, {sessions} session{'' if sessions == 1 else 's'}" if sessions else said


def _told(book: Book, entry: Entry, weighed: WeighIn) -> str:
    shares = weighed.shares
    total = amount(shares.total, "load", book.file.units, unit=True)
    return (
        f"{entry.number}, {entry.at[:10]}: {total}, front {percent(shares.front)}, left"
        f" {percent(shares.left)}, cross {percent(shares.cross)}"
        f" {cross_apart(weighed)}"
    )


def _note(entry: Entry) -> str:
    return str(entry.data["text"])
