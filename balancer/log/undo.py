"""Taking back in the log what a session has written, whole or not at all.

Each undoing is a line of its own, and a kill may come between two: the next session finishes what
was to go, and brings back what was to be replaced by a line that never came.
"""

from collections.abc import Sequence

from balancer.log.entry import REMARKS, Entry
from balancer.log.reader import standing


def taken_back(entries: Sequence[Entry], with_turns: bool) -> list[Entry]:
    """Find what has to be undone in the log for the last weigh-in to be gone, last first.

    Args:
        entries: Of the log, with at least one weigh-in that counts.
        with_turns: Also the turns before it, where they were only assumed: they are a plan
            again.

    Examples:
        >>> at = "2026-06-13T14:30:00+02:00"
        >>> log = [Entry(1, at, "weigh_in", {}), Entry(2, at, "note", {}), Entry(3, at, "plan", {})]
        >>> [entry.number for entry in taken_back(log, with_turns=True)]
        [3, 1]
    """
    # What was worked out before a correction has to go too, though it no longer counts.
    kept = [one for one in _telling(standing(entries)) if one.kind != "correction"][::-1]
    last = max(index for index, entry in enumerate(kept) if entry.kind == "weigh_in")
    undo = [entry for entry in kept[last:] if entry.kind in ("weigh_in", "belief", "plan", "made")]
    before = kept[last - 1] if last else None
    if with_turns and before and before.kind == "made" and before.data.get("assumed"):
        undo = [before, *undo]
    return undo[::-1]


def half_replaced(entries: Sequence[Entry]) -> list[int]:
    """Find undoings at the end of a log after which what was to come instead never came.

    Args:
        entries: All of the log.

    Returns:
        Their numbers: to be undone themselves.

    Examples:
        >>> at = "2026-06-13T14:30:00+02:00"
        >>> undo = Entry(2, at, "undo", {"undoes": 1, "replaced": True})
        >>> half_replaced([Entry(1, at, "weigh_in", {}), undo])
        [2]
    """
    half: list[int] = []
    mended: set[int] = set()
    for entry in reversed(_telling(entries)):
        if entry.kind != "undo":
            break
        if not entry.data.get("replaced"):
            mended.add(entry.data["undoes"])
        elif entry.number not in mended:
            half.append(entry.number)
    return half


def half_undone(entries: Sequence[Entry]) -> list[int]:
    """Find what the last undoing in a log was to undo too, and did not come to.

    Args:
        entries: All of the log.

    Returns:
        Numbers of entries.

    Examples:
        >>> at = "2026-06-13T14:30:00+02:00"
        >>> log = [Entry(1, at, "weigh_in", {}), Entry(2, at, "plan", {})]
        >>> half_undone([*log, Entry(3, at, "undo", {"undoes": 2, "all": [2, 1]})])
        [1]
    """
    told = _telling(entries)
    last = told[-1].data if told and told[-1].kind == "undo" else {}
    meant = last.get("all")
    kept = [entry.number for entry in standing(entries)]
    return [number for number in meant if number in kept] if isinstance(meant, list) else []


def _telling(entries: Sequence[Entry]) -> list[Entry]:
    """Leave out remarks: one may come between any two lines of a session that was killed."""
    return [entry for entry in entries if entry.kind not in REMARKS]
