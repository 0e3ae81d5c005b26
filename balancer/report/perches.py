"""A perch plan told: as text, and as the JSON contract."""

from __future__ import annotations

from typing import Any

import numpy as np

from balancer.car import CORNERS, Car
from balancer.carfile import CarFile
from balancer.perch_limits import Limit
from balancer.perches import PerchPlan
from balancer.report.cautions import PERCHES
from balancer.report.tables import table
from balancer.report.weigh import shares_json
from balancer.report.words import (
    amount,
    by_corner,
    doubt,
    number,
    percent,
    signed_turns,
    turning,
    turns,
    wrapped,
)
from balancer.turns import UNSTATED_TRAVEL, PerchMoves, PerTurn
from balancer.units import Units
from balancer.weighing import WeighIn


def perches_json(file: CarFile, weighed: WeighIn, plan: PerchPlan) -> dict[str, Any]:
    """Give a perch plan as the dict that `balancer perches --json` prints.

    Parameters
    ----------
    file : CarFile
    weighed : WeighIn
    plan : PerchPlan

    Returns
    -------
    dict
        Keys as documented in README.md; car file's units, cross weight in percent.
    """
    units = file.units
    return {
        "car": file.car.name,
        "units": units.name,
        "status": plan.status,
        "target_cross_pct": 100 * plan.goal.cross,
        "now": {
            "loads": by_corner(weighed.loads, "load", units),
            "cross_pct": 100 * weighed.shares.cross,
        },
        **_moves_json(plan.best, units),
        "limits": limit_texts(plan, units),
        "alternatives": [_moves_json(moves, units) for moves in plan.alternatives],
        "per_turn": {
            corner: turn_json(plan.per_turn, index, units)
            for index, corner in enumerate(CORNERS)
            if file.car.adjustable[index]
        },
        "uncertainty": {
            "cross_pct": 100 * weighed.doubts.cross,
            "turns": plan.turns_doubt if np.isfinite(plan.turns_doubt) else None,
        },
    }


def _moves_json(moves: PerchMoves, units: Units) -> dict[str, Any]:
    return {
        "corners": moves.corners,
        "turns": by_corner(moves.turns, "number", units),
        "loads": by_corner(moves.loads, "load", units),
        **shares_json(moves.shares),
        "height_change": by_corner(moves.height_change, "length", units),
        "cross_met": moves.cross_met,
        "heights_met": moves.heights_met,
    }


def turn_json(per_turn: PerTurn, index: int, units: Units) -> dict[str, Any]:
    """Give what one turn up at a corner does, under the names of the contract."""
    loads, heights = per_turn.loads[index], per_turn.heights[index]
    return {
        "cross_pct": 100 * float(per_turn.cross[index]),
        "load": units.from_si(float(loads[index]), "load"),
        "height_change": units.from_si(float(heights[index]), "length"),
        "loads": by_corner(loads, "load", units),
        "height_changes": by_corner(heights, "length", units),
    }


def perches_text(file: CarFile, weighed: WeighIn, plan: PerchPlan, target: str) -> str:
    """Tell a perch plan in at most 80 columns.

    Parameters
    ----------
    file : CarFile
    weighed : WeighIn
    plan : PerchPlan
    target : str
        What was asked for, in words.

    Returns
    -------
    str
    """
    units = file.units
    parts = [
        _asked(file, weighed, plan, target),
        _verdict(plan, units),
        "\n".join(turn_lines(plan.best, units)),
        _before_and_after(weighed, plan.best, units),
        _others(plan, units),
        per_turn_table(plan.per_turn, file.car, units),
        "\n".join(_remarks(file, weighed, plan)),
        PERCHES if plan.best.corners else "",
    ]
    return "\n\n".join(part for part in parts if part)


def _asked(file: CarFile, weighed: WeighIn, plan: PerchPlan, target: str) -> str:
    units, goal = file.units, plan.goal
    now = f"{percent(weighed.shares.cross)} {doubt(100 * weighed.doubts.cross, 1)}"
    wanted = f"wanted: {target} {percent(goal.cross)} ± {100 * goal.tolerance:g}"
    heights = "as they are"
    if goal.rise.any():
        rises = (
            f"{c} {amount(r, 'length', units, sign=True)}"
            for c, r in zip(CORNERS, goal.rise, strict=True)
        )
        heights = ", ".join(rises)
    give = amount(goal.height_tolerance, "length", units, unit=True)
    return (
        wrapped(f"{file.car.name}: cross weight (RF+LR) is {now}")
        + "\n"
        + wrapped(f"{wanted}; heights {heights} ± {give}")
    )


def _verdict(plan: PerchPlan, units: Units) -> str:
    if plan.status == "reached":
        return "" if plan.best.corners else "Nothing to turn: it is there already."
    words = {
        "closest": "No allowed turns reach this (proved). The closest there is:",
        "gave_up": "The solver stopped without a proof. The closest it found:",
    }
    lines = [words[plan.status]]
    lines += [wrapped(f"- {text}", "  ") for text in limit_texts(plan, units)]
    return "\n".join(lines)


def turn_lines(moves: PerchMoves, units: Units) -> list[str]:
    """Say what to turn, a line a corner; nothing for nothing."""
    if not moves.corners:
        return []
    total = turns(float(np.abs(moves.turns).sum()))
    many = "1 corner" if moves.corners == 1 else f"{moves.corners} corners"
    lines = [f"Turn {many}, {total} turns in all:"]
    for index in np.flatnonzero(moves.turns):
        perch = amount(moves.perch[index], "length", units, sign=True, unit=True)
        wheel = amount(moves.lifts[index], "length", units, sign=True, unit=True)
        turned = turning(moves.turns[index])
        lines.append(f"  {CORNERS[index]}: {turned} ({perch} perch, {wheel} at the wheel)")
    return lines


def _before_and_after(weighed: WeighIn, moves: PerchMoves, units: Units) -> str:
    if not moves.corners:
        return ""
    load, length = units.labels["load"], units.labels["length"]

    def row(name: str, values: Any, cross: str, sign: bool = False) -> list[str]:
        return [name, *(amount(value, "load", units, sign) for value in values), cross]

    change = moves.loads - weighed.loads
    points = number(100 * (moves.shares.cross - weighed.shares.cross), 1, sign=True)
    heights = [amount(value, "length", units, sign=True) for value in moves.height_change]
    return table(
        [
            ["", *CORNERS, "cross"],
            row(f"now, {load}", weighed.loads, percent(weighed.shares.cross)),
            row(f"then, {load}", moves.loads, percent(moves.shares.cross)),
            row("change", change, f"{points}  ", sign=True),
            [f"height, {length}", *heights, ""],
        ]
    )


def _others(plan: PerchPlan, units: Units) -> str:
    if not plan.alternatives:
        return ""
    off = f"off, {units.labels['length']}"
    rows = [["Other ways", *CORNERS, "turns", "cross", off, "meets"]]
    for moves in plan.alternatives:
        worst = np.abs(moves.height_change - plan.goal.rise).max()
        met = {
            (True, True): "both",
            (True, False): "cross",
            (False, True): "heights",
            (False, False): "neither",
        }[moves.cross_met, moves.heights_met]
        rows.append(
            [
                f"{moves.corners} corner{'s' if moves.corners > 1 else ''}",
                *(signed_turns(value) for value in moves.turns),
                turns(float(np.abs(moves.turns).sum())),
                percent(moves.shares.cross),
                amount(worst, "length", units),
                met,
            ]
        )
    return table(rows, indent="")


def per_turn_table(per_turn: PerTurn, car: Car, units: Units) -> str:
    """Set out what one turn up at each corner does.

    Parameters
    ----------
    per_turn : PerTurn
    car : Car
    units : Units

    Returns
    -------
    str


    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.turns import per_turn
    >>> from balancer.units import METRIC
    >>> turned = per_turn(plain_car(), np.full(4, 2500.0))
    >>> print(per_turn_table(turned, plain_car(), METRIC).split("\\n")[1].rstrip())
    cross weight, points  −0.34  +0.34  +0.34  −0.34
    """
    corners = np.flatnonzero(car.adjustable)
    if not len(corners):
        return ""
    load, length = units.labels["load"], units.labels["length"]
    rows = [
        ["One turn up at", *(CORNERS[index] for index in corners)],
        [
            "cross weight, points",
            *(number(100 * per_turn.cross[index], 2, sign=True) for index in corners),
        ],
        [
            f"its own load, {load}",
            *(amount(per_turn.loads[index, index], "load", units, sign=True) for index in corners),
        ],
        [
            f"its own height, {length}",
            *(
                amount(per_turn.heights[index, index], "length", units, sign=True)
                for index in corners
            ),
        ],
    ]
    return table(rows, indent="")


def _remarks(file: CarFile, weighed: WeighIn, plan: PerchPlan) -> list[str]:
    if not plan.best.corners:
        return []
    remarks = []
    wanted, sure = abs(weighed.shares.cross - plan.goal.cross), weighed.doubts.cross
    if wanted < 2 * sure:
        remarks.append(
            f"The change wanted, {100 * wanted:.2f} points, is smaller than these scales can see"
            f" for sure, {200 * sure:.2f}: weigh several times before turning anything."
        )
    else:
        remarks.append(
            f"The scales know the cross weight {doubt(100 * sure, 1)} points:"
            f" {plan.turns_doubt:.2f} turns at one corner."
        )
    unstated = [
        corner
        for corner, travel, can in zip(
            CORNERS, file.car.perch_travel, file.car.adjustable, strict=True
        )
        if can and not np.isfinite(travel).all()
    ]
    if unstated:
        remarks.append(
            f"The file does not say what perch travel is left at {', '.join(unstated)}: up to"
            f" {UNSTATED_TRAVEL:g} turns are assumed."
        )
    return [wrapped(remark) for remark in remarks]


def limit_texts(plan: PerchPlan, units: Units) -> list[str]:
    """Say what binds, one line each, and what lifting it would take.

    Parameters
    ----------
    plan : PerchPlan
    units : Units

    Returns
    -------
    list of str
        Empty when the goal is reached.
    """
    closest = percent(plan.best.shares.cross)
    return [f"{_limit_text(limit, plan, units)}; the closest is {closest}" for limit in plan.limits]


def _limit_text(limit: Limit, plan: PerchPlan, units: Units) -> str:
    if limit.would is None:
        return "no perch that may be turned can do this"
    parts = []
    lifted = "with that"
    if "travel" in limit.kinds:
        left = zip(limit.corners, limit.turns_left, strict=True)
        needed = dict(zip(CORNERS, limit.would.turns, strict=True))
        parts += [
            f"at {corner} only {turns(count)} {'turn is' if 0 < count <= 1 else 'turns are'} left"
            f" {'up' if needed[corner] > 0 else 'down'} and {turns(needed[corner])} would do it"
            for corner, count in left
        ]
    if "heights" in limit.kinds:
        worst = float(np.abs(limit.would.height_change - plan.goal.rise).max())
        enough = amount(worst, "length", units, unit=True)
        if enough == amount(plan.goal.height_tolerance, "length", units, unit=True):
            # A hair more than what is allowed already must not read as just that.
            fine = number(units.from_si(worst, "length"), 3)
            enough = f"{fine} {units.labels['length']}"
        at_most = "" if limit.would.proved else "at most "
        parts.append(f"the heights would have to give {at_most}{enough}")
    if "keep" in limit.kinds:
        moved = [CORNERS[index] for index in np.flatnonzero(limit.would.turns)]
        kept = [corner for corner in moved if corner in plan.goal.keep]
        parts.append(f"{' and '.join(kept)} may not be touched")
        lifted = "if they could be touched," if len(kept) > 1 else "if it could be touched,"
    if "grid" in limit.kinds:
        parts.append("the steps of the perches are too coarse")
        lifted = "with finer ones"
    if len(limit.kinds) > 1:
        lifted = "without all that"
    reached = percent(limit.would.shares.cross)
    return f"{', '.join(parts)}: {lifted} {reached} could be reached"
