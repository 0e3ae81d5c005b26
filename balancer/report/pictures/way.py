"""The way that the last session in a log took: weigh-ins, turns, and what those let expect."""

from collections.abc import Sequence
from typing import NamedTuple

from balancer.car.conventions import Floats
from balancer.errors import InputError
from balancer.log.entry import Entry
from balancer.log.last_session import PastSession, past_session
from balancer.log.reader import effective
from balancer.log.resume import is_of, session_of, told_in
from balancer.report.log import Book
from balancer.session.lessons import remembering
from balancer.session.session import Session, until
from balancer.session.step import expected
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
