"""The check before an event, on one page."""

from __future__ import annotations

from typing import Any

from balancer.ballast.margin import Margin
from balancer.ballast.plan import BallastPlan
from balancer.files.car_file import CarFile
from balancer.files.states import in_words
from balancer.prep import Preparation
from balancer.report.ballast import (
    ballast_lines,
    binding_texts,
    put_json,
    rule_json,
    rule_table,
)
from balancer.report.perches.corners import bar_lines, corner_lines
from balancer.report.perches.limits import limit_texts
from balancer.report.perches.plan import turn_lines
from balancer.report.perches.plan_json import corners_json, moved_json
from balancer.report.weighing.trim import lift_lines, load_rows, trim_json
from balancer.report.words.json_parts import by_corner, heading_json
from balancer.report.words.numbers import amount, lines_of, paragraphs, percent, wrapped
from balancer.report.words.tables import table
from balancer.weighing.load_states import Trim

_SPRUNG = """\
  [ ] stands on level ground; never under a car on a jack
  [ ] springs unloaded before a perch is turned, perches locked afterwards
  [ ] nothing binds or touches at full droop and full bump"""

_SOLID = """\
  [ ] on a stand that can't tip, on level ground; never under it while it hangs
  [ ] axles supported while spacers are changed, all tightened as the maker says
  [ ] nothing binds or touches, steering lock to lock"""

_CHECKS = """\
Before the car moves:
{work}
  [ ] ballast fastened to structure as the class rules say, and looked at
  [ ] car settled and weighed again; the scales agree with “on the pads” above
The rule book, the scrutineer and a qualified mechanic decide."""


_NO_PLACE = "the car file has no [[place]]: say where ballast may go: name, aft, left, up"


def unmet_texts(file: CarFile, plan: BallastPlan) -> list[str]:
    """Say what keeps ballast from meeting the rules; where it has no place, that.

    Returns:
        The rules that are missed, then the reasons.
    """
    texts = binding_texts(plan, file.units)
    missed = sum(not rule.met for rule in plan.rules)
    return texts if file.car.places or not missed else [*texts[:missed], _NO_PLACE]


def prep_json(file: CarFile, ready: Preparation, shown: Trim | None = None) -> dict[str, Any]:
    """Give a preparation as the dict that `balancer prep --json` prints.

    Args:
        shown: What pads that are not level will show; None: they are.
    """
    units = file.units
    return {
        **heading_json(file),
        "status": ready.status,
        "as_weighed": trim_json(ready.as_weighed, units),
        "ballast": [put_json(put, units) for put in ready.ballast.items],
        "added": units.from_si(ready.ballast.added, "mass"),
        "turns": by_corner(ready.perches.best.turns, "number", units),
        "height_change": by_corner(ready.perches.best.height_change, "length", units),
        "race_trim": trim_json(ready.race_trim, units),
        "on_the_pads": trim_json(ready.on_the_pads, units),
        "on_the_pads_as_read": None if shown is None else trim_json(shown, units),
        "rules": [rule_json(rule, units) for rule in ready.ballast.rules],
        "limits": [*unmet_texts(file, ready.ballast), *limit_texts(ready.perches, units)],
        **(
            {}
            if ready.perches.contacts is None
            else {
                **moved_json(ready.perches.best),
                **corners_json(file, ready.perches, ready.bars),
            }
        ),
    }


def prep_text(file: CarFile, ready: Preparation, margin: Margin, shown: Trim | None = None) -> str:
    """Tell a preparation on one page of 80 columns.

    Args:
        shown: What pads that are not level will show; None: they are.
    """
    units = file.units
    rows = [
        ("as weighed", ready.as_weighed.loads, ready.as_weighed.shares),
        ("in race trim", ready.in_race_trim.loads, ready.in_race_trim.shares),
        ("with ballast", ready.ballast.loads, ready.ballast.shares),
        ("and turns", ready.race_trim.loads, ready.race_trim.shares),
    ]
    pads, heights = ready.on_the_pads, ""
    if shown is not None:
        rows.append(("level pads", pads.loads, pads.shares))
        pads, heights = shown, "“On the pads” is with their heights as measured last."
    rows.append(("on the pads", pads.loads, pads.shares))
    state = [
        f"weighed with {in_words(ready.as_weighed.on_board, units)};",
        f"race trim is with {in_words(ready.race_trim.on_board, units)};",
        f"next on the pads with {in_words(ready.on_the_pads.on_board, units)}.",
    ]
    limits = [*unmet_texts(file, ready.ballast), *limit_texts(ready.perches, units)]
    goal = ready.perches.goal
    return paragraphs(
        wrapped(f"{file.car.name}: " + " ".join(state)),
        "\n".join(lift_lines(rows, units)),
        _verdict(ready.status, limits),
        "\n".join(ballast_lines(ready.ballast, units)) or "No ballast.",
        "\n".join(turn_lines(ready.perches.best, file)) or "Nothing to turn.",
        lines_of(corner_lines(file, ready.ballast.loads, ready.perches)),
        lines_of(bar_lines(ready.bars, file, bool(ready.perches.best.corners)), "  "),
        table(load_rows(rows, units, change=False), indent=""),
        heights,
        f"Wanted in race trim: cross weight {percent(goal.cross)} ± {100 * goal.tolerance:g}.",
        rule_table(ready.ballast, units),
        _margin(margin, file) if ready.ballast.goal.minimum else "",
        _CHECKS.format(work=_SOLID if file.car.solid.all() else _SPRUNG),
    )


def _verdict(status: str, limits: list[str]) -> str:
    if status == "met":
        return ""
    proved = "can't all be reached (proved)" if status == "closest" else "was not reached in time"
    return "\n".join(
        [f"This {proved}; the closest:", *(wrapped(f"- {one}", "  ") for one in limits)]
    )


def _margin(margin: Margin, file: CarFile) -> str:
    units = file.units
    if not margin.mass:
        return "The car file asks for no margin above the minimum weight."
    mass = amount(margin.mass, "mass", units, unit=True)
    if not margin.chance:
        return f"The margin of {mass} is the one in the car file."
    own, other = (
        amount(value, "mass", units, unit=True)
        for value in (margin.own_uncertainty, margin.other_uncertainty)
    )
    return wrapped(
        f"The margin of {mass} keeps the chance of reading light on another scale under"
        f" {100 * margin.chance:g} %: these pads know the total ± {own}, that scale ± {other}."
    )
