"""What a person counts at a perch: turns, flats of its nut, clicks, or millimeters of thread.

All the package counts turns; this is how they are said and heard.
"""

import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

_SAID = re.compile(r"(?:(\d{1,3}(?:\.\d{1,3})?)\s+)?(turn|flat|click|mm)s?", re.ASCII)


class Count(NamedTuple):
    """What is counted.

    Attributes:
        in_a_turn: How many make one turn; NaN of a length where no thread is known.
        step: The smallest move where the file says nothing [1].
        decimals: None: said in fractions, as hands count.
        ways: Up and down.
    """

    one: str
    many: str
    in_a_turn: float = 1.0
    step: float = 1.0
    decimals: int | None = None
    ways: tuple[str, str] = ("up", "down")

    @property
    def word(self) -> str:
        """What stands behind a bare number of it: nothing for turns and spacers."""
        return "" if self.in_a_turn == 1 and self.decimals is None else self.many

    @property
    def words(self) -> tuple[str, ...]:
        """Give all that people may type behind a number of it, turns among them."""
        return tuple(dict.fromkeys((self.one, self.many, TURN.one, TURN.many)))

    def in_turns(self, value: float, word: str) -> float:
        """Give as turns what was counted in this or, by its word, in turns.

        >>> flats = Count("flat", "flats", 6)
        >>> flats.in_turns(3, ""), flats.in_turns(3, "turns")
        (0.5, 3)
        """
        turned = word in (TURN.one, TURN.many) and self.one != TURN.one
        return value if turned else value / self.in_a_turn


TURN = Count("turn", "turns", step=0.25)
LINK_TURN = TURN._replace(ways=("longer", "shorter"))
SPACER = Count("spacer", "spacers", ways=("in", "out"))


def read_count(text: str, lead: float = float("nan")) -> Count | None:
    """Read what is counted at a perch.

    Args:
        lead: Perch travel in one turn [m].

    Returns:
        None where it is none of those that are known.

    Examples:
        >>> read_count("6 flats").in_a_turn, read_count("mm", 0.0015).in_a_turn
        (6.0, 1.5)
        >>> read_count("flats") is None, read_count("turns") is TURN
        (True, True)
    """
    said = _SAID.fullmatch(text.strip().lower())
    if not said or bool(said[1]) != (said[2] in ("flat", "click")):
        return None
    if said[2] == "turn":
        return TURN
    if said[2] == "mm":
        return Count("mm", "mm", 1e3 * lead, 0.25, decimals=2)
    number = float(said[1])
    return Count(said[2], f"{said[2]}s", number) if 1 < number <= 100 else None


def shared(counts: Iterable[Count]) -> Count:
    """Give what all of them count, and turns where they count several things."""
    different = list(dict.fromkeys(counts))
    return different[0] if len(different) == 1 else TURN


def counted(
    perches: Sequence[Count], mounts: Sequence[bool], solid: Sequence[bool]
) -> tuple[Count, ...]:
    """Give what is counted at each corner: spacers without springs, turns of a lower mount.

    Args:
        perches: What is counted at each perch.
        mounts, solid: Whether the lower mount is turned there, and whether there is no spring.
    """
    at_corners = zip(perches, mounts, solid, strict=True)
    return tuple(
        SPACER if spacers else TURN if mounted else perch for perch, mounted, spacers in at_corners
    )
