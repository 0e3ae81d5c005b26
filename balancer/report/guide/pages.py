"""The pages of the guide, as a terminal shows them."""

import re
from collections.abc import Iterator
from importlib.resources import files
from textwrap import fill

from balancer.report.words.tables import WIDTH

TOPICS = {
    "start": "From a car file to the first plan.",
    "weighing": "Weighing well: readings, what is sure, what is kept.",
    "sessions": "Sitting at the pads: weigh, turn, weigh again; the log.",
    "perches": "What a plan of turns may aim for, hold and leave alone.",
    "ballast": "Ballast, rules, race trims, and the check before an event.",
    "parts": "What parts and springs do, and what changed between weigh-ins.",
    "pads": "Pads, floors, lifts and the stiffness of the chassis.",
    "corners": "Corners that are not linear: stops, tenders, mounts, links.",
    "page": "The page beside the car: session, log and sheet on a phone.",
    "sheet": "The page for the garage wall, and pictures.",
    "car-file": "The car file key by key, and the files beside it.",
    "commands": "Every command with its options, and exit statuses.",
    "scripts": "For scripts: JSON and Python.",
    "words": "What the words mean, and how right the model is.",
}
"""Name to what a page is about, in the order a person meets them."""


def page(topic: str) -> str:
    """Give a page as it is written, in Markdown.

    Examples:
        >>> page("words").splitlines()[0]
        '# What the words mean'
    """
    path = files("balancer.report.guide").joinpath(f"{topic}.md")
    return path.read_text(encoding="utf-8")


def plain(markdown: str) -> str:
    """Give a page for a terminal of 80 columns.

    Examples:
        >>> print(plain("# Pads\\n\\nShim *them* first, see `perches`."))
        PADS
        <BLANKLINE>
        Shim them first, see perches.
    """
    return "\n".join(_lines(markdown)).strip("\n")


def _lines(markdown: str) -> Iterator[str]:
    for number, part in enumerate(re.split(r"^```.*\n", markdown, flags=re.MULTILINE)):
        if number % 2:
            # What is shown of the program is as it printed it.
            lines = part.splitlines()
            room = max(map(len, lines)) <= WIDTH - 2
            yield from (f"{'  ' * room}{line}".rstrip() for line in lines)
            yield ""
        else:
            for block in re.split(r"\n\s*\n", part):
                if block.strip():
                    yield from _block(block.strip("\n"))


def _block(block: str) -> Iterator[str]:
    """Lay out a heading, a table, a list or a paragraph, with a blank line behind it."""
    if block.startswith("|"):
        yield from _table(block)
    elif block.startswith("#"):
        yield ""
        yield _bare(block.lstrip("# ")).upper()
    elif block.startswith("* "):
        for item in re.split(r"^\* ", block, flags=re.MULTILINE)[1:]:
            yield fill(_bare(item), WIDTH, initial_indent="* ", subsequent_indent="  ")
    elif block and not block.startswith("<"):
        yield fill(_bare(block), WIDTH, break_long_words=False, break_on_hyphens=False)
    yield ""


def _table(block: str) -> Iterator[str]:
    """Set each row of a table under its first cell: terminals are narrow."""
    _, _, *rows = block.splitlines()
    for row in rows:
        first, *rest = (_bare(cell.strip()) for cell in re.split(r"(?<!\\)\|", row)[1:-1])
        if first:
            yield fill(first, WIDTH)
        for cell in filter(None, rest):
            yield fill(cell, WIDTH, initial_indent="    ", subsequent_indent="    ")


def _bare(text: str) -> str:
    """Take the marks of Markdown out of a text."""
    text = re.sub(r"\[([^\]]*)\]\(([^)]*)\)", r"\1", " ".join(text.split()))
    return re.sub(r"(?<![\w`])\*([^*\s][^*]*)\*", r"\1", text).replace("`", "").replace("\\|", "|")
