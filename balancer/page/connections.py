"""Connections with an end: so many at once, so long to say what they want, so long in all."""

import asyncio
from collections import Counter
from typing import Any, cast

from uvicorn.protocols.http.h11_impl import H11Protocol

MOST, MOST_EACH = 96, 32
"""Connections in all, and from one address."""

HEAD_TIME, WHOLE_TIME = 10.0, 180.0
"""From the first byte to the end of what is asked for, and to the end of the answer [s]."""

_FULL = b"HTTP/1.1 503 Service Unavailable\r\ncontent-length: 3\r\nconnection: close\r\n\r\n503"
_END = b"\r\n\r\n"

_open: Counter[str] = Counter()


class BoundedProtocol(H11Protocol):
    """HTTP/1.1 as uvicorn speaks it, for so many and for so long."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection, or say that there are too many and close it."""
        peer = transport.get_extra_info("peername")
        self._peer = str(peer[0]) if peer else ""
        self._full = _open.total() >= MOST or _open[self._peer] >= MOST_EACH
        self._tail: bytes | None = b""
        _open[self._peer] += 1
        if self._full:
            transport.write(_FULL)
            transport.close()
            return
        super().connection_made(transport)
        self._ends_in(HEAD_TIME)

    def data_received(self, data: bytes) -> None:
        """Take what comes; once all that is asked for is said there is more time."""
        if self._full:
            return
        if self._tail is not None:
            seen = self._tail + data
            self._tail = None if _END in seen else seen[-len(_END) :]
            if self._tail is None:
                self._ends.cancel()
                self._ends_in(WHOLE_TIME)
        super().data_received(data)

    def connection_lost(self, exc: Exception | None) -> None:
        """Make room for another."""
        _open[self._peer] -= 1
        if not _open[self._peer]:
            del _open[self._peer]
        if not self._full:
            self._ends.cancel()
            super().connection_lost(exc)

    def _ends_in(self, seconds: float) -> None:
        end = cast(Any, self.transport).abort
        self._ends = asyncio.get_running_loop().call_later(seconds, end)
