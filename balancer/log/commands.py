"""The lines of a session: what each says, with every fault of a line in one go."""

import re
from collections.abc import Sequence
from typing import Literal, NamedTuple

from balancer.car.conventions import CORNERS
from balancer.car.corner import LINKS
from balancer.car.errors import Fault, InputError, refuse
from balancer.files.checks.readings import bad_loads
from balancer.files.counting import LINK_TURN, TURN, Count
from balancer.files.format.faults import meant
from balancer.files.format.numbers import Amount, parse
from balancer.files.units import Units

Kind = Literal[
    "weigh", "again", "pad", "made", "aboard", "links", "plan", "undo", "yes", "no", "note",
    "done", "help", "nothing",
]  # fmt: skip
Bare = Literal["plan", "undo", "yes", "no", "done", "help"]
_BARE: dict[str, Bare] = {
    "plan": "plan", "undo": "undo", "yes": "yes", "y": "yes", "no": "no", "n": "no",
    "done": "done", "quit": "done", "exit": "done", "help": "help", "?": "help",
}  # fmt: skip

HELP = """\
  302 288.5 231 244      a weigh-in, LF RF LR RR; or a pad at a time: LF 302
  again 302 288.5 231 244  the same again, car rolled off and on: it is averaged
  made LF=-0.75 RR=0.5   all that was turned, where it was not the plan;
  made LF 3/4 down, RR 1/2 up  is the same, in what is counted (perch_count)
  made nothing           nothing was turned
  aboard driver, fuel=8  what is on the pads from here on; nothing was turned
  aboard race trim       the same, with all that race trim has on board
  links                  drop links may be turned too; links off: they may not
  plan                   show the plan again
  yes                    keep a reading that was asked about; no: forget it
  undo                   take the last made or weigh-in back
  note TEXT              for the log
  done                   end the session"""

_MASS = ("kg", "lb", "lbs")
_MOST_MADE = 100.0
"""Turns that anybody makes at once."""
_WORDS = ("again", "made", "aboard", "links", "plan", "undo", "yes", "no", "note", "done", "help")

_SIGNS = tuple("+-−")
_PLACES = "|".join((*CORNERS, *LINKS))
_BETWEEN = re.compile(
    rf"(?i)[\s,;]+(?=(?:left\s+)?(?:{_PLACES})\b|[a-z]+\s*=)"
    r"(?<!left\s)(?<!front\s)(?<!rear\s)"
)
_MADE = re.compile(
    rf"(?i)(?:left\s+)?(?P<pad>{_PLACES})(?:\s*(?P<sign>=)\s*|[:\s]\s*)(?P<much>.*?)"
    r"(?:\s+(?P<way>up|down|in|out|longer|shorter))?[,;]?"
)


class Said(NamedTuple):
    """A line understood.

    Attributes:
        values: By corner: loads in the units of the car file, or turns, of drop links too.
        text: Of a note, what is on board, or `off` of links.
    """

    kind: Kind
    values: dict[str, float]
    text: str = ""


def understood(line: str, units: Units, counts: Sequence[Count] = (TURN,) * 4) -> Said:
    """Understand a line of a session.

    Args:
        units: Of the car file.
        counts: What is counted at each corner.

    Raises:
        InputError: With every fault of the line.

    Examples:
        >>> from balancer.files.units import METRIC
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
    if first == "links":
        if len(words) > 1 and words[1:] != ["off"]:
            raise InputError.one("links", f"“{words[1]}” after it", "say links, or links off")
        return Said("links", {}, " ".join(words[1:]))
    if first in _BARE:
        if len(words) > 1:
            raise InputError.one(first, f"“{words[1]}” after it", f"say {first} alone")
        return Said(_BARE[first], {})
    if first == "made":
        return Said("made", _turns(" ".join(words[1:]), counts))
    if first == "again":
        return Said("again", _loads(words[1:], units))
    if first.upper() in CORNERS:
        return _pad(words, units)
    if first[0].isalpha() and first not in ("nan", "inf", "infinity"):
        close = meant(first, _WORDS)
        way_out = f"did you mean {close}?" if close else "help lists the words it knows"
        raise InputError.one(words[0], "not understood", way_out)
    return Said("weigh", _loads(words, units))


def _loads(words: list[str], units: Units) -> dict[str, float]:
    if len(words) != 4:
        got = f"got {len(words)} number{'' if len(words) == 1 else 's'}"
        raise InputError.one("readings", got, "give four: LF RF LR RR")
    amounts = [parse(word, pad, _MASS) for word, pad in zip(words, CORNERS, strict=True)]
    values = [each.in_units(units, "load") if isinstance(each, Amount) else 1.0 for each in amounts]
    faults = [each for each in amounts if isinstance(each, Fault)] + bad_loads(values, CORNERS)
    refuse(faults)
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
    refuse(bad_loads([value], [pad]))
    return Said("pad", {pad: _plain(value)})


def _turns(text: str, counts: Sequence[Count]) -> dict[str, float]:
    """Read what was turned, a corner at a time, as it is counted there."""
    if text.lower() in ("nothing", "none"):
        return {}
    faults, turns = [], {}
    by_name = {pad: (pad, count) for pad, count in zip(CORNERS, counts, strict=True)}
    for said in filter(None, _BETWEEN.split(text)):
        made = _MADE.fullmatch(said)
        if not made or not (made["sign"] or made["way"] or made["much"][:1] in _SIGNS):
            faults.append(Fault("made", f"“{said}” is not CORNER=TURNS", "write LF=-0.75"))
            continue
        pad = made["pad"].upper()
        pad, count = by_name.get(pad) or (made["pad"].lower(), LINK_TURN)
        turn = _turn(made["much"], (made["way"] or "").lower(), pad, count)
        if isinstance(turn, Fault):
            faults.append(turn)
        elif pad in turns:
            faults.append(Fault(f"made {pad}", "is there twice", "give each corner once"))
        else:
            turns[pad] = turn
    if not text:
        faults.append(Fault("made", "nothing after it", "write LF=-0.75 RR=0.5, or made nothing"))
    refuse(faults)
    return turns


def _turn(text: str, way: str, pad: str, count: Count) -> float | Fault:
    """Read one corner's turns, positive up.

    >>> [_turn(text, "", "LF", TURN) for text in ("−1½", "1/2", "+1 1/4", "-¾")]
    [-1.5, 0.5, 1.25, -0.75]
    >>> _turn("3 flats", "down", "LF", Count("flat", "flats", 6))
    -0.5
    """
    where = f"made {pad}"
    if way and text[:1] in _SIGNS:
        return Fault(where, f"“{text} {way}” has a sign and a way", "leave one of them out")
    like = "-0.75" if count is TURN else "-3"
    amount = parse(text, where, count.words, f"{count.many} like {like}")
    if isinstance(amount, Fault):
        return amount
    turns = count.in_turns(amount.value, amount.suffix)
    if abs(turns) > _MOST_MADE:
        most = _MOST_MADE * count.in_a_turn
        return Fault(where, f"{text} {count.many}", f"expected {-most:g} to {most:g}")
    return -turns if way in ("down", "out", "shorter") else turns
