"""The same turns in several race trims, told: a row of a table each, and the JSON of one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.files.states import State, in_words
from balancer.perches.goal import OtherTrim
from balancer.perches.plan import PerchPlan
from balancer.perches.question import Landed
from balancer.report.weighing.states import trim_names
from balancer.report.words.json_parts import loads_json
from balancer.report.words.numbers import amounts, percent, wanted
from balancer.report.words.prose import wrapped
from balancer.report.words.tables import table
from balancer.units import Units


def in_trims(plan: PerchPlan, now: Floats) -> list[tuple[OtherTrim, Landed]]:
    """Give what is wanted and what is reached in each state, the first one first.

    Args:
        now: (4,), in the first, before the turns [N].
    """
    goal, best = plan.goal, plan.best
    first = OtherTrim(now, goal.cross), Landed(best.loads, best.shares)
    return [first, *zip(goal.others, best.others, strict=True)]


def trims_text(
    trims: Mapping[str, State], plan: PerchPlan, now: Floats, was: str, units: Units
) -> str:
    """Set the race trims that turns are planned for under each other; nothing for none.

    Args:
        trims: By name, as the plan has them.
        now: (4,), in the first, before the turns [N].
        was: What was on board when weighed, in words.
    """
    if not trims:
        return ""
    rows = [["In race trim", *CORNERS, "now", "then", "wanted"]]
    names, each = trim_names(list(trims)), in_trims(plan, now)
    for name, (trim, then) in zip(names, each, strict=True):
        start = float((trim.loads[1] + trim.loads[2]) / trim.loads.sum())
        shares = percent(start, 2), percent(then.shares.cross, 2)
        aim = wanted(trim.cross, plan.goal.tolerance)
        rows.append([name, *amounts(then.loads, "load", units), *shares, aim])
    said = (
        f"{name}: {in_words(state.items, units)}"
        for name, state in zip(names, trims.values(), strict=True)
    )
    carried = f"Carried from the car as weighed, with {was}, to {'; '.join(said)}."
    return "\n".join([wrapped(carried), table(rows), *map(wrapped, _apart(plan, each))])


def _apart(plan: PerchPlan, each: list[tuple[OtherTrim, Landed]]) -> Iterator[str]:
    off = [then.shares.cross - trim.cross for trim, then in each]
    if not plan.best.cross_met and np.ptp(off) > 2 * plan.goal.tolerance:
        yield (
            f"These turns leave the race trims {100 * np.ptp(off):.2f} points apart, and turns move"
            f" all of them much alike: the tolerance is {100 * plan.goal.tolerance:g} either way."
        )


def trims_json(
    trims: Mapping[str, State], plan: PerchPlan, now: Floats, units: Units
) -> dict[str, Any]:
    """Give the race trims that turns are planned for, by name; nothing for none.

    Args:
        now: (4,), in the first, before the turns [N].
    """
    if not trims:
        return {}
    told = {}
    for (name, state), (trim, then) in zip(trims.items(), in_trims(plan, now), strict=True):
        off = abs(then.shares.cross - trim.cross)
        told[name] = {
            "state": ",".join(state.words) or "none",
            **loads_json(then.loads, then.shares, units),
            "target_cross_pct": 100 * trim.cross,
            "off_points": 100 * off,
        }
    return {"trims": told}
