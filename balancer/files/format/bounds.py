"""How much a file may ask for: told before the work starts, and far beyond any car."""

import re
from collections.abc import Iterable, Sequence
from itertools import islice
from typing import Any

from balancer.car.errors import Fault

MOST_BYTES = 400_000
"""Of one file; a car takes a few kilobytes, the most weighings with the most repeats 300."""

MOST_PARTS = 8
"""Of a dotted key: tomllib takes the square of them in time and memory."""

MOST_LEVELS = 8
"""Of lists and tables within each other; the files have five."""

MOST_FAULTS = 50
"""Told of one file; more than that are mended after these."""

MOST_STEPS = 4_000
"""Of one adjuster from end to end."""

MOST_CHOICES = 2_000
"""Of a kind of piece at a place."""

# No part of these can be split in two ways, so that none takes longer than its text.
_QUOTED = (
    r"""(?s:\"""(?:\\.|[^\\])*?"{3,5}|'''.*?'{3,5}|"(?:\\[^\n]|[^"\\\n])*"|'[^'\n]*'|\#[^\n]*)"""
)
_LONG_KEY = rf"(?<![\w\-])[\w\-]++(?:[ \t]*+\.[ \t]*+[\w\-]++){{{MOST_PARTS},}}"
_MANY_POINTS = rf"(?m)^(?:[^.\n]*+\.){{{MOST_PARTS}}}"


def long_keys(name: str, text: str) -> list[Fault]:
    """Find dotted keys of more parts than any file has, before a parser chokes on them.

    Args:
        name: Of the file.
        text: TOML or not.

    Examples:
        >>> print(*long_keys("a.toml", "up = 1\\n" + "a." * 30 + "b = 1"))
        a.toml:2: a key of 31 parts: a file needs two, as in front.track
    """
    if not re.search(_MANY_POINTS, text):
        return []
    bare = re.sub(_QUOTED, _blank, text)
    return [
        Fault(
            f"{name}:{bare.count(chr(10), 0, key.start()) + 1}",
            f"a key of {key[0].count('.') + 1} parts",
            "a file needs two, as in front.track",
        )
        for key in islice(re.finditer(_LONG_KEY, bare), MOST_FAULTS)
    ]


def _blank(quoted: re.Match[str]) -> str:
    """Put a word in place of a text in quotes, and nothing in place of a remark."""
    if quoted[0].startswith("#"):
        return ""
    return "x" + "\n" * quoted[0].count("\n")


def too_deep(data: dict[str, Any]) -> str | None:
    """Find a key of a file whose lists and tables lie too deep within each other.

    Returns:
        The key, of the topmost table; None where all is within `MOST_LEVELS`.
    """
    for key, value in data.items():
        level: list[Any] = [value]
        for _ in range(MOST_LEVELS):
            level = [inner for held in level for inner in _inside(held)]
        if any(isinstance(held, dict | list) for held in level):
            return key
    return None


def _inside(value: Any) -> Iterable[Any]:
    if isinstance(value, dict):
        return value.values()
    return value if isinstance(value, list) else ()


def first_of(where: str, faults: Iterable[Fault], total: int | None = None) -> list[Fault]:
    """Take no more faults than somebody reads, and say that there are more.

    Args:
        where: What they are in.
        total: How many there are; None: known once all are found.

    Examples:
        >>> many = [Fault(f"a.toml:{line}", "wrong", "mend it") for line in range(1, 100)]
        >>> print(first_of("a.toml", many)[-1])
        a.toml: and 49 more faults: mend these first
    """
    taken = list(faults) if isinstance(faults, Sequence) else list(islice(faults, MOST_FAULTS + 1))
    known = len(taken) if total is None and isinstance(faults, Sequence) else total
    if len(taken) <= MOST_FAULTS and (known or 0) <= MOST_FAULTS:
        return taken
    count = f"{known - MOST_FAULTS} more faults" if known else "more faults"
    return [*taken[:MOST_FAULTS], Fault(where, f"and {count}", "mend these first")]
