"""The values of a file with which nothing is wrong so far, and those of one corner of a car."""

import re
from collections.abc import Iterable, Iterator
from typing import Any

from balancer.car.conventions import CORNERS
from balancer.car.errors import Fault
from balancer.files.format.faults import line_of, meant
from balancer.files.format.keys import AXLE_FIELDS, NONLINEAR_KEYS
from balancer.files.format.toml_text import TomlFile, spell
from balancer.files.format.value_types import Key

AXLES = {"front": CORNERS[:2], "rear": CORNERS[2:]}
AXLE_OF = {corner: axle for axle, corners in AXLES.items() for corner in corners}


class Sound:
    """The values of a file with which nothing is wrong so far, for checks across several."""

    def __init__(self, file: TomlFile, faults: Iterable[Fault]) -> None:
        self.file, self.data, self.place = file, file.data, file.place
        self.faults = faults = list(faults)
        self.faulted = [_path_of(file, fault) for fault in faults]
        self._unread = [_path_of(file, fault) for fault in faults if _too_long(fault)]
        self._mended = {line_of(file, slip) for slip in file.slips}

    def get(self, *key: str | int) -> Any:
        """Give the value of a key; None when it is not there or there is a fault in it."""
        value: Any = self.data
        for part in key:
            try:
                value = value[part]
            except (KeyError, IndexError, TypeError):
                return None
        # Lines are worked out only for a file with faults.
        return value if not self.faulted or not self._doubtful(key) else None

    def _doubtful(self, key: Key) -> bool:
        path = spell(key)
        return (
            any(_within(fault, path) for fault in self.faulted)
            or any(_within(path, unread) for unread in self._unread)
            or self.file.line(key) in self._mended
        )

    def fault(self, key: Key, what: str, way_out: str) -> Fault:
        """Make a fault of a key."""
        return Fault(self.place(key), what, way_out)

    def table(self, name: str) -> dict[str, Any]:
        """Give a table with whatever is wrong in it; empty where there is none."""
        table = self.data.get(name)
        return table if isinstance(table, dict) else {}

    def size(self, name: str) -> int:
        """Count the tables of a list."""
        entries = self.data.get(name)
        return len(entries) if isinstance(entries, list) else 0

    def each(self, name: str, key: str) -> Iterator[tuple[Key, Any]]:
        """Give place and value of a key in each table of a list that has it sound."""
        for number in range(self.size(name)):
            value = self.get(name, number, key)
            if value is not None:
                yield (name, number, key), value

    def entries(self, name: str) -> Iterator[tuple[int, str]]:
        """Give number and name of each [[table]] of a list."""
        for (_, number, _), called in self.each(name, "name"):
            if isinstance(number, int) and isinstance(called, str):
                yield number, called

    def named_twice(self, name: str) -> Iterator[Fault]:
        """Find names that two tables of a list have."""
        names: set[str] = set()
        for number, called in self.entries(name):
            if called in names:
                what = f"“{called}” is there twice"
                yield self.fault((name, number, "name"), what, "give each its own name")
            names.add(called)


def _path_of(file: TomlFile, fault: Fault) -> str:
    """Take the key path out of where a fault is; nothing for one of a whole line or file."""
    return re.sub(r"^(:\d+)?(: )?", "", fault.where.removeprefix(file.name))


def _too_long(fault: Fault) -> bool:
    """Say whether a list is too long, so that what is in it was not looked at."""
    has = re.match(r"has (\d+) value", fault.what)
    most = re.match(r"(?:give )?(\d+)", fault.way_out)
    return has is not None and most is not None and int(has[1]) > int(most[1])


def _within(path: str, holder: str) -> bool:
    """Say whether a path is that of a value or of what it holds."""
    return path.startswith(holder) and path[len(holder) : len(holder) + 1] in ("", "[", ".", " ")


def corner_value(data: dict[str, Any], corner: str, key: str) -> tuple[Any, Key]:
    """Look a corner's key up: its own table first, then its axle's.

    Args:
        data: Of the car file, as written or in SI.

    Returns:
        The value, None when there is none, and where it is or would be.

    Examples:
        >>> corner_value({"rear": {"track": 1430}}, "LR", "track")
        (1430, ('rear', 'track'))
    """
    own, axle = data.get(corner), AXLE_OF[corner]
    if isinstance(own, dict) and key in own:
        return own[key], (corner, key)
    table = data.get(axle)
    return (table.get(key) if isinstance(table, dict) else None), (axle, key)


def states_in(data: dict[str, Any]) -> Iterator[Key]:
    """Give where a car file says what is on board in race trim.

    Examples:
        >>> list(states_in({"race_trim": [{"name": "wet"}]}))
        [('class', 'weighed_with'), ('race_trim', 0, 'on_board')]
    """
    yield "class", "weighed_with"
    trims = data.get("race_trim")
    for number in range(len(trims) if isinstance(trims, list) else 0):
        yield "race_trim", number, "on_board"


def plain(value: Any) -> Any:
    """Give the number that stands for a key of one number or of rows: that of the row next to 0."""
    return min(value, key=lambda row: abs(row[0]))[1] if isinstance(value, list) else value


def has_nonlinear_keys(data: dict[str, Any]) -> bool:
    """Say whether a car file, sound or not, has corners or bars beyond a rate and a ratio.

    Examples:
        >>> has_nonlinear_keys({"rear": {"spring_rate": [[0, 40], [30, 60]]}})
        True
    """
    tables = [data.get(name) for name in (*AXLES, *CORNERS)]
    return any(
        not NONLINEAR_KEYS.isdisjoint(table)
        or any(isinstance(table.get(key), list) for key in ("spring_rate", "motion_ratio"))
        for table in tables
        if isinstance(table, dict)
    )


def given_keys(data: dict[str, Any], *names: str) -> set[str]:
    """Give the keys of tables, and those that are meant by what is misspelled there."""
    tables = [data.get(name) for name in names]
    given = {key for table in tables if isinstance(table, dict) for key in table}
    known = list(AXLE_FIELDS)
    return given | {close for key in given.difference(known) if (close := meant(key, known))}


def is_unsprung(data: dict[str, Any], axle: str) -> bool:
    """Say whether an axle has neither a spring rate nor a motion ratio, not even misspelled.

    Examples:
        >>> is_unsprung({"rear": {"track": 1430}}, "rear")
        True
        >>> is_unsprung({"rear": {"sping_rate": 60}}, "rear")
        False
    """
    given = given_keys(data, axle, *AXLES[axle])
    return isinstance(data.get(axle), dict) and not {"spring_rate", "motion_ratio"} & given
