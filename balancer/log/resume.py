"""A session taken up from its log: begun, or gone on with where it was broken off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import NamedTuple

from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.log.car_from_log import last_belief, with_turns_made
from balancer.log.entry import Entry
from balancer.log.lookup import weigh_in_of
from balancer.log.reader import effective
from balancer.log.replay import NOTHING, Replay, replay, usable
from balancer.log.session_lines import fingerprint, stated_travel
from balancer.perches.goal import PerchGoal
from balancer.session.belief import Sigmas, prior
from balancer.session.session import Session
from balancer.weighing.weigh import WeighIn

STALE = timedelta(hours=12)
"""A session left open longer than this is not taken up again, whichever way the clock is off."""

_AT_THE_CAR = ("weigh_in", "plan", "made")
"""Entries that tell of somebody at the car."""


class TakenUp(NamedTuple):
    """A session to go on with.

    Attributes:
        lines: What its lines come to; empty where it is a new one.
        ahead: When a session was broken off that is not taken up, since the clock says it is
            yet to come.
    """

    session: Session
    lines: Replay = Replay()
    ahead: datetime | None = None

    @property
    def resumed(self) -> bool:
        """Whether it is an old one that was broken off."""
        return bool(self.session.weigh_ins)


def take_up(
    file: CarFile, entries: Sequence[Entry], goal: PerchGoal, sigmas: Sigmas, now: datetime
) -> TakenUp:
    """Begin a session, or go on with one that was broken off.

    Args:
        entries: Of the log, all of them.
        sigmas: Uncertainties of the file values, where the log has no belief.
        now: With an offset.
    """
    kept = effective(entries)
    start, ahead = _open_session(kept, file.car), None
    if start is not None:
        fresh, ahead = _fresh(kept[start:], now)
        if fresh and (gone_on := _gone_on(file, kept, start, goal, sigmas)):
            return gone_on
    return TakenUp(_session(file, kept, kept, goal, sigmas), ahead=ahead)


def _fresh(entries: Sequence[Entry], now: datetime) -> tuple[bool, datetime | None]:
    """Say whether somebody was at the car just now, or else when in the future they will be.

    By any of the entries, for a clock may be wrong.
    """
    times = [datetime.fromisoformat(entry.at) for entry in entries if entry.kind in _AT_THE_CAR]
    if any(abs(now - at) < STALE for at in times):
        return True, None
    return False, min((at for at in times if at > now), default=None)


def _gone_on(
    file: CarFile, kept: Sequence[Entry], start: int, goal: PerchGoal, sigmas: Sigmas
) -> TakenUp | None:
    """Go on with a session, unless nothing was weighed or the car file has changed too much."""
    all_lines = replay(kept[start:])
    lines, read = usable(all_lines, lambda entry: weigh_in_of(entry, file))
    if not read or len(read) < len(all_lines.legs):
        return None
    return TakenUp(session_of(file, kept, start, (lines, read), goal, sigmas), lines)


def session_of(
    file: CarFile,
    kept: Sequence[Entry],
    start: int,
    weighed: tuple[Replay, tuple[WeighIn, ...]],
    goal: PerchGoal,
    sigmas: Sigmas,
) -> Session:
    """Make a session of what its lines come to.

    Args:
        kept: Effective ones.
        start: Where among them it begins.
        weighed: From `replay.usable`, with at least one weigh-in.
        sigmas: Uncertainties of the file values, where the log has no belief from before.
    """
    lines, weigh_ins = weighed
    first = kept.index(lines.legs[0].entry, start)
    session = _session(file, kept[:start], kept[: first + 1], goal, sigmas)
    made = [NOTHING if leg.turns is None else leg.turns for leg in lines.legs[1:]]
    if lines.said and lines.made is not None:
        made.append(lines.made)
    return replace(session, weigh_ins=weigh_ins, made=tuple(made))


def _session(
    file: CarFile,
    taught: Sequence[Entry],
    turned: Sequence[Entry],
    goal: PerchGoal,
    sigmas: Sigmas,
) -> Session:
    """Begin a session with what entries before it have taught, and after turns in others."""
    learned = last_belief(taught, file.car)
    belief = learned[1] if learned else prior(file.car, sigmas)
    return Session(with_turns_made(file, turned), belief, goal)


def _open_session(entries: Sequence[Entry], car: Car) -> int | None:
    """Find where the last session begins, if it has not ended and is of this car."""
    last = next((n for n in range(len(entries) - 1, -1, -1) if entries[n].kind == "session"), None)
    return last if last is not None and is_of(entries[last], car) else None


def is_of(begin: Entry, car: Car) -> bool:
    """Say whether a session was begun, with a car of these rates and this travel."""
    same = begin.data.get("rates") == fingerprint(car)
    return begin.begins and same and begin.data.get("perch_travel") == stated_travel(car)
