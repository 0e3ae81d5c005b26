"""Taking back in the log what a session has written, whole or not at all.

Each undoing is a line of its own, and a kill may come between two: the next session finishes what
was to go, and brings back what was to be replaced by a line that never came.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.log.entry import Entry
from balancer.log.reader import effective


def turns_in(entry: Entry) -> Floats:
    """Give the turns of an entry in the order of the corners.

    Returns
    -------
    array (4,)

    Examples
    --------
    >>> at = "2026-06-13T14:30:00+02:00"
    >>> turns_in(Entry(1, at, "made", {"turns": {"RF": 0.5}})).tolist()
    [0.0, 0.5, 0.0, 0.0]
    """
    given = entry.data.get("turns")
    given = given if isinstance(given, dict) else {}
    return np.array([float(given.get(pad, 0.0)) for pad in CORNERS])


class Said(NamedTuple):
    """The turns said since the last weigh-in, when a log is followed entry by entry.

    Attributes
    ----------
    turns : array (4,)
        Said last; what is said next replaces them.
    before : array (4,)
        Said before a weigh-in that can't be read any more; what is said next comes on top.
    """

    turns: Floats = np.zeros(4)
    before: Floats = np.zeros(4)

    def then(self, entry: Entry) -> Said:
        """Take the next entry that was not undone.

        A plan comes of a weigh-in, so where turns are older than a plan there was one in between.

        >>> at = "2026-06-13T14:30:00+02:00"
        >>> one, plan = Entry(1, at, "made", {"turns": {"LF": 1}}), Entry(2, at, "plan", {})
        >>> Said().then(one).then(one).total.tolist()
        [1.0, 0.0, 0.0, 0.0]
        >>> Said().then(one).then(plan).then(one).total.tolist()
        [2.0, 0.0, 0.0, 0.0]
        """
        if entry.kind == "weigh_in":
            return Said()
        if entry.kind == "made":
            return self._replace(turns=turns_in(entry))
        return Said(before=self.total) if entry.kind == "plan" else self

    @property
    def total(self) -> Floats:
        """All of them."""
        return self.before + self.turns


def taken_back(entries: Sequence[Entry], with_turns: bool) -> tuple[list[Entry], Floats | None]:
    """Find what has to be undone in the log for the last weigh-in to be gone.

    Parameters
    ----------
    entries : sequence of Entry
        Of the log, with at least one weigh-in that counts.
    with_turns : bool
        Also the turns before it, where they were only assumed.

    Returns
    -------
    list of Entry
        Last first.
    array (4,) or None
        The turns that are a plan again.

    Examples
    --------
    >>> at = "2026-06-13T14:30:00+02:00"
    >>> log = [Entry(1, at, "weigh_in", {}), Entry(2, at, "note", {}), Entry(3, at, "plan", {})]
    >>> [entry.number for entry in taken_back(log, with_turns=True)[0]]
    [3, 1]
    """
    kept = effective(entries)
    last = max(index for index, entry in enumerate(kept) if entry.kind == "weigh_in")
    undo = [one for one in kept[last:] if one.kind in ("weigh_in", "belief", "plan", "made")]
    planned: Floats | None = None
    before = kept[last - 1] if last else None
    if with_turns and before and before.kind == "made" and before.data.get("assumed"):
        undo, planned = [before, *undo], turns_in(before)
    return undo[::-1], planned


def half_replaced(entries: Sequence[Entry]) -> list[Entry]:
    """Find undoings at the end of a log after which what was to come instead never came.

    Parameters
    ----------
    entries : sequence of Entry
        All of the log.

    Returns
    -------
    list of Entry
        To be undone themselves.

    Examples
    --------
    >>> at = "2026-06-13T14:30:00+02:00"
    >>> undo = Entry(2, at, "undo", {"undoes": 1, "replaced": True})
    >>> [one.number for one in half_replaced([Entry(1, at, "weigh_in", {}), undo])]
    [2]
    """
    found: list[Entry] = []
    mended: set[int] = set()
    for entry in reversed(entries):
        if entry.kind != "undo":
            break
        if not entry.data.get("replaced"):
            mended.add(entry.data["undoes"])
        elif entry.number not in mended:
            found.append(entry)
    return found


def half_undone(entries: Sequence[Entry]) -> list[int]:
    """Find what the last undoing in a log was to undo too, and did not come to.

    Parameters
    ----------
    entries : sequence of Entry
        All of the log.

    Returns
    -------
    list of int

    Examples
    --------
    >>> at = "2026-06-13T14:30:00+02:00"
    >>> log = [Entry(1, at, "weigh_in", {}), Entry(2, at, "plan", {})]
    >>> half_undone([*log, Entry(3, at, "undo", {"undoes": 2, "all": [2, 1]})])
    [1]
    """
    last = entries[-1].data if entries and entries[-1].kind == "undo" else {}
    meant = last.get("all")
    kept = {entry.number for entry in effective(entries)}
    return [one for one in meant if one in kept] if isinstance(meant, list) else []


def made_before(entries: Sequence[Entry]) -> list[Entry]:
    """Find turns said since the last weigh-in, all but the last time they were said.

    Parameters
    ----------
    entries : sequence of Entry
        All of the log.

    Examples
    --------
    >>> at = "2026-06-13T14:30:00+02:00"
    >>> [one.number for one in made_before([Entry(n, at, "made", {"turns": {}}) for n in (1, 2)])]
    [1]
    """
    return _made_since(entries)[1:]


def said_since(entries: Sequence[Entry]) -> Entry | None:
    """Find the turns said since the last weigh-in.

    Parameters
    ----------
    entries : sequence of Entry
        All of the log.

    Returns
    -------
    Entry or None
        None where there are none, or they were only assumed.

    Examples
    --------
    >>> at = "2026-06-13T14:30:00+02:00"
    >>> said_since([Entry(1, at, "made", {"turns": {}, "assumed": True})]) is None
    True
    """
    said = _made_since(entries)
    return said[0] if said and not said[0].data.get("assumed") else None


def _made_since(entries: Sequence[Entry]) -> list[Entry]:
    """Find turns since the last weigh-in, last first.

    What is older than a plan was turned before the weigh-in that the plan came of, readable or not.
    """
    said: list[Entry] = []
    for entry in reversed(effective(entries)):
        if entry.kind in ("weigh_in", "session", "plan"):
            break
        if entry.kind == "made":
            said.append(entry)
    return said
