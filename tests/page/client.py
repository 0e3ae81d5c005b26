"""A browser without a window: requests straight into the application, and forms as they stand."""

from __future__ import annotations

import asyncio
import html
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlencode, urlsplit

from balancer.page.app import House
from balancer.page.guard import Door
from balancer.page.keys import Keys

HOST = "127.0.0.1:8150"
ORIGIN = f"http://{HOST}"
FORM = "application/x-www-form-urlencoded"


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: list[tuple[str, str]]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode("utf-8")

    @property
    def words(self) -> str:
        """All that a person reads of it."""
        bare = re.sub(r"<(style|script|title)\b.*?</\1>|<[^>]*>", " ", self.text, flags=re.DOTALL)
        return " ".join(html.unescape(bare).split())

    def header(self, name: str) -> str:
        return next((value for key, value in self.headers if key == name), "")

    def form(self, do: str) -> dict[str, str]:
        """Give the fields of the form that has a button, or a hidden field, for this."""
        for form in re.findall(r"<form\b.*?</form>", self.text, flags=re.DOTALL):
            if re.search(rf'name="do" value="{do}"', form):
                return {**_fields(form), "do": do}
        raise AssertionError(f"no form for {do}")


def _fields(form: str) -> dict[str, str]:
    fields = {}
    for tag in re.findall(r"<input\b[^>]*>", form):
        said = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        chosen = said.get("type") not in ("checkbox", "radio") or re.search(r"\bchecked\b", tag)
        if chosen and "name" in said:
            fields[said["name"]] = html.unescape(said.get("value", ""))
    return fields


def house_of(folder: Path, lan: bool = False, key: bytes = b"k" * 32) -> House:
    """Serve a folder; the same key makes the same cookies, as after a kill."""
    told: list[str] = []
    keys = Keys(key, str(folder), told.append)
    return House(str(folder), Door(keys, frozenset([HOST]), 8150, lan))


@dataclass
class Client:
    """A browser that keeps its cookies."""

    app: Any
    cookies: dict[str, str] = field(default_factory=dict)
    token: str = ""

    def get(self, path: str, **headers: str) -> Answer:
        return self.ask("GET", path, headers=headers)

    def post(self, path: str, form: dict[str, str], **headers: str) -> Answer:
        kind = {"content-type": FORM, "origin": ORIGIN}
        return self.ask("POST", path, urlencode(form).encode(), {**kind, **headers})

    def follow(self, answer: Answer) -> Answer:
        assert answer.status == 303, answer.words
        return self.get(answer.header("location"))

    def ask(
        self, method: str, path: str, body: bytes = b"", headers: dict[str, str] | None = None
    ) -> Answer:
        """Send a request; a header that is empty is left out."""
        cookie = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        said = {"host": HOST, "cookie": cookie, "content-length": str(len(body))}
        said |= {key.replace("_", "-"): value for key, value in (headers or {}).items()}
        raw = [(key.encode(), value.encode("latin-1")) for key, value in said.items() if value]
        answer = asyncio.run(_asked(self.app, method, path, raw, body))
        for name, value in answer.headers:
            if name == "set-cookie":
                pair = value.partition(";")[0].partition("=")
                self.cookies[pair[0]] = pair[2]
        return answer


async def _asked(
    app: Any, method: str, path: str, headers: list[tuple[bytes, bytes]], body: bytes
) -> Answer:
    parts, sent = urlsplit(path), []
    came = [{"type": "http.request", "body": body, "more_body": False}]
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
        "scheme": "http", "path": unquote(parts.path), "raw_path": parts.path.encode(),
        "query_string": parts.query.encode(), "root_path": "", "headers": headers,
        "client": ("127.0.0.1", 50000), "server": ("127.0.0.1", 8150),
    }  # fmt: skip

    async def receive() -> dict[str, Any]:
        return came.pop(0) if came else {"type": "http.disconnect"}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    await app(scope, receive, send)
    head = sent[0]
    told = [(name.decode(), value.decode()) for name, value in head["headers"]]
    return Answer(head["status"], told, b"".join(one.get("body", b"") for one in sent[1:]))
