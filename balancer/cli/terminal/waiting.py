"""What takes long says so: a bar that moves at a terminal, one line elsewhere."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event, Thread
from time import monotonic

from balancer.cli.terminal.show import print_error

_PATIENCE, _TICK = 1.5, 0.25
"""Seconds after which the bar is shown, and between two of its strokes."""

_SILENCE = 2.0
"""Seconds after which the line is printed where no bar can move."""

_WIDTH = 20


@contextmanager
def waiting(what: str) -> Iterator[None]:
    """Show a bar that moves and the seconds gone by, once it takes long; a line in a pipe."""
    if sys.stderr is None:
        yield
        return
    done = Event()
    show = _strokes if sys.stderr.isatty() else _line
    shown = Thread(target=show, args=(what, done), daemon=True)
    shown.start()
    try:
        yield
    finally:
        done.set()
        shown.join()


def _line(what: str, done: Event) -> None:
    if not done.wait(_SILENCE):
        print_error(f"note: still {what}, Ctrl-C stops")


def _strokes(what: str, done: Event) -> None:
    start, count, width = monotonic(), 0, 0
    wait = _PATIENCE
    while not done.wait(wait):
        wait, count = _TICK, count + 1
        line = f"{what} [{_bar(count)}] {monotonic() - start:.0f} s, Ctrl-C stops"
        width = max(width, len(line))
        print(f"\r{line}", end="", file=sys.stderr, flush=True)
    if width:
        print("\r" + " " * width + "\r", end="", file=sys.stderr, flush=True)


def _bar(count: int) -> str:
    """Draw a stroke that goes to and fro: how far there is to go a proof does not know.

    >>> _bar(1), _bar(39)
    ('.#..................', '.#..................')
    """
    turn = count % (2 * _WIDTH)
    place = min(turn, 2 * _WIDTH - turn, _WIDTH - 1)
    return "." * place + "#" + "." * (_WIDTH - 1 - place)
