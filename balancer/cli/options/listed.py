"""Which entries of a log are listed: by kind, by date, by what was on board."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from balancer.files.car_file import CarFile
from balancer.files.on_board import split_names
from balancer.files.states import state_of
from balancer.log.dates import moment_of
from balancer.log.entry import Entry
from balancer.report.log import kind_name


class Wanted(NamedTuple):
    """Which entries are listed.

    Attributes:
        day: The first; None: from the beginning.
        items: What was on board, of weigh-ins that say it; None: whatever it was.
    """

    kind: str
    day: date | None
    items: frozenset[str] | None

    @classmethod
    def of(cls, file: CarFile, kind: str, since: str | None, state: str | None) -> Wanted:
        """Read what is asked for."""
        day = (
            None if since is None else moment_of(since, "--since", "one like 2026-06-13")[0].date()
        )
        if state is None:
            return cls(kind, day, None)
        items = state_of(file, split_names(state), "--state").items
        return cls("weigh-in", day, frozenset(item.name for item in items))

    def has(self, entry: Entry) -> bool:
        """Say whether an entry is one of them."""
        return (
            self.kind in ("all", kind_name(entry))
            and (self.day is None or entry.wall.date() >= self.day)
            and (self.items is None or self.items == _aboard(entry))
        )


def _aboard(entry: Entry) -> frozenset[str] | None:
    """Give the names of what a weigh-in says was on board, without amounts; None: it says nothing.

    >>> sorted(_aboard(Entry(1, "", "weigh_in", {"on_board": ["driver", "fuel=4"]})))
    ['driver', 'fuel']
    """
    said = entry.data.get("on_board")
    if not isinstance(said, list):
        return None
    return frozenset(str(word).partition("=")[0].strip() for word in said)
