"""A perch plan in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from balancer.car.adjusters import adjuster_travel
from balancer.car.conventions import CORNERS
from balancer.car.corner import LINKS
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.perches.bar_links import BarFit
from balancer.perches.plan import PerchPlan
from balancer.perches.turns import UNSTATED_TRAVEL, PerchMoves, PerTurn
from balancer.report.perches.corners import bar_lines, corner_lines
from balancer.report.perches.limits import limit_texts
from balancer.report.words.cautions import turning_care
from balancer.report.words.numbers import (
    amount,
    amounts,
    lines_of,
    number,
    paragraphs,
    percent,
    signed_turns,
    spacing,
    turning,
    turns,
    uncertainty,
    wrapped,
)
from balancer.report.words.tables import table
from balancer.units import Units
from balancer.weighing.weigh import WeighIn


def perches_text(
    file: CarFile, weighed: WeighIn, plan: PerchPlan, target: str, bars: Sequence[BarFit] = ()
) -> str:
    """Tell a perch plan in at most 80 columns.

    Args:
        target: What was asked for, in words.
        bars: How the anti-roll bars go on in race trim after these turns.
    """
    units = file.units
    return paragraphs(
        _asked(file, weighed, plan, target),
        _verdict(plan, units),
        "\n".join(turn_lines(plan.best, file)),
        _before_and_after(weighed, plan.best, units),
        _others(plan, units),
        per_turn_table(plan.per_turn, file.car, units),
        lines_of(corner_lines(file, weighed.loads, plan)),
        lines_of(bar_lines(bars, file, bool(plan.best.corners)), "  "),
        lines_of(_remarks(file, weighed, plan)),
        turning_care(file.car) if plan.best.corners else "",
    )


def _asked(file: CarFile, weighed: WeighIn, plan: PerchPlan, target: str) -> str:
    units, goal = file.units, plan.goal
    now = f"{percent(weighed.shares.cross)} {uncertainty(100 * weighed.uncertainties.cross, 1)}"
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


def turn_lines(moves: PerchMoves, file: CarFile) -> list[str]:
    """Say what to turn, a line a corner; nothing for nothing."""
    if not moves.corners:
        return []
    units, solid = file.units, file.car.solid
    total = turns(_turns_in_all(moves))
    many = _places(moves)
    turned = "turn" if _turns_in_all(moves) <= 1 else "turns"
    lines = [f"Turn {many}, {total} {turned} in all:"]
    if solid[moves.turns != 0].any():
        what = "spacer" if total == "1" else "spacers"
        if not solid[moves.turns != 0].all():
            what = "turns and spacers"
        lines = [f"Change {many}, {total} {what} in all:"]
    for index in np.flatnonzero(moves.turns):
        if solid[index]:
            thick = amount(moves.perch[index], "length", units, sign=True, unit=True)
            lines.append(f"  {CORNERS[index]}: {spacing(moves.turns[index])} ({thick})")
            continue
        perch = amount(moves.perch[index], "length", units, sign=True, unit=True)
        wheel = amount(moves.lifts[index], "length", units, sign=True, unit=True)
        turned = turning(moves.turns[index])
        what = "perch" if moves.mounts is None or not moves.mounts[index] else "lower mount"
        lines.append(f"  {CORNERS[index]}: {turned} ({perch} {what}, {wheel} at the wheel)")
    return [*lines, *_link_lines(moves, file)]


def _places(moves: PerchMoves) -> str:
    """Count corners, and name links.

    >>> from balancer.car.model import plain_car
    >>> from balancer.perches.plan import plan_perches
    >>> from balancer.perches.goal import PerchGoal
    >>> plan = plan_perches(plain_car(), np.array([2950.0, 2850, 2350, 2350]), PerchGoal.level(0.5))
    >>> _places(plan.best)
    '2 corners'
    """
    corners = int(np.count_nonzero(moves.turns))
    named = [f"{corners} corner{'' if corners == 1 else 's'}"] if corners else []
    if moves.link_turns is not None:
        named += [name for name, turn in zip(LINKS, moves.link_turns, strict=True) if turn]
    return " and ".join(named)


def _turns_in_all(moves: PerchMoves) -> float:
    links = 0.0 if moves.link_turns is None else float(np.abs(moves.link_turns).sum())
    return float(np.abs(moves.turns).sum()) + links


def _link_lines(moves: PerchMoves, file: CarFile) -> list[str]:
    if moves.link_turns is None:
        return []
    lines = []
    for name, link, turn in zip(LINKS, file.car.links, moves.link_turns.tolist(), strict=True):
        if turn:
            longer = amount(turn * link.lead, "length", file.units, sign=True, unit=True)
            way = "longer" if turn > 0 else "shorter"
            what = "turn" if abs(turn) <= 1 else "turns"
            lines.append(f"  left {name}: {turns(abs(turn))} {what} {way} ({longer})")
    return lines


def _before_and_after(weighed: WeighIn, moves: PerchMoves, units: Units) -> str:
    if not moves.corners:
        return ""
    load, length = units.labels["load"], units.labels["length"]

    def row(name: str, values: Any, cross: str, sign: bool = False) -> list[str]:
        return [name, *amounts(values, "load", units, sign), cross]

    change = moves.loads - weighed.loads
    points = number(100 * (moves.shares.cross - weighed.shares.cross), 1, sign=True)
    heights = amounts(moves.height_change, "length", units, sign=True)
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
                _places(moves),
                *(signed_turns(value) for value in moves.turns),
                turns(_turns_in_all(moves)),
                percent(moves.shares.cross),
                amount(worst, "length", units),
                met,
            ]
        )
    return table(rows, indent="")


def per_turn_table(per_turn: PerTurn, car: Car, units: Units) -> str:
    """Set out what one turn up at each corner does.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.perches.turns import per_turn
        >>> from balancer.units import METRIC
        >>> turned = per_turn(plain_car(), np.full(4, 2500.0))
        >>> print(per_turn_table(turned, plain_car(), METRIC).split("\\n")[1].rstrip())
        cross weight, points  −0.34  +0.34  +0.34  −0.34
    """
    corners = np.flatnonzero(car.adjustable)
    if not len(corners):
        return ""
    load, length = units.labels["load"], units.labels["length"]
    points = (number(100 * per_turn.cross[index], 2, sign=True) for index in corners)
    own_loads, own_heights = (
        effect[corners, corners] for effect in (per_turn.loads, per_turn.heights)
    )
    rows = [
        [f"{one_up(car)} at", *(CORNERS[index] for index in corners)],
        ["cross weight, points", *points],
        [f"its own load, {load}", *amounts(own_loads, "load", units, sign=True)],
        [f"its own height, {length}", *amounts(own_heights, "length", units, sign=True)],
    ]
    return table(rows, indent="")


def one_up(car: Car) -> str:
    """Say what one turn up is called on a car: on an unsprung axle it is a spacer.

    >>> from balancer.car.model import plain_car
    >>> one_up(plain_car())
    'One turn up'
    """
    solid = car.solid[car.adjustable]
    if solid.any():
        return "One spacer in" if solid.all() else "One turn up (spacer in)"
    return "One turn up"


def _remarks(file: CarFile, weighed: WeighIn, plan: PerchPlan) -> list[str]:
    if not plan.best.corners:
        return []
    remarks = []
    wanted, sure = abs(weighed.shares.cross - plan.goal.cross), weighed.uncertainties.cross
    if wanted < 2 * sure:
        remarks.append(
            f"The change wanted, {100 * wanted:.2f} points, is smaller than these scales can see"
            f" for sure, {200 * sure:.2f}: weigh several times before turning anything."
        )
    else:
        remarks.append(
            f"The scales know the cross weight {uncertainty(100 * sure, 1)} points:"
            f" {plan.turns_uncertainty:.2f} turns at one corner."
        )
    unstated = [
        corner
        for corner, travel, can in zip(
            CORNERS, adjuster_travel(file.car), file.car.adjustable, strict=True
        )
        if can and not np.isfinite(travel).all()
    ]
    if unstated:
        remarks.append(
            f"The file does not say what perch travel is left at {', '.join(unstated)}: up to"
            f" {UNSTATED_TRAVEL:g} turns are assumed."
        )
    return remarks
