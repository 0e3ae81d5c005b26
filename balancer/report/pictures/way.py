"""The way that the last session in a log took: weigh-ins, turns, and what those let expect."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import NamedTuple

from balancer.car.conventions import Floats
from balancer.errors import InputError
from balancer.log.entry import Entry
from balancer.log.last_session import Recorded, session_from
from balancer.log.reader import effective
from balancer.log.sessions import take_up
from balancer.perches.goal import PerchGoal
from balancer.report.log import Book
from balancer.session.learning import Sigmas
from balancer.session.session import Session, expected
from balancer.weighing.weigh import WeighIn


class Stage(NamedTuple):
    """A leg of a session, see `last_session.Leg`, and what was expected of it.

    Attributes
    ----------
    turns : array (4,) or None
    assumed : bool
    expected : tuple of float or None
        Cross weight and its standard uncertainty [1], as the session had them before it.
    """

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

    Returns
    -------
    Way
        What was expected is worked out anew with the usual uncertainties of the file; it is left
        out where the rates in the car file have changed since.

    Raises
    ------
    InputError
        When there is no such session.
    """
    kept = effective(book.entries)
    begun = [
        index
        for index, entry in enumerate(kept)
        if entry.kind == "session" and entry.data.get("event") == "begin"
    ]
    for start in reversed(begun):
        session = session_from(kept, start, book.weighed)
        if session is not None:
            return Way(session.cross, session.tolerance, tuple(_stages(book, kept, session)))
    way_out = "balancer session begins one"
    raise InputError.one("--session", "the log has no session with a weigh-in", way_out)


def _stages(book: Book, kept: Sequence[Entry], session: Recorded) -> Iterator[Stage]:
    goal = replace(PerchGoal.level(session.cross), tolerance=session.tolerance)
    before: Session | None = None
    for leg in session.legs:
        told = None if before is None or leg.turns is None else expected(before, leg.turns)
        yield Stage(*leg, told)
        place = next(n for n, entry in enumerate(kept) if entry.number == leg.entry.number)
        before = _session(book, kept[: place + 1], goal)


def _session(book: Book, kept: Sequence[Entry], goal: PerchGoal) -> Session | None:
    with suppress(InputError):
        then = datetime.fromisoformat(kept[-1].at)
        found = take_up(book.file, kept, goal, Sigmas(), then)
        return found.session if found.resumed else None
    return None
