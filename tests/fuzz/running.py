"""Run an input in a process of its own, forked from one that has everything loaded."""

from __future__ import annotations

import gc
import importlib
import io
import os
import pkgutil
import re
import resource
import shutil
import signal
import sys
import time
import traceback
import warnings
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple, NoReturn

import click

import balancer
from balancer.car.errors import BalancerError
from tests.fuzz.inputs import BASES, Case, Plan, log_name, log_of, made
from tests.fuzz.words import Base, Words

SECONDS = 20
"""Of processor time; what takes longer is ended."""
ALARM = 900
"""Seconds by the wall clock, for what waits instead of working; a busy machine is slow, too."""
MEGABYTES = 1000
"""Beyond what the process has when it begins."""
SOUND_LINES = {"hillclimb.toml": 1, "real.toml": 1}
"""Weigh-ins in the logs to start from, where it is not three."""

KEPT = {"kept.svg": b"<svg>as it was</svg>\n", "kept.html": b"<!doctype html>as it was\n"}
LINKS = {"link.svg": "weigh_in.toml", "link.html": "pads.toml"}


class Ran(NamedTuple):
    """What came of an input.

    Attributes
    ----------
    status : int
        Exit status; minus the signal where one ended it.
    trace : str
        The traceback that no one but a developer sees.
    seconds, megabytes : float
        Processor time; memory over what the process began with.
    files : dict
        Those that were there before and no longer are what they were; None: gone.
    new : tuple of str
        Names of files that were not there.
    """

    case: Case
    status: int
    out: bytes
    err: bytes
    trace: str
    seconds: float
    megabytes: float
    files: dict[str, bytes | None]
    new: tuple[str, ...]


def load_everything() -> None:
    """Import whatever a command may import, so that each process is only forked."""
    for module in pkgutil.walk_packages(balancer.__path__, "balancer."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    for name in ("highspy", "jinja2", "filelock", "csv"):
        importlib.import_module(name)
    gc.freeze()


def run(case: Case, folder: Path) -> Ran:
    """Run it in an empty folder."""
    before = _laid_out(case, folder)
    held = _held()
    streams = [folder.with_name(f"{folder.name}.{one}") for one in ("in", "out", "err", "trace")]
    streams[0].write_bytes(case.typed)
    pid = os.fork()
    if pid == 0:
        _child(case, folder, streams)
    _, ended, used = os.wait4(pid, 0)
    out, err, trace = (path.read_bytes() if path.exists() else b"" for path in streams[1:])
    for path in streams:
        path.unlink(missing_ok=True)
    changed, new = _changes(before, folder)
    return Ran(
        case, os.waitstatus_to_exitcode(ended), out, err, trace.decode("utf-8", "replace"),
        used.ru_utime + used.ru_stime, max(0.0, used.ru_maxrss / 1024 - held), changed, new,
    )  # fmt: skip


def _held() -> float:
    """Give the memory of this process, which a forked one begins with [MB]."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 2**20


def _laid_out(case: Case, folder: Path) -> dict[str, bytes]:
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    files = {name: _dated(content) for name, content in case.files.items()}
    files |= KEPT
    for name, content in files.items():
        (folder / name).write_bytes(content)
    for name, target in LINKS.items():
        (folder / name).symlink_to(target)
    return files


def _dated(content: bytes) -> bytes:
    """Put moments for their places: so many seconds before now."""
    now = datetime.now(UTC).replace(microsecond=0)

    def moment(found: re.Match[bytes]) -> bytes:
        return (now - timedelta(seconds=int(found[1]))).isoformat().encode()

    return re.sub(rb"@AGO:(-?\d{1,9})@", moment, content)


def _changes(
    before: dict[str, bytes], folder: Path
) -> tuple[dict[str, bytes | None], tuple[str, ...]]:
    changed: dict[str, bytes | None] = {}
    for name, content in before.items():
        path = folder / name
        now = path.read_bytes() if path.is_file() else None
        if now != content:
            changed[name] = now
    found = [path.relative_to(folder).as_posix() for path in sorted(folder.rglob("*"))]
    return changed, tuple(one for one in found if one not in before and one not in LINKS)


def _child(case: Case, folder: Path, streams: list[Path]) -> NoReturn:
    status = 70
    trace = open(streams[3], "w", encoding="utf-8", errors="backslashreplace")  # noqa: SIM115
    try:
        os.chdir(folder)
        _limit()
        _streams(case.plan, streams)
        os.environ["TZ"] = case.plan.zone
        time.tzset()
        sys.argv = ["balancer", *case.words]
        gc.disable()
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            status = _called(trace)
        for stream in (sys.stdout, sys.stderr):
            if stream is not None and not stream.closed:
                stream.flush()
    except BaseException:
        traceback.print_exc(file=trace)
    trace.close()
    os._exit(status)


def _limit() -> None:
    for which in (signal.SIGALRM, signal.SIGXCPU, signal.SIGPIPE):
        signal.signal(which, signal.SIG_IGN if which == signal.SIGPIPE else signal.SIG_DFL)
    signal.alarm(ALARM)
    held = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS + 5))
    resource.setrlimit(resource.RLIMIT_AS, (held + MEGABYTES * 2**20,) * 2)
    resource.setrlimit(resource.RLIMIT_FSIZE, (50 * 2**20,) * 2)
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _streams(plan: Plan, streams: list[Path]) -> None:
    """Give the process its standard streams, as a shell would."""
    for number in (0, 1, 2):
        os.close(number)
    opened: list[Any] = []
    for number, path in enumerate(streams[:3]):
        how = (plan.stdin, plan.stdout, "file")[number]
        if how == "closed":
            opened.append(None)
            continue
        found = _opened(how, path, number)
        if found != number:
            os.dup2(found, number)
            os.close(found)
        raw = open(number, "rb" if number == 0 else "wb", buffering=-1 if number == 0 else 0)  # noqa: SIM115
        errors = "backslashreplace" if number == 2 else "strict"
        opened.append(io.TextIOWrapper(raw, plan.encoding, errors, write_through=number > 0))
    for name, stream in zip(("stdin", "stdout", "stderr"), opened, strict=True):
        setattr(sys, name, stream)
        setattr(sys, f"__{name}__", stream)


def _opened(how: str, path: Path, number: int) -> int:
    if how == "full":
        return os.open("/dev/full", os.O_WRONLY)
    if how == "pipe":
        read, write = os.pipe()
        os.close(read)
        return write
    return os.open(path, os.O_RDONLY if number == 0 else os.O_WRONLY | os.O_CREAT | os.O_APPEND)


def _called(trace: Any) -> int:
    """Call the command line as its script does, and look at what its last catch would hide."""
    from balancer import cli

    meant = (BalancerError, click.ClickException, click.Abort, click.exceptions.Exit,
             KeyboardInterrupt, SystemExit)  # fmt: skip
    inner = cli.cli.main

    def spied(*args: Any, **kwargs: Any) -> Any:
        try:
            return inner(*args, **kwargs)
        except meant:
            raise
        except BaseException:
            traceback.print_exc(file=trace)
            raise

    cli.cli.main = spied  # type: ignore[method-assign]
    try:
        cli.main()
    except SystemExit as ended:
        code = ended.code
        return code if isinstance(code, int) else 0 if code is None else 1
    return 0


def sound_logs(folder: Path) -> dict[str, bytes]:
    """Let sessions write the logs that inputs start from, with places for their moments."""
    from tests.fuzz.logs import undated

    logs: dict[str, bytes] = {}
    for base in dict.fromkeys(BASES):
        for how, plans in (("open", [_sitting(base)]), ("ended", _ended(base))):
            content = b""
            for plan in plans:
                case = made(plan, {})
                case = case._replace(
                    files={**case.files, **({log_of(base): content} if content else {})}
                )
                ran = run(case, folder)
                assert ran.status == 0, (ran.case.words, ran.err, ran.trace)
                content = (folder / log_of(base)).read_bytes()
            logs[log_name(base, how)] = undated(content.decode()).encode()
    return logs


def _sitting(base: Base) -> Plan:
    """Plan a session of a few weigh-ins, with a bit of everything that a log can have."""
    lines = []
    for nth in range(SOUND_LINES.get(base.car, 3)):
        off = (0.0, 0.004, 0.001)[nth % 3]
        loads = [
            load * (1 + off * sign) for load, sign in zip(base.loads, (-1, 1, 1, -1), strict=True)
        ]
        lines += [" ".join(f"{load:.1f}" for load in loads), "yes"]
    lines[2:2] = ["note new dampers, and springs to come"]
    lines += ["made LF=0.5 RR=-0.5", "undo"]
    return Plan("session", base, (("session", base.car),), (), tuple(lines))


def _ended(base: Base) -> list[Plan]:
    """Plan a session that ends, and what else a log can have: kept, brought in, put right."""
    sitting = _sitting(base)
    loads = [f"{load:.1f}" for load in base.loads]
    log = ("log", base.car)
    words: list[tuple[Words, ...]] = [
        ((*log, "--import", "past.csv", "--yes"),),
        (("weigh", base.car, *loads, "--weighed-with", "none", "--save", "--note", "by hand"),),
        ((*log, "--note", "of that one", "--about", "2"),),
        ((*log, "--correct", "2", "--loads", *loads[:3], f"{base.loads[3] + 1:.1f}"),),
    ]
    return [
        sitting._replace(lines=(*sitting.lines, "done")),
        *(Plan("log", base, one) for one in words),
    ]
