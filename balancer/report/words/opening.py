"""How a result begins: the car, what was on board and how that is known, and what it aims for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal, NamedTuple

from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.files.states import RACE_TRIM, in_words, race_state, words_of
from balancer.perches.goal import Aim
from balancer.report.words.numbers import wanted
from balancer.report.words.prose import wrapped
from balancer.units import Units

AS_IT_STANDS = "as it stands on the pads"
"""What is aimed at where it is the car as weighed."""


class Aboard(NamedTuple):
    """What was on board when a car was weighed, and who said so.

    Attributes:
        source: It was `said` beside the readings, is in the readings `file` or in the `log`, or is
            `assumed`, since nobody said it.
        entry, day: Of the log; 0 and empty where it is not from there.
    """

    items: tuple[Item, ...]
    source: Literal["said", "file", "log", "assumed"] = "assumed"
    entry: int = 0
    day: str = ""


def state_line(file: CarFile, was: Aboard, option: str = "--weighed-with") -> str:
    """Say which car stood on the pads, with what on board, and how that is known.

    Args:
        option: How to say another state where this one is assumed; empty: there is no way.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.units import METRIC
        >>> file = CarFile("a.toml", plain_car(), METRIC, ())
        >>> driver = Item("driver", 78, 1.4, 0.3, 0.4)
        >>> print(state_line(file, Aboard((driver,), "log", 12, "2026-06-13")))
        plain car, on the pads with driver (from the log, entry 12, 2026-06-13).
    """
    if was.source == "assumed" and not file.car.on_board:
        return wrapped(f"{file.car.name}, on the pads; its file names nothing that comes and goes.")
    aboard = in_words(was.items, file.units)
    return wrapped(f"{file.car.name}, on the pads with {aboard} ({_known(file, was, option)}).")


def _known(file: CarFile, was: Aboard, option: str) -> str:
    if was.source == "assumed":
        what = f", {RACE_TRIM}" if was.items == race_state(file).items else ""
        return f"assumed{what}: say {option} for another" if option else f"assumed{what}"
    if was.source == "log":
        return f"from the log, entry {was.entry}, {was.day}"
    return "as said" if was.source == "said" else "from the readings file"


def in_trim(name: str, items: Sequence[Item], units: Units) -> str:
    """Say in which state a car is to reach what it aims for.

    >>> from balancer.units import METRIC
    >>> in_trim("race trim", [Item("driver", 78, 1.4, 0.3, 0.4)], METRIC)
    'in race trim (driver)'
    """
    return f"in {name} ({in_words(items, units)})"


def aim_line(aim: Aim, state: str = AS_IT_STANDS) -> str:
    """Say what the perches are to reach, in which state, and who wants that.

    Args:
        state: From `in_trim`, where it is not for the car as weighed.

    Examples:
        >>> from balancer.perches.goal import PerchGoal
        >>> print(aim_line(Aim(PerchGoal.level(0.5), "cross weight", "usual")))
        Aims for 50.0 % cross weight ± 0.2 as it stands on the pads; the usual target.
    """
    share, _, give = wanted(aim.goal.cross, aim.goal.tolerance).partition(" ± ")
    asked = aim.words.removesuffix("cross weight")
    # What it comes to in cross weight is not known before the car is weighed.
    what = f"{asked} ± {give}" if asked == aim.words else f"{asked}{share} cross weight ± {give}"
    source = {
        "said": "target as said",
        "file": "target from the car file",
        "usual": "the usual target",
        "log": "target from the log",
    }
    return wrapped(f"Aims for {what} {state}; {source[aim.source]}.")


def state_json(was: Aboard, units: Units) -> dict[str, Any]:
    """Give what was on board, and who said so, under the names of the contract."""
    entry = {"entry": was.entry, "date": was.day} if was.source == "log" else {}
    return {"on_board": list(words_of(was.items, units)), "from": was.source, **entry}


def target_json(aim: Aim, state: Sequence[Item], units: Units) -> dict[str, Any]:
    """Give what the perches are to reach, and in which state, under the names of the contract."""
    return {
        "cross_pct": 100 * aim.goal.cross,
        "tolerance": 100 * aim.goal.tolerance,
        "height_tolerance": units.from_si(aim.goal.height_tolerance, "length"),
        "state": list(words_of(state, units)),
        "from": aim.source,
    }
