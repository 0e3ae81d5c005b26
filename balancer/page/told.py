"""What the reports tell, in blocks that a page can lay out: sentences, lists, tables, boxes."""

import re
from collections.abc import Callable
from typing import Literal, NamedTuple

from balancer.car.errors import spelled
from balancer.report.words.tables import TABLE, Rows, laid_out_elsewhere

_BOX = "[ ] "
_NEARLY_FULL = range(60, 81)
"""Of a line that was broken by hand at 80 columns: the next one goes on with its sentence."""

_COLUMNS = 6
"""Rows or columns of a table that fit side by side on a phone."""


class Block(NamedTuple):
    """Some lines of one kind, or a table."""

    kind: Literal["text", "list", "boxes", "table"]
    lines: list[str] = []  # noqa: RUF012
    rows: Rows = ()


def told(tell: Callable[[], str]) -> list[Block]:
    """Have a report told, and take it apart.

    Examples:
        >>> told(lambda: "Turn 1 corner:\\n  LF: 1 turn up\\n\\nBefore:\\n  [ ] on stands")[1:]
        [Block(kind='list', lines=['LF: 1 turn up'], rows=()), Block(kind='text', lines=['Before:'], rows=()), Block(kind='boxes', lines=['on stands'], rows=())]

        A sentence that the report breaks goes on, over however many lines:

        >>> line = "w" * 70
        >>> [len(block.lines) for block in told(lambda: "\\n".join([line, line, line, "end."]))]
        [1]
    """  # noqa: E501
    with laid_out_elsewhere() as tables:
        text = tell()
    blocks: list[Block] = []
    for paragraph in text.split("\n\n"):
        before = None
        for line in paragraph.split("\n"):
            _add(blocks, line, tables, before)
            before = line
    return blocks


def _add(blocks: list[Block], line: str, tables: list[Rows], before: str | None) -> None:
    if number := re.fullmatch(rf"\s*{TABLE}(\d+)", line):
        blocks.append(Block("table", rows=upright(tables[int(number[1])])))
        return
    kind, said = _kind(line)
    if not said:
        return
    last = blocks[-1] if blocks and blocks[-1].kind == kind else None
    if last is None or before is None:
        blocks.append(Block(kind, [said]))
    elif kind == "list" and line.startswith("    "):
        last.lines[-1] += f": {said}"
    elif kind == "text" and _goes_on(before):
        last.lines[-1] += f" {said}"
    else:
        last.lines.append(said)


def upright(rows: Rows) -> Rows:
    """Turn a table on its side that is too wide for a phone and has few rows.

    Examples:
        >>> upright([["", *"abcdefg"], ["was", *"1234567"]])[:2]
        [('', 'was'), ('a', '1')]
    """
    wide = len(rows) <= _COLUMNS < max(map(len, rows), default=0)
    return list(zip(*rows, strict=True)) if wide else rows


def _kind(line: str) -> tuple[Literal["text", "list", "boxes"], str]:
    bare = spelled(line.strip())
    if bare.startswith(_BOX):
        return "boxes", bare.removeprefix(_BOX)
    if bare.startswith("- ") or line.startswith("  "):
        return "list", bare.removeprefix("- ")
    return "text", bare


def _goes_on(line: str) -> bool:
    return len(line) in _NEARLY_FULL and not line.endswith((".", ":", "?", "!"))
