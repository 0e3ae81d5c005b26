"""The tables of the sheet: loads, steps, heights, ballast, rules and what is on board, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from balancer.car.adjusters import all_turns
from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.files.units import Units
from balancer.planning.ballast.goal import RuleCheck
from balancer.planning.ballast.outcome import BallastItem
from balancer.planning.prep.preparation import Preparation
from balancer.report.ballast import pieces_words, place_aside
from balancer.report.pictures.plan_view import without_number
from balancer.report.rules import SHARE_NAMES, band_words, ends_of, rule_name
from balancer.report.weighing.states import State
from balancer.report.words.numbers import amount, amounts, number, place, sure_percent, three
from balancer.report.words.turns import signed_turns
from balancer.weighing.load_states import Trim
from balancer.weighing.weigh import WeighIn

if TYPE_CHECKING:
    from balancer.log.last_session import PastSession

_STEPS = 6
"""So many weigh-ins of a long session are told one by one: the first, and the last of them."""


def states_of(ready: Preparation, session: PastSession | None, shown: Trim) -> list[State]:
    """Give the columns of the table; one that is the same as the one before it is left out.

    The last is what the pads will show, their heights included.
    """
    race, was = ready.in_race_trim, ready.as_weighed
    states = [State("last weighed" if session else "as weighed", was.loads, was.shares)]
    if session and len(session.weigh_ins) > 1:
        first = session.weigh_ins[0]
        states.insert(0, State("first weighed", first.loads, first.shares))
    if race.on_board != was.on_board:
        states.append(State("race trim", race.loads, race.shares))
    if ready.ballast.items:
        states.append(State("plus ballast", ready.ballast.loads, ready.ballast.shares))
    if ready.perches.best.corners:
        states.append(State("plus turns", ready.race_trim.loads, ready.race_trim.shares))
    if shown is not ready.on_the_pads or shown.on_board != ready.race_trim.on_board:
        states.append(State("next on pads", shown.loads, shown.shares))
    return states


def states_table(states: Sequence[State], units: Units) -> list[list[str]]:
    """Set the states beside each other, since a phone is higher than wide."""
    label = units.labels["load"]
    columns = [
        [
            state.name,
            *amounts([*state.loads, state.shares.total], "load", units),
            *(number(100 * share, 1) for share in three(state.shares)),
        ]
        for state in states
    ]
    blank = "\N{NO-BREAK SPACE}"
    shares = (f"{name},{blank}%" for name in ("front", "left", "cross"))
    names = ["", *CORNERS, f"all,{blank}{label}", *shares]
    return [list(row) for row in zip(names, *columns, strict=True)]


def heights_table(
    weighed: WeighIn, ready: Preparation, session: PastSession | None, units: Units
) -> list[list[str]]:
    """Set out ride heights where they were measured, else what the turns do to them."""

    def row(name: str, values: Floats, sign: bool = False) -> list[str]:
        return [name, *amounts(values, "length", units, sign)]

    change, measured = ready.perches.best.height_change, weighed.readings.ride_heights
    turned = bool(ready.perches.best.corners)
    if measured is None:
        return [row("change by the turns", change, sign=True)] if turned else []
    goal, rows = ready.perches.goal, []
    if session and (first := session.weigh_ins[0].readings.ride_heights) is not None:
        rows += [row("first measured", first)] if len(session.weigh_ins) > 1 else []
    give = amount(goal.height_tolerance, "length", units)
    rows += [row("measured", measured), row(f"wanted, ± {give}", measured + goal.rise)]
    return [*rows, *([row("by the turns alone", measured + change)] if turned else [])]


def steps_table(file: CarFile, session: PastSession | None) -> list[list[str]]:
    """Tell the weigh-ins of a session, and what was turned after each."""
    if session is None:
        return []

    def each(made: Floats) -> list[str]:
        return list(map(signed_turns, made[:4].tolist(), file.counts()))

    rows = []
    for count, (one, made) in enumerate(zip(session.weigh_ins, session.made, strict=True), 1):
        cross = sure_percent(one.shares.cross, one.repeatable.cross)
        rows.append([str(count), cross, *each(made)])
    if more := len(rows) - _STEPS:
        rows = rows if more < 0 else [rows[0], *rows[more + 1 :]]
    total = all_turns(session.made)
    return [*rows, ["all", "", *each(total)]]


def item_words(item: BallastItem, units: Units) -> dict[str, str]:
    """Say what ballast goes where.

    >>> from balancer.files.units import METRIC
    >>> lead = BallastItem("boot", 12.5, 2.4, -0.2, 0.3, ((10.0, 1), (2.5, 1)))
    >>> item_words(lead, METRIC)["across"]
    '200 right'
    """
    return {
        "place": item.place,
        "mass": amount(item.mass, "mass", units),
        "pieces": pieces_words(item, units).replace(" × ", "\N{NO-BREAK SPACE}×\N{NO-BREAK SPACE}"),
        "aft": place(item.aft, units),
        "across": place_aside(item, units) or "center",
    }


def unnumbered(file: CarFile, items: Sequence[BallastItem]) -> str:
    """Say which ballast has no number in the drawing, for want of room."""
    bare = without_number(file.car, items)
    if not bare:
        return ""
    several = f"{len(bare)} of them, {bare[0]} to {bare[-1]},"
    return f", where {bare[0] if len(bare) == 1 else several} found no room"


def rules_words(ready: Preparation, units: Units) -> list[dict[str, Any]]:
    """Set out the rules with what is to spare; of the wheels only the lightest, a band as one."""
    rules = ready.ballast.rules
    wheels = [rule for rule in rules if rule.kind.startswith("wheel_")]
    lightest = min(wheels, key=lambda rule: rule.value, default=None)
    shown = [rule for rule in rules if rule not in wheels or rule is lightest]
    return [
        _band(*ends) if len(ends) == 2 else _mass_rule(ends[0], units) for ends in ends_of(shown)
    ]


def _mass_rule(rule: RuleCheck, units: Units) -> dict[str, Any]:
    spare = rule.limit - rule.value if rule.kind == "maximum" else rule.value - rule.limit
    name = rule_name(rule.kind)
    if rule.kind.startswith("wheel_"):
        name = f"minimum on a wheel, {rule.kind.removeprefix('wheel_')}"
    asked, value = (amount(one, "mass", units) for one in (rule.limit, rule.value))
    return {
        "name": f"{name}, {units.labels['mass']}",
        "asked": asked,
        "value": value,
        "spare": amount(spare, "mass", units, sign=True),
        "met": rule.met,
        "word": _yes([rule]),
    }


def _band(low: RuleCheck, high: RuleCheck) -> dict[str, Any]:
    spare = min(low.value - low.limit, high.limit - high.value)
    return {
        "name": f"{SHARE_NAMES[low.share]}, %",
        "asked": band_words((low.limit, high.limit)),
        "value": number(100 * low.value, 2),
        "spare": number(100 * spare, 2, sign=True),
        "met": low.met and high.met,
        "word": _yes([low, high]),
    }


def _yes(ends: list[RuleCheck]) -> str:
    """Say whether a rule is met, and where it is in doubt, how likely another scale misses it."""
    if all(rule.met for rule in ends):
        return "yes"
    if not all(rule.within for rule in ends):
        return "NO"
    return f"IN DOUBT: {100 * sum(rule.chance or 0.0 for rule in ends):.0f} % miss"


def board_rows(ready: Preparation, units: Units) -> list[list[str]]:
    """Say what is on board when, a line for each thing that ever is."""
    states = (ready.as_weighed.on_board, ready.race_trim.on_board, ready.on_the_pads.on_board)
    names = dict.fromkeys(item.name for state in states for item in state)
    return [[name, *(_amount_of(name, state, units) for state in states)] for name in names]


def _amount_of(name: str, state: Sequence[Item], units: Units) -> str:
    for item in state:
        if item.name == name and item.density:
            volume = units.from_si(item.mass / item.density, "volume")
            return f"{round(volume, 1):g} {units.labels['volume']}"
        if item.name == name:
            return amount(item.mass, "mass", units, unit=True)
    return "none"
