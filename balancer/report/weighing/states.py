"""A car in one state or several, told: a row of a table each, and the JSON of one."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from balancer.car.conventions import CORNERS, Floats
from balancer.files.on_board import words_of
from balancer.files.units import Units
from balancer.report.words.json_parts import center_json, loads_json
from balancer.report.words.numbers import amounts, number, percent, three, uncertainty
from balancer.report.words.prose import care_of, lifted, wrapped
from balancer.weighing.load_states import Trim
from balancer.weighing.uncertainty import Shares


class State(NamedTuple):
    """A car at some moment.

    Attributes:
        loads: (4,) [N].
    """

    name: str
    loads: Floats
    shares: Shares


def trim_json(trim: Trim, units: Units) -> dict[str, Any]:
    """Give a car in a state under the names of the contract."""
    return {
        "on_board": [item.name for item in trim.on_board],
        "state": ",".join(words_of(trim.on_board, units)) or "none",
        **loads_json(trim.loads, trim.shares, units),
        "cg": center_json(trim.shares, units),
        "warnings": lifted(trim.loads),
    }


_WIDEST = 14
"""Of the name of a state in a table [column]."""


def trim_names(names: Sequence[str]) -> list[str]:
    """Name states in a table: as they are called, or A, B where that is too long for it.

    Examples:
        >>> trim_names(["wet", "anna,fuel=5"]), trim_names(["wet", "anna,helmet,fuel=5"])
        (['wet', 'anna,fuel=5'], ['A', 'B'])
    """
    if max(map(len, names)) <= _WIDEST:
        return list(names)
    return [chr(ord("A") + number) for number in range(len(names))]


def state_rows(states: Sequence[State], units: Units, change: bool = True) -> list[list[str]]:
    """Set states of a car under each other, and where asked the last less the first."""
    rows = [["", *CORNERS, f"{units.labels['load']} in all", "front", "left", "cross"]]
    for state in states:
        masses = amounts([*state.loads, state.shares.total], "load", units)
        rows.append([state.name, *masses, *map(percent, three(state.shares))])
    if change and len(states) > 1:
        rows.append(_change_row(states[0], states[-1], units))
    return rows


def _change_row(was: State, now: State, units: Units) -> list[str]:
    masses = [*(now.loads - was.loads), now.shares.total - was.shares.total]
    each = zip(three(was.shares), three(now.shares), strict=True)
    points = (f"{number(100 * (after - before), 1, sign=True)}  " for before, after in each)
    return ["change", *amounts(masses, "load", units, sign=True), *points]


def uncertainty_row(loads: Floats, uncertainties: Shares, units: Units) -> list[str]:
    """Set out standard uncertainties below states."""
    points = (uncertainty(100 * share, 2).removeprefix("± ") for share in three(uncertainties))
    masses = amounts([*loads, uncertainties.total], "load", units)
    return ["±", *masses, *(f"{text} " for text in points)]


def lift_lines(states: Sequence[State]) -> list[str]:
    """Say before a table of states in which of them a wheel is off the ground."""
    return [wrapped(text) for state in states for text in care_of(state.loads, state.name)]
