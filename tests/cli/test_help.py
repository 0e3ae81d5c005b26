"""Help as a product: it fits, its examples run, and the README has every word of it."""

from __future__ import annotations

import io
import json
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest

from balancer.cli import cli
from balancer.cli.commands import COMMANDS
from balancer.report.guide.pages import TOPICS, page
from tests.cli.conftest import Ran, Run
from tests.conftest import ROOT

GUIDE = "\n".join(map(page, TOPICS))
"""All that is written for those who use it, but for the first page."""


def command(name: str) -> click.Command:
    found = cli.get_command(click.Context(cli), name)
    assert isinstance(found, click.Command)
    return found


def options(name: str) -> list[str]:
    """Long options that the help of a command shows."""
    return [
        opt
        for param in command(name).params
        if isinstance(param, click.Option) and not param.hidden
        for opt in param.opts
        if opt.startswith("--")
    ]


def run_example(line: str, run: Run, monkeypatch: pytest.MonkeyPatch, *more: str) -> Ran:
    """Run a command line as a shell would, with what is piped into it."""
    piped, pipe, rest = line.partition(" | ")
    if pipe:
        monkeypatch.setattr(sys, "stdin", io.StringIO(piped.removeprefix("echo ") + "\n"))
        line = rest
    program, *words = shlex.split(line.partition(" > ")[0])
    assert program == "balancer"
    return run(*words, *more)


def examples(name: str) -> list[str]:
    """Command lines at the end of a command's help."""
    text = (command(name).help or "").replace("\b", "").rstrip()
    title, _, lines = text.rpartition("\n\n")[2].strip().partition("\n")
    assert title in ("Example:", "Examples:"), f"the help of {name} does not end in an example"
    joined = re.sub(r"\s*\\\n\s*", " ", lines)
    found = [line.strip() for line in joined.split("\n")]
    assert found
    return found


@pytest.fixture
def away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in a folder that has the examples and nothing else."""
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", COMMANDS)
def test_help_fits_the_terminal(name: str, run: Run) -> None:
    status, out, err = run(name, "--help")
    assert (status, err) == (0, "")
    assert max(map(len, out.split("\n"))) <= 80
    assert out.startswith(f"Usage: balancer {name} ")
    assert out.split("\n\n")[1].split()[0] == COMMANDS[name].split()[0]


def test_help_of_all_fits_the_terminal(run: Run) -> None:
    status, out, err = run("--help")
    assert (status, err) == (0, "")
    assert max(map(len, out.split("\n"))) <= 80
    assert re.findall(r"^  (\w+)  ", out.partition("Commands:")[2], re.MULTILINE) == list(COMMANDS)


def test_nothing_asked_is_a_question(run: Run) -> None:
    status, out, err = run("")
    assert (status, out) == (2, "")
    assert err == run("--help").out


def test_version(run: Run) -> None:
    assert re.fullmatch(r"balancer, version \d+\.\d+\.\d+\n", run("--version").out)


@pytest.mark.parametrize("name", COMMANDS)
def test_the_examples_of_the_help_run(
    name: str, run: Run, away: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A server that is asked to stop as soon as it stands.
    monkeypatch.setattr("uvicorn.Server.run", lambda server, sockets: None)
    for line in examples(name):
        assert f"balancer {name}" in line
        ran = run_example(line, run, monkeypatch)
        assert ran.status in (0, 1), ran.err
        assert ran.out


@pytest.mark.parametrize("name", [name for name in COMMANDS if name != "page"])
def test_the_first_example_runs_as_a_process(name: str, away: Path) -> None:
    """What start-up spares, the one command that needs it has to be given all the same."""
    python = shlex.quote(sys.executable)
    line = re.sub(r"(^|\| )balancer ", rf"\g<1>{python} -m balancer ", examples(name)[0])
    ran = subprocess.run(line, shell=True, stdin=subprocess.DEVNULL, capture_output=True, text=True)
    assert (ran.returncode in (0, 1), ran.stderr.count("Traceback")) == (True, 0), ran.stderr
    assert ran.stdout or Path(line.partition(" > ")[2]).read_text(encoding="utf-8")


def test_the_commands_of_the_first_page_run(run: Run, away: Path) -> None:
    lines = re.findall(r"^ *balancer (.+)$", cli.help or "", re.MULTILINE)
    assert len(lines) >= 3
    for line in lines:
        ran = run(line)
        # What it says of a file that init wrote is that its numbers are nobody's yet.
        left = "" if line.startswith("init") else ran.err.partition("still as init wrote it")[1]
        assert (ran.status, bool(left)) == (0, bool(ran.err))


def occurs(word: str) -> bool:
    return re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", GUIDE) is not None


@pytest.mark.parametrize("name", COMMANDS)
def test_the_guide_has_the_command(name: str) -> None:
    assert occurs(f"balancer {name}")


@pytest.mark.parametrize("name", COMMANDS)
def test_the_guide_has_every_option(name: str) -> None:
    assert [opt for opt in options(name) if not occurs(opt)] == []


@pytest.mark.parametrize("name", [name for name in COMMANDS if "--json" in options(name)])
def test_the_guide_has_every_key(
    name: str, run: Run, away: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (example, *_) = examples(name)
    lines = run_example(example, run, monkeypatch, "--json").out.splitlines()
    # A session answers with one object a line; the others with one in all.
    assert len(lines) == 1 or name == "session"
    found = {key for line in lines for key in json.loads(line)}
    assert [key for key in found if f"`{key}`" not in GUIDE] == []
