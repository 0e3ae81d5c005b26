"""Words in pictures: how wide they are, cut or broken to fit, and never markup."""

from __future__ import annotations

import re
from html import escape

from balancer.errors import spelled

_ASCII = (
    32, 41, 46, 84, 64, 96, 78, 28, 40, 40, 50, 84, 32, 37, 32, 34, 64, 64, 64,
    64, 64, 64, 64, 64, 64, 64, 34, 34, 84, 84, 84, 54, 100, 71, 69, 70, 78, 64,
    58, 78, 76, 30, 30, 66, 56, 87, 75, 79, 61, 79, 70, 64, 62, 74, 69, 99, 69,
    62, 69, 40, 34, 40, 84, 50, 50, 62, 64, 55, 64, 62, 36, 64, 64, 28, 28, 58,
    28, 98, 64, 62, 64, 64, 42, 53, 40, 64, 60, 82, 60, 60, 53, 64, 34, 64, 84,
)  # fmt: skip
"""Advance widths of the letters from blank to tilde in DejaVu Sans 2.37, in hundredths of its size,
rounded up; other sans serifs are narrower, or as wide."""

_OTHERS = {
    "–": 0.5,
    "−": 0.84,
    "±": 0.84,
    "×": 0.84,
    "·": 0.32,
    "“": 0.52,
    "”": 0.52,
    "é": 0.62,
    "\u00a0": 0.32,
}

_BOLD = 1.27


def width(text: str, size: float, bold: bool = False) -> float:
    """Estimate how wide a text is, rather too wide than too narrow.

    >>> width("load", 10) < width("LOAD", 10) < width("LOAD", 10, bold=True)
    True
    """
    return size * (_BOLD if bold else 1.0) * sum(map(_width, text))


def _width(letter: str) -> float:
    if " " <= letter <= "~":
        return _ASCII[ord(letter) - ord(" ")] / 100
    return _OTHERS.get(letter, 1.05)


def fit(text: str, room: float, size: float, bold: bool = False) -> str:
    """Cut a text that is longer than its room, and spell out what can't be shown.

    >>> fit("battery shelf", 60, 10)
    'battery s…'
    """
    text = spelled(text)
    if width(text, size, bold) <= room:
        return text
    room -= width("…", size, bold)
    kept = 0.0
    for place, letter in enumerate(text):
        kept += width(letter, size, bold)
        if kept > room:
            return f"{text[:place]}…"
    return text


def broken(text: str, room: float, size: float) -> list[str]:
    """Break prose into lines that fit, a number staying with its unit.

    >>> broken("one two three", 45, 10)
    ['one two', 'three']
    """
    lines = [""]
    tied = re.sub(r"(?<=\d) (?=(%|kg|lb|mm|in|L|gal|points)\b|%)|(?<=±) ", "\u00a0", spelled(text))
    for word in tied.split(" "):
        longer = f"{lines[-1]} {word}".lstrip()
        if lines[-1] and width(longer, size) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return [fit(line.replace("\u00a0", " "), room, size) for line in lines]


def headed(content: str, title: str, told: str, box: str) -> str:
    """Put a drawing into an SVG that scales to where it hangs, and that can be heard.

    >>> print(headed("</svg>", "a < b", "less", "0 0 9 9").partition("<title")[2])
     id="picture-title">a &lt; b</title>
    <desc id="picture-words">less</desc>
    </svg>
    <BLANKLINE>
    """
    begun = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
        f' viewBox="{box}" role="img" aria-labelledby="picture-title picture-words">\n'
        f'<title id="picture-title">{escape(spelled(title))}</title>\n'
        f'<desc id="picture-words">{escape(spelled(told))}</desc>\n'
    )
    # matplotlib leaves blanks at the ends of lines.
    return begun + re.sub(r"[ \t]+\n", "\n", content).strip() + "\n"
