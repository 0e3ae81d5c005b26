"""What takes long says so, at a terminal, and can be stopped."""

from __future__ import annotations

import io
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from balancer.cli import waiting as module
from balancer.cli.waiting import waiting
from tests.conftest import COUPE

PUZZLE = 50, 40
"""Places and kinds of pieces that keep HiGHS busy for minutes."""


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
def test_what_is_soon_done_or_goes_into_a_pipe_says_nothing(
    stream: type[io.StringIO], monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = stream()
    monkeypatch.setattr(sys, "stderr", shown)
    if stream is io.StringIO:
        monkeypatch.setattr(module, "_PATIENCE", 0.01)
    with waiting("looking"):
        time.sleep(0.1)
    assert shown.getvalue() == ""


def puzzle(folder: Path) -> Path:
    """Write a car file whose pieces can be put in far too many ways."""
    rng, (places, kinds) = random.Random(4), PUZZLE
    text = COUPE.read_text(encoding="utf-8").partition("[[place]]")[0]
    for number in range(places):
        where = f"aft = {rng.randint(-300, 2600)}\nleft = {rng.randint(-600, 600)}"
        room = f"up = {rng.randint(100, 500)}\nmost = {rng.randint(10, 50)}"
        text += f'\n[[place]]\nname = "place {number}"\n{where}\n{room}\n'
    for mass in rng.sample(range(5, 200), kinds):
        text += f"\n[[piece]]\nmass = {mass / 10}\nstock = {rng.randint(3, 9)}\n"
    path = folder / "puzzle.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_solver_is_stopped_like_anything_else(tmp_path: Path) -> None:
    asked = ["ballast", str(puzzle(tmp_path)), "262", "248.5", "231", "244", "--minimum", "1050"]
    process = subprocess.Popen(
        [sys.executable, "-m", "balancer", *asked, "--front", "50.03"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # A shell that runs this in the background would have it ignored.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    time.sleep(4)
    assert process.poll() is None
    start = time.monotonic()
    process.send_signal(signal.SIGINT)
    out, told = process.communicate(timeout=60)
    assert (process.returncode, out, told.strip()) == (130, "", "stopped")
    assert time.monotonic() - start < 5
