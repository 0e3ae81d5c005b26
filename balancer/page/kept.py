"""What was worked out of a car file and its log, kept until one of them is another."""

import os
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache, wraps
from typing import TypeVar

from balancer.files.car_file import CarFile
from balancer.log.reader import log_path

Found = TypeVar("Found")

_MOST = 16
_AGE = 600.0
"""A session that was left alone for half a day is over: so often it is looked at anew [s]."""


@dataclass(frozen=True)
class _Car:
    """A car file that was read, known by the state of it and of its log."""

    file: CarFile = field(compare=False)
    state: tuple[object, ...]


def kept_while_unchanged(work: Callable[[CarFile], Found]) -> Callable[[CarFile], Found]:
    """Do work on a car once for each state of its file and its log."""
    done = lru_cache(_MOST)(lambda car: work(car.file))

    @wraps(work)
    def run(file: CarFile) -> Found:
        state = (file.path, _state(file.path), _state(log_path(file.path)), time.time() // _AGE)
        return done(_Car(file, state))

    return run


def _state(path: str) -> tuple[int, ...]:
    try:
        found = os.stat(path)
    except OSError:
        return ()
    return found.st_ino, found.st_size, found.st_mtime_ns
