"""Writing files: whole or not at all, and never over what is of another kind."""

import errno
import os
import re
import stat
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from typing import NamedTuple, TextIO

from balancer.car.errors import InputError, spelled

_HEAD = 4096
_FORMULA = tuple("=+-@＝＋－＠")
_TO_NEXT = ("\t", "\r", "\n")


class Kind(NamedTuple):
    """A kind of file that may be written again.

    Attributes:
        endings: Of its name.
        marks: One of which is near its beginning, in lower case.
    """

    name: str
    endings: tuple[str, ...]
    marks: tuple[bytes, ...]


PICTURE = Kind("picture", (".svg",), (b"<svg",))
PAGE = Kind("page", (".html", ".htm"), (b"<!doctype html", b"<html"))


def cell(text: str) -> str:
    """Give a text as a cell that a spreadsheet shows and does not reckon with; numbers stay.

    Returns:
        With an apostrophe before what would be taken for a formula.

    Examples:
        >>> cell("=1+1"), cell("-2.5"), cell("wet")
        ("'=1+1", '-2.5', 'wet')
    """
    if re.fullmatch(r"[-+]?[0-9]+([.,][0-9]+)?(e[-+]?[0-9]+)?", text):
        return text
    return ("'" if text.lstrip().startswith(_FORMULA) or text[:1] in _TO_NEXT else "") + spelled(
        text
    )


def replace_file(path: str, text: str, kind: Kind) -> None:
    """Write a file beside the one that is there, and put it in its place when it is whole.

    Args:
        path: A link is followed, to a file whose own name is that of such a file, and stays.
        kind: What is there already is replaced only if it is of this kind, or empty. Its mode
            is kept.

    Raises:
        InputError: When it can't be written, or something else would be lost; all is then as it
            was.

    Examples:
        >>> replace_file("/nowhere/car.svg", "<svg/>", PICTURE)
        Traceback (most recent call last):
        balancer.car.errors.InputError: car.svg: can't be written (No such file or directory): check the folder
    """  # noqa: E501
    name = os.path.basename(path)
    try:
        whole = os.path.realpath(path)
        mode = _replaceable(name, whole, kind)
        put(whole, text, mode)
    except (OSError, ValueError) as error:
        raise _unwritten(name, error) from None


def written_here(path: str) -> bool:
    """Say of a page that is there whether it is one of our own; what is no page is no page lost."""
    try:
        # A pipe would be waited for.
        if not stat.S_ISREG(os.stat(path).st_mode):
            return True
        with open(path, "rb") as file:
            head = file.read(_HEAD).lower()
    except (OSError, ValueError):
        return True
    is_page = any(mark in head for mark in PAGE.marks)
    return not is_page or b'name="generator" content="balancer"' in head


def create_file(path: str, write: Callable[[TextIO], object]) -> None:
    """Write a new file; never over one that is there, nor through a link.

    Args:
        write: Writes into the open file; what can't be encoded is spelled out there.

    Raises:
        InputError: When it is there already, or can't be written; then there is none.

    Examples:
        >>> create_file("/dev/null", lambda file: file.write("1"))
        Traceback (most recent call last):
        balancer.car.errors.InputError: /dev/null: is there already: give another name, nothing was written
    """  # noqa: E501
    try:
        _create(path, write)
    except (FileExistsError, IsADirectoryError):
        way_out = "give another name, nothing was written"
        raise InputError.one(path, "is there already", way_out) from None
    except (OSError, ValueError) as error:
        raise _unwritten(path, error) from None


def create_table(path: str, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Write a new CSV file, whose cells a spreadsheet shows and does not reckon with.

    Raises:
        InputError: As `create_file`.
    """
    import csv

    cells = [[cell(text) for text in row] for row in rows]
    create_file(path, lambda file: csv.writer(file).writerows([columns, *cells]))


def _create(path: str, write: Callable[[TextIO], object]) -> None:
    with open(path, "x", encoding="utf-8", errors="backslashreplace", newline="") as file:
        try:
            write(file)
            file.flush()
            os.fsync(file.fileno())
        except BaseException:
            # Closing would try to write the rest once more.
            with suppress(OSError):
                os.unlink(path)
            raise


def put(whole: str, text: str, mode: int | None = None) -> None:
    """Write a file beside the one that is there, sync it, and put it in its place in one step.

    Args:
        mode: Of the file; None: as new files are.

    Raises:
        OSError: When it can't be written; all is then as it was.
    """
    part = os.path.join(os.path.dirname(whole), f".balancer-{os.getpid()}.part")
    try:
        with open(part, "x", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if mode is not None:
            os.chmod(part, mode)
        os.replace(part, whole)
    except BaseException:
        with suppress(OSError, ValueError):
            os.unlink(part)
        raise


def _replaceable(name: str, whole: str, kind: Kind) -> int | None:
    """Give the mode of what is there, if it may be replaced; None where there is nothing."""
    if not whole.lower().endswith(kind.endings):
        target = spelled(os.path.basename(whole))
        raise InputError.one(name, f"is a link to {target}, no {kind.name}", "give another name")
    try:
        status = os.stat(whole)
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(status.st_mode):
        raise InputError.one(name, "is no file that can be replaced", "give another name")
    if not os.access(whole, os.W_OK):
        raise InputError.one(name, "is protected from writing", "give another name")
    with open(whole, "rb") as file:
        head = file.read(_HEAD).lower()
    if head.strip() and not any(mark in head for mark in kind.marks):
        what = f"is there already and is no {kind.name}"
        raise InputError.one(name, what, "give another name, nothing was written")
    return stat.S_IMODE(status.st_mode)


def _unwritten(name: str, error: OSError | ValueError) -> InputError:
    number = getattr(error, "errno", None)
    full = number in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
    reason = getattr(error, "strerror", None) or str(error)
    way_out = "free some space" if full else "check the folder"
    return InputError.one(name, f"can't be written ({reason})", way_out)
