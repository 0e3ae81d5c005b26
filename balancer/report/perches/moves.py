"""What to turn, a line a corner; and how a table of single turns says what each does."""

from __future__ import annotations

import numpy as np

from balancer.car.adjusters import adjusters_of
from balancer.car.answers import PerTurn
from balancer.car.conventions import CORNERS
from balancer.car.corner import LINKS
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.perches.plan import PerchPlan
from balancer.perches.question import PerchMoves
from balancer.report.words.numbers import amount, amounts, number
from balancer.report.words.tables import table
from balancer.report.words.turns import spacing, turning, turns
from balancer.units import Units


def turn_lines(moves: PerchMoves, file: CarFile) -> list[str]:
    """Say what to turn, a line a corner; nothing for nothing."""
    if not moves.corners:
        return []
    corners = np.flatnonzero(moves.turns).tolist()
    lines = [_heading(moves, file.car)]
    lines += [f"  {CORNERS[index]}: {_corner(moves, file, index)}" for index in corners]
    return [*lines, *_link_lines(moves, file)]


def _heading(moves: PerchMoves, car: Car) -> str:
    total = moves.turns_in_all
    solid = car.solid[moves.turns != 0]
    if not solid.any():
        unit = "turn" if total <= 1 else "turns"
        return f"Turn {places_turned(moves)}, {turns(total)} {unit} in all:"
    unit = "spacer" if turns(total) == "1" else "spacers"
    unit = unit if solid.all() else "turns and spacers"
    return f"Change {places_turned(moves)}, {turns(total)} {unit} in all:"


def _corner(moves: PerchMoves, file: CarFile, index: int) -> str:
    perch, wheel = (
        amount(lengths[index], "length", file.units, sign=True, unit=True)
        for lengths in (moves.perch, moves.lifts)
    )
    if file.car.solid[index]:
        return f"{spacing(moves.turns[index])} ({perch})"
    what = adjuster(moves, file.car, index)
    return f"{turning(moves.turns[index])} ({perch} {what}, {wheel} at the wheel)"


def adjuster(moves: PerchMoves, car: Car, index: int) -> str:
    """Name what is turned or changed at a corner."""
    if car.solid[index]:
        return "spacers"
    return "perch" if moves.mounts is None or not moves.mounts[index] else "lower mount"


def places_turned(moves: PerchMoves) -> str:
    """Count corners, and name links.

    >>> from balancer.car.model import plain_car
    >>> from balancer.perches.plan import plan_perches
    >>> from balancer.perches.goal import PerchGoal
    >>> plan = plan_perches(plain_car(), np.array([2950.0, 2850, 2350, 2350]), PerchGoal.level(0.5))
    >>> places_turned(plan.best)
    '2 corners'
    """
    corners = int(np.count_nonzero(moves.turns))
    named = [f"{corners} corner{'' if corners == 1 else 's'}"] if corners else []
    if moves.link_turns is not None:
        named += [name for name, turn in zip(LINKS, moves.link_turns, strict=True) if turn]
    return " and ".join(named)


def fewest_name(plan: PerchPlan) -> str:
    """Name what takes fewer turns: only of an exact search without stops none can be fewer."""
    proved = plan.contacts is None and all(one.proved for one in plan.alternatives)
    return "fewest turns" if proved else "fewer turns"


def _link_lines(moves: PerchMoves, file: CarFile) -> list[str]:
    if moves.link_turns is None:
        return []
    lines = []
    for name, link, turn in zip(LINKS, file.car.links, moves.link_turns.tolist(), strict=False):
        if turn:
            longer = amount(turn * link.lead, "length", file.units, sign=True, unit=True)
            way = "longer" if turn > 0 else "shorter"
            unit = "turn" if abs(turn) <= 1 else "turns"
            lines.append(f"  left {name}: {turns(turn)} {unit} {way} ({longer})")
    return lines


def per_turn_table(per_turn: PerTurn, car: Car, units: Units) -> str:
    """Set out what one turn up at each corner does.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.statics import statics_of
        >>> from balancer.units import METRIC
        >>> effects = statics_of(plain_car(), np.full(4, 2500.0)).per_turn()
        >>> print(per_turn_table(effects, plain_car(), METRIC).split("\\n")[1].rstrip())
        cross weight, points  −0.34  +0.34  +0.34  −0.34
    """
    corners = np.flatnonzero(car.adjustable)
    if not len(corners):
        return ""
    points = (number(100 * per_turn.cross[index], 2, sign=True) for index in corners)
    loads, heights = per_turn.loads[corners, corners], per_turn.heights[corners, corners]
    rows = [
        [f"{one_up(car)} at", *(CORNERS[index] for index in corners)],
        ["cross weight, points", *points],
        [f"its own load, {units.labels['load']}", *amounts(loads, "load", units, True)],
        [f"its own height, {units.labels['length']}", *amounts(heights, "length", units, True)],
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


def travel_unstated(car: Car) -> str:
    """Name the corners whose adjuster has a travel that the file does not say."""
    each = zip(CORNERS, adjusters_of(car).travel, car.adjustable, strict=True)
    return ", ".join(
        corner for corner, travel, can in each if can and not np.isfinite(travel).all()
    )
