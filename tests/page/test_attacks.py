"""Those who should not come in, and what should not come out: each with its answer."""

from __future__ import annotations

import asyncio
import os
import re
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from balancer.page import connections, guard
from balancer.page.app import House
from balancer.page.guard import MOST_BODY
from tests.conftest import ROOT
from tests.page.client import FORM, HOST, ORIGIN, Answer, Client, house_of

PAGE = "/car/coupe/session"
FIRST = {"LF": "302", "RF": "288.5", "LR": "231", "RR": "244"}
PAGES = (
    "/", "/car/coupe", PAGE, "/car/coupe/turned", "/car/coupe/log", "/car/coupe/log/2",
    "/car/coupe/log?all=1", "/car/coupe/trim", "/car/coupe/ballast", "/car/coupe/prep",
    "/car/coupe/parts?variant=aft", "/car/coupe/file", "/car/coupe/sheet",
)  # fmt: skip
MARKUP = '<script>alert(1)</script><img src=x onerror="alert(2)">{{7*7}}'


def weighed(folder: Path) -> Client:
    """A browser before a car that was weighed, with a parts book beside it."""
    shutil.copy(ROOT / "examples" / "parts.toml", folder / "parts.toml")
    client = Client(house_of(folder).app())
    form = {**client.get(PAGE).form("weigh"), **FIRST}
    assert client.post(PAGE, form).status == 303
    return client


def log_of(folder: Path) -> bytes:
    log = folder / "coupe.log.jsonl"
    return log.read_bytes() if log.exists() else b""


def refused(answer: Answer, status: int = 403) -> bool:
    """Whether that is all that is said."""
    names = {name for name, _ in answer.headers}
    said = (answer.status, answer.text)
    bare = {"content-type", "content-length", "cache-control", "connection"}
    return said == (status, str(status)) and names <= bare


@pytest.mark.parametrize("host", ["", "evil.example", f"{HOST}.evil.example", "127.0.0.1:80", "x"])
def test_another_host_gets_nothing(client: Client, folder: Path, host: str) -> None:
    form = {**client.get(PAGE).form("weigh"), **FIRST}
    assert refused(client.get("/", host=host))
    assert refused(client.post(PAGE, form, host=host, origin=f"http://{host}"))
    assert log_of(folder) == b""


@pytest.mark.parametrize(
    "origin", ["", "null", "http://evil.example", f"https://{HOST}", "http://"]
)
def test_a_form_of_another_page_is_not_taken(client: Client, folder: Path, origin: str) -> None:
    form = {**client.get(PAGE).form("weigh"), **FIRST}
    assert refused(client.post(PAGE, form, origin=origin))
    assert log_of(folder) == b""
    assert client.post(PAGE, form).status == 303


def test_a_form_without_its_token_or_with_that_of_another_is_not_taken(
    client: Client, folder: Path
) -> None:
    form = {**client.get(PAGE).form("weigh"), **FIRST}
    other = Client(client.app)
    stranger = other.get(PAGE).form("weigh")["token"]
    assert stranger != form["token"]
    for token in ("", "x", stranger, form["token"][:-1] + "é"):
        assert refused(client.post(PAGE, {**form, "token": token}))
    assert refused(Client(client.app).post(PAGE, form))
    assert log_of(folder) == b""


@pytest.mark.parametrize("path", [*PAGES, "/static/page.css", "/nothing", "/car/none", "/enter/x"])
def test_a_stranger_on_the_network_learns_nothing(folder: Path, path: str) -> None:
    weighed(folder)
    house = house_of(folder, lan=True)
    for method in ("GET", "HEAD", "POST", "PUT", "OPTIONS"):
        assert refused(Client(house.app()).ask(method, path))
    forged = Client(house.app(), {"balancer-8150": "name.seal"})
    assert refused(forged.get(path))
    elsewhere = house_of(folder.parent, lan=True).door.keys.cookie()
    assert refused(Client(house.app(), {"balancer-8150": elsewhere}).get(path))


def test_the_address_lets_one_in_once(folder: Path) -> None:
    house = house_of(folder, lan=True)
    app, secret = house.app(), house.door.keys.secret
    phone, other = Client(app), Client(app)
    # A scanner that looks at an address does not spend it.
    assert phone.get(f"/enter/{secret}").status == 200
    assert refused(phone.post(f"/enter/{secret}", {}, origin="http://evil.example"))
    entered = phone.post(f"/enter/{secret}", {})
    cookie = entered.header("set-cookie")
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert "Heron Lane coupe" in phone.follow(entered).words
    assert refused(other.post(f"/enter/{secret}", {}))
    assert refused(other.get("/"))
    assert house.door.keys.secret != secret
    assert other.post(f"/enter/{house.door.keys.secret}", {}).status == 303
    # A server that was killed and started still knows the phone.
    again = Client(house_of(folder, lan=True).app(), phone.cookies)
    assert again.get("/").status == 200


@pytest.mark.parametrize(
    "name",
    [
        "..", ".", "..%2Fsecret", "%2e%2e%2fsecret", "..%5Csecret", "%2Fetc%2Fpasswd", "secret",
        "coupe.toml", "coupe%00", "coupe%2F", "COUPE", "coupe%20", "%63oupe%2F..%2Fcoupe", "*",
        "coupe.log", "~", "a" * 5000,
    ],
)  # fmt: skip
def test_only_cars_of_the_list_can_be_had(tmp_path: Path, name: str) -> None:
    inside = tmp_path / "cars"
    inside.mkdir()
    shutil.copy(ROOT / "examples" / "coupe.toml", inside / "coupe.toml")
    shutil.copy(ROOT / "examples" / "coupe.toml", tmp_path / "secret.toml")
    client = Client(house_of(inside).app())
    form = client.get("/car/coupe/file").form("save")
    before = sorted(tmp_path.rglob("*"))
    for page in ("", "/session", "/file", "/sheet", "/log", "/prep"):
        answer = client.get(f"/car/{name}{page}")
        assert answer.status == 404
        assert "wheelbase" not in answer.text
    assert client.post(f"/car/{name}/file", {**form, "text": "x = 1"}).status == 404
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("name", ["..%2Fapp.py", "../app.py", "%2e%2e/guard.py", "page.py", ""])
def test_only_two_files_are_handed_out(client: Client, name: str) -> None:
    assert client.get("/static/page.css").status == 200
    assert client.get(f"/static/{name}").status == 404


def test_what_is_too_much_is_not_read(client: Client, folder: Path) -> None:
    form = client.get(PAGE).form("weigh")
    ten_megabytes = {**form, "text": "x" * 10_000_000}
    assert refused(client.post(PAGE, ten_megabytes), 413)
    # Nor where nobody says how much it is.
    assert refused(client.post(PAGE, ten_megabytes, content_length=""), 413)
    assert refused(client.post(PAGE, form, content_length="-1"), 413)
    assert refused(client.post(PAGE, form, content_length=str(MOST_BODY + 1)), 413)
    many = {**form, **{f"field-{number}": "" for number in range(1000)}}
    assert refused(client.post(PAGE, many), 400)
    assert refused(client.post(PAGE, form, content_type="application/json"), 415)
    headers = {"content-type": FORM, "origin": ORIGIN}
    for body in (b"token=%ff%fe", b"\xff\xfe", b"token=\xc3\xa9"):
        assert refused(client.ask("POST", PAGE, body, headers), 400)
    assert refused(client.ask("PUT", PAGE), 405)
    assert log_of(folder) == b""


def test_names_full_of_markup_stay_text(tmp_path: Path) -> None:
    text = (ROOT / "examples" / "coupe.toml").read_text(encoding="utf-8")
    named = text.replace("Heron Lane coupe", MARKUP.replace('"', '\\"'))
    named = named.replace('name = "passenger floor"', f"name = '{MARKUP}'")
    (tmp_path / "coupe.toml").write_text(named, encoding="utf-8")
    strange = tmp_path / f"{MARKUP.replace('/', '')} ?&#.toml"
    strange.write_text(named, encoding="utf-8")
    client = weighed(tmp_path)
    note = {**client.get(PAGE).form("note"), "text": MARKUP}
    assert client.post(PAGE, note).status == 303
    for path in PAGES:
        answer = client.get(path)
        assert answer.status == 200, path
        assert "<script>alert" not in answer.text
        assert "<img src=x" not in answer.text
        assert "49" not in answer.words.partition("alert(2)")[2][:12]
    assert MARKUP in client.get("/car/coupe/log").words
    found = re.findall(r'href="(/car/[^"]*)"', client.get("/").text)
    assert len(found) == 2
    for address in found:
        assert client.get(address.replace("&amp;", "&")).status == 200


@pytest.mark.parametrize("path", PAGES)
def test_a_page_asks_for_nothing_from_elsewhere_and_runs_nothing_of_its_own(
    folder: Path, path: str
) -> None:
    answer = weighed(folder).get(path)
    assert answer.status == 200, answer.words
    policy = answer.header("content-security-policy")
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert answer.header("cache-control") == "no-store"
    assert answer.header("x-content-type-options") == "nosniff"
    assert answer.header("referrer-policy") == "same-origin"
    assert answer.header("server") == ""
    bare = answer.text.replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?://|\bstyle=|\bon\w+=|javascript:|<iframe|<object", bare)
    assert re.findall(r"<script\b[^>]*>", bare) in ([], ['<script src="/static/page.js" defer>'])
    assert ("<style>" in bare) == path.endswith("/sheet")


def test_whatever_is_in_the_folder(folder: Path) -> None:
    """Files by any name, with anything in them, keep no other car from being shown."""
    text = (folder / "coupe.toml").read_bytes()
    Path(os.fsdecode(os.fsencode(folder) + b"/b\xff.toml")).write_bytes(text)
    Path(os.fsdecode(os.fsencode(folder) + b"/c\xfe.toml")).write_bytes(b"wheelbase = 1\n")
    (folder / "bad.toml").write_bytes(b"wheelbase\xff\xfe = 3\n")
    (folder / "nul.toml").write_bytes(b"wheelbase = 3\x00\n")
    (folder / "dir.toml").mkdir()
    (folder / "passwd.toml").symlink_to("/etc/passwd")
    client = Client(house_of(folder).app())
    shown = client.get("/")
    assert shown.status == 200
    assert "b\\udcff.toml: left out, its name is not UTF-8" in shown.words
    assert "passwd" not in shown.words
    for name in ("bad", "nul"):
        for page in ("", "/session", "/log", "/prep", "/sheet", "/parts"):
            assert client.get(f"/car/{name}{page}").status == 422
        assert client.get(f"/car/{name}/file").status == 200
    assert client.get(PAGE).status == 200


def test_a_web_socket_is_closed(client: Client) -> None:
    sent: list[Any] = []

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {"type": "websocket", "path": "/", "headers": []}
    asyncio.run(client.app(scope, None, send))
    assert sent == [{"type": "websocket.close", "code": 1008}]


@contextmanager
def listening(house: House) -> Iterator[int]:
    """Serve as the command does, in a thread."""
    listener = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config(
        house.app(), http=connections.BoundedProtocol, ws="none", lifespan="off",
        log_level="critical", server_header=False, date_header=False,
    )  # fmt: skip
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        server.should_exit = True
        thread.join()
        listener.close()


def talk(port: int, *parts: bytes, wait: float = 0.0) -> bytes:
    """Send parts with a wait between them, and read all that comes."""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as line:
        for part in parts:
            line.sendall(part)
            time.sleep(wait)
        return read_all(line)


def read_all(line: socket.socket) -> bytes:
    got = b""
    try:
        while data := line.recv(1 << 16):
            got += data
    except ConnectionResetError:
        pass
    return got


def head(method: str, path: str, *more: str) -> bytes:
    return "\r\n".join([f"{method} {path} HTTP/1.1", f"Host: {HOST}", *more, "", ""]).encode()


def test_a_body_that_does_not_come_is_not_waited_for(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(guard, "SLOW", 0.4)
    kind = (f"Content-Type: {FORM}", f"Origin: {ORIGIN}", "Content-Length: 1000")
    with listening(house_of(folder)) as port:
        start = time.monotonic()
        answer = talk(port, head("POST", PAGE, *kind), b"token=", b"x")
        assert answer.startswith(b"HTTP/1.1 408")
        assert time.monotonic() - start < 10


def test_a_head_that_does_not_come_is_not_waited_for(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "HEAD_TIME", 0.4)
    with listening(house_of(folder)) as port:
        assert talk(port) == b""
        assert talk(port, b"GET / HT") == b""
        assert talk(port, head("GET", "/")).startswith(b"HTTP/1.1 200")


def test_200_connections_do_not_keep_a_phone_out(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "HEAD_TIME", 2.0)
    with listening(house_of(folder)) as port, ExitStack() as stack:
        lines = [
            stack.enter_context(socket.create_connection(("127.0.0.1", port), timeout=20))
            for _ in range(200)
        ]
        answers = [read_all(line) for line in lines]
        full = [answer for answer in answers if answer.startswith(b"HTTP/1.1 503")]
        assert len(full) == 200 - connections.MOST_EACH
        # Those that only sat there are gone, and there is room again.
        assert talk(port, head("GET", "/")).startswith(b"HTTP/1.1 200")
