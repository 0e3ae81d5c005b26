"""The car file as text: its faults at their lines, saved when it is whole, the one before kept."""

import hashlib
import os
import re
import tempfile
from typing import NamedTuple

from balancer.errors import Fault, InputError
from balancer.files.car_reader import read_car
from balancer.files.format.bounds import MOST_BYTES
from balancer.files.writing import put
from balancer.log.reader import LogError, log_path
from balancer.log.writer import locked
from balancer.page.ticks import PATIENCE


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
