"""Words on paper, measured: how wide they are, cut or broken to fit. Pictures and sheet use it."""

import re
import unicodedata
from functools import cache

from balancer.car.errors import spelled

_PLAIN = (
    318, 401, 460, 838, 637, 951, 780, 275, 391, 391, 500, 838, 318, 361, 318, 337,
    637, 637, 637, 637, 637, 637, 637, 637, 637, 637, 337, 337, 838, 838, 838, 531,
    1000, 685, 687, 699, 771, 632, 576, 775, 752, 295, 295, 656, 558, 863, 749, 788,
    604, 788, 695, 635, 611, 732, 685, 989, 686, 611, 686, 391, 337, 391, 838, 500,
    500, 613, 635, 550, 635, 616, 353, 635, 634, 278, 278, 580, 278, 975, 634, 612,
    635, 635, 412, 521, 393, 634, 592, 818, 592, 592, 525, 637, 337, 637, 838,
)  # fmt: skip
_BOLD = (
    349, 457, 521, 838, 696, 1002, 873, 307, 458, 458, 523, 838, 380, 416, 380, 366,
    696, 696, 696, 696, 696, 696, 696, 696, 696, 696, 400, 400, 838, 838, 838, 581,
    1000, 774, 763, 734, 831, 684, 684, 821, 837, 373, 373, 775, 638, 996, 837, 851,
    733, 851, 771, 721, 683, 813, 774, 1104, 771, 725, 726, 458, 366, 458, 838, 500,
    500, 675, 716, 593, 716, 679, 436, 716, 712, 343, 343, 666, 343, 1042, 712, 688,
    716, 716, 494, 596, 479, 712, 652, 924, 646, 652, 583, 712, 366, 712, 838,
)  # fmt: skip
"""Advance widths of the letters from blank to tilde in DejaVu Sans 2.37 and its bold, rounded up to
thousandths of the size; other sans serifs are narrower, or as wide."""

_OTHERS = {
    **dict.fromkeys("−±×", (838, 838)), **dict.fromkeys("½¼¾⅛", (970, 1036)),
    **dict.fromkeys("“”", (519, 658)), **dict.fromkeys("▲▼", (770, 770)),
    "–": (500, 500), "·": (318, 380), "…": (1000, 1000), "\u00a0": (318, 349),
    "Œ": (1070, 1168), "ľ": (375, 480), "Ơ": (914, 875), "Ư": (858, 836),
}  # fmt: skip
"""Of others that are written often, and of letters whose mark makes them wider."""

_UNKNOWN = (1050, 1340)


def width(text: str, size: float, bold: bool = False) -> float:
    """Give how wide a text is in DejaVu Sans, in the unit of its size.

    >>> width("100 kg", 10) == 10 * (3 * 0.637 + 0.318 + 0.580 + 0.635)
    True
    """
    return size * sum(_advance(letter, bold) for letter in text) / 1000


@cache
def _advance(letter: str, bold: bool) -> int:
    if letter in _OTHERS:
        return _OTHERS[letter][bold]
    plain = unicodedata.normalize("NFD", letter)[0]
    if " " <= plain <= "~":
        return (_BOLD if bold else _PLAIN)[ord(plain) - ord(" ")]
    return _UNKNOWN[bold]


def fit(text: str, room: float, size: float, bold: bool = False) -> str:
    """Cut a text that is longer than its room, and spell out what can't be shown.

    >>> fit("battery shelf", 60, 10)
    'battery s…'
    """
    text = spelled(text)
    if width(text, size, bold) <= room:
        return text
    room -= width("…", size, bold)
    for place, letter in enumerate(text):
        room -= width(letter, size, bold)
        if room < 0:
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


def line_count(text: str, room: float, size: float, bold: bool = False) -> int:
    """Count the lines that a text takes where a word wider than its room is broken as well.

    >>> line_count("one two three", 45, 10), line_count("W" * 9, 45, 10), line_count("", 45, 10)
    (2, 2, 0)
    """
    full, used, blank = 0, 0.0, width(" ", size, bold)
    for word in text.split():
        wide = width(word, size, bold)
        if used and used + blank + wide > room:
            full, used = full + 1, 0.0
        used += wide + (blank if used else 0.0)
        full, used = full + int(used // room), used % room
    return full + (used > 0)
