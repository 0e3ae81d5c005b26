"""The server: on this machine alone, or on the network for those who have its address."""

import ipaddress
import os
import socket
from collections.abc import Callable
from typing import NamedTuple

import segno
import uvicorn

from balancer.car.errors import InputError
from balancer.page.app import House
from balancer.page.connections import BoundedProtocol
from balancer.page.guard import Door
from balancer.page.keys import Keys, kept_key

Show = Callable[[str], None]


class Where(NamedTuple):
    """Where the server listens."""

    address: str
    port: int
    lan: bool


def serve(folder: str, where: Where, show: Show) -> None:
    """Serve the cars of a folder until Ctrl-C.

    Args:
        show: Prints to the terminal.

    Raises:
        InputError: When the address or the port can't be had.
    """
    with _listening(where) as listener:
        port = listener.getsockname()[1]
        base = f"http://{_spelled(where.address)}:{port}"
        keys = Keys(kept_key(), folder, lambda secret: show(_invitation(base, secret)))
        house = House(folder, Door(keys, _hosts(where.address, port), port, where.lan))
        if where.lan:
            keys.announce()
        else:
            cars = f"The cars of {os.path.realpath(folder)} are at {base}/"
            show(f"{cars} for this machine alone. Ctrl-C stops.")
        server = uvicorn.Server(
            uvicorn.Config(
                house.app(),
                http=BoundedProtocol,
                ws="none",
                lifespan="off",
                access_log=False,
                log_level="error",
                server_header=False,
                date_header=False,
                proxy_headers=False,
                timeout_keep_alive=5,
                timeout_graceful_shutdown=5,
            )
        )
        server.run(sockets=[listener])


def _listening(where: Where) -> socket.socket:
    family = socket.AF_INET6 if ":" in where.address else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((where.address, where.port))
        # Whoever opens the address as soon as it is printed waits, and is not turned away.
        listener.listen(128)
    except OSError as error:
        listener.close()
        what = f"{where.address} port {where.port} can't be had ({error.strerror})"
        raise InputError.one("page", what, "give another --port, or --address") from None
    return listener


def _hosts(address: str, port: int) -> frozenset[str]:
    names = [_spelled(address), *(("localhost",) if _own(address) else ())]
    bare = names if port == 80 else []
    return frozenset([*(f"{name}:{port}" for name in names), *bare])


def _own(address: str) -> bool:
    return ipaddress.ip_address(address).is_loopback


def _spelled(address: str) -> str:
    return f"[{address}]" if ":" in address else address


def _invitation(base: str, secret: str) -> str:
    """Give the address that lets one in, once, as a picture for a phone and as text."""
    address = f"{base}/enter/{secret}"
    return f"{_picture(address)}\nFor one phone, once: {address}\nCtrl-C stops."


def _picture(address: str) -> str:
    """Draw a QR code of half blocks, dark on light, with the quiet zone that readers need."""
    rows = [list(row) for row in segno.make(address, micro=False, error="m").matrix_iter(border=3)]
    if len(rows) % 2:
        rows.append([0] * len(rows[0]))
    pairs = zip(rows[::2], rows[1::2], strict=True)
    return "\n".join(
        "".join(_HALVES[up, low] for up, low in zip(*pair, strict=True)) for pair in pairs
    )


_HALVES = {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}
"""Light is drawn, since terminals are dark; on a light one the picture is inverted, which phones
read too."""


def lan_address() -> str:
    """Find the address of this machine on its network; nothing is sent for it.

    Raises:
        InputError: When it is on none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address for documentation (RFC 5737): a datagram socket only looks up the way.
            probe.connect(("192.0.2.1", 9))
            found = str(probe.getsockname()[0])
        except OSError:
            found = "0.0.0.0"
    if found == "0.0.0.0" or _own(found):
        raise InputError.one("--lan", "this machine is on no network", "give --address IP")
    return found
