"""Dates as people type them to find something in the log, and as it has them."""

import re
from contextlib import suppress
from datetime import UTC, date, datetime, time

from balancer.car.errors import InputError


def moment_of(text: str, where: str, expected: str) -> tuple[datetime, bool]:
    """Read a date, and time if there is one, as its last instant; say whether it is a day.

    Args:
        where: What to call it in a fault.
        expected: What to write, for the way out of a fault.

    Raises:
        InputError: When it is neither.

    Examples:
        >>> moment_of("2026-06-13T14:30", "--at", "a date")
        (datetime.datetime(2026, 6, 13, 14, 30, 59, 999999), False)
    """
    bare = text.strip()
    with suppress(ValueError):
        return datetime.combine(date.fromisoformat(bare), time.max), True
    try:
        moment = datetime.fromisoformat(bare)
    except ValueError:
        raise InputError.one(where, f"“{text[:40]}” is no date", f"write {expected}") from None
    seconds = re.search(r":\d\d:\d\d", bare)
    return moment if seconds else moment.replace(second=59, microsecond=999_999), False


def with_offset(at: datetime) -> datetime:
    """Give a time of the wall clock its offset; of a zone that can't be, it is taken as UTC."""
    if at.tzinfo:
        return at
    try:
        return at.astimezone()
    except (ValueError, OverflowError, OSError):
        return at.replace(tzinfo=UTC)
