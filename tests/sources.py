"""Citations: a published check can't be written without saying where its numbers are from."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, TypeVar

import pytest

Read = Literal["read", "read in a secondary copy", "from memory", "formula read, numbers ours"]
Function = TypeVar("Function", bound=Callable[..., object])


def source(work: str, place: str, how: Read) -> Callable[[Function], Function]:
    """Mark a test with the work it is held against, the place in it, and how it was read."""
    if not work or not place:
        raise ValueError("a published check names its source and the place in it")

    def mark(test: Function) -> Function:
        marked: Function = pytest.mark.source(work=work, place=place, how=how)(test)
        return marked

    return mark


def common_practice(test: Function) -> Function:
    """Mark a fact of the trade: common practice, no published source."""
    work = "common practice, no published source"
    marked: Function = pytest.mark.source(work=work, place="-", how="-")(test)
    return marked


def half_digit(printed: str) -> float:
    """Give half a unit of the last printed digit."""
    digits = printed.partition(".")[2]
    return 0.5000001 * 10.0 ** -len(digits)
