"""Read a TOML file: a plain dict, and the line of every key for whoever finds a fault in it."""

import os
import re
import tomllib
from collections.abc import Sequence
from functools import cached_property
from typing import Any

from balancer.car.errors import Fault, InputError, refuse
from balancer.files.format.bounds import MOST_BYTES, long_keys, too_deep
from balancer.files.format.value_types import Key

_LONG = 60
"""Characters of a key that are shown."""

_PART = r"""(?:"(?:\\.|[^"\\\n])*"|'[^'\n]*'|[\w\-]+)"""
_BARE = re.compile(r"[A-Za-z0-9_\-]+")
_DOTTED = rf"{_PART}(?:[ \t]*\.[ \t]*{_PART})*"
_HEADER = rf"[ \t]*(\[\[?)[ \t]*({_DOTTED})[ \t]*\]"
_ASSIGN = rf"[ \t]*({_DOTTED})[ \t]*="
_TOKEN = r'(?s:"""(?:\\.|[^\\])*?"{3,5}|' + r"'''.*?'{3,5}|" + rf"{_PART}|" + r"#[^\n]*|[\[\]{}\n])"


class TomlFile:
    """A file read.

    Attributes:
        name: The path without its folders, for faults.
        slips: What had to be mended before it was TOML; empty for a sound file.
    """

    def __init__(
        self, path: str, data: dict[str, Any], text: str, slips: Sequence[Fault] = ()
    ) -> None:
        self.path, self.name = path, _name(path)
        self.data, self.text, self.slips = data, text, tuple(slips)

    @cached_property
    def lines(self) -> dict[Key, int]:
        """Key path to line, from 1; worked out only when a fault asks for it."""
        return locate(self.text)

    def line(self, key: Key) -> int:
        """Give the line of a key, or of what holds it; 0 when nothing does."""
        return next(
            (self.lines[key[:end]] for end in range(len(key), 0, -1) if key[:end] in self.lines), 0
        )

    def place(self, key: Key) -> str:
        """Say where a key is: file, line of it or of what holds it, and its path.

        >>> TomlFile("a.toml", {}, "\\n\\n[front]").place(("front", "track"))
        'a.toml:3: front.track'
        """
        line = self.line(key)
        where = f"{self.name}:{line}" if line else self.name
        return f"{where}: {spell(key)}" if key else where


def spell(key: Key) -> str:
    """Write a key path the way a person would say it.

    Examples:
        >>> spell(("place", 0, "aft", 1)), spell(("wheel base",))
        ('place[1].aft[2]', '"wheel base"')
    """
    text = ""
    for part in key:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            short = part if len(part) <= _LONG else f"{part[: _LONG - 1]}…"
            bare = short if re.fullmatch(r"[\w\-…]+", short) else f'"{short}"'
            text += f".{bare}" if text else bare
    return text


def _name(path: str) -> str:
    return os.path.basename(path) or path or '""'


def read_toml(path: str | os.PathLike[str]) -> TomlFile:
    """Read a TOML file.

    Returns:
        With slips where lines that are not TOML could be understood all the same, so that they
        are told together with whatever else is wrong.

    Raises:
        InputError: For a file that is not there, not text, too large, nested too deep, or not
            TOML beyond mending.

    References:
        TOML v1.0.0.

    Examples:
        >>> read_toml("nowhere.toml")
        Traceback (most recent call last):
        balancer.car.errors.InputError: nowhere.toml: no such file: check the name and the folder
    """
    path = os.fspath(path)
    text = _read_text(path)
    refuse(long_keys(_name(path), text))
    try:
        file = TomlFile(path, tomllib.loads(text), text)
    except (ValueError, RecursionError):
        from balancer.files.format.typos import mend

        file = TomlFile(path, *mend(_name(path), text))
    if key := too_deep(file.data):
        way_out = "a car file needs two levels"
        raise InputError.one(file.place((key,)), "is nested too deep", way_out)
    return file


def _read_text(path: str) -> str:
    name = _name(path)
    try:
        if os.path.isdir(path):
            raise InputError.one(name, "is a folder", "name the file in it")
        with open(path, "rb") as file:
            content = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise InputError.one(name, "no such file", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError.one(name, f"can't be read ({reason})", "check the file") from None
    if len(content) > MOST_BYTES:
        raise InputError.one(
            name, f"is larger than {MOST_BYTES // 1000} kB", "name a TOML file of a few kilobytes"
        )
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise InputError.one(name, "is UTF-16 text", "save the file as UTF-8 in the editor")
    if b"\0" in content:
        raise InputError.one(name, "is not a text file", "name a TOML file")
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise InputError.one(
            f"{name}:{line}", "is not UTF-8 text", "save the file as UTF-8 in the editor"
        ) from None
    # Lines that end the way they did on old Macs; TOML has no other use for the character.
    return text if "\n" in text else text.replace("\r", "\n")


def locate(text: str) -> dict[Key, int]:
    """Find the line of every table and key in a text that tomllib has accepted.

    Returns:
        Key path to line, from 1. Keys inside inline tables are left to the line of the table.

    References:
        TOML v1.0.0.

    Examples:
        >>> found = locate("name = 'x'\\n[[place]]\\nup = 1\\n[[place]]\\nup = 2")
        >>> found[("name",)], found[("place", 1, "up")]
        (1, 5)
    """
    lines: dict[Key, int] = {}
    counts: dict[Key, int] = {}
    table: Key = ()
    # Compiled here and not with the module: few runs need them, and all would wait.
    header_at, assign_at = re.compile(_HEADER).match, re.compile(_ASSIGN).match
    position, number = 0, 1
    while position < len(text):
        if header := header_at(text, position):
            *above, last = _parts(header[2])
            table = (*_counted(above, counts), last)
            if header[1] == "[[":
                counts[table] = counts.get(table, -1) + 1
            path = _counted([last], counts, table[:-1])
            for end in range(1, len(path)):
                lines.setdefault(path[:end], number)
            table = path
            lines[table] = number
        elif assigned := assign_at(text, position):
            key = (*table, *_parts(assigned[1]))
            for end in range(len(table) + 1, len(key) + 1):
                lines.setdefault(key[:end], number)
        end = _statement_end(text, position)
        number += text.count("\n", position, end)
        position = end
    return lines


def _counted(parts: Sequence[str], counts: dict[Key, int], start: Key = ()) -> Key:
    """Go down a path, always into the latest item of a list of tables."""
    for part in parts:
        start = (*start, part)
        if start in counts:
            start = (*start, counts[start])
    return start


def _statement_end(text: str, position: int) -> int:
    """Find where the line ends that ends a statement: not inside a string or brackets."""
    depth = 0
    for token in re.compile(_TOKEN).finditer(text, position):
        if token[0] in ("[", "{"):
            depth += 1
        elif token[0] in ("]", "}"):
            depth -= 1
        elif token[0] == "\n" and depth <= 0:
            return token.end()
    return len(text)


def _parts(dotted: str) -> list[str]:
    """Take a dotted key apart, as tomllib does."""
    if _BARE.fullmatch(dotted):
        # By far the most, and tomllib takes its time.
        return [dotted]
    rest: Any = tomllib.loads(f"{dotted} = 0")
    parts = []
    while isinstance(rest, dict):
        ((part, rest),) = rest.items()
        parts.append(part)
    return parts
