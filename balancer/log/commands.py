"""The lines of a session: what each says, with every fault of a line in one go."""

from __future__ import annotations

import re
from typing import Literal, NamedTuple
from unicodedata import numeric

from balancer.car.conventions import CORNERS
from balancer.errors import Fault, InputError
from balancer.files.checks.readings import bad_loads
from balancer.files.format.faults import suggestion
from balancer.files.format.numbers import Amount, parse
from balancer.units import Units

Kind = Literal[
    "weigh", "again", "pad", "made", "aboard", "plan", "undo", "yes", "note", "done", "help",
    "nothing",
]  # fmt: skip
Bare = Literal["plan", "undo", "yes", "done", "help"]
_BARE: dict[str, Bare] = {
    "plan": "plan", "undo": "undo", "yes": "yes", "done": "done", "quit": "done", "exit": "done",
    "help": "help",
    "?": "help",
}  # fmt: skip

HELP = """\
  302 288.5 231 244      a weigh-in, LF RF LR RR; or a pad at a time: LF 302
  again 302 288.5 231 244  the same again, car rolled off and on: it is averaged
  made LF=-0.75 RR=0.5   all that was turned, where it was not the plan;
  made LF 3/4 down, RR 1/2 up  is the same
  made nothing           nothing was turned
  aboard driver, fuel=8  what is on the pads from here on; nothing was turned
  aboard race trim       the same, with all that race trim has on board
  plan                   show the plan again
  yes                    keep a reading that was asked about
  undo                   take the last made or weigh-in back
  note TEXT              for the log
  done                   end the session"""

_MASS = ("kg", "lb", "lbs")
_WORDS = ("again", "made", "aboard", "plan", "undo", "yes", "note", "done", "help")


_FRACTIONS = "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
_FRACTION = rf"[{_FRACTIONS}]|[0-9]{{1,3}}/0*[1-9][0-9]{{0,2}}"
_MIXED = re.compile(rf"([+\-−]?)(?:([0-9]{{1,3}})(?:\s+|(?=[{_FRACTIONS}])))?({_FRACTION})")


class Said(NamedTuple):
    """A line understood.

    Attributes:
        values: By corner: loads in the units of the car file, or turns.
        text: Of a note, or what is on board.
    """

    kind: Kind
    values: dict[str, float]
    text: str = ""


def understood(line: str, units: Units) -> Said:
    """Understand a line of a session.

    Args:
        units: Of the car file.

    Raises:
        InputError: With every fault of the line.

    Examples:
        >>> from balancer.units import METRIC
        >>> understood("made LF=-0.75 RR=0.5", METRIC).values
        {'LF': -0.75, 'RR': 0.5}
        >>> understood("LF 302", METRIC)
        Said(kind='pad', values={'LF': 302.0}, text='')
    """
    # LF=302 is what somebody types who has just typed made LF=-0.75.
    words = re.sub(rf"(?i)^\s*({'|'.join(CORNERS)})\s*=\s*", r"\1 ", line).split()
    if not words:
        return Said("nothing", {})
    first = words[0].lower()
    if first == "note":
        if len(words) == 1:
            raise InputError.one("note", "nothing after it", "write note and what to remember")
        return Said("note", {}, line.split(None, 1)[1].strip())
    if first == "aboard":
        if len(words) == 1:
            raise InputError.one("aboard", "nothing after it", "write aboard driver, fuel=8")
        return Said("aboard", {}, line.split(None, 1)[1].strip())
    if first in _BARE:
        if len(words) > 1:
            raise InputError.one(first, f"“{words[1]}” after it", f"say {first} alone")
        return Said(_BARE[first], {})
    if first == "made":
        return Said("made", _turns(words[1:]))
    if first == "again":
        return Said("again", _loads(words[1:], units))
    if first.upper() in CORNERS:
        return _pad(words, units)
    if first[0].isalpha() and first not in ("nan", "inf", "infinity"):
        raise InputError.one(words[0], "not understood", suggestion(first, list(_WORDS)))
    return Said("weigh", _loads(words, units))


def _loads(words: list[str], units: Units) -> dict[str, float]:
    if len(words) != 4:
        got = f"got {len(words)} number{'' if len(words) == 1 else 's'}"
        raise InputError.one("readings", got, "give four: LF RF LR RR")
    amounts = [parse(word, pad, _MASS) for word, pad in zip(words, CORNERS, strict=True)]
    values = [each.in_units(units, "load") if isinstance(each, Amount) else 1.0 for each in amounts]
    faults = [each for each in amounts if isinstance(each, Fault)] + bad_loads(values, CORNERS)
    if faults:
        raise InputError(faults)
    return {pad: _plain(value) for pad, value in zip(CORNERS, values, strict=True)}


def _plain(value: float) -> float:
    """Leave no more digits than any pad has, where another unit was typed."""
    return round(value, 4)


def _pad(words: list[str], units: Units) -> Said:
    pad = words[0].upper()
    if len(words) != 2:
        got = f"got {len(words) - 1} numbers" if len(words) > 1 else "nothing after it"
        raise InputError.one(pad, got, f"give one number: {pad} 302")
    amount = parse(words[1], pad, _MASS)
    if isinstance(amount, Fault):
        raise InputError([amount])
    value = amount.in_units(units, "load")
    if faults := bad_loads([value], [pad]):
        raise InputError(faults)
    return Said("pad", {pad: _plain(value)})


def _turns(words: list[str]) -> dict[str, float]:
    if [word.lower() for word in words] in (["nothing"], ["none"]):
        return {}
    faults, turns = [], {}
    for word in _mixed(_plainly(words)):
        name, sign, text = word.partition("=")
        pad = name.upper()
        if not sign or pad not in CORNERS:
            faults.append(Fault("made", f"“{word}” is not CORNER=TURNS", "write LF=-0.75"))
            continue
        amount = _fraction(text) or parse(text, f"made {pad}", (), "turns like -0.75")
        if isinstance(amount, Fault):
            faults.append(amount)
        elif abs(amount.value) > 100:
            faults.append(Fault(f"made {pad}", f"{text} turns", "expected -100 to 100"))
        elif pad in turns:
            faults.append(Fault(f"made {pad}", "is there twice", "give each corner once"))
        else:
            turns[pad] = amount.value
    if not words:
        faults.append(Fault("made", "nothing after it", "write LF=-0.75 RR=0.5, or made nothing"))
    if faults:
        raise InputError(faults)
    return turns


_NUMBER = rf"\d+(?:\.\d+)?(?:\s*(?:{_FRACTION}))?|\.\d+|{_FRACTION}|\d+ (?:{_FRACTION})"
_TOLD = re.compile(
    rf"(?i)\b({'|'.join(CORNERS)})[:\s]\s*({_NUMBER})\s*(?:turns?\s+)?(up|down)\b[,;]?"
)


def _plainly(words: list[str]) -> list[str]:
    """Put turns in the words of a plan as they are typed.

    >>> _plainly("LF 1 1/4 turns down, RR ½ up".split())
    ['LF=-1', '1/4', 'RR=½']
    """

    def plain(found: re.Match[str]) -> str:
        sign = "-" if found[3].lower() == "down" else ""
        return f"{found[1]}={sign}{found[2]} "

    return _TOLD.sub(plain, " ".join(words)).split()


def _mixed(words: list[str]) -> list[str]:
    """Put a fraction to the whole turns before it: RR=1 1/2."""
    joined: list[str] = []
    for word in words:
        if joined and re.fullmatch(_FRACTION, word) and re.search(r"=[+\-−]?[0-9]+$", joined[-1]):
            joined[-1] += f" {word}"
        else:
            joined.append(word)
    return joined


def _fraction(text: str) -> Amount | None:
    """Read turns as plans are written.

    >>> [_fraction(text).value for text in ("−1½", "1/2", "+1 1/4", "-¾")]
    [-1.5, 0.5, 1.25, -0.75]
    """
    mixed = _MIXED.fullmatch(text)
    if not mixed:
        return None
    sign, whole, part = mixed.groups()
    over, _, under = part.partition("/")
    value = int(whole or 0) + (int(over) / int(under) if under else numeric(part))
    return Amount(-value if sign in ("-", "−") else value, "")
