"""What takes long says so, at a terminal, and can be stopped."""

from __future__ import annotations

import io
import json
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from balancer.cli.terminal import waiting as module
from balancer.cli.terminal.waiting import waiting
from tests.cli.conftest import Run
from tests.conftest import COUPE


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_terminal_is_told_that_it_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = Terminal()
    monkeypatch.setattr(sys, "stderr", shown)
    monkeypatch.setattr(module, "_PATIENCE", 0.05)
    monkeypatch.setattr(module, "_TICK", 0.05)
    with waiting("looking"):
        time.sleep(0.5)
    first, *_, last, erased, nothing = shown.getvalue().split("\r")[1:]
    assert first.startswith("looking [.#")
    assert last.endswith(" s, Ctrl-C stops")
    assert len(erased) == len(last)
    assert not erased.strip()
    assert nothing == ""


@pytest.mark.parametrize("stream", [io.StringIO, Terminal])
def test_what_is_soon_done_says_nothing(
    stream: type[io.StringIO], monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = stream()
    monkeypatch.setattr(sys, "stderr", shown)
    with waiting("looking"):
        time.sleep(0.1)
    assert shown.getvalue() == ""


def test_a_pipe_is_told_once_in_a_line(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = io.StringIO()
    monkeypatch.setattr(sys, "stderr", shown)
    monkeypatch.setattr(module, "_SILENCE", 0.05)
    with waiting("looking"):
        time.sleep(0.5)
    assert shown.getvalue() == "note: still looking, Ctrl-C stops\n"


@pytest.mark.parametrize(
    ("command", "doing"),
    [
        ("weigh coupe.toml 302 288.5 231 244 --samples 400", "drawing samples"),
        ("stint coupe.toml 302 288.5 231 244 --weighed-with driver", "following the stint"),
        (
            "parts coupe.toml 302 288.5 231 244 --book parts.toml --variant aft",
            "putting parts on and off",
        ),
        ("sheet coupe.toml 302 288.5 231 244 --output a.html", "drawing the page"),
        ("prep coupe.toml 302 288.5 231 244", "looking for ballast and turns"),
        ("ballast coupe.toml 302 288.5 231 244", "looking for the best ballast"),
        ("log coupe.toml", "working out the weigh-ins"),
        ("log coupe.toml --csv a.csv", "working out the weigh-ins"),
        ("log coupe.toml --svg a.svg", "drawing the log"),
        ("session coupe.toml", "working out the turns"),
    ],
)
def test_whatever_may_take_long_can_say_so(
    command: str,
    doing: str,
    run: Run,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name in ("coupe.toml", "parts.toml"):
        shutil.copy(COUPE.parent / name, tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "stdin", io.StringIO("302 288.5 231 244\n"))
    if command.startswith("log"):
        run("session coupe.toml")
    monkeypatch.setattr(module, "_SILENCE", 0.0)
    ran = run(f"{command} --json")
    assert f"note: still {doing}, Ctrl-C stops" in ran.err.splitlines()
    # Nothing of it gets among what a program reads.
    assert json.loads(ran.out.splitlines()[0])


MARKET_SPLIT = """
import runpy, sys
import numpy as np
from balancer.planning import solver
rows = np.random.default_rng(4).integers(0, 100, (5, 40))
half = solver.LinearConstraint(rows, rows.sum(axis=1) // 2, rows.sum(axis=1) // 2)
solve = solver.solve
solver.solve = lambda *asked: solve(np.zeros(40), np.ones(40), solver.Bounds(0, 1), [half])
sys.argv = ["balancer", "ballast", "examples/coupe.toml", "302", "288.5", "231", "244"]
runpy.run_module("balancer", run_name="__main__")
"""
"""Has HiGHS work for hours, however fast the machine (Cornuéjols and Dawande, A Class of Hard Small
0-1 Programs, INFORMS J. Computing 11 (1999); from memory)."""


def test_a_solver_is_stopped_like_anything_else() -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", MARKET_SPLIT],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # A shell that runs this in the background would have it ignored.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    assert process.stderr
    # By then it is at work: no clock of ours says how fast a machine must be.
    waited = process.stderr.readline()
    assert waited == "note: still looking for the best ballast, Ctrl-C stops\n"
    start = time.monotonic()
    process.send_signal(signal.SIGINT)
    out, rest = process.communicate(timeout=60)
    assert (process.returncode, out, rest.strip()) == (130, "", "stopped")
    assert time.monotonic() - start < 5
