"""What a shell offers for the word that is being typed, as each shell asks for it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import ROOT

SHELLS = ("bash", "zsh", "fish")


def offered(words: str, folder: Path, shell: str = "bash") -> list[str]:
    """Give what is offered for the last of some words."""
    asked = {
        "_BALANCER_COMPLETE": f"{shell}_complete",
        "COMP_WORDS": words,
        "COMP_CWORD": words.split(" ")[-1] if shell == "fish" else str(words.count(" ")),
    }
    ran = subprocess.run(
        [sys.executable, "-m", "balancer"],
        cwd=folder, capture_output=True, encoding="utf-8", check=False,
        env={**os.environ, **asked, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert ran.stderr == ""
    return ran.stdout.split()


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("balancer wei", ["plain,weigh"]),
        ("balancer weigh fueled.toml --weighed-with dr", ["plain,driver"]),
        ("balancer weigh fueled.toml --weighed-with driver,fu", ["plain,driver,fuel="]),
        ("balancer trim fueled.toml 302 288.5 231 244 --to no", ["plain,none"]),
        ("balancer parts coupe.toml --book parts.toml --variant a", ["plain,alloy", "plain,aft"]),
        ("balancer parts coupe.toml --book parts.toml --off b", ["plain,battery"]),
        ("balancer perches coupe.toml --keep L", ["plain,LF", "plain,LR"]),
        ("balancer perches coupe.toml --raise f", ["plain,front="]),
        ("balancer weigh 652 604 473 492 --units u", ["plain,us"]),
        ("balancer weigh fu", ["file,fu"]),
        ("balancer weigh nowhere.toml --weighed-with d", []),
        ("balancer guide se", ["plain,sessions"]),
    ],
)
def test_what_is_offered(garage: Path, words: str, expected: list[str]) -> None:
    assert offered(words, garage) == expected


@pytest.mark.parametrize("shell", SHELLS)
def test_every_shell_has_its_one_line(shell: str, tmp_path: Path) -> None:
    asked = {**os.environ, "_BALANCER_COMPLETE": f"{shell}_source", "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "balancer"]
    ran = subprocess.run(command, capture_output=True, encoding="utf-8", env=asked, check=False)
    assert "_BALANCER_COMPLETE" in ran.stdout
    found = shutil.which(shell)
    if found and shell != "bash":
        script = tmp_path / "complete"
        script.write_text(ran.stdout, encoding="utf-8")
        assert subprocess.run([found, "-n", str(script)], check=False).returncode == 0


def test_the_line_of_the_guide_works_in_bash(garage: Path) -> None:
    guide = (ROOT / "balancer" / "report" / "guide" / "commands.md").read_text(encoding="utf-8")
    line = 'eval "$(_BALANCER_COMPLETE=bash_source balancer)"'
    assert line in guide
    tool = garage / "bin" / "balancer"
    tool.parent.mkdir()
    tool.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m balancer "$@"\n', encoding="utf-8")
    tool.chmod(0o755)
    script = f"""{line}
COMP_WORDS=(balancer perches coupe.toml --keep L); COMP_CWORD=4
_balancer_completion balancer; echo "${{COMPREPLY[@]}}" """
    path = f"{tool.parent}{os.pathsep}{os.environ['PATH']}"
    ran = subprocess.run(
        ["bash", "-c", script], cwd=garage, capture_output=True, encoding="utf-8", check=False,
        env={**os.environ, "PATH": path, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert (ran.stdout.split(), ran.stderr) == (["LF", "LR"], "")
