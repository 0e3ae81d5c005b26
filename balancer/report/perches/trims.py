"""The same turns in several race trims, told: a row of a table each, and the JSON of one."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.files.on_board import State, in_words
from balancer.files.units import Units
from balancer.planning.perches.plan import PerchPlan
from balancer.planning.perches.question import Landed
from balancer.report.weighing.states import trim_names
from balancer.report.words.json_parts import loads_json
from balancer.report.words.numbers import amounts, percent, wanted
from balancer.report.words.prose import wrapped
from balancer.report.words.tables import table
from balancer.weighing.uncertainty import cross_of


class _Trim(NamedTuple):
    """A state before the turns and after them, and the cross weight that is wanted in it [1]."""

    now: float
    then: Landed
    wanted: float


def _in_trims(plan: PerchPlan, now: float) -> list[_Trim]:
    """Give what is wanted and what is reached in each state, the first one first."""
    goal, best = plan.goal, plan.best
    others = zip(goal.others, best.others, strict=True)
    return [
        _Trim(now, Landed(best.loads, best.shares), goal.cross),
        *(_Trim(cross_of(trim.loads), then, trim.cross) for trim, then in others),
    ]


def trims_text(
    trims: Mapping[str, State], plan: PerchPlan, now: float, was: str, units: Units
) -> str:
    """Set the race trims that turns are planned for under each other; nothing for none.

    Args:
        now: Cross weight in the first before the turns, as a fraction.
        was: What was on board when weighed, in words.
    """
    if not trims:
        return ""
    said = (
        f"{name}: {in_words(state.items, units)}"
        for name, state in zip(trim_names(list(trims)), trims.values(), strict=True)
    )
    carried = f"Carried from the car as weighed, with {was}, to {'; '.join(said)}."
    return "\n".join([wrapped(carried), *trim_lines(list(trims), plan, now, units)])


def trim_lines(
    names: Sequence[str], plan: PerchPlan, now: float, units: Units, turned: bool = True
) -> list[str]:
    """Set race trims under each other, as they are and after the turns of a plan."""
    rows = [["In race trim", *([*CORNERS, "now", "then"] if turned else ["now"]), "wanted"]]
    each = _in_trims(plan, now)
    for name, trim in zip(trim_names(names), each, strict=True):
        loads, then = amounts(trim.then.loads, "load", units), percent(trim.then.shares.cross, 2)
        row = [*loads, percent(trim.now, 2), then] if turned else [percent(trim.now, 2)]
        rows.append([name, *row, wanted(trim.wanted, plan.goal.tolerance)])
    return [table(rows), *map(wrapped, _apart(plan, each))]


def _apart(plan: PerchPlan, each: Sequence[_Trim]) -> Iterator[str]:
    off = [trim.then.shares.cross - trim.wanted for trim in each]
    if not plan.best.cross_met and np.ptp(off) > 2 * plan.goal.tolerance:
        yield (
            f"These turns leave the race trims {100 * np.ptp(off):.2f} points apart, and turns move"
            f" all of them much alike: the tolerance is {100 * plan.goal.tolerance:g} either way."
        )


def trims_json(
    trims: Mapping[str, State], plan: PerchPlan, now: float, units: Units
) -> dict[str, Any]:
    """Give the race trims that turns are planned for, by name; nothing for none."""
    if not trims:
        return {}
    told = {}
    for (name, state), trim in zip(trims.items(), _in_trims(plan, now), strict=True):
        told[name] = {
            "state": ",".join(state.words) or "none",
            **loads_json(trim.then.loads, trim.then.shares, units),
            "now_cross_pct": 100 * trim.now,
            "target_cross_pct": 100 * trim.wanted,
            "off_points": 100 * abs(trim.then.shares.cross - trim.wanted),
        }
    return {"trims": told}
