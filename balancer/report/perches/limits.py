"""What keeps perches from reaching their goal, in words."""

from __future__ import annotations

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.car.corner import LINKS
from balancer.perches.limits import Limit
from balancer.perches.plan import PerchPlan
from balancer.report.words.numbers import amount, lifted, number, percent, turns
from balancer.units import Units


def limit_texts(plan: PerchPlan, units: Units) -> list[str]:
    """Say what binds, one line each, and what lifting it would take.

    Returns:
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
    texts = (_limit_text(limit, plan, units) for limit in plan.limits)
    return [*lifted(best.loads, units), *(f"{text}; the closest is {closest}" for text in texts)]


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
