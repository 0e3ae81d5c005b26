"""The way that the last session in a log took: weigh-ins, turns, and what those let expect."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime
from math import hypot
from typing import NamedTuple

import numpy as np

from balancer.car import Floats
from balancer.chronicle import take_up
from balancer.errors import InputError
from balancer.learning import Sigmas, gain, gain_doubt
from balancer.log import effective
from balancer.log_line import Entry
from balancer.report.log import Book
from balancer.session import Session, step
from balancer.statics import free_pattern
from balancer.targets import PerchGoal
from balancer.undoing import turns_in
from balancer.weighing import WeighIn


class Leg(NamedTuple):
    """One weigh-in, and the turns that led to it.

    Attributes
    ----------
    entry : Entry
    weighed : WeighIn
    turns : array (4,) or None
        None: nothing was turned before it.
    assumed : bool
        Nobody said that they were made; the plan counts as done.
    expected : tuple of float or None
        Cross weight and its standard uncertainty [1], as the session had them before it.
    """

    entry: Entry
    weighed: WeighIn
    turns: Floats | None
    assumed: bool
    expected: tuple[float, float] | None


class Way(NamedTuple):
    """A session: the cross weight it wanted [1], and its legs."""

    target: float
    legs: tuple[Leg, ...]


def last_way(book: Book) -> Way:
    """Follow the last session of a log that has a weigh-in.

    Parameters
    ----------
    book : Book

    Returns
    -------
    Way
        What was expected is worked out anew with the usual doubts of the file; it is left out where
        the rates in the car file have changed since.

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
        end = next((n for n in range(start + 1, len(kept)) if kept[n].kind == "session"), len(kept))
        target = _target(kept[start])
        legs = tuple(_legs(book, kept[:end], start, PerchGoal.level(target)))
        if legs:
            return Way(target, legs)
    way_out = "balancer session begins one"
    raise InputError.one("--session", "the log has no session with a weigh-in", way_out)


def _target(begun: Entry) -> float:
    wanted = begun.data.get("target_cross_pct")
    return wanted / 100 if isinstance(wanted, int | float) and 20 <= wanted <= 80 else 0.5


def _legs(book: Book, kept: Sequence[Entry], start: int, goal: PerchGoal) -> list[Leg]:
    legs: list[Leg] = []
    turns, assumed = None, False
    before: Session | None = None
    for index in range(start + 1, len(kept)):
        entry = kept[index]
        if entry.kind == "made":
            turns, assumed = turns_in(entry), bool(entry.data.get("assumed"))
        elif entry.kind == "weigh_in" and (found := book.weighed(entry)):
            expected = None
            if before is not None and turns is not None:
                expected = _expected(before, turns)
            legs.append(Leg(entry, found, turns, assumed, expected))
            turns, before = None, _session(book, kept[: index + 1], goal)
    return legs


def _session(book: Book, kept: Sequence[Entry], goal: PerchGoal) -> Session | None:
    with suppress(InputError):
        then = datetime.fromisoformat(kept[-1].at)
        found = take_up(book.file, kept, goal, Sigmas(), then)
        return found.session if found.resumed else None
    return None


def _expected(session: Session, turns: Floats) -> tuple[float, float]:
    """Say where turns will bring the cross weight, and how sure that is."""
    known = step(session)
    car, belief = session.car, known.learned.belief
    pattern = free_pattern(car.tracks)
    share = float(pattern[1] + pattern[2]) / session.weigh_ins[-1].shares.total
    moved = share * gain(car, belief.mean, np.asarray(turns))
    doubt = abs(share) * gain_doubt(car, belief, turns)
    return known.cross + moved, hypot(known.cross_doubt, doubt)
