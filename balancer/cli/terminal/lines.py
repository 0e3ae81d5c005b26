"""Lines from standard input, and Ctrl-C heard while waiting for them."""

import codecs
import io
import os
import select
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from balancer.car.errors import InputError
from balancer.cli.terminal.stopping import was_stopped

_AT_ONCE = 1 << 16


def lines(stream: TextIO, ask: Callable[[], None]) -> Iterator[str]:
    """Give line after line, asking before each.

    Args:
        stream: Nothing of it was read yet.
        ask: Shows that a line is waited for.

    Yields:
        A byte that is no letter is replaced: it is no reason to lose a session.

    Examples:
        >>> list(lines(io.StringIO("302 288.5 231 244\\ndone"), lambda: None))
        ['302 288.5 231 244\\n', 'done']
    """
    descriptor = _descriptor(stream)
    if descriptor is None:
        yield from _asked(iter(stream.readline, ""), ask)
        return
    decoder = codecs.getincrementaldecoder(stream.encoding or "utf-8")(errors="replace")
    with _wakened() as woken:
        yield from _asked(_split(descriptor, woken, decoder), ask)


def _asked(found: Iterator[str], ask: Callable[[], None]) -> Iterator[str]:
    ask()
    for line in found:
        yield line
        ask()


def _descriptor(stream: TextIO) -> int | None:
    """Give what can be waited for; None where there is no such thing, or it can't be waited for."""
    if os.name != "posix" or threading.current_thread() is not threading.main_thread():
        return None
    try:
        return stream.fileno()
    except (OSError, ValueError):
        return None


def _split(descriptor: int, woken: int, decoder: codecs.IncrementalDecoder) -> Iterator[str]:
    newlines = io.IncrementalNewlineDecoder(decoder, translate=True)
    rest = ""
    while data := _read(descriptor, woken):
        *whole, rest = (rest + newlines.decode(data)).split("\n")
        yield from (f"{line}\n" for line in whole)
    rest += newlines.decode(b"", final=True)
    if rest:
        yield rest


def _read(descriptor: int, woken: int) -> bytes:
    """Wait for bytes, or for Ctrl-C.

    A signal that comes after Python has looked for one and before the system waits is only noted:
    a bare read would go on waiting until somebody types. What `select` waits for is there already.
    """
    while True:
        # Raised where nothing may be raised, in the middle of an import, it was only noted.
        if was_stopped():
            raise KeyboardInterrupt
        ready, _, _ = select.select([descriptor, woken], [], [])
        if woken in ready and signal.SIGINT in os.read(woken, 256):
            raise KeyboardInterrupt
        if descriptor in ready:
            return _taken(descriptor)


def _taken(descriptor: int) -> bytes:
    try:
        return os.read(descriptor, _AT_ONCE)
    except OSError as error:
        # A terminal that has gone is not somebody who has finished.
        reason = f"can't be read ({error.strerror})"
        raise InputError.one("input", reason, "what was answered is saved") from None


@contextmanager
def _wakened() -> Iterator[int]:
    """Give a descriptor that has a byte for every signal that came, however it came."""
    reader, writer = os.pipe()
    os.set_blocking(writer, False)
    before = signal.set_wakeup_fd(writer, warn_on_full_buffer=False)
    try:
        yield reader
    finally:
        signal.set_wakeup_fd(before, warn_on_full_buffer=False)
        os.close(reader)
        os.close(writer)
