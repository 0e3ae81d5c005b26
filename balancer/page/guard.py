"""The door of the page: who is not known, or asks what no page of ours asks, gets no further."""

import asyncio
import hmac
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qsl

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from balancer.page.keys import Keys

MOST_BODY = 1_500_000
"""Bytes of a form: a car file as large as one may be, as browsers write it in forms."""

MOST_FIELDS = 600
SLOW = 10.0
"""How long a form may take to come [s]."""

POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self';"
    " form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "cache-control": "no-store",
    "x-content-type-options": "nosniff",
    # Not no-referrer: forms would then say that they are from nowhere, and be refused.
    "referrer-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}


@dataclass(frozen=True)
class Door:
    """What is let in.

    Attributes:
        hosts: Names and ports that the server is reached by.
        lan: Whether cookies are had by the address with the secret alone.
    """

    keys: Keys
    hosts: frozenset[str]
    port: int
    lan: bool

    @property
    def cookie(self) -> str:
        """Its name: cookies don't tell ports apart."""
        return f"balancer-{self.port}"

    def set_cookie(self, value: str) -> str:
        """Give the header that sets it."""
        return f"{self.cookie}={value}; Path=/; Max-Age=604800; HttpOnly; SameSite=Strict"


class RefusedError(Exception):
    """A request that goes no further.

    Attributes:
        status: HTTP status.
    """

    def __init__(self, status: int) -> None:
        super().__init__(status)
        self.status = status


class Guard:
    """Stands before the pages: host, visitor, origin, size, time and token are looked at here."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self.app, self.door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through with its form read, or refuse it in as few words as there are."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        try:
            new = await self._look(scope, receive)
        except RefusedError as refused:
            await _refuse(send, refused.status)
            return
        await self.app(scope, receive, _dressed(send, new))

    async def _look(self, scope: Scope, receive: Receive) -> str:
        """Look at a request; give the header for a cookie that is to be set, or nothing."""
        headers = Headers(scope=scope)
        if headers.getlist("host") not in [[host] for host in self.door.hosts]:
            raise RefusedError(403)
        cookie, new = _cookie(headers, self.door.cookie), ""
        scope["balancer.visitor"], scope["balancer.form"] = cookie, []
        entering = self.door.lan and scope["path"].startswith("/enter/")
        if not self.door.keys.knows(cookie):
            if entering:
                self._at_the_entrance(scope)
            elif self.door.lan:
                raise RefusedError(403)
            else:
                scope["balancer.visitor"] = made = self.door.keys.cookie()
                new = self.door.set_cookie(made)
        if scope["method"] == "POST":
            _same_origin(headers)
            scope["balancer.form"] = form = await _form(headers, receive)
            if not entering:
                self._token(form, "" if new else cookie)
        elif scope["method"] not in ("GET", "HEAD"):
            raise RefusedError(405)
        return new

    def _at_the_entrance(self, scope: Scope) -> None:
        if not self.door.keys.is_secret(scope["path"].removeprefix("/enter/")):
            raise RefusedError(403)

    def _token(self, form: list[tuple[str, str]], cookie: str) -> None:
        said = dict(form).get("token", "")
        wanted = self.door.keys.token(cookie) if cookie else ""
        if not wanted or not hmac.compare_digest(said.encode(), wanted.encode()):
            raise RefusedError(403)


def _cookie(headers: Headers, name: str) -> str:
    try:
        found = SimpleCookie("; ".join(headers.getlist("cookie"))).get(name)
    except CookieError:
        return ""
    return found.value if found else ""


def _same_origin(headers: Headers) -> None:
    """Refuse forms of other pages; every browser says where a form is from."""
    if headers.getlist("origin") != [f"http://{headers['host']}"]:
        raise RefusedError(403)


async def _form(headers: Headers, receive: Receive) -> list[tuple[str, str]]:
    if headers.get("content-type", "").partition(";")[0].strip() != _FORM:
        raise RefusedError(415)
    length = headers.get("content-length", "0")
    if not length.isascii() or not length.isdigit() or int(length[:12]) > MOST_BODY:
        raise RefusedError(413)
    try:
        body = await asyncio.wait_for(_body(receive), SLOW)
    except TimeoutError:
        raise RefusedError(408) from None
    try:
        return parse_qsl(
            body.decode("ascii"), keep_blank_values=True, max_num_fields=MOST_FIELDS,
            encoding="utf-8", errors="strict",
        )  # fmt: skip
    except ValueError:
        raise RefusedError(400) from None


_FORM = "application/x-www-form-urlencoded"


async def _body(receive: Receive) -> bytes:
    parts, size, more = [], 0, True
    while more:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise RefusedError(400)
        parts.append(message.get("body", b""))
        size, more = size + len(parts[-1]), message.get("more_body", False)
        if size > MOST_BODY:
            raise RefusedError(413)
    return b"".join(parts)


def _dressed(send: Send, new: str) -> Send:
    """Put on every answer what keeps a browser from doing more with it than showing it."""

    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers["connection"] = "close"
            if new:
                headers.append("set-cookie", new)
        await send(message)

    return sent


async def _refuse(send: Send, status: int) -> None:
    text = str(status).encode()
    headers: list[Any] = [
        (b"content-type", b"text/plain"),
        (b"content-length", str(len(text)).encode()),
        (b"cache-control", b"no-store"),
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": text})
