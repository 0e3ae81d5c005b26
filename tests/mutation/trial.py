"""A pytest plugin that runs the collected tests against one mutant after the other."""

from __future__ import annotations

import gc
import os
import pickle
import select
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any, Literal, NamedTuple

import numpy as np
import pytest

from tests.mutation.mutants import Mutant

Verdict = Literal["killed", "survived", "too slow"]


CONSTANTS = int, float, str, tuple, dict, frozenset, np.ndarray


class Test(NamedTuple):
    """What a test took without mutants [s], what it ran of the module, and whether it passed."""

    item: pytest.Item
    took: float
    ran: frozenset[str]
    passed: bool


class Child(NamedTuple):
    """A process split off, and when its time is up."""

    mutant: Mutant
    pid: int
    ends: float


class Trial:
    """The plugin: its test loop is one for each mutant."""

    def __init__(self, module: str, path: Path, drawn: list[Mutant], workers: int) -> None:
        self.module, self.path, self.drawn, self.workers = module, path, drawn, workers
        self.verdicts: list[tuple[Mutant, Verdict]] = []

    def pytest_configure(self) -> None:
        """Draw few examples, the same each time."""
        # Not before pytest is set up, whose plugin this is.
        from hypothesis import HealthCheck, settings

        checks = list(HealthCheck)
        settings.register_profile(
            "mutation",
            max_examples=20,
            derandomize=True,
            deadline=None,
            database=None,
            suppress_health_check=checks,
        )
        settings.load_profile("mutation")

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Learn what each test runs, then try the mutants."""
        if session.testsfailed:
            raise pytest.UsageError("tests can't be collected")
        for item in session.items:
            _shorten(item)
        tests = self._learn(session)
        gc.freeze()
        children: list[Child] = []
        for mutant in self.drawn:
            while len(children) >= self.workers:
                self._reap(children)
            chosen = [one for one in tests if not mutant.room or mutant.room in one.ran]
            children.append(self._started(session, mutant, chosen))
        while children:
            self._reap(children)
        return True

    def _learn(self, session: pytest.Session) -> list[Test]:
        """Run all tests once, in a process of their own, and note time and functions."""
        read, write = os.pipe()
        pid = os.fork()
        if not pid:
            _quiet(session)
            found = [_watched(session, item, str(self.path)) for item in session.items]
            with os.fdopen(write, "wb") as pipe:
                pickle.dump(found, pipe)
            os._exit(0)
        os.close(write)
        with os.fdopen(read, "rb") as pipe:
            found = pickle.load(pipe)
        os.waitpid(pid, 0)
        tests = [Test(i, *each) for i, each in zip(session.items, found, strict=True)]
        for one in tests:
            if not one.passed:
                print(f"left out, for it fails without a mutant: {one.item.nodeid}")
        return sorted((one for one in tests if one.passed), key=lambda one: one.took)

    def _started(self, session: pytest.Session, mutant: Mutant, chosen: list[Test]) -> Child:
        pid = os.fork()
        if not pid:
            os.setpgid(0, 0)
            _quiet(session)
            items = [one.item for one in chosen]
            os._exit(_noticed(session, mutant, items, self.module, self.path))
        # Tests of a loaded machine take what they take; a loop without end takes longer.
        allowed = 60.0 + 10 * sum(one.took for one in chosen)
        return Child(mutant, pid, time.monotonic() + allowed)

    def _reap(self, children: list[Child]) -> None:
        """Wait until one child has ended, or its time is up."""
        while True:
            for child in children:
                pid, status = os.waitpid(child.pid, os.WNOHANG)
                late = time.monotonic() > child.ends
                if not pid and late:
                    os.killpg(child.pid, signal.SIGKILL)
                    os.waitpid(child.pid, 0)
                if pid or late:
                    lives = bool(pid) and os.waitstatus_to_exitcode(status) == 0
                    verdict: Verdict = "too slow" if not pid else "survived" if lives else "killed"
                    self.verdicts.append((child.mutant, verdict))
                    print(f"\r{len(self.verdicts)}/{len(self.drawn)}", end="", file=sys.stderr)
                    children.remove(child)
                    return
            select.select([], [], [], 0.02)


def _quiet(session: pytest.Session) -> None:
    """Say nothing: what fails here is meant to."""
    session.config.pluginmanager.unregister(name="terminalreporter")
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in (1, 2):
        os.dup2(nowhere, stream)


def _shorten(item: pytest.Item) -> None:
    """Draw few examples in tests that ask for more."""
    from hypothesis import settings

    test = getattr(item, "obj", None)
    own = getattr(test, "_hypothesis_internal_use_settings", None)
    if test is not None and own is not None:
        few = settings(own, max_examples=min(own.max_examples, 15), derandomize=True, database=None)
        test._hypothesis_internal_use_settings = few


def _watched(
    session: pytest.Session, item: pytest.Item, path: str
) -> tuple[float, frozenset[str], bool]:
    """Run a test and note what it ran."""
    ran: set[str] = set()
    failed = session.testsfailed

    def note(frame: Any, event: str, arg: object) -> None:
        if event == "call" and frame.f_code.co_filename == path:
            ran.add(frame.f_code.co_qualname.split(".<locals>")[0])

    start = time.perf_counter()
    sys.setprofile(note)
    try:
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
    finally:
        sys.setprofile(None)
    return time.perf_counter() - start, frozenset(ran), session.testsfailed == failed


def _noticed(
    session: pytest.Session, mutant: Mutant, items: list[pytest.Item], module: str, path: Path
) -> int:
    """Put a mutant in place and run tests until one fails: 1 when one does."""
    try:
        put_in_place(sys.modules[module], mutant, path)
    except Exception:  # a module that does not load is noticed by whoever starts it
        return 1
    for item in items:
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
        if session.testsfailed:
            return 1
    return 0


def put_in_place(module: ModuleType, mutant: Mutant, path: Path) -> None:
    """Give all functions of a module the code of the mutant, and all its constants their values.

    Whoever has imported them has the same functions, so knows the change; constants are replaced
    wherever they go by the same name.
    """
    other = ModuleType(module.__name__)
    other.__file__ = str(path)
    exec(compile(mutant.source, str(path), "exec"), other.__dict__)
    mine = dict(_functions(module))
    for name, function in _functions(other):
        mine[name].__code__ = function.__code__
        mine[name].__defaults__ = function.__defaults__
        mine[name].__kwdefaults__ = function.__kwdefaults__
    for name, value in vars(other).items():
        old = vars(module).get(name)
        if not name.startswith("__") and isinstance(value, CONSTANTS):
            for holder in list(sys.modules.values()):
                if getattr(holder, "__dict__", {}).get(name, other) is old:
                    setattr(holder, name, value)


def _functions(module: ModuleType) -> Iterator[tuple[str, FunctionType]]:
    """Give all functions that a module has made, those of its classes too."""
    for name, value in vars(module).items():
        if getattr(value, "__module__", None) != module.__name__:
            continue
        inner = vars(value).items() if isinstance(value, type) else [("", value)]
        for part, one in inner:
            bare = getattr(one, "func", None) or getattr(one, "fget", None)
            bare = bare or getattr(one, "__func__", one)
            bare = getattr(bare, "__wrapped__", bare)
            if isinstance(bare, FunctionType):
                yield f"{name}.{part}", bare
