"""What keeps perches from reaching their goal, in words."""

from collections.abc import Iterator

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.car.corner import LINKS
from balancer.files.car_file import CarFile
from balancer.files.counting import LINK_TURN
from balancer.files.units import Units
from balancer.planning.perches.limits import Limit
from balancer.planning.perches.plan import PerchPlan
from balancer.planning.perches.question import PerchMoves
from balancer.report.perches.moves import counts_of
from balancer.report.words.numbers import amount, number, percent
from balancer.report.words.prose import lifted
from balancer.report.words.turns import turns, turns_left, way


def heights_off(moves: PerchMoves, plan: PerchPlan) -> float:
    """Give how far the worst height is from where it is wanted [m]."""
    return float(np.abs(moves.height_change - plan.goal.rise).max())


def limit_texts(plan: PerchPlan, file: CarFile) -> list[str]:
    """Say what binds, one line each, and what lifting it would take; nothing of a goal reached."""
    best, goal, units = plan.best, plan.goal, file.units
    shown = round(100 * best.shares.cross, 1)
    # Rounded it could look as if it were reached.
    near = abs(shown - 100 * goal.cross) <= 100 * goal.tolerance + 1e-9
    closest = percent(best.shares.cross, 2 if near and not best.cross_met else 1)
    if best.cross_met and not best.heights_met:
        off = amount(heights_off(best, plan), "length", units, unit=True)
        closest += f", heights off by {off}"

    def text(limit: Limit) -> str:
        said = _limit_text(limit, plan, file)
        # What would reach it may be the closest itself.
        same = limit.would and np.array_equal(limit.would.every_turn, best.every_turn)
        return said if same else f"{said}; the closest is {closest}"

    return [*lifted(best.loads, "after the turns"), *map(text, plan.limits)]


def _limit_text(limit: Limit, plan: PerchPlan, file: CarFile) -> str:
    if "lift" in limit.kinds:
        are = "would be" if len(limit.corners) == 1 else "would both be"
        return f"beyond it {' and '.join(limit.corners)} {are} off the ground"
    if limit.would is None:
        can = "can" if plan.contacts is None else "was found to"
        return f"no perch that may be turned {can} do this"
    texts: list[str] = []
    without = "with that"
    if "travel" in limit.kinds:
        texts += _travel(limit, limit.would, file)
    if "heights" in limit.kinds:
        at_most = "" if limit.would.proved else "at most "
        texts.append(
            f"the heights would have to give {at_most}{_give(limit.would, plan, file.units)}"
        )
    if "keep" in limit.kinds:
        moved = [CORNERS[index] for index in np.flatnonzero(limit.would.turns)]
        kept = [corner for corner in moved if corner in plan.goal.keep]
        texts.append(f"{', '.join(kept)} may not be touched")
        without = f"if {'they' if len(kept) > 1 else 'it'} could,"
    if "grid" in limit.kinds:
        texts.append("the steps of the perches are too coarse")
        without = "with finer ones"
    if len(limit.kinds) > 1:
        without = "without all that"
    return f"{', '.join(texts)}: {without} {percent(limit.would.shares.cross)} could be reached"


def _travel(limit: Limit, would: PerchMoves, file: CarFile) -> Iterator[str]:
    needed = dict(zip(CORNERS, would.turns, strict=True))
    counts = dict(zip(CORNERS, counts_of(would, file), strict=True))
    if would.link_turns is not None:
        needed |= dict(zip(LINKS, would.link_turns, strict=True))
    for place, left in zip(limit.corners, limit.turns_left, strict=True):
        count = counts.get(place, LINK_TURN)
        yield (
            f"at {place} {turns_left(left, count)} left {way(needed[place], count)} and"
            f" {turns(needed[place], count)} would do it"
        )


def _give(would: PerchMoves, plan: PerchPlan, units: Units) -> str:
    """Say how much the heights would have to give, finer where it would read as what they do."""
    off = heights_off(would, plan)
    enough = amount(off, "length", units, unit=True)
    if enough != amount(plan.goal.height_tolerance, "length", units, unit=True):
        return enough
    return f"{number(units.from_si(off, 'length'), 3)} {units.labels['length']}"
