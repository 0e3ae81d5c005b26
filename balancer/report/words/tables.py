"""Plain text tables, set by tabulate, in what a terminal has letters for and room for.

What the terminal has no letter for is replaced before widths are measured, so columns stay columns.
"""

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar

WIDTH = 80

FRACTIONS = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5",
    "⅘": "4/5", "⅙": "1/6", "⅚": "5/6", "⅐": "1/7", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
    "⅑": "1/9", "⅒": "1/10",
}  # fmt: skip
_PLAIN = {
    "−": "-", "–": "-", "—": "-", "±": "+/-", "·": ".", "×": "x", "“": '"', "”": '"', "„": '"',
    "‘": "'", "’": "'", "«": '"', "»": '"', "…": "...", "≤": "<=", "≥": ">=", "→": "->",
    "°": "deg", "\u00a0": " ",
}  # fmt: skip
_ENCODING: ContextVar[str] = ContextVar("encoding of the terminal", default="utf-8")

Rows = Sequence[Sequence[str]]
TABLE = "\ue000"
"""Begins the line that stands for a table which is laid out elsewhere; its number follows."""

_ELSEWHERE: ContextVar[list[Rows] | None] = ContextVar("tables laid out elsewhere", default=None)


@contextmanager
def laid_out_elsewhere() -> Iterator[list[Rows]]:
    """Leave layout, for as long as this lasts, to somebody else: prose is not broken into lines.

    Yields:
        The rows of each table as it comes; in the text its number stands behind `TABLE`.

    Examples:
        >>> with laid_out_elsewhere() as tables:
        ...     print(table([["LF", "+1½"]]) == f"{TABLE}0", tables)
        True [[['LF', '+1½']]]
    """
    tables: list[Rows] = []
    before = _ELSEWHERE.set(tables)
    try:
        yield tables
    finally:
        _ELSEWHERE.reset(before)


def wide_as_it_is() -> bool:
    """Say whether text is laid out elsewhere."""
    return _ELSEWHERE.get() is not None


@contextmanager
def written_in(encoding: str) -> Iterator[None]:
    """Lay out text, for as long as this lasts, for a terminal of this encoding.

    >>> with written_in("ascii"):
    ...     print(table([["LF", "+1½"], ["RF", "−¾"]]))
      LF  +1 1/2
      RF    -3/4
    """
    before = _ENCODING.set(encoding)
    try:
        yield
    finally:
        _ENCODING.reset(before)


def showable(text: str, encoding: str | None = None) -> str:
    """Replace the letters that a terminal does not have, so that every number stays what it is.

    >>> print(showable("−1½ turns, ± 0.1 “é”", "latin-1"))
    -1½ turns, ± 0.1 "é"
    >>> print(showable("−1½ or −¾ turns, ± 0.1 “é”", "ascii"))
    -1 1/2 or -3/4 turns, +/- 0.1 "e"
    """
    encoding = encoding or _ENCODING.get()
    if text.isascii():
        return text
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        missing = {letter for letter in text if not _has(encoding, letter)}
        return re.sub("|".join(map(re.escape, missing)), _replaced, text)
    return text


def _has(encoding: str, letter: str) -> bool:
    try:
        letter.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True


def _replaced(match: re.Match[str]) -> str:
    letter = match[0]
    if letter in FRACTIONS:
        whole = match.string[: match.start()][-1:].isdigit()
        return f" {FRACTIONS[letter]}" if whole else FRACTIONS[letter]
    if letter in _PLAIN:
        return _PLAIN[letter]
    import unicodedata

    bare = unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
    return bare or "?"


def cut(name: str, width: int) -> str:
    """Cut a name that is longer than its room.

    >>> cut("battery shelf", 8)
    'battery…'
    """
    name, dots = showable(name), showable("…")
    return name if len(name) <= width else f"{name[: width - len(dots)]}{dots}"


def table(rows: Rows, indent: str = "  ", gap: str = "  ") -> str:
    """Set rows of cells in columns, the first to the left and the others to the right.

    Names in the first column are cut where the table would be wider than a terminal.

    Args:
        rows: As many cells in each.
        indent, gap: Before each row, and between its cells.

    Returns:
        Lines without trailing blanks.

    Examples:
        >>> print(table([["", "LF", "RF"], ["now", "301.5", "9.0"]], indent=""))
                LF   RF
        now  301.5  9.0
    """
    if (elsewhere := _ELSEWHERE.get()) is not None:
        elsewhere.append([list(row) for row in rows])
        return f"{TABLE}{len(elsewhere) - 1}"
    rows = [[showable(cell) for cell in row] for row in rows]
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    room = WIDTH - len(indent) - sum(widths[1:]) - len(gap) * (len(widths) - 1)
    return _set([[cut(first, max(room, 4)), *others] for first, *others in rows], indent, gap)


def _set(rows: list[list[str]], indent: str, gap: str) -> str:
    # Nine tenths of its import are importlib.metadata: only where a table is printed.
    import tabulate

    line = tabulate.DataRow(indent, gap, "")
    # A letter is a column, whether or not wcwidth happens to be there.
    wide, tabulate.WIDE_CHARS_MODE = tabulate.WIDE_CHARS_MODE, False
    try:
        return tabulate.tabulate(
            rows,
            tablefmt=tabulate.TableFormat(None, None, None, None, line, line, 0, None),
            colalign=["left"] + ["right"] * (len(rows[0]) - 1),
            disable_numparse=True,
            preserve_whitespace=True,  # a change stands under the digits, not under the %
        )
    finally:
        tabulate.WIDE_CHARS_MODE = wide
