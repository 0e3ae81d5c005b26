"""Prose in lines of a terminal, and sentences that stand under more than one result."""

from collections.abc import Iterable

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.car.ground import off_the_ground
from balancer.files.car_file import CarFile
from balancer.report.words.tables import WIDTH, showable, wide_as_it_is
from balancer.weighing.weigh import WeighIn


def wrapped(text: str, later: str = "") -> str:
    """Break prose into lines of 80 columns, the later ones behind an indent.

    A number stays with its unit, and a first indent stays.

    >>> print(wrapped("- " + "word " * 17, "  "))
    - word word word word word word word word word word word word word word word
      word word
    """
    text = showable(text)
    if len(text) <= WIDTH or wide_as_it_is():
        return text
    import re
    import textwrap

    tied = re.sub(r"(?<=\d) (?=%|kg\b|lb\b|mm\b|in\b|Hz\b)", "\N{NO-BREAK SPACE}", text)
    filled = textwrap.fill(tied, WIDTH, subsequent_indent=later, break_on_hyphens=False)
    return filled.replace("\N{NO-BREAK SPACE}", " ")


def first_line(file: CarFile, text: str) -> str:
    """Begin a result: the car, and what is told of it."""
    return wrapped(f"{file.car.name}{text}")


def lines_of(texts: Iterable[str], later: str = "") -> str:
    """Set each text on lines of its own.

    >>> print(lines_of(["one", "two"]))
    one
    two
    """
    return "\n".join(wrapped(text, later) for text in texts)


def paragraphs(*parts: str) -> str:
    """Set parts apart by an empty line, but for those with nothing in them.

    >>> paragraphs("one", "", "two")
    'one\\n\\ntwo'
    """
    return "\n\n".join(part for part in parts if part)


def listed(texts: Iterable[str]) -> str:
    """Set each text on lines of its own behind a dash.

    >>> print(listed(["one", "two"]))
    - one
    - two
    """
    return lines_of((f"- {text}" for text in texts), "  ")


def by_corner_words(cells: Iterable[str]) -> str:
    """Set four texts behind the names of their corners.

    >>> by_corner_words("1234")
    'LF 1, RF 2, LR 3, RR 4'
    """
    return ", ".join(f"{corner} {cell}" for corner, cell in zip(CORNERS, cells, strict=True))


def times(count: int) -> str:
    """Say how often.

    >>> times(1), times(2), times(3)
    ('once', 'twice', '3 times')
    """
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def unsettled(weighed: WeighIn) -> str:
    """Say when repeats wander: the car has not settled; nothing of others."""
    pads = ", ".join(dict.fromkeys(pad for _, pad in weighed.outliers))
    return f"Not settled: the readings of {pads} wander." if pads else ""


def lifted(loads: Iterable[float], state: str = "") -> list[str]:
    """Say which wheel is off the ground; nothing where all are on it.

    >>> lifted([2600.0, 0.0, 2500.0, 2600.0], "race trim")
    ['race trim: RF is off the ground there, the other three carry the car']
    """
    corners = off_the_ground(np.array(list(loads)))
    return [
        f"{state}{state and ': '}{corner} is off the ground there, the other three carry the car"
        for corner in corners
    ]


def care_of(loads: Iterable[float], state: str = "") -> list[str]:
    """Say it as a sentence that begins a result."""
    return [f"Care: {text}." for text in lifted(loads, state)]
