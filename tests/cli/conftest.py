"""What the command line's tests share: run it in this process, see all that comes out."""

from __future__ import annotations

import json
import shlex
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from threading import TIMEOUT_MAX
from typing import Any, NamedTuple

import pytest

from balancer.cli import main
from balancer.cli.terminal import waiting

GARAGE = Path(__file__).parent / "garage"
"""Cars and readings that the tests here edit; the examples may change without breaking a line."""


class Ran(NamedTuple):
    """How a command ended and what it printed."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> dict[str, Any]:
        """What was printed with --json: one object on one line."""
        assert self.out.count("\n") == 1
        found = json.loads(self.out)
        assert isinstance(found, dict)
        return found


Run = Callable[..., Ran]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command line, given as one string or as words."""

    # A fault in the program itself is to be told with its traceback, and is never expected.
    monkeypatch.setenv("BALANCER_TRACEBACK", "1")
    # How long a command takes says how busy the machine is.
    monkeypatch.setattr(waiting, "_SILENCE", TIMEOUT_MAX)

    def run(*words: str) -> Ran:
        args = shlex.split(words[0]) if len(words) == 1 else list(words)
        monkeypatch.setattr(sys, "argv", ["balancer", *args])
        with pytest.raises(SystemExit) as ended:
            main()
        assert isinstance(ended.value.code, int)
        return Ran(ended.value.code, *capsys.readouterr())

    return run


def write_upright(name: str) -> str:
    """Write a car again as one that is not known to lean, which paper can follow; give its file."""
    text = Path(name).read_text(encoding="utf-8")
    assert "\ncg_up" in text
    Path(f"upright_{name}").write_text(text.replace("\ncg_up", "\n# cg_up"), encoding="utf-8")
    return f"upright_{name}"


@pytest.fixture
def garage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in a folder of its own with coupe.toml, roadster.toml, weigh_in.toml and notes/."""
    folder = tmp_path / "garage"
    shutil.copytree(GARAGE, folder)
    (folder / "notes").mkdir()
    monkeypatch.chdir(folder)
    return folder
