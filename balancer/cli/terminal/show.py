"""Print to whatever the terminal can show."""

import os
import sys
from math import isfinite
from shutil import get_terminal_size
from typing import Any, TextIO

from balancer.car.errors import InputError, spelled
from balancer.report.words.tables import showable

CLOSED_PIPE = 141
"""Exit status where nobody reads on: what a shell gives for SIGPIPE."""


_DECIMALS = 11
"""What is smaller, in any of the units, is a last bit and no number."""


def show(text: str) -> None:
    """Print a result."""
    _print(text, sys.stdout)


def show_long(text: str) -> None:
    """Print a result; at a terminal that it is too long for, a screen at a time."""
    if not somebody_there() or text.count("\n") + 2 <= get_terminal_size().lines:
        return show(text)
    from click import echo_via_pager

    return echo_via_pager(showable(spelled(text, keep="\n"), sys.stdout.encoding))


def print_error(text: str) -> None:
    """Print a fault or a note to standard error."""
    _print(text, sys.stderr)


def ask(text: str) -> None:
    """Print a prompt, after which the line goes on."""
    _print(text, sys.stdout, end="")


def somebody_there() -> bool:
    """Say whether a question would be read and answered: in a pipe nobody does."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def show_json(result: dict[str, Any]) -> None:
    """Print one JSON object on one line, numbers in twelve digits and eleven decimals at most.

    The last bits of a sum depend on the processor; a script that compares lines should not. And a
    difference of 0.1 lb has those of the 1,000 lb that it is taken from.
    """
    import json

    # All other control characters are escaped in JSON.
    line = json.dumps(_plain(result, ""), allow_nan=False).replace("\x7f", "\\u007f")
    _print(line, sys.stdout)


def _plain(value: Any, where: str) -> Any:
    """Round the numbers in what is to be JSON; refuse those that JSON has no word for."""
    if isinstance(value, dict):
        return {key: _plain(one, f"{where}.{key}" if where else key) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one, where) for one in value]
    if not isinstance(value, float):
        return value
    if not isfinite(value):
        what = "can't be worked out from these numbers"
        raise InputError.one(where, what, "check the readings, [scales] and [class]")
    return round(float(f"{value:.12g}"), _DECIMALS) + 0.0


def _print(text: str, stream: TextIO | None, end: str = "\n") -> None:
    if stream is None:
        return
    text = spelled(text, keep="\n")
    text = showable(text, stream.encoding or "utf-8")
    try:
        print(text, end=end, file=stream, flush=True)
    except OSError as error:
        # Python would try, and complain, once more when it closes the stream.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        if isinstance(error, BrokenPipeError):
            sys.exit(CLOSED_PIPE)
        if stream is sys.stderr:
            return
        reason = f"can't be written ({error.strerror})"
        raise InputError.one("output", reason, "make room, or write elsewhere") from None
