"""Faults in the order of their file, and the names that were meant."""

import re
from collections.abc import Iterable, Sequence

from balancer.car.errors import Fault
from balancer.files.format.toml_text import TomlFile

_COMPARED, _KNOWN = 40, 200
"""Characters of a name, and names, that are looked at to find what was meant."""

_LISTED = 50
"""Names that are listed where none was meant."""

_TRADE = {
    "arb": "anti_roll_bar",
    "sway_bar": "anti_roll_bar",
    "swaybar": "anti_roll_bar",
    "pitch": "perch_lead",
    "thread": "perch_lead",
    "thread_pitch": "perch_lead",
}
"""What the trade calls a key, where its name doesn't look like it (common practice)."""


def in_order(file: TomlFile, faults: Iterable[Fault]) -> list[Fault]:
    """Sort faults by their line; those without one come last, and none is there twice.

    Examples:
        >>> file = TomlFile("a.toml", {}, "")
        >>> found = [Fault("a.toml:7: up", "", ""), Fault("a.toml:5: aft", "", "")]
        >>> [fault.where for fault in in_order(file, found)]
        ['a.toml:5: aft', 'a.toml:7: up']
    """
    return sorted(dict.fromkeys(faults), key=lambda fault: line_of(file, fault) or 10**6)


def line_of(file: TomlFile, fault: Fault) -> int:
    """Give the line that a fault of a file names, or 0."""
    line = re.match(r":(\d+)", fault.where.removeprefix(file.name))
    return int(line[1]) if line else 0


def meant(name: str, known: Sequence[str]) -> str | None:
    """Guess the known name that is meant, if any.

    Examples:
        >>> meant("wheelbse", ["wheelbase", "front"]), meant("FL", ["LF", "RF"]), meant("x", ["y"])
        ('wheelbase', 'LF', None)
        >>> meant("pitch", ["track", "perch_lead"])
        'perch_lead'
    """
    import difflib

    # Comparing two names takes the product of their lengths.
    name = name[:_COMPARED]
    lowered = {other.lower()[:_COMPARED]: other for other in known[:_KNOWN]}
    name = name.lower()
    close = [other for other in lowered if other == _TRADE.get(name)]
    close += difflib.get_close_matches(name, lowered, n=1, cutoff=0.7)
    close += [other for other in lowered if sorted(other) == sorted(name)]
    long = [other for other in lowered if min(len(other), len(name)) > 3]
    close += [other for other in long if other in name]
    close += [other for other in long if name in other]
    return lowered[close[0]] if close else None


def suggestion(name: str, known: Sequence[str]) -> str:
    """Suggest the known name that is meant, or list them.

    Examples:
        >>> suggestion("wheelbse", ["wheelbase", "front"])
        'did you mean wheelbase?'
        >>> suggestion("x", ["driver", "driver"])
        'known here: driver'
    """
    known = list(dict.fromkeys(known))
    close = meant(name, known)
    if close:
        return f"did you mean {close}?"
    listed = [*known[:_LISTED], *([f"and {len(known) - _LISTED} more"] * (len(known) > _LISTED))]
    return f"known here: {', '.join(listed)}"
