"""A long log at a terminal comes a screen at a time; a short one, or one in a pipe, at once."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import pexpect
import pytest

from tests.cli.conftest import Run

WEIGH_INS = 30


@pytest.fixture(autouse=True)
def logged(garage: Path) -> None:
    data = {"readings": [[302, 288.5, 231, 244]], "units": "metric", "on_board": ["driver"]}
    lines = [
        {"v": 1, "n": n, "at": f"2026-05-{n:02}T10:00:00+02:00", "kind": "weigh_in", "data": data}
        for n in range(1, WEIGH_INS + 1)
    ]
    text = "".join(f"{json.dumps(line)}\n" for line in lines)
    (garage / "coupe.log.jsonl").write_text(text, encoding="utf-8")


def seen(rows: int) -> list[str]:
    """Give what a terminal of so many rows shows, by a pager that marks each line."""
    child = pexpect.spawn(
        sys.executable,
        ["-m", "balancer", "log", "coupe.toml", "--all"],
        encoding="utf-8",
        dimensions=(rows, 80),
        timeout=20,
        env={**os.environ, "PAGER": "sed s,^,paged:,", "TERM": "xterm"},
    )
    child.expect(pexpect.EOF)
    child.close()
    return [line for line in (child.before or "").splitlines() if "weigh-in  " in line]


def test_longer_than_the_screen_it_is_paged(garage: Path) -> None:
    lines = seen(rows=20)
    assert len(lines) == WEIGH_INS
    assert all(line.startswith("paged:") for line in lines)


def test_what_fits_is_not(garage: Path) -> None:
    lines = seen(rows=WEIGH_INS + 10)
    assert len(lines) == WEIGH_INS
    assert not any(line.startswith("paged:") for line in lines)


def test_in_a_pipe_it_never_is(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PAGER", "sed s,^,paged:,")
    monkeypatch.setenv("LINES", "10")
    out = run("log coupe.toml --all").out
    assert out.count("weigh-in  ") == WEIGH_INS
    assert "paged:" not in out
