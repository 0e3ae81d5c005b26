"""A perch plan told: as text, and as the JSON contract."""

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
from balancer.perches.limits import Limit
from balancer.perches.plan import PerchPlan
from balancer.perches.turns import UNSTATED_TRAVEL, PerchMoves, PerTurn
from balancer.report.cautions import turning_care
from balancer.report.corners import bar_lines, corner_lines, corners_json, moved_json
from balancer.report.tables import table
from balancer.report.weigh import shares_json
from balancer.report.words import (
    amount,
    by_corner,
    lifted,
    number,
    percent,
    signed_turns,
    spacing,
    turning,
    turns,
    uncertainty,
    wrapped,
)
from balancer.units import Units
from balancer.weighing.weigh import WeighIn


def perches_json(
    file: CarFile, weighed: WeighIn, plan: PerchPlan, bars: Sequence[BarFit] = ()
) -> dict[str, Any]:
    """Give a perch plan as the dict that `balancer perches --json` prints.

    Parameters
    ----------
    bars : sequence of BarFit
        How the anti-roll bars go on in race trim after these turns.

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
            "cross_pct": 100 * weighed.uncertainties.cross,
            "turns": plan.turns_uncertainty if np.isfinite(plan.turns_uncertainty) else None,
        },
        **(corners_json(file, plan, bars) if plan.contacts is not None else {}),
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
        **(moved_json(moves) if moves.contacts is not None else {}),
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


def perches_text(
    file: CarFile, weighed: WeighIn, plan: PerchPlan, target: str, bars: Sequence[BarFit] = ()
) -> str:
    """Tell a perch plan in at most 80 columns.

    Parameters
    ----------
    target : str
        What was asked for, in words.
    bars : sequence of BarFit
        How the anti-roll bars go on in race trim after these turns.

    Returns
    -------
    str
    """
    units = file.units
    parts = [
        _asked(file, weighed, plan, target),
        _verdict(plan, units),
        "\n".join(turn_lines(plan.best, file)),
        _before_and_after(weighed, plan.best, units),
        _others(plan, units),
        per_turn_table(plan.per_turn, file.car, units),
        "\n".join(wrapped(line) for line in corner_lines(file, weighed.loads, plan)),
        "\n".join(wrapped(line, "  ") for line in bar_lines(bars, file, bool(plan.best.corners))),
        "\n".join(_remarks(file, weighed, plan)),
        turning_care(file.car) if plan.best.corners else "",
    ]
    return "\n\n".join(part for part in parts if part)


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

    Returns
    -------
    str


    Examples
    --------
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
    rows = [
        [f"{one_up(car)} at", *(CORNERS[index] for index in corners)],
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
    return [wrapped(remark) for remark in remarks]


def limit_texts(plan: PerchPlan, units: Units) -> list[str]:
    """Say what binds, one line each, and what lifting it would take.

    Returns
    -------
    list of str
        Empty when the goal is reached.
    """
    best, goal = plan.best, plan.goal
    closest = percent(best.shares.cross)
    shown = round(100 * best.shares.cross, 1)
    if not best.cross_met and abs(shown - 100 * goal.cross) <= 100 * goal.tolerance + 1e-9:
        # Rounded it would look as if it were reached.
        closest = percent(best.shares.cross, 2)
    if best.cross_met and not best.heights_met:
        off = float(np.abs(best.height_change - goal.rise).max())
        closest += f", heights off by {amount(off, 'length', units, unit=True)}"
    told = [f"{_limit_text(limit, plan, units)}; the closest is {closest}" for limit in plan.limits]
    return [*lifted(best.loads, units), *told]


def _way(adjuster: str, turn: float) -> str:
    if adjuster in LINKS:
        return "longer" if turn > 0 else "shorter"
    return "up" if turn > 0 else "down"


def _limit_text(limit: Limit, plan: PerchPlan, units: Units) -> str:
    if "lift" in limit.kinds:
        are = "would be" if len(limit.corners) == 1 else "would both be"
        return f"beyond it {' and '.join(limit.corners)} {are} off the ground"
    if limit.would is None:
        return "no perch that may be turned can do this"
    parts = []
    lifted = "with that"
    if "travel" in limit.kinds:
        left = zip(limit.corners, limit.turns_left, strict=True)
        needed = dict(zip(CORNERS, limit.would.turns, strict=True))
        if limit.would.link_turns is not None:
            needed |= dict(zip(LINKS, limit.would.link_turns, strict=True))
        parts += [
            f"at {corner} only {turns(count)} {'turn is' if 0 < count <= 1 else 'turns are'} left"
            f" {_way(corner, needed[corner])} and {turns(needed[corner])} would do it"
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
