"""A session taken up from its log: begun, or gone on with where it was broken off."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import NamedTuple

from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.files.states import aboard
from balancer.log.car_from_log import last_belief, with_turns_made
from balancer.log.entry import Entry
from balancer.log.entry_readings import weigh_in_of
from balancer.log.reader import effective
from balancer.log.replay import NOTHING, Replay, replay, usable
from balancer.log.session_lines import fingerprint, stated_links, stated_travel
from balancer.log.terms import Terms, overridden, settled, terms_in
from balancer.planning.perches.goal import CROSS, Asked, aim_of
from balancer.planning.session.belief import prior
from balancer.planning.session.session import Session, weighed, with_made
from balancer.weighing.load_states import carry
from balancer.weighing.weigh import WeighIn

STALE = timedelta(hours=12)
"""A session left open longer than this is not taken up again, whichever way the clock is off."""

_AT_THE_CAR = ("session", "weigh_in", "plan", "made")
"""Entries that tell of somebody at the car."""


class TakenUp(NamedTuple):
    """A session to go on with.

    Attributes:
        lines: What its lines come to; empty where it is a new one.
        ahead: When a session was broken off that is not taken up, since the clock says it is
            yet to come.
        terms: What it goes by from now on.
        told: What it went by until it was broken off; None where it is a new one.
        begin: The line where it began; None likewise.
    """

    session: Session
    lines: Replay = Replay()
    ahead: datetime | None = None
    terms: Terms = Terms()
    told: Terms | None = None
    begin: Entry | None = None

    @property
    def resumed(self) -> bool:
        """Whether it is an old one that was broken off."""
        return bool(self.session.weigh_ins)


def take_up(file: CarFile, entries: Sequence[Entry], given: Terms, now: datetime) -> TakenUp:
    """Begin a session, or go on with one that was broken off, by what that was told.

    Args:
        entries: Of the log, all of them.
        given: What is said now; it comes before what the session was told.
        now: With an offset.
    """
    kept = effective(entries)
    start, ahead = _open_session(kept, file.car), None
    told: Terms | None = None
    if start is not None:
        fresh, ahead = _fresh(kept[start:], now)
        told = told_in(replay(kept[start:]), file) if fresh else None
    terms = settled(given, file) if told is None else overridden(told, given)
    gone_on = None
    if told and start is not None:
        gone_on = _gone_on(file, kept, start, terms)
    found = gone_on or TakenUp(_session(file, kept, kept, terms))
    begin = None if told is None or start is None else kept[start]
    return found._replace(ahead=ahead, terms=terms, told=told, begin=begin)


def told_in(lines: Replay, file: CarFile) -> Terms:
    """Read what a session goes by; what an older line does not say is as it was then."""
    assert lines.told
    last = lines.legs[-1].entry if lines.legs else None
    terms = terms_in(lines.told, last)
    known = {item.name for item in file.car.on_board}
    if terms.words is not None:
        words = tuple(word for word in terms.words if word.partition("=")[0].strip() in known)
        terms = terms._replace(words=words)
    filled = settled(terms, file)
    return filled._replace(target="log" if terms.asked.targeted else filled.target)


def with_goal(session: Session, terms: Terms) -> Session:
    """Give a session what it is to reach; it may follow from how its first weigh-in stands.

    Heights are wanted by those at the first weigh-in: what turns have raised is raised.
    """
    if not session.weigh_ins:
        return session
    first, was = session.weigh_ins[0].loads, session.state or ()
    others = [carry(session.car, first, was, now).held for now in session.others]
    asked = terms.asked._replace(rise=terms.asked.rise - session.risen)
    return replace(session, goal=aim_of(session.car, first, asked, others=others).goal)


def _fresh(entries: Sequence[Entry], now: datetime) -> tuple[bool, datetime | None]:
    """Say whether somebody was at the car just now, or else when in the future they will be.

    By any of the entries, for a clock may be wrong.
    """
    times = [entry.moment for entry in entries if entry.kind in _AT_THE_CAR]
    if any(abs(now - at) < STALE for at in times):
        return True, None
    return False, min((at for at in times if at > now), default=None)


def _gone_on(file: CarFile, kept: Sequence[Entry], start: int, terms: Terms) -> TakenUp | None:
    """Go on with a session, unless nothing was weighed or the car file has changed too much."""
    all_lines = replay(kept[start:])
    lines, read = usable(all_lines, lambda entry: weigh_in_of(entry, file))
    if not read or len(read) < len(all_lines.legs):
        return None
    return TakenUp(session_of(file, kept, start, (lines, read), terms), lines)


def session_of(
    file: CarFile,
    kept: Sequence[Entry],
    start: int,
    read: tuple[Replay, tuple[WeighIn, ...]],
    terms: Terms,
) -> Session:
    """Make a session of what its lines come to.

    Args:
        kept: Effective ones.
        start: Where among them it begins.
        read: From `replay.usable`, with at least one weigh-in.
    """
    lines, weigh_ins = read
    first = kept.index(lines.legs[0].entry, start)
    session = _session(file, kept[:start], kept[: first + 1], terms)
    for leg, weigh_in in zip(lines.legs, weigh_ins, strict=True):
        session = weighed(session, weigh_in, leg.turns, aboard(file, weigh_in.readings))
    if lines.said and lines.made is not None:
        session = with_made(session, lines.made)
    return with_goal(session, terms)


def _session(
    file: CarFile, taught: Sequence[Entry], turned: Sequence[Entry], terms: Terms
) -> Session:
    """Begin a session with what entries before it have taught, and after turns in others."""
    learned = last_belief(taught, file.car)
    belief = learned[1] if learned else prior(file.car, terms.sigmas)
    car = with_turns_made(file, turned)
    # Equal wheels or wanted loads come to a cross weight once the car is weighed.
    asked = terms.asked
    if asked.once_weighed:
        asked = asked.wanting(Asked(CROSS))
    goal = aim_of(car, NOTHING, asked).goal
    state, *others = (trim.items for trim in terms.aimed_at(file).values())
    links = terms.links is True
    return Session(car, belief, goal, state=state, others=tuple(others), links=links)


def _open_session(entries: Sequence[Entry], car: Car) -> int | None:
    """Find where the last session begins, if it has not ended and is of this car."""
    last = next((n for n in range(len(entries) - 1, -1, -1) if entries[n].borders), None)
    return last if last is not None and is_of(entries[last], car) else None


def is_of(begin: Entry, car: Car) -> bool:
    """Say whether a session was begun, with a car of these rates and this travel."""
    same = begin.data.get("rates") == fingerprint(car)
    same = same and begin.data.get("perch_travel") == stated_travel(car)
    links = stated_links(car)
    return begin.begins and same and begin.data.get("drop_links", links) == links
