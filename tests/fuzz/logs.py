"""Damage to a log: its lines, and what is in them."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from random import Random
from typing import Any

from tests.fuzz.damage import damage_bytes, damage_tree
from tests.fuzz.toml_text import Raw

DATES = (
    "0001-01-01T00:00:00+00:00", "0001-01-01T00:00:00+23:59", "9999-12-31T23:59:59-23:59",
    "9999-12-31T23:59:59.999999+00:00", "2026-06-13T14:30:00+02:00", "2026-02-30T00:00:00+00:00",
    "2026-06-13", "2026-06-13T14:30:00", "1969-12-31T23:59:59+00:00", "2100-01-01T00:00:00+00:00",
    "@AGO:-3600@", "@AGO:86400@", "@AGO:43200@", "", "yesterday", "20260613T143000Z",
)  # fmt: skip
_STAMP = re.compile(r"(?!2025)\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?[+-]\d\d:\d\d")


def undated(log: str) -> str:
    """Put a place for a moment of some minutes ago where the log has the moment it was written.

    What was brought in is of 2025, and stays.
    """
    left = iter(range(len(_STAMP.findall(log)), 0, -1))
    return _STAMP.sub(lambda _: f"@AGO:{60 * next(left)}@", log)


def damage_log(rng: Random, content: bytes) -> bytes:
    """Do one thing to the log."""
    lines = content.splitlines(keepends=True) or [b""]
    at = rng.randrange(len(lines))
    choices: tuple[Callable[[], list[bytes]], ...] = (
        list,
        lambda: [lines[at], lines[at]],
        lambda: [lines[at][: rng.randrange(len(lines[at]) + 1)]],
        lambda: [damage_bytes(rng, lines[at])],
        lambda: [_entry(rng, lines[at], _tree)],
        lambda: [_entry(rng, lines[at], _tree)],
        lambda: [_entry(rng, lines[at], _data)],
        lambda: [_entry(rng, lines[at], _data)],
        lambda: [_entry(rng, lines[at], _data)],
        lambda: [_entry(rng, lines[at], _date)],
        lambda: [_entry(rng, lines[at], _number)],
        lambda: [_entry(rng, lines[at], _kind)],
        lambda: [lines[at], lines[rng.randrange(len(lines))]],
        lambda: [lines[at] * rng.choice((3, 30))],
        lambda: [lines[at], b"\n"],
        lambda: [lines[at], b"x" * rng.choice((100, 10_000)) + b"\n"],
    )
    if rng.random() < 0.05:
        return rng.choice(
            (lambda: b"".join(rng.sample(lines, len(lines))), lambda: content * 3, lambda: b"")
        )()
    lines[at : at + 1] = rng.choice(choices)()
    return b"".join(lines)


def _entry(rng: Random, line: bytes, change: Callable[[Random, dict[str, Any]], None]) -> bytes:
    try:
        entry = json.loads(line)
    except ValueError:
        return line
    if isinstance(entry, dict):
        change(rng, entry)
    return json.dumps(_plain(entry)).encode() + b"\n"


def _plain(value: Any) -> Any:
    """Make what only TOML has into JSON."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    if isinstance(value, Raw):
        return value.text
    return value.isoformat() if hasattr(value, "isoformat") else value


def _tree(rng: Random, entry: dict[str, Any]) -> None:
    damage_tree(rng, entry)


def _data(rng: Random, entry: dict[str, Any]) -> None:
    if isinstance(entry.get("data"), dict | list) and entry["data"]:
        damage_tree(rng, entry["data"], gentle=rng.random() < 0.4)


def _date(rng: Random, entry: dict[str, Any]) -> None:
    entry["at"] = rng.choice(DATES)


def _number(rng: Random, entry: dict[str, Any]) -> None:
    entry["n"] = rng.choice((0, 1, 2, 3, 5, 8, -1, 10**6, 10**12, 1.0, "2", None, True))


def _kind(rng: Random, entry: dict[str, Any]) -> None:
    kinds = ("session", "weigh_in", "plan", "made", "belief", "note", "undo", "other", "")
    entry["kind"] = rng.choice(kinds)
