"""A plain text table. A library for this costs more at start-up than all the rest of `weigh`."""

from __future__ import annotations

from collections.abc import Sequence

WIDTH = 80


def cut(name: str, width: int) -> str:
    """Cut a name that is longer than its room.

    >>> cut("battery shelf", 8)
    'battery…'
    """
    return name if len(name) <= width else f"{name[: width - 1]}…"


def table(rows: Sequence[Sequence[str]], indent: str = "  ", gap: str = "  ") -> str:
    """Set rows of cells in columns, the first to the left and the others to the right.

    Names in the first column are cut where the table would be wider than a terminal.

    Parameters
    ----------
    rows : sequence of sequence of str
        As many cells in each.
    indent, gap : str
        Before each row, and between its cells.

    Returns
    -------
    str
        Lines without trailing blanks.


    Examples
    --------
    >>> print(table([["", "LF", "RF"], ["now", "301.5", "9.0"]], indent=""))
            LF   RF
    now  301.5  9.0
    """
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    room = WIDTH - len(indent) - sum(widths[1:]) - len(gap) * (len(widths) - 1)
    widths[0] = min(widths[0], max(room, 4))
    lines = []
    for first, *others in rows:
        cells = [cut(first, widths[0]).ljust(widths[0])]
        cells += [cell.rjust(width) for cell, width in zip(others, widths[1:], strict=True)]
        lines.append((indent + gap.join(cells)).rstrip())
    return "\n".join(lines)
