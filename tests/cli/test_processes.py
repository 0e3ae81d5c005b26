"""The command line as a process: its standard streams, its statuses, and Ctrl-C at any moment."""

from __future__ import annotations

import importlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from balancer.cli import cli
from balancer.cli.terminal.lines import lines
from balancer.cli.terminal.stopping import Stop, quiet
from balancer.log.reader import read_log
from tests.cli.conftest import Run
from tests.cli.test_session import HATCH

LOADS = ("302", "288.5", "231", "244")
WEIGH = ("weigh", "hatch.toml", *LOADS)
PROGRAM = [sys.executable, "-m", "balancer"]

DEAF = """
import signal, threading
threading.Thread(target=threading.Event().wait, daemon=True).start()
signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
from balancer.__main__ import main
main()
"""
"""A program whose read is not broken off by Ctrl-C, which another thread takes: Python knows of the
signal while the system waits, as it does where one comes just before the system waits."""


EARLY = """
import _signal as signal, sys
take = signal.signal
def taken(*args):
    before, signal.signal = take(*args), take
    print("on", flush=True)
    return before
signal.signal = taken
from balancer.__main__ import main
main()
"""
"""A program that says when it begins to hear Ctrl-C, before it loads anything that takes time; what
comes before is Python's own start."""


def hears() -> None:
    """Let a child hear Ctrl-C, as at a terminal; what a shell starts in the background does not."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.fixture(autouse=True)
def _hatch(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "hatch.toml").write_text(HATCH)
    monkeypatch.chdir(tmp_path)


def closing(descriptors: tuple[int, ...]) -> Callable[[], None]:
    def close() -> None:
        for descriptor in descriptors:
            os.close(descriptor)

    return close


@pytest.mark.parametrize("closed", [(0,), (1,), (2,), (0, 1, 2)], ids=str)
@pytest.mark.parametrize(
    ("command", "status"),
    [
        (("--version",), 0),
        (("perches", "--help"), 0),
        (WEIGH, 0),
        (("weigh", "hatch.toml", "1"), 2),
        (("session", "hatch.toml"), 0),
        (("sheet", "hatch.toml", *LOADS, "--output", "a.html"), 0),
    ],
    ids=lambda one: one[0] if isinstance(one, tuple) else None,
)
def test_closed_streams_are_no_failure(
    command: tuple[str, ...], status: int, closed: tuple[int, ...]
) -> None:
    ran = subprocess.run(
        [*PROGRAM, *command],
        input=b"302 288.5 231 244\n",
        capture_output=True,
        preexec_fn=closing(closed),
        check=False,
    )
    assert ran.returncode == status
    assert b"Traceback" not in ran.stderr
    assert bool(ran.stdout) == (status == 0 and 1 not in closed)
    assert bool(ran.stderr) == (status == 2 and 2 not in closed)
    if command[0] == "session":
        kinds = [entry.kind for entry in read_log("hatch.log.jsonl").entries]
        assert kinds == ([] if 0 in closed else ["session", "weigh_in", "plan", "session"])
    if command[0] == "sheet":
        assert Path("a.html").read_text().startswith("<!DOCTYPE html>")


@pytest.mark.parametrize("command", [("--help",), ("--version",), ("trim", "--help"), WEIGH])
def test_a_full_disk_under_the_output_is_said(command: tuple[str, ...]) -> None:
    with open("/dev/full", "wb") as full:
        ran = subprocess.run([*PROGRAM, *command], stdout=full, stderr=subprocess.PIPE, check=False)
    said = b"output: can't be written (No space left on device): make room, or write elsewhere\n"
    assert (ran.returncode, ran.stderr) == (2, said)


@pytest.mark.parametrize("command", [("--help",), ("--version",), ("trim", "--help"), WEIGH])
def test_a_reader_that_has_left_ends_it_silently(command: tuple[str, ...]) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    ran = subprocess.run([*PROGRAM, *command], stdout=writer, stderr=subprocess.PIPE, check=False)
    os.close(writer)
    assert (ran.returncode, ran.stderr) == (141, b"")


def broken(*args: object, **options: object) -> None:
    raise RuntimeError("one\ntwo \x1b[31m")


def test_a_fault_of_the_program_has_a_status_of_its_own(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("BALANCER_TRACEBACK", raising=False)
    monkeypatch.setattr(cli, "get_command", lambda ctx, name: click.Command(name, callback=broken))
    status, out, err = run("weigh")
    assert (status, out) == (70, "")
    assert err == (
        "balancer: a fault in the program itself (RuntimeError: one two \\x1b[31m): nothing of"
        " yours is to blame, BALANCER_TRACEBACK=1 shows where it is\n"
    )
    monkeypatch.setenv("BALANCER_TRACEBACK", "1")
    status, out, err = run("weigh")
    assert (status, out) == (70, "")
    assert "in broken\n" in err
    assert "\x1b" not in err


def test_json_of_any_name_can_be_read(run: Run) -> None:
    odd = "a\x7f\x9b\x1b[31m\u202e.html"
    ran = run("sheet", "hatch.toml", *LOADS, "--json", "--output", odd)
    assert ran.json["sheet"] == odd
    assert ran.out[:-1].isprintable()


def test_control_c_is_heard_where_the_read_is_not_broken_off() -> None:
    with subprocess.Popen(
        [sys.executable, "-c", DEAF, "session", "hatch.toml", "--json"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=hears,
    ) as child:
        assert child.stdin
        assert child.stdout
        child.stdin.write(b"302 288.5 231 244\n")
        child.stdin.flush()
        assert "resumed" in json.loads(child.stdout.readline())
        assert "target_cross_pct" in json.loads(child.stdout.readline())
        time.sleep(0.2)
        child.send_signal(signal.SIGINT)
        try:
            assert child.wait(20) == 130
        finally:
            child.kill()
        assert child.stderr
        # A busy machine may be told in between that it takes long.
        assert child.stderr.read().split(b"\n")[-2:] == [b"stopped", b""]
    kinds = [entry.kind for entry in read_log("hatch.log.jsonl").entries]
    assert kinds == ["session", "weigh_in", "plan"]


def test_control_c_before_the_command_line_listens_shows_no_traceback() -> None:
    program = """
import _signal as signal, os
take = signal.signal
def taken(*args):
    before = take(*args)
    if type(args[1]).__name__ == "Stop":
        os.kill(os.getpid(), signal.SIGINT)
    return before
signal.signal = taken
from balancer.__main__ import main
main()
"""
    child = subprocess.run(
        [sys.executable, "-c", program, "weigh", "--help"], capture_output=True, preexec_fn=hears
    )
    assert (child.returncode, child.stderr, child.stdout) == (130, b"stopped\n", b"")


@pytest.mark.parametrize("seed", range(24))
def test_control_c_from_the_first_moment_on_shows_no_traceback(seed: int) -> None:
    wait = random.Random(seed).uniform(0.0, 0.3)
    with subprocess.Popen(
        [sys.executable, "-c", EARLY, "session", "hatch.toml"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=hears,
    ) as child:
        assert child.stdout
        child.stdout.readline()
        time.sleep(wait)
        child.send_signal(signal.SIGINT)
        _, err = child.communicate(timeout=20)
    assert (child.returncode, err.strip()) == (130, b"stopped")


def test_what_becomes_of_control_c_in_an_extension_is_still_a_stop(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Modules in C make an ImportError of it where they import each other."""

    def imports(*args: object, **options: object) -> None:
        try:
            os.kill(os.getpid(), signal.SIGINT)
            time.sleep(1)
        except KeyboardInterrupt:
            raise ImportError("numpy.core.multiarray failed to import") from None

    monkeypatch.setattr(cli, "get_command", lambda ctx, name: click.Command(name, callback=imports))
    before = signal.signal(signal.SIGINT, Stop(lambda number, frame: None))
    try:
        assert run("weigh") == (130, "", "stopped\n")
    finally:
        signal.signal(signal.SIGINT, before)


def test_control_c_while_a_module_loads_ends_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Modules in C print what is raised where they import each other."""
    (tmp_path / "slow_one.py").write_text("import signal\nsignal.raise_signal(signal.SIGINT)\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    left: list[int] = []

    def leave(number: int, frame: object) -> None:
        left.append(number)
        raise SystemExit

    before = signal.signal(signal.SIGINT, Stop(leave))
    try:
        with pytest.raises(SystemExit):
            importlib.import_module("slow_one")
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    finally:
        signal.signal(signal.SIGINT, before)
    assert left == [signal.SIGINT]


def test_control_c_where_nothing_may_be_raised_is_heard_at_the_next_prompt(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An import runs callbacks whose exceptions Python prints and forgets."""

    class Dropped:
        def __del__(self) -> None:
            signal.raise_signal(signal.SIGINT)

    before = signal.signal(signal.SIGINT, Stop(lambda number, frame: None))
    monkeypatch.setattr(sys, "unraisablehook", quiet)
    try:
        dropped = Dropped()
        del dropped
        reader, writer = os.pipe()
        with open(reader, encoding="utf-8") as stream, open(writer, "w", encoding="utf-8") as out:
            out.write("302 288.5 231 244\n")
            out.flush()
            with pytest.raises(KeyboardInterrupt):
                next(lines(stream, lambda: None))
    finally:
        signal.signal(signal.SIGINT, before)
    assert capsys.readouterr().err == ""
