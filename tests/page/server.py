"""The real server in a process of its own, as it is started from a terminal."""

from __future__ import annotations

import os
import re
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple


class Server(NamedTuple):
    """A server that answers.

    Attributes:
        told: What it printed before its first answer.
    """

    process: subprocess.Popen[bytes]
    address: str
    told: str

    @property
    def port(self) -> int:
        return int(self.address.rpartition(":")[2])

    def kill(self) -> None:
        """End it the way a power cut does."""
        self.process.kill()
        self.process.wait()


@contextmanager
def serving(folder: Path, *options: str, port: int = 0) -> Iterator[Server]:
    """Serve a folder on any free port, or on the one that it had before it was killed."""
    state = {"XDG_STATE_HOME": str(folder / ".state"), "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        [sys.executable, "-m", "balancer", "page", str(folder), "--port", str(port), *options],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        env={**os.environ, **state},
        # A shell that runs the tests in the background would have it ignored.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    try:
        told = _until_told(process)
        found = re.search(r"http://[\d.]+:\d+", told)
        assert found, told
        yield Server(process, found[0], told)
    finally:
        process.send_signal(signal.SIGINT)
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        assert process.stdout
        process.stdout.close()


def _until_told(process: subprocess.Popen[bytes]) -> str:
    told, end = b"", time.monotonic() + 60
    assert process.stdout
    while b"Ctrl-C stops" not in told:
        assert process.poll() is None, told.decode()
        assert time.monotonic() < end, told.decode()
        if select.select([process.stdout], [], [], 0.2)[0]:
            told += os.read(process.stdout.fileno(), 1 << 16)
    return told.decode()
