"""One line of the log: an entry to JSON and back, with a close look at what comes back."""

import json
import math
from codecs import BOM_UTF8
from collections.abc import Iterable
from datetime import datetime
from typing import Any, Literal, NamedTuple, TypeGuard, get_args

from balancer.car.conventions import CORNERS
from balancer.car.corner import LINKS

Kind = Literal["session", "weigh_in", "plan", "made", "belief", "note", "undo", "correction"]
KINDS: tuple[Kind, ...] = get_args(Kind)
REMARKS: tuple[Kind, ...] = ("note",)
"""Kinds that change nothing: whoever looks at what was done before or after passes over them."""
VERSION = 1
MOST_BYTES = 1_000_000
"""Of one line; a weigh-in takes a few hundred."""

_BLANKS = " \t\r\n"
_KEYS = ("v", "n", "at", "kind", "data")
_GAP = 1_000_000
"""So far a number may be ahead of its line, where lines were taken out by hand."""

_DEEP = 20
"""So many lists and objects within each other are no entry of ours."""

_SHORT = ("made", "undo", "correction")
"""Kinds whose data is short, and all of it asked for whenever a session begins."""

MOST_NOTE = 1000
"""Characters of a note."""


class Entry(NamedTuple):
    """One line of the log.

    Attributes:
        number: From 1, rising.
        at: When it was written: ISO 8601 with offset.
        kind: One of `KINDS`.
        held: Its `data`, or the line that has it: a long log is not kept in pieces.
        line: Which line of the log it is; 0: of none. Entries that differ in this and the next
            alone are equal.
        corrected: Whether it is as a correction has it.
        act: What somebody did, of which it came: one that is sent twice is known by it.
    """

    number: int
    at: str
    kind: str
    held: dict[str, Any] | bytes
    line: int = 0
    corrected: bool = False
    act: str = ""

    @property
    def data(self) -> dict[str, Any]:
        """What it says.

        A weigh_in: the keys of a readings file. made: `turns` {corner: turns, up positive}; a
        plan may have it too. note: `text`, and the number it is `about` or None. undo: `undoes`,
        a number. correction: the number of the weigh_in that it `corrects`, and the keys of it
        that are `to` be others. session and belief: whatever the session needs.
        """
        if isinstance(self.held, bytes):
            found = json_object(self.held)
            assert isinstance(found, dict)
            data: dict[str, Any] = found["data"]
            return data
        return self.held

    @property
    def begins(self) -> bool:
        """Whether a session begins here."""
        return self.kind == "session" and self.data.get("event") == "begin"

    @property
    def borders(self) -> bool:
        """Whether a session begins or ends here."""
        return self.kind == "session" and self.data.get("event") != "options"

    @property
    def moment(self) -> datetime:
        """When, with its offset."""
        return datetime.fromisoformat(self.at)

    @property
    def wall(self) -> datetime:
        """When, by the clock on the wall where it was written."""
        return self.moment.replace(tzinfo=None)

    def by(self, until: datetime) -> bool:
        """Whether it was written by then; without an offset, by the clock on the wall."""
        return (self.moment if until.tzinfo else self.wall) <= until

    def as_json(self) -> dict[str, Any]:
        """Give what a program gets to see of it.

        >>> Entry(1, "2026-06-13T14:30:00+02:00", "note", {"text": "wet"}, 7).as_json()["data"]
        {'text': 'wet'}
        """
        return {"number": self.number, "at": self.at, "kind": self.kind, "data": self.data}

    def __eq__(self, other: object) -> bool:
        """Compare all but where it is."""
        if not isinstance(other, Entry):
            return NotImplemented
        same = self[:3] == other[:3]
        return same and (self.held == other.held or self.data == other.data)

    def __ne__(self, other: object) -> bool:
        """Compare all but where it is."""
        return not self == other

    def __hash__(self) -> int:
        """Go by the number."""
        return hash(self.number)


def line_of(entry: Entry, line: int) -> bytes:
    """Write an entry as a line, never one that `read_log` would not read back.

    Args:
        line: Which line of the log it will be.

    Raises:
        ValueError: When it is no entry.
        TypeError: When its data is not JSON.

    Examples:
        >>> line_of(Entry(1, "2026-06-13T14:30:00+02:00", "session", {}), 1)
        b'{"v": 1, "n": 1, "at": "2026-06-13T14:30:00+02:00", "kind": "session", "data": {}}\\n'
    """
    values = {"v": VERSION, "n": entry.number, "at": entry.at, "kind": entry.kind}
    if entry.act:
        values["act"] = entry.act
    text = json.dumps({**values, "data": entry.data}, ensure_ascii=False, allow_nan=False)
    # What UTF-8 can't hold, half a pair of surrogates, is escaped just as JSON does it.
    raw = text.encode("utf-8", "backslashreplace") + b"\n"
    data = json_object(raw if len(raw) <= MOST_BYTES else None)
    found = data if isinstance(data, str) else entry_in(data, line)
    if isinstance(found, str):
        raise ValueError(found)
    return raw


def json_object(raw: bytes | None) -> dict[str, Any] | str:
    r"""Read a line as a JSON object, or say why it is none.

    Args:
        raw: None: too long to look at.

    Examples:
        >>> json_object(b'{"v": 1}\n'), json_object(b'{"v": 1')
        ({'v': 1}, 'is not JSON')
    """
    if raw is None:
        return f"is longer than {MOST_BYTES / 1e6:.0f} MB"
    try:
        text = raw.removeprefix(BOM_UTF8).decode().strip(_BLANKS)
        data, end = _DECODER.raw_decode(text)
        if end < len(text):
            return "is not JSON"
    except UnicodeDecodeError:
        return "is not UTF-8 text"
    except (ValueError, RecursionError):
        return "is not JSON"
    return data if isinstance(data, dict) else "is not a JSON object"


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(text)
    return value


_DECODER = json.JSONDecoder(parse_constant=_finite, parse_float=_finite)
# Made once: `json.loads` makes one anew for each line.


def read_line(raw: bytes | None, line: int) -> Entry | str:
    r"""Read a line as an entry that keeps the line, or say why it is none.

    Args:
        raw: None: too long to look at.
        line: Which line of the log it is.

    Examples:
        >>> read_line(b'{"v": 1}\n', 1)
        'lacks n, at, kind, data'
    """
    data = json_object(raw)
    if isinstance(data, str) or raw is None:
        return str(data)
    # Where so few brackets are opened, nothing can be too deep, and no one need look.
    flat = raw.count(b"{") + raw.count(b"[") <= _DEEP
    return entry_in(data, line, raw, flat=flat)


def entry_in(
    data: dict[str, Any], line: int, raw: bytes | None = None, *, flat: bool = False
) -> Entry | str:
    """Take an object for an entry, or say why it is none.

    Args:
        line: Which line of the log it is.
        raw: The line, for entries to keep whose data takes room and is seldom asked for.
        flat: It is known to be nowhere too deep.

    Examples:
        >>> entry_in({"v": 1, "n": 1, "at": "2026-06-13", "kind": "note", "data": {}}, 1)
        'its time is not ISO 8601 with an offset'
    """
    version, number, at, kind, held = map(data.get, _KEYS)
    if _whole(version) and version > VERSION:
        return f"is of version {version:.0f}, which a newer balancer wrote: install that"
    missing = [key for key in _KEYS if key not in data]
    if missing:
        return f"lacks {', '.join(missing)}"
    if not _whole(version):
        return "its version is not known"
    if not _whole(number) or number > line + _GAP:
        return "its number is not one"
    if not isinstance(at, str) or not _moment(at):
        return "its time is not ISO 8601 with an offset"
    if kind not in KINDS:
        return "its kind is not known"
    if not isinstance(held, dict) or (not flat and _deeper(held, _DEEP)):
        return "its data is not an object of ours"
    wrong = _wrong(kind, held)
    if wrong:
        return f"{kind}: {wrong}"
    act = data.get("act")
    kept = held if raw is None or kind in _SHORT else raw
    return Entry(number, at, kind, kept, line, act=act if isinstance(act, str) else "")


def _whole(value: object) -> TypeGuard[int]:
    return isinstance(value, int) and not isinstance(value, bool) and 0 < value < 10**12


def _moment(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


def _deeper(value: object, most: int) -> bool:
    held: Iterable[object] = ()
    if isinstance(value, dict):
        held = value.values()
    elif isinstance(value, list):
        held = value
    return any(most == 0 or _deeper(inner, most - 1) for inner in held)


def _wrong(kind: str, data: dict[str, Any]) -> str:
    """Say what is wrong with the data of an entry that others will reckon with."""
    if kind in ("made", "plan"):
        turns = data.get("turns", None if kind == "made" else {})
        for key, said, places in (
            ("turns", turns, CORNERS),
            ("links", data.get("links", {}), LINKS),
        ):
            if not isinstance(said, dict) or not all(
                place in places and _turns(value) for place, value in said.items()
            ):
                return f"{key} are not {'CORNER' if key == 'turns' else 'LINK'}: number"
    if kind == "note" and not isinstance(data.get("text"), str):
        return "has no text"
    if kind == "note" and not (data.get("about") is None or _whole(data["about"])):
        return "is about no number"
    if kind == "undo" and not _whole(data.get("undoes")):
        return "does not say which entry"
    return _wrong_correction(data) if kind == "correction" else ""


def _wrong_correction(data: dict[str, Any]) -> str:
    if not _whole(data.get("corrects")):
        return "does not say which entry"
    new = data.get("to")
    if not isinstance(new, dict):
        return "does not say what is right"
    at = new.get("at")
    dated = at is None or (isinstance(at, str) and _moment(at))
    return "" if dated else "its new time is not ISO 8601 with an offset"


def _turns(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e4
