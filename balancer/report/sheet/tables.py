"""The tables of the sheet: loads, steps, heights, ballast, rules and what is on board, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from balancer.ballast.goal import RuleCheck
from balancer.ballast.plan import BallastItem
from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.log.last_session import PastSession
from balancer.prep import Preparation
from balancer.report.ballast import rule_name
from balancer.report.pictures.plan_view import without_number
from balancer.report.words.numbers import amount, number, percent, signed_turns, uncertainty
from balancer.units import Units
from balancer.weighing.load_states import Trim
from balancer.weighing.uncertainty import Shares
from balancer.weighing.weigh import WeighIn

_STEPS = 6
"""So many weigh-ins of a long session are told one by one: the first, and the last of them."""


class State(NamedTuple):
    """A column of the table: the car at some moment.

    Attributes:
        loads: (4,) [N].
    """

    name: str
    loads: Floats
    shares: Shares


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
    rows = [["", *(state.name for state in states)]]
    for index, corner in enumerate(CORNERS):
        rows.append([corner, *(amount(one.loads[index], "load", units) for one in states)])
    label = units.labels["load"]
    rows.append(
        [
            f"all,\N{NO-BREAK SPACE}{label}",
            *(amount(one.shares.total, "load", units) for one in states),
        ]
    )
    for name in ("front", "left", "cross"):
        shown = (number(100 * float(getattr(one.shares, name)), 1) for one in states)
        rows.append([f"{name},\N{NO-BREAK SPACE}%", *shown])
    return rows


def heights_table(
    weighed: WeighIn, ready: Preparation, session: PastSession | None, units: Units
) -> list[list[str]]:
    """Set out ride heights where they were measured, else what the turns do to them."""

    def row(name: str, values: Floats, sign: bool = False) -> list[str]:
        return [name, *(amount(float(value), "length", units, sign) for value in values)]

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


def steps_table(session: PastSession | None) -> list[list[str]]:
    """Tell the weigh-ins of a session, and what was turned after each."""
    if session is None:
        return []
    rows = []
    for count, (one, made) in enumerate(zip(session.weigh_ins, session.made, strict=True), 1):
        cross = f"{percent(one.shares.cross, 2)} {uncertainty(100 * one.uncertainties.cross, 2)}"
        rows.append([str(count), cross, *(signed_turns(float(turn)) for turn in made)])
    if more := len(rows) - _STEPS:
        rows = rows if more < 0 else [rows[0], *rows[more + 1 :]]
    total = np.sum(session.made, axis=0)
    return [*rows, ["all", "", *(signed_turns(float(turn)) for turn in total)]]


def put_words(put: BallastItem, units: Units) -> dict[str, str]:
    """Say what ballast is put where.

    >>> from balancer.units import METRIC
    >>> lead = BallastItem("boot", 12.5, 2.4, -0.2, 0.3, ((10.0, 1), (2.5, 1)))
    >>> put_words(lead, METRIC)["across"]
    '200 right'
    """
    digits = 0 if units.name == "metric" else 1
    aft, left = (
        number(units.from_si(value, "length"), digits) for value in (put.aft, abs(put.left))
    )
    side = "left" if put.left > 0 else "right"
    across = f"{left} {side}" if abs(put.left) > 5e-4 else "center"
    pieces = " + ".join(
        f"{count} × {number(units.from_si(mass, 'mass'), 2).rstrip('0').rstrip('.')}"
        for mass, count in put.pieces
    )
    return {
        "place": put.place,
        "mass": amount(put.mass, "mass", units),
        "pieces": pieces.replace(" × ", "\N{NO-BREAK SPACE}×\N{NO-BREAK SPACE}"),
        "aft": aft,
        "across": across,
    }


def unnumbered(file: CarFile, items: Sequence[BallastItem]) -> str:
    """Say which ballast has no number in the drawing, for want of room."""
    bare = without_number(file.car, items)
    if not bare:
        return ""
    return (
        f", where {bare[0]} found no room"
        if len(bare) == 1
        else (f", where {len(bare)} of them, {bare[0]} to {bare[-1]}, found no room")
    )


def rules_words(ready: Preparation, units: Units) -> list[dict[str, Any]]:
    """Set out the rules with what is to spare; of the wheels only the lightest, a band as one."""
    rules = ready.ballast.rules
    wheels = [rule for rule in rules if rule.kind.startswith("wheel_")]
    lightest = min(wheels, key=lambda rule: rule.value, default=None)
    bands = [rule for rule in rules if rule.kind.startswith("front_")]
    told = [
        _mass_rule(rule, units)
        for rule in rules
        if rule not in bands and (rule not in wheels or rule is lightest)
    ]
    if len(bands) == 2:
        told.append(_band(*bands))
    return told


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
    }


def _band(low: RuleCheck, high: RuleCheck) -> dict[str, Any]:
    spare = min(low.value - low.limit, high.limit - high.value)
    ends = [number(100 * rule.limit, 2) for rule in (low, high)]
    return {
        "name": "front share, %",
        "asked": ends[0] if ends[0] == ends[1] else " to ".join(ends),
        "value": number(100 * low.value, 2),
        "spare": number(100 * spare, 2, sign=True),
        "met": low.met and high.met,
    }


def board_rows(ready: Preparation, units: Units) -> list[list[str]]:
    """Say what is on board when, a line for each thing that ever is."""
    states = (ready.as_weighed.on_board, ready.race_trim.on_board, ready.on_the_pads.on_board)
    names = dict.fromkeys(item.name for state in states for item in state)
    return [[name, *(_amount_of(name, state, units) for state in states)] for name in names]


def _amount_of(name: str, state: Sequence[Item], units: Units) -> str:
    for item in state:
        if item.name == name and item.density:
            return (
                f"{round(units.from_si(item.mass / item.density, 'volume'), 1):g} "
                + (units.labels["volume"])
            )
        if item.name == name:
            return amount(item.mass, "mass", units, unit=True)
    return "none"
