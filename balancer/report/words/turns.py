"""How turns are said: as they are counted at a perch, in fractions, up or down, in or out."""

from collections.abc import Iterable, Sequence

from balancer.car.conventions import CORNERS
from balancer.car.corner import LINKS
from balancer.files.counting import LINK_TURN, TURN, Count
from balancer.report.words.tables import FRACTIONS

_SIGNS = {plain: sign for sign, plain in FRACTIONS.items() if sign not in "⅐⅑⅒"}
"""Those that most fonts have."""


def turns(value: float, count: Count = TURN) -> str:
    """Write turns without a sign, as a whole and a fraction where that is what hands do.

    >>> turns(-1.5), turns(0.25), turns(2), turns(0.1), turns(5 / 12)
    ('1½', '¼', '2', '0.1', '5/12')
    >>> turns(-1.5, Count("flat", "flats", 6)), turns(0.25, Count("mm", "mm", 1.5, decimals=2))
    ('9', '0.38')
    """
    value = abs(value) * count.in_a_turn
    parts = next((n for n in range(1, 25) if abs(round(n * value) / n - value) <= 1e-9), 0)
    if parts in (0, 10, 20) or count.decimals is not None:
        return f"{value:.{count.decimals or 2}f}".rstrip("0").rstrip(".")
    whole, rest = divmod(round(parts * value), parts)
    if not rest:
        return str(whole)
    part = _SIGNS.get(f"{rest}/{parts}", f"{rest}/{parts}")
    joint = " " if "/" in part else ""
    return f"{whole}{joint}{part}" if whole else part


def some_turns(value: float, count: Count = TURN) -> str:
    """Write turns without a sign, and what is counted.

    >>> some_turns(1.5), some_turns(-1)
    ('1½ turns', '1 turn')
    """
    few = abs(value) * count.in_a_turn <= 1 + 1e-9
    return f"{turns(value, count)} {count.one if few else count.many}"


def turns_left(value: float, count: Count = TURN) -> str:
    """Say how much is left of a travel, up to the verb.

    >>> turns_left(1), turns_left(0), turns_left(2.5)
    ('only 1 turn is', 'no turns are', 'only 2½ turns are')
    """
    if not value:
        return f"no {count.many} are"
    one = abs(value) * count.in_a_turn <= 1 + 1e-9
    return f"only {turns(value, count)} {f'{count.one} is' if one else f'{count.many} are'}"


def in_all(values: Iterable[float], counts: Sequence[Count]) -> str:
    """Say how much it is at all corners.

    >>> in_all([0.5, 0, -0.5, -1], [TURN, TURN, Count("flat", "flats", 6), TURN])
    '1½ turns and 3 flats'
    """
    sums: dict[Count, float] = {}
    for value, count in zip(values, counts, strict=True):
        if value:
            sums[count] = sums.get(count, 0.0) + abs(float(value))
    return " and ".join(some_turns(total, count) for count, total in sums.items())


def signed_turns(value: float, count: Count = TURN) -> str:
    """Write turns with a sign and what is counted, where it is something else; a dot for none.

    >>> signed_turns(-1.5), signed_turns(0), signed_turns(-0.5, Count("flat", "flats", 6))
    ('−1½', '·', '−3 flats')
    """
    word = f" {some_turns(value, count).rpartition(' ')[2]}" if count.word and value else ""
    return signed_number(value, count) + word


def signed_number(value: float, count: Count = TURN) -> str:
    """Write turns with a sign alone, under a heading that says what is counted."""
    return "·" if not value else ("+" if value > 0 else "−") + turns(value, count)


def turned_corners(values: Iterable[float], counts: Sequence[Count]) -> str:
    """Name the corners that were turned, and how far, then drop links; empty when none was.

    >>> turned_corners([-1.5, 0, 0, 0.25], [TURN] * 4)
    'LF −1½, RR +¼'
    >>> turned_corners([-1.5, 0, 0, 0.25], [Count("flat", "flats", 8)] * 4)
    'LF −12, RR +2 flats'
    >>> turned_corners([-1.5, 0, 0, 0, 0.5, 0], [TURN] * 4)
    'LF −1½, front link ½ turn longer'
    """
    turned = list(map(float, values))
    links = [
        f"{name} {turning(turn, LINK_TURN)}"
        for name, turn in zip(LINKS, turned[4:], strict=False)
        if turn
    ]
    return ", ".join(filter(None, (_at_corners(turned[:4], counts), *links)))


def _at_corners(values: Sequence[float], counts: Sequence[Count]) -> str:
    each = [one for one in zip(CORNERS, values, counts, strict=True) if one[1]]
    if len({count for _, _, count in each}) > 1:
        return ", ".join(f"{corner} {signed_turns(turn, count)}" for corner, turn, count in each)
    said = ", ".join(f"{corner} {signed_number(turn, count)}" for corner, turn, count in each)
    word = each[0][2].word if each else ""
    return f"{said} {word}".rstrip()


def turning(value: float, count: Count = TURN) -> str:
    """Say how far to turn and which way.

    >>> from balancer.files.counting import SPACER
    >>> turning(1.5), turning(-1), turning(2, SPACER)
    ('1½ turns up', '1 turn down', '2 spacers in')
    """
    return f"{some_turns(value, count)} {way(value, count)}"


def way(value: float, count: Count) -> str:
    """Say which way a turn goes."""
    return count.ways[0 if value > 0 else 1]
