"""What the page writes itself: the car file, whole, with the one before kept; and ticked boxes."""

import hashlib
import json
import os
import re
import tempfile
from pathlib import Path
from typing import NamedTuple

from balancer.car.errors import Fault, InputError
from balancer.files.car_reader import read_car
from balancer.files.format.bounds import MOST_BYTES
from balancer.files.writing import put
from balancer.log.reader import LogError, log_path
from balancer.log.writer import locked

PATIENCE = 2.0
"""How long to wait for others that write [s]."""

_MOST = 400
"""Characters of a box."""


def ticks_path(car_path: str) -> str:
    """Give the path of what is ticked for a car: beside its log.

    >>> ticks_path("cars/coupe.toml")
    'cars/coupe.ticks.json'
    """
    return f"{car_path.removesuffix('.toml')}.ticks.json"


def ticked(car_path: str) -> frozenset[str]:
    """Read which boxes are ticked; what can't be read is none."""
    try:
        text = Path(ticks_path(car_path)).read_text(encoding="utf-8")
        return frozenset(str(box) for box in json.loads(text)["ticked"])
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return frozenset()


def tick(car_path: str, box: str, on: bool) -> None:
    """Tick a box, or take the tick out; twice is as good as once."""
    with locked(log_path(car_path), PATIENCE):
        now = ticked(car_path)
        _keep(car_path, now | {box[:_MOST]} if on else now - {box})


def untick_all(car_path: str) -> None:
    """Begin anew, for the next event."""
    with locked(log_path(car_path), PATIENCE):
        _keep(car_path, frozenset())


def _keep(car_path: str, boxes: frozenset[str]) -> None:
    path = ticks_path(car_path)
    if boxes or os.path.exists(path):
        put(path, json.dumps({"ticked": sorted(boxes)}, ensure_ascii=False) + "\n")


class Slip(NamedTuple):
    """A fault in a text; line 0: of none in particular."""

    line: int
    text: str


class ChangedError(Exception):
    """The file is no longer the one that was shown."""


def text_of(path: str) -> str:
    """Read a car file as text, whatever is wrong with it."""
    try:
        with open(path, encoding="utf-8", errors="replace", newline="") as file:
            return file.read(MOST_BYTES).replace("\r\n", "\n")
    except OSError as error:
        name = os.path.basename(path)
        raise InputError.one(name, f"can't be read ({error.strerror})", "check the file") from None


def mark_of(text: str) -> str:
    """Give what tells a text from others."""
    return hashlib.sha256(text.encode(errors="replace")).hexdigest()[:24]


def slips_in(text: str, path: str) -> list[Slip]:
    """Find what is wrong with a text as a car file: what every command would say."""
    try:
        with tempfile.TemporaryDirectory() as folder:
            beside = os.path.join(folder, os.path.basename(path))
            put(beside, text)
            read_car(beside)
    except InputError as error:
        return [_slip(fault, os.path.basename(path)) for fault in error.faults]
    return []


def _slip(fault: Fault, name: str) -> Slip:
    where = fault.where.removeprefix(name)
    found = re.match(r":(\d+)(?:: )?", where)
    line, rest = (int(found[1]), where[found.end() :]) if found else (0, where.lstrip(": "))
    said = f"{rest}: " if rest else ""
    return Slip(line, f"{said}{fault.what}: {fault.way_out}")


def saved(path: str, text: str, mark: str) -> bool:
    """Save a whole text, and keep the one before beside it.

    Args:
        mark: Of the text that was shown.

    Returns:
        Whether there was anything to save.

    Raises:
        ChangedError: When another one is there by now.
        LogError: When it can't be written; the file is then as it was.
    """
    with locked(log_path(path), PATIENCE):
        before = text_of(path)
        if before == text:
            return False
        if mark_of(before) != mark:
            raise ChangedError
        name = os.path.basename(path)
        try:
            whole = os.path.realpath(path)
            mode = os.stat(whole).st_mode & 0o777
            put(f"{whole}.bak", before, mode)
            put(whole, text, mode)
        except OSError as error:
            what = f"can't be written ({error.strerror})"
            raise LogError(Fault(name, what, "nothing was lost, check the folder")) from None
    return True
