"""`balancer page` on the command line: what it says before anything is served."""

from __future__ import annotations

import importlib.util
import os
import re
import socket
from pathlib import Path
from typing import Any

import pytest
import segno

from tests.cli.conftest import Run
from tests.page.server import serving


@pytest.fixture
def still(monkeypatch: pytest.MonkeyPatch) -> None:
    """A server that is asked to stop as soon as it stands."""
    monkeypatch.setattr("uvicorn.Server.run", lambda server, sockets: None)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("page nowhere", "nowhere: is no folder: name a folder of car files"),
        ("page . --address 127.0.0.1", "--address: given without --lan: add --lan"),
        ("page . --lan --address evil.example", "--address: evil.example is no IP address"),
        ("page . --lan --address 203.0.113.7", "page: 203.0.113.7 port 8150 can't be had"),
        ("page . --port 70000", "--port: 70000 is no port: expected 0 to 65535"),
    ],
)
def test_what_can_not_be(run: Run, line: str, said: str) -> None:
    ran = run(line)
    assert (ran.status, ran.out) == (2, "")
    assert said in ran.err
    assert ran.err.count("\n") == 1


def test_all_that_can_not_be_is_said_at_once(run: Run) -> None:
    ran = run("page nowhere --address x --port -1")
    assert ran.status == 2
    assert ran.err.count("\n") == 4


def test_a_port_that_is_taken(run: Run) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        ran = run(f"page . --port {taken.getsockname()[1]}")
    assert ran.status == 2
    assert "can't be had (Address already in use): give another --port" in ran.err


def test_without_the_extra_it_says_what_to_install(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    there = importlib.util.find_spec

    def find(name: str, *more: Any) -> Any:
        return None if name == "uvicorn" else there(name, *more)

    monkeypatch.setattr(importlib.util, "find_spec", find)
    ran = run("page .")
    way_out = "pip install '.[page]', in the folder it was installed from"
    assert ran == (2, "", f"page: needs what is not installed: {way_out}\n")


@pytest.mark.usefixtures("still")
def test_alone_it_says_where_it_is(run: Run) -> None:
    told = "http://127.0.0.1:8151/ for this machine alone. Ctrl-C stops.\n"
    cars = os.path.realpath(".")
    assert run("page . --port 8151") == (0, f"The cars of {cars} are at {told}", "")


@pytest.mark.usefixtures("still")
def test_the_picture_is_the_address(run: Run) -> None:
    out = run("page . --lan --address 127.0.0.1 --port 8151").out
    address = re.search(r"http://127\.0\.0\.1:8151/enter/[\w-]{22}", out)
    assert address
    halves = {"█": (0, 0), "▀": (0, 1), "▄": (1, 0), " ": (1, 1)}
    drawn = [[halves[cell] for cell in line] for line in out.splitlines() if "█" in line]
    rows = [[pair[half] for pair in line] for line in drawn for half in (0, 1)]
    code = segno.make(address[0], micro=False, error="m")
    wanted = [list(row) for row in code.matrix_iter(border=3)]
    assert rows[: len(wanted)] == wanted
    assert max(map(len, out.splitlines())) <= 80


def test_ctrl_c_stops_it(tmp_path: Path) -> None:
    with serving(tmp_path) as server:
        pass
    assert server.process.returncode == 130
