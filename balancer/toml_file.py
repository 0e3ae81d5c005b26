"""Read a TOML file: a plain dict, and the line of every key for whoever finds a fault in it."""

from __future__ import annotations

import os
import re
import tomllib
from functools import cached_property
from typing import Any

from balancer.errors import Fault, InputError

Key = tuple[str | int, ...]
"""A key path; list items by number from 0."""

MOST_BYTES = 1_000_000
"""A car takes a few kilobytes; anything far larger is another kind of file."""

_COMMA = r"^\s*[\w.\-]+\s*=\s*([+-]?\d+),(\d+)\s*(#.*)?$"
_HEADER = r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$"
_ASSIGN = r"""^\s*("[^"]*"|'[^']*'|[\w\-]+(?:\s*\.\s*[\w\-]+)*)\s*="""
_STRING = r'"(?:\\.|[^"\\])*"' + r"|'[^']*'"


class TomlFile:
    """A file read.

    Attributes
    ----------
    path : str
    name : str
        The path without its folders, for faults.
    data : dict
    text : str
    """

    def __init__(self, path: str, data: dict[str, Any], text: str) -> None:
        self.path, self.name = path, os.path.basename(path)
        self.data, self.text = data, text

    @cached_property
    def lines(self) -> dict[Key, int]:
        """Key path to line, from 1; worked out only when a fault asks for it."""
        return locate(self.text)

    def place(self, key: Key) -> str:
        """Say where a key is: file, line of it or of what holds it, and its path.

        >>> TomlFile("a.toml", {}, "\\n\\n[front]").place(("front", "track"))
        'a.toml:3: front.track'
        """
        line = next(
            (self.lines[key[:end]] for end in range(len(key), 0, -1) if key[:end] in self.lines), 0
        )
        where = f"{self.name}:{line}" if line else self.name
        return f"{where}: {spell(key)}" if key else where


def spell(key: Key) -> str:
    """Write a key path the way a person would say it.

    >>> spell(("place", 0, "aft", 1))
    'place[1].aft[2]'
    """
    text = ""
    for part in key:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def read_toml(path: str | os.PathLike[str]) -> TomlFile:
    """Read a TOML file.

    Parameters
    ----------
    path : str or path-like

    Returns
    -------
    TomlFile

    Raises
    ------
    InputError
        For a file that is not there, not text, too large, or not TOML: each fault with its line.

    References
    ----------
    TOML v1.0.0.

    Examples
    --------
    >>> read_toml("nowhere.toml")
    Traceback (most recent call last):
    balancer.errors.InputError: nowhere.toml: no such file: check the name and the folder
    """
    path = os.fspath(path)
    text = _read_text(path)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(_syntax_faults(os.path.basename(path), text, str(error))) from None
    return TomlFile(path, data, text)


def _read_text(path: str) -> str:
    name = os.path.basename(path) or path
    try:
        size = os.stat(path).st_size
        if os.path.isdir(path):
            raise InputError.one(name, "is a folder", "name the file in it")
        if size > MOST_BYTES:
            raise InputError.one(
                name, f"is {size / 1e6:.0f} MB", "too large for such a file; is it another one?"
            )
        with open(path, "rb") as file:
            content = file.read()
    except FileNotFoundError:
        raise InputError.one(name, "no such file", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError.one(name, f"can't be read ({reason})", "check the file") from None
    if b"\0" in content:
        raise InputError.one(name, "is not a text file", "name a TOML file")
    try:
        return content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise InputError.one(
            f"{name}:{line}", "is not UTF-8 text", "save the file as UTF-8 in the editor"
        ) from None


def _syntax_faults(name: str, text: str, message: str) -> list[Fault]:
    """Explain what tomllib stumbled over; every decimal comma at once."""
    lines = text.split("\n")
    commas = [
        (number, match) for number, line in enumerate(lines, 1) if (match := re.match(_COMMA, line))
    ]
    if commas:
        return [
            Fault(
                f"{name}:{number}",
                f"decimal comma in {match[1]},{match[2]}",
                f"write {match[1]}.{match[2]}",
            )
            for number, match in commas
        ]
    found = re.search(r"^(.*) \(at (?:line (\d+), column \d+|end of document)\)$", message)
    what, line = (found[1], found[2] or str(len(lines))) if found else (message, "1")
    shown = lines[int(line) - 1].strip()[:60]
    return [
        Fault(
            f"{name}:{line}",
            f"{what[0].lower()}{what[1:]} in “{shown}”"
            if shown
            else f"{what[0].lower()}{what[1:]}",
            "a line reads: key = value; text goes in quotes",
        )
    ]


def locate(text: str) -> dict[Key, int]:
    """Find the line of every table and key in a text that tomllib has accepted.

    Parameters
    ----------
    text : str

    Returns
    -------
    dict
        Key path to line, from 1. Keys inside inline tables are left to the line of the table.

    References
    ----------
    TOML v1.0.0.

    Examples
    --------
    >>> found = locate("name = 'x'\\n[[place]]\\nup = 1\\n[[place]]\\nup = 2")
    >>> found[("name",)], found[("place", 1, "up")]
    (1, 5)
    """
    lines: dict[Key, int] = {}
    counts: dict[Key, int] = {}
    table: Key = ()
    depth, closing = 0, ""
    for number, line in enumerate(text.split("\n"), 1):
        if closing:
            closing = "" if closing in line else closing
            continue
        bare = re.sub(_STRING, '""', _without_long_strings(line))
        if not depth:
            if header := re.match(_HEADER, line):
                table = _parts(header[2])
                if header[1] == "[[":
                    counts[table] = counts.get(table, -1) + 1
                    lines.setdefault(table, number)
                    table = (*table, counts[table])
                lines[table] = number
                continue
            if assigned := re.match(_ASSIGN, line):
                key = (*table, *_parts(assigned[1]))
                for end in range(len(table) + 1, len(key) + 1):
                    lines.setdefault(key[:end], number)
        bare = bare.split("#")[0]
        depth += bare.count("[") + bare.count("{") - bare.count("]") - bare.count("}")
        for quotes in ('"""', "'''"):
            if line.count(quotes) % 2:
                closing = quotes
    return lines


def _without_long_strings(line: str) -> str:
    return re.sub(r'"""(.*?)"""' + r"|'''(.*?)'''", '""', line)


def _parts(dotted: str) -> tuple[str, ...]:
    quoted = re.findall(r""""[^"]*"|'[^']*'|[\w\-]+""", dotted)
    return tuple(part.strip("\"'") for part in quoted)
