"""Print to whatever the terminal can show."""

from __future__ import annotations

import os
import sys
from typing import Any, TextIO

from balancer.errors import InputError, spelled

_PLAIN = str.maketrans(
    {
        "½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "⅕": " 1/5", "⅖": " 2/5",
        "⅗": " 3/5", "⅘": " 4/5", "⅙": " 1/6", "⅚": " 5/6", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8",
        "⅞": " 7/8", "−": "-", "±": "+/-", "·": ".", "×": "x", "“": '"', "”": '"', "…": "...",
        "≤": "<=", "≥": ">=", "²": "2",
    }
)  # fmt: skip


def show(text: str) -> None:
    """Print a result."""
    _print(text, sys.stdout)


def complain(text: str) -> None:
    """Print a fault or a note to standard error."""
    _print(text, sys.stderr)


def show_json(result: dict[str, Any]) -> None:
    """Print one JSON object on one line."""
    import json

    _print(json.dumps(result, allow_nan=False), sys.stdout)


def _print(text: str, stream: TextIO | None) -> None:
    if stream is None:
        return
    text = spelled(text, keep="\n")
    try:
        text.encode(stream.encoding or "utf-8")
    except UnicodeEncodeError:
        text = text.translate(_PLAIN).encode("ascii", "replace").decode()
    try:
        print(text, file=stream, flush=True)
    except OSError as error:
        # Python would try, and complain, once more when it closes the stream.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        if isinstance(error, BrokenPipeError):
            sys.exit(141)
        if stream is sys.stderr:
            return
        reason = f"can't be written ({error.strerror})"
        raise InputError.one("output", reason, "make room, or write elsewhere") from None
