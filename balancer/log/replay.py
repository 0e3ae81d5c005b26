"""A session as its lines have it: one fold, whoever asks.

Taking up, the sheet, the pictures and undo all go by what `after` makes of a line.
"""

from collections.abc import Callable, Iterable, Sequence
from functools import reduce
from typing import NamedTuple

import numpy as np

from balancer.car.adjusters import all_turns
from balancer.car.conventions import CORNERS, Floats
from balancer.car.corner import LINKS
from balancer.log.entry import Entry
from balancer.weighing.weigh import WeighIn

NOTHING = np.zeros(4)
NOTHING.flags.writeable = False


class Leg(NamedTuple):
    """A weigh-in of a session, and the turns that led to it.

    Attributes:
        turns: (n,) or None, as in `turns_in`; None: nothing was turned before it.
        assumed: Nobody said that they were made; the plan counted as done.
    """

    entry: Entry
    turns: Floats | None
    assumed: bool


class Replay(NamedTuple):
    """A session after some of its lines.

    Attributes:
        begin: Where it begins.
        options: Where its options last changed.
        before: (n,), turns made since the last weigh-in that there is, but before one that is
            lost; what is planned, or said to be made, comes on top.
        said: What was said to be made since, and not undone; the last counts.
        plan: The last since the last weigh-in.
    """

    begin: Entry | None = None
    legs: tuple[Leg, ...] = ()
    before: Floats = NOTHING
    said: tuple[Entry, ...] = ()
    plan: Entry | None = None
    ended: bool = False
    options: Entry | None = None

    @property
    def told(self) -> Entry | None:
        """The line that says what it goes by."""
        return self.options or self.begin

    @property
    def assumed(self) -> bool:
        """Whether what counts as made is only what was planned."""
        if self.said:
            return bool(self.said[-1].data.get("assumed"))
        return self.due is not None

    @property
    def due(self) -> Floats | None:
        """Turns planned and not yet said to be made; None where a plan said stop."""
        if self.plan is None or self.said or self.plan.data.get("stop"):
            return None
        return turns_in(self.plan)

    @property
    def made(self) -> Floats | None:
        """Turns made since the last weigh-in; None: nothing was."""
        if self.said:
            return all_turns([self.before, turns_in(self.said[-1])])
        return self.before if self.before.any() else None


def after(state: Replay, entry: Entry) -> Replay:
    """Take the next entry that was not undone.

    Args:
        state: Before it.

    Examples:
        >>> at = "2026-06-13T14:30:00+02:00"
        >>> first, plan = Entry(1, at, "weigh_in", {}), Entry(3, at, "plan", {})
        >>> turn = Entry(2, at, "made", {"turns": {"LF": 1}})

        What is said anew replaces; but a plan comes of a weigh-in, so where turns are older than a
        plan there was one in between, and what is said then comes on top.

        >>> replay([first, turn, turn]).made.tolist()
        [1.0, 0.0, 0.0, 0.0]
        >>> replay([first, turn, plan, turn]).made.tolist()
        [2.0, 0.0, 0.0, 0.0]
    """
    if entry.kind == "session":
        if not entry.borders:
            return state._replace(options=entry)
        ended = entry.data.get("event") == "end"
        return Replay(entry) if entry.begins else state._replace(ended=ended)
    if entry.kind == "weigh_in":
        first = not state.legs
        turns = None if first else plus(state.made, state.due)
        leg = Leg(entry, turns, not first and state.assumed)
        return Replay(state.begin, (*state.legs, leg), options=state.options)
    if not state.legs:
        # Turns before the first weigh-in there is: the one that they followed can't be read.
        return state
    if entry.kind == "made":
        return state._replace(said=(*state.said, entry))
    if entry.kind == "plan":
        made = NOTHING if state.made is None else state.made
        return state._replace(before=made, said=(), plan=entry)
    return state


def replay(entries: Iterable[Entry]) -> Replay:
    """Follow a session through its lines.

    Args:
        entries: Effective ones; where another session begins among them, that is the one
            followed.
    """
    return reduce(after, entries, Replay())


def usable(
    state: Replay, weighed: Callable[[Entry], WeighIn | None]
) -> tuple[Replay, tuple[WeighIn, ...]]:
    """Leave out weigh-ins whose readings can't be used; turns around them add up.

    Args:
        weighed: Weighs the car by an entry; None where its readings can't be used.
    """
    legs: list[Leg] = []
    read: list[WeighIn] = []
    lost: Floats | None = None
    for leg in state.legs:
        turns = plus(lost, leg.turns) if legs else None
        weigh_in = weighed(leg.entry)
        if weigh_in is None:
            lost = turns
            continue
        legs.append(leg._replace(turns=turns))
        read.append(weigh_in)
        lost = None
    before = state.before if lost is None else all_turns([state.before, lost])
    return state._replace(legs=tuple(legs), before=before), tuple(read)


def plus(turns: Floats | None, more: Floats | None) -> Floats | None:
    """Add turns; None is none at all.

    Args:
        turns, more: (n,) or None, as in `turns_in`.
    """
    if turns is None or more is None:
        return more if turns is None else turns
    return all_turns([turns, more])


def turns_in(entry: Entry) -> Floats:
    """Give the turns of an entry in the order of the corners.

    Returns:
        (4,), or (6,) where the left drop links of front and rear were turned too.

    Examples:
        >>> at = "2026-06-13T14:30:00+02:00"
        >>> turns_in(Entry(1, at, "made", {"turns": {"RF": 0.5}})).tolist()
        [0.0, 0.5, 0.0, 0.0]
    """
    given = entry.data.get("turns")
    given = given if isinstance(given, dict) else {}
    links = entry.data.get("links")
    given, names = (given | links, (*CORNERS, *LINKS)) if links else (given, CORNERS)
    return np.array([float(given.get(name, 0.0)) for name in names])


def turns_made(entries: Iterable[Entry]) -> Floats:
    """Add up all turns made, whichever session they are of.

    Args:
        entries: Effective ones.

    Returns:
        (n,), as in `turns_in`.
    """
    return all_turns([turns_in(entry) for entry in entries if entry.kind == "made"])


def session_lines(entries: Sequence[Entry], start: int) -> Sequence[Entry]:
    """Give the lines of a session, with that of its end if it has one.

    Args:
        start: Where among the entries it begins.
    """
    for index in range(start + 1, len(entries)):
        if entries[index].borders:
            return entries[start : index + (not entries[index].begins)]
    return entries[start:]
