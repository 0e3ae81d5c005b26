"""What of a log is drawn: which weigh-ins, the state and look of each, sessions, notes, target."""

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from balancer.car.errors import InputError
from balancer.files.on_board import in_words, words_of
from balancer.files.states import RACE_TRIM, race_state, state_of
from balancer.log.entry import Entry
from balancer.planning.perches.goal import aim_of
from balancer.report.log import Book
from balancer.report.pictures import chart as charts
from balancer.report.pictures import svg
from balancer.report.pictures.chart import Range, Wanted, span
from balancer.report.pictures.svg import SOFT, Look
from balancer.weighing.weigh import WeighIn

_MOST_NOTES = 12

MOST_DRAWN = 240
"""More would only cover each other, and a picture of all that is in a long log never ends."""

_RACE = Look(svg.BLUE, 1.4, shape="circle", size=5.5)
_OTHERS = (
    Look(svg.VERMILLION, 1.4, shape="diamond", size=5, fill=svg.PAPER),
    Look(svg.GREEN, 1.4, shape="square", size=5.5, fill=svg.PAPER),
)
"""Of the states besides race trim that were weighed most."""

_ELSE = Look(SOFT, 1.4, shape="circle", size=4.5, fill=svg.PAPER)
REST = "something else on board"


class Shown(NamedTuple):
    """What of a log is drawn: weigh-ins and the state of each, sessions and notes by day.

    Attributes:
        looks: Of each state, race trim first, what is not told apart last.
        target: The cross weight that the car file wants, with the words that it has for it; None
            where it says none.
    """

    weigh_ins: list[tuple[Entry, WeighIn]]
    states: list[str]
    looks: dict[str, Look]
    sessions: list[float]
    notes: list[Entry]
    target: tuple[Wanted, str] | None

    @property
    def days(self) -> list[float]:
        """Of the weigh-ins."""
        return [day_of(entry) for entry, _ in self.weigh_ins]

    @property
    def range(self) -> Range:
        """First and last day on paper."""
        low, high = span([*self.days, *self.sessions, *map(day_of, self.notes)], 0.02, 0.05)
        return max(low, charts.FIRST_DAY), min(high, charts.LAST_DAY)


def shown_of(
    book: Book, weigh_ins: Sequence[Entry], begun: Sequence[Entry], notes: Sequence[Entry]
) -> Shown:
    """Pick what is drawn, with no more of each than there is room for."""
    thinned = _thinned(book, weigh_ins)
    states = [_state(book, weighed) for _, weighed in thinned]
    looks = _looks(states, _race_trim(book))
    states = [state if state in looks else REST for state in states]
    sessions = [day_of(group[-1]) for group in _groups(begun)]
    target = _target(book, thinned[-1][1]) if thinned else None
    return Shown(thinned, states, looks, sessions, list(notes[-_MOST_NOTES:]), target)


def _looks(states: Sequence[str], race: str) -> dict[str, Look]:
    """Give race trim and those that were weighed most a look of their own, and one to the rest.

    >>> list(_looks(["b", "c", "c", "d", "d", "race"], "race"))
    ['race', 'c', 'd', 'something else on board']
    """
    others = Counter(state for state in states if state not in (race, REST)).most_common()
    looks = {race: _RACE} if race in states else {}
    looks |= {state: look for (state, _), look in zip(others, _OTHERS, strict=False)}
    return {**looks, REST: _ELSE} if set(states) - looks.keys() else looks


def _target(book: Book, last: WeighIn) -> tuple[Wanted, str] | None:
    """Find the target of the car file; what equal wheels come to is as they were weighed last."""
    aim = aim_of(book.file.car, last.loads)
    if aim.source != "file":
        return None
    equal = aim.words.partition(",")[0] if book.file.car.target.equal else ""
    said = f" ({equal}, as last weighed)" if equal else " (car file)"
    return Wanted(100 * aim.goal.cross, 100 * aim.goal.tolerance), said


def _groups(entries: Sequence[Entry]) -> list[Sequence[Entry]]:
    """Put neighbors together where there are too many to draw each.

    >>> [len(group) for group in _groups([Entry(1, "", "note", {})] * 600)] == [2, 3] * 120
    True
    """
    count = len(entries)
    if count <= MOST_DRAWN:
        return [[one] for one in entries]
    ends = [number * count // MOST_DRAWN for number in range(MOST_DRAWN + 1)]
    return [entries[low:high] for low, high in pairwise(ends)]


def _thinned(book: Book, weigh_ins: Sequence[Entry]) -> list[tuple[Entry, WeighIn]]:
    """Weigh the car by the last of each group that can be used."""
    lasts = (
        next(((one, weighed) for one in reversed(group) if (weighed := book.weighed(one))), None)
        for group in _groups(weigh_ins)
    )
    return [last for last in lasts if last]


def _race_trim(book: Book) -> str:
    return f"{RACE_TRIM} ({in_words(race_state(book.file).items, book.file.units)})"


def _state(book: Book, weighed: WeighIn) -> str:
    """Name what was on board; race trim where that was not said."""
    on_board, units = weighed.readings.on_board, book.file.units
    if weighed.readings.aboard:
        return REST
    if on_board is None:
        return _race_trim(book)
    try:
        was = state_of(book.file, on_board, "on_board").items
    except InputError:
        return REST
    racing = set(words_of(was, units)) == set(words_of(race_state(book.file).items, units))
    return _race_trim(book) if racing else in_words(was, units)


def day_of(entry: Entry) -> float:
    """Give when an entry is of, in days as a chart has them."""
    return charts.day_of(entry.wall)
