"""Writing the log: one writer at a time, and nothing is called saved before it is on the disk."""

import errno
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from typing import Any

from balancer.car.errors import Fault, InputError
from balancer.log.dates import with_offset
from balancer.log.entry import Entry, Kind, line_of
from balancer.log.reader import LogError, Scan, scan

Clock = Callable[[], datetime]
"""Gives the time; one without an offset is taken for local time."""


class LogWriter:
    """A log open for appending; made by `open_log`, which holds the lock.

    Attributes:
        damaged: Lines that can't be used, without what was set aside.
        set_aside: What became of a last line that had broken off; empty when there was none.
        act: Goes into each entry from now on, as `Entry.act`.
    """

    def __init__(self, path: str, clock: Clock) -> None:
        self.path, self._name, self._clock = os.path.abspath(path), os.path.basename(path), clock
        self.set_aside, self.act = "", ""
        scanned = scan(self.path)
        try:
            self._file = open(self.path, "ab", buffering=0)  # noqa: SIM115
        except (OSError, ValueError) as error:
            raise _unwritten(self._name, error) from None
        self._lines, self._end = scanned.lines, scanned.size
        self._torn = False
        try:
            _sync_folder(self.path)
            if scanned.torn:
                self._move_tail(scanned)
            elif scanned.tail:
                # A whole entry but for its line break, as some editors leave it.
                self._write(b"\n")
            self._entries = list(scanned.log.entries)
            # A line that broke off is set aside by now.
            last = scanned.lines if scanned.torn else 0
            self.damaged = tuple(line for line in scanned.log.damaged if line.line != last)
            self._begin = self._last_begin()
        except OSError as error:
            self.close()
            raise _unwritten(self._name, error) from None
        except BaseException:
            self.close()
            raise

    @property
    def entries(self) -> tuple[Entry, ...]:
        """All that is in the log, with what was appended."""
        return tuple(self._entries)

    @property
    def recent(self) -> tuple[Entry, ...]:
        """What is in the log from where the last session begins: short, however long the log is."""
        return tuple(self._entries[self._begin :])

    def _last_begin(self) -> int:
        for index in range(len(self._entries) - 1, -1, -1):
            if self._entries[index].begins:
                return index
        return 0

    def append(self, kind: Kind, data: dict[str, Any]) -> Entry:
        """Write an entry; when this returns, it is on the disk.

        Args:
            data: See `Entry`.

        Returns:
            As it will be read back.

        Raises:
            LogError: When it can't be written; the log is then as it was.
            ValueError, TypeError: When it is nothing that could be read back.
        """
        last = self._entries[-1].number if self._entries else 0
        at = with_offset(self._clock())
        number = max(self._lines, last) + 1
        entry = Entry(number, at.isoformat(timespec="seconds"), kind, data, act=self.act)
        line = line_of(entry, self._lines + 1)
        self._unchanged()
        self._write(line)
        self._lines += 1
        entry = Entry(number, entry.at, kind, line, self._lines, act=self.act)
        if entry.begins:
            self._begin = len(self._entries)
        self._entries.append(entry)
        return entry

    def append_all(self, lines: Sequence[tuple[datetime, Kind, dict[str, Any]]]) -> list[Entry]:
        """Write entries of other times, all of them or, whatever happens, none.

        Raises:
            LogError: When they can't be written; the log is then as it was.
        """
        number = max(self._lines, self._entries[-1].number if self._entries else 0)
        entries = []
        for nth, (at, kind, data) in enumerate(lines, 1):
            written = with_offset(at).isoformat(timespec="seconds")
            raw = line_of(Entry(number + nth, written, kind, data), self._lines + nth)
            entries.append(Entry(number + nth, written, kind, raw, self._lines + nth))
        self._unchanged()
        self._replace(b"".join(entry.held for entry in entries if isinstance(entry.held, bytes)))
        self._lines += len(entries)
        self._entries += entries
        return entries

    def _replace(self, more: bytes) -> None:
        """Put a longer log in the place of the one that is there, in one step."""
        beside = f"{self.path}.new"
        try:
            with open(self.path, "rb") as source, open(beside, "wb") as target:
                shutil.copyfileobj(source, target)
                target.write(more)
                target.flush()
                os.fsync(target.fileno())
            shutil.copymode(self.path, beside)
            os.replace(beside, self.path)
            _sync_folder(self.path)
            self._file.close()
            self._file = open(self.path, "ab", buffering=0)  # noqa: SIM115
        except OSError as error:
            with suppress(OSError):
                os.unlink(beside)
            raise _unwritten(self._name, error) from None
        self._end += len(more)

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def _unchanged(self) -> None:
        """Refuse to write to what is no longer the log, or has been written to by others."""
        try:
            if self._torn:
                self._cut()
            here = os.fstat(self._file.fileno())
            same = os.path.samestat(here, os.stat(self.path)) and here.st_size == self._end
        except FileNotFoundError:
            same = False
        except OSError as error:
            raise _unwritten(self._name, error) from None
        if not same:
            way_out = "nothing was written, end this session and begin another"
            raise LogError(Fault(self._name, "was changed by another program", way_out))

    def _write(self, line: bytes) -> None:
        """Write bytes and have them on the disk, or leave the file as it was."""
        try:
            rest = memoryview(line)
            while rest:
                rest = rest[os.write(self._file.fileno(), rest) :]
            os.fsync(self._file.fileno())
        except BaseException as error:
            self._torn = True
            try:
                self._cut()
            except OSError as worse:
                raise _uncut(self._name, error, worse) from None
            if isinstance(error, OSError):
                raise _unwritten(self._name, error) from None
            raise
        self._end += len(line)

    def _cut(self) -> None:
        os.ftruncate(self._file.fileno(), self._end)
        os.fsync(self._file.fileno())
        self._torn = False

    def _move_tail(self, scanned: Scan) -> None:
        """Copy a last line that had broken off to a file of its own, and only then cut it off."""
        aside = f"{self.path}.torn"
        try:
            with open(self.path, "rb") as source, open(aside, "ab") as target:
                source.seek(scanned.size - scanned.tail)
                shutil.copyfileobj(source, target)
                target.write(b"\n")
                target.flush()
                os.fsync(target.fileno())
            _sync_folder(aside)
        except OSError as error:
            raise _unwritten(os.path.basename(aside), error) from None
        self._lines, self._end = scanned.lines - 1, scanned.size - scanned.tail
        self._cut()
        self.set_aside = (
            f"{self._name}: its last line had broken off: {scanned.tail} bytes of it are set aside"
            f" in {os.path.basename(aside)}"
        )


@contextmanager
def locked(path: str, wait: float = 0.0) -> Iterator[None]:
    """Keep all others that ask for it from writing to a log, and to what is beside it.

    Args:
        path: From `log_path`.
        wait: How long to wait for another that has it [s].

    Raises:
        InputError: When another session or note has it open.
        LogError: When the folder can't be written to.

    References:
        The lock is flock(2), or what `filelock` takes where there is none: a process that dies
        lets go of it.
    """
    from filelock import FileLock, Timeout

    name = os.path.basename(path)
    lock = FileLock(f"{os.path.abspath(path)}.lock", timeout=wait)
    try:
        # filelock would make a folder that is not there.
        os.stat(os.path.dirname(os.path.abspath(path)))
        lock.acquire()
    except Timeout:
        what = "another session or note has it open"
        raise InputError.one(name, what, "close that one first") from None
    except (OSError, ValueError) as error:
        raise _unwritten(name, error) from None
    try:
        yield
    finally:
        lock.release()


@contextmanager
def open_log(path: str, clock: Clock = datetime.now, wait: float = 0.0) -> Iterator[LogWriter]:
    """Open a log for appending, while nobody else can.

    Args:
        path: From `log_path`.
        clock: Gives the time of each entry.
        wait: How long to wait for another that has it open [s].

    Raises:
        InputError: When another session or note has it open, or it is no file.
        LogError: When it can't be written.

    Examples:
        >>> with open_log("/nowhere/coupe.log.jsonl") as log:
        ...     log.append("note", {"text": "wet"})
        Traceback (most recent call last):
        balancer.log.reader.LogError: coupe.log.jsonl: can't be written (No such file or directory): nothing was lost, check the folder and say it again
    """  # noqa: E501
    with locked(path, wait):
        writer = LogWriter(path, clock)
        try:
            yield writer
        finally:
            writer.close()


def _sync_folder(path: str) -> None:
    """Have the name of a new file on the disk, not only what is in it."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    folder = os.open(os.path.dirname(path), os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(folder)
    except OSError as error:
        # Shares of other computers know of no such thing.
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(folder)


def _reason(error: BaseException) -> str:
    return getattr(error, "strerror", None) or str(error) or type(error).__name__


def _unwritten(name: str, error: Exception) -> LogError:
    number = getattr(error, "errno", None)
    if number in (errno.ENOSPC, errno.EDQUOT):
        todo = "free some space"
    elif number in (errno.ENOENT, errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOTDIR):
        todo = "check the folder"
    else:
        todo = "check the disk"
    way_out = f"nothing was lost, {todo} and say it again"
    return LogError(Fault(name, f"can't be written ({_reason(error)})", way_out))


def _uncut(name: str, error: BaseException, worse: OSError) -> LogError:
    what = f"can't be written ({_reason(error)}), nor the half line taken out ({_reason(worse)})"
    way_out = "what was saved before is not lost, free some space and begin the session again"
    return LogError(Fault(name, what, way_out))
