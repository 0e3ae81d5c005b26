"""How small the type of a sheet must be for one page of paper, reckoned before anything is drawn.

A page can't shrink its own type without a script, so the room that its lists will need is added up
here in millimeters, a little on the safe side; tests/browser prints what comes of it.
"""

from collections.abc import Sequence
from typing import NamedTuple

from balancer.report.words.lettering import line_count

_WIDE, _COLUMN = 192.0, 92.0
"""Between the margins of A4, the narrower paper, and of one of two columns [mm]."""

_HIGH = 261.0
"""Between the margins of Letter, the shorter paper [mm]."""

_POINT = 25.4 / 72

_TITLE = 1.15
"""Size of a title that may take several lines [sizes of the type]."""


class Room(NamedTuple):
    """A setting of the type, as the style sheet has it under this name.

    Attributes:
        type: Size [pt].
        line, row, head: A line of text, a row of a table, a heading with what is around it
            [mm].
        fixed: Turns and drawing, boxes, cautions [mm].
        brief: Letters from which on a name in a list is cut in the middle.
    """

    name: str
    type: float
    line: float
    row: float
    head: float
    fixed: float
    brief: int

    def lines(self, text: str, width: float = _WIDE) -> int:
        """Give how many lines a text takes.

        >>> ROOMS[0].lines("word " * 30)
        2
        """
        return line_count(text, width, self.type * _POINT)


ROOMS = (
    Room("roomy", 8.4, 3.65, 4.25, 8.2, 145.0, 40),
    Room("crowded", 7.5, 3.05, 3.45, 5.6, 119.0, 30),
    Room("full", 7.0, 2.85, 3.2, 5.2, 101.0, 16),
)
OVERFULL = ROOMS[-1]._replace(name="overfull", brief=34)

_OTHERS = 11.0
"""Width of the columns beside a name [sizes of the type]."""

_UNEVEN, _EVEN = 3.0, 0.5
"""Rows by which the longer column is above the mean: tables stay whole, but a long list breaks."""

_LONG = 24
"""Rows of a long list."""


class Contents(NamedTuple):
    """What is to be on the page: text across it and in a column, rows of tables, names in lists."""

    title: str
    paragraphs: Sequence[str]
    notes: Sequence[str]
    tables: Sequence[int]
    lists: Sequence[Sequence[tuple[str, str]]]


def room_for(contents: Contents) -> Room:
    """Pick the largest type with which all of it is on one page, or `OVERFULL`.

    Examples:
        >>> room_for(Contents("coupe", ["Weighed once."], [], [8, 2], [])).name
        'roomy'
        >>> room_for(Contents("coupe", [], [], [200], [])).name
        'overfull'
    """
    return next((room for room in ROOMS if _needed(contents, room) <= _HIGH), OVERFULL)


def brief(name: str, most: int) -> str:
    """Cut a name to so many letters in the middle: what tells it from others may be at either end.

    >>> brief("under the passenger's seat, left", 16)
    'under th…t, left'
    """
    end = most // 2 - 1
    return name if len(name) <= most else f"{name[: most - end - 1]}…{name[-end:]}"


def _needed(contents: Contents, room: Room) -> float:
    """Add up the height of all of it [mm]."""
    across = 1.2 * line_count(contents.title, _WIDE, _TITLE * room.type * _POINT, bold=True)
    across += sum(room.lines(text) for text in contents.paragraphs)
    column = sum(room.line * room.lines(text, _COLUMN) for text in contents.notes)
    for rows in contents.tables:
        column += room.head + (rows + 1) * room.row
    place = _COLUMN - _OTHERS * room.type * _POINT
    for entries in contents.lists:
        column += room.head + 2 * room.row
        for name, more in entries:
            lines = room.lines(brief(name, room.brief) + more, place)
            column += (lines - 1) * room.line + room.row
    uneven = _EVEN if any(len(one) >= _LONG for one in contents.lists) else _UNEVEN
    return room.fixed + across * room.line + column / 2 + uneven * room.row
