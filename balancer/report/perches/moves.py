"""What to turn, a line a corner; and how a table of single turns says what each does."""

import numpy as np

from balancer.car.adjusters import adjusters_of
from balancer.car.answers import PerTurn
from balancer.car.conventions import CORNERS
from balancer.car.corner import LINKS
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.files.counting import LINK_TURN, SPACER, TURN, Count, shared
from balancer.planning.perches.plan import PerchPlan
from balancer.planning.perches.question import PerchMoves
from balancer.report.words.numbers import amount, amounts, number
from balancer.report.words.tables import table
from balancer.report.words.turns import in_all, turning, turns, way


def turn_lines(moves: PerchMoves, file: CarFile) -> list[str]:
    """Say what to turn, a line a corner; nothing for nothing."""
    if not moves.corners:
        return []
    corners = np.flatnonzero(moves.turns).tolist()
    lines = [_heading(moves, file)]
    lines += [f"  {CORNERS[index]}: {_corner(moves, file, index)}" for index in corners]
    return [*lines, *link_lines(moves, file)]


def _heading(moves: PerchMoves, file: CarFile) -> str:
    links = [] if moves.link_turns is None else moves.link_turns.tolist()
    much = in_all([*moves.turns.tolist(), *links], [*counts_of(moves, file), *[TURN] * len(links)])
    do = "Change" if file.car.solid[moves.turns != 0].any() else "Turn"
    return f"{do} {places_turned(moves)}, {much} in all:"


def counts_of(moves: PerchMoves, file: CarFile) -> tuple[Count, ...]:
    """Give what is counted at each corner where these turns are made."""
    return file.counts(moves.mounts)


def _corner(moves: PerchMoves, file: CarFile, index: int) -> str:
    perch, wheel = (
        amount(lengths[index], "length", file.units, sign=True, unit=True)
        for lengths in (moves.perch, moves.lifts)
    )
    turn = turning(moves.turns[index], counts_of(moves, file)[index])
    if file.car.solid[index]:
        return f"{turn} ({perch})"
    what = adjuster(moves, file.car, index)
    return f"{turn} ({perch} {what}, {wheel} at the wheel)"


def corner_words(file: CarFile, moves: PerchMoves, index: int) -> dict[str, str]:
    """Say what to turn at a corner in pieces for a box that shows it large.

    Returns:
        `corner`; `turn`, empty for nothing; `much`, with its width in `ems`; the `way`; and what
        that does to the `perch`.
    """
    from balancer.report.words.lettering import width

    value, count = float(moves.turns[index]), counts_of(moves, file)[index]
    moved = amount(float(moves.perch[index]), "length", file.units, sign=True, unit=True)
    what = adjuster(moves, file.car, index) + " " + moved.replace(" ", "\N{NO-BREAK SPACE}")
    much = turns(value, count) if value else "leave"
    words = f"{count.word and count.many + ' '}{way(value, count)}"
    return {
        "corner": CORNERS[index],
        "turn": "up" if value > 0 else "down" if value else "",
        "much": much,
        "ems": f"{width(much, 1, bold=True):.2f}",
        "way": f"{'▲' if value > 0 else '▼'} {words}" if value else "",
        "perch": f"{'raises' if value > 0 else 'lowers'} it: {what}",
    }


def adjuster(moves: PerchMoves, car: Car, index: int) -> str:
    """Name what is turned or changed at a corner."""
    if car.solid[index]:
        return "spacers"
    return "perch" if moves.mounts is None or not moves.mounts[index] else "lower mount"


def places_turned(moves: PerchMoves) -> str:
    """Count corners, and name links.

    >>> from balancer.car.model import plain_car
    >>> from balancer.planning.perches.plan import plan_perches
    >>> from balancer.planning.perches.goal import PerchGoal
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


def link_lines(moves: PerchMoves, file: CarFile) -> list[str]:
    """Say which drop links to turn, a line each; nothing for nothing."""
    if moves.link_turns is None:
        return []
    lines = []
    for name, link, turn in zip(LINKS, file.car.links, moves.link_turns.tolist(), strict=False):
        if turn:
            longer = amount(turn * link.lead, "length", file.units, sign=True, unit=True)
            lines.append(f"  left {name}: {turning(turn, LINK_TURN)} ({longer})")
    return lines


def per_turn_table(per_turn: PerTurn, file: CarFile) -> str:
    """Set out what one turn up at each corner does, or one of whatever is counted at all of them.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.statics import statics_of
        >>> from balancer.files.units import METRIC
        >>> effects = statics_of(plain_car(), np.full(4, 2500.0)).per_turn()
        >>> file = CarFile("a.toml", plain_car(), METRIC, ())
        >>> print(per_turn_table(effects, file).split("\\n")[1].rstrip())
        cross weight, points  −0.34  +0.34  +0.34  −0.34
    """
    units, corners = file.units, np.flatnonzero(file.car.adjustable)
    if not len(corners):
        return ""
    one, size = one_up(file)
    effect = per_turn.of(size)
    points = (number(100 * effect.cross[index], 2, sign=True) for index in corners)
    loads, heights = effect.loads[corners, corners], effect.heights[corners, corners]
    rows = [
        [f"{one} at", *(CORNERS[index] for index in corners)],
        ["cross weight, points", *points],
        [f"its own load, {units.labels['load']}", *amounts(loads, "load", units, True)],
        [f"its own height, {units.labels['length']}", *amounts(heights, "length", units, True)],
    ]
    return table(rows, indent="")


def one_up(file: CarFile) -> tuple[str, float]:
    """Say what one turn up is called on a car, and how much of a turn it is.

    >>> from balancer.car.model import plain_car
    >>> from balancer.files.units import METRIC
    >>> one_up(CarFile("a.toml", plain_car(), METRIC, ()))
    ('One turn up', 1.0)
    """
    car = file.car
    each = [count for count, can in zip(file.counts(), car.adjustable, strict=True) if can]
    count = shared(each)
    if SPACER in each and count is TURN:
        return "One turn up (spacer in)", 1.0
    return f"One {count.one} {count.ways[0]}", 1 / count.in_a_turn


def travel_unstated(car: Car) -> str:
    """Name the corners whose adjuster has a travel that the file does not say."""
    each = zip(CORNERS, adjusters_of(car).travel, car.adjustable, strict=True)
    return ", ".join(
        corner for corner, travel, can in each if can and not np.isfinite(travel).all()
    )
