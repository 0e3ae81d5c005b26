"""The check before an event, on one page."""

from collections.abc import Sequence
from typing import Any

from balancer.files.car_file import CarFile
from balancer.files.on_board import in_words
from balancer.files.units import Units
from balancer.planning.ballast.margin import Margin
from balancer.planning.ballast.outcome import A_GRAM, BallastPlan
from balancer.planning.prep.preparation import Preparation
from balancer.report import rules
from balancer.report.ballast import ballast_lines, item_json, trim_lines
from balancer.report.perches.corners import aside_lines, bar_lines, warnings_of
from balancer.report.perches.limits import limit_texts
from balancer.report.perches.moves import turn_lines
from balancer.report.perches.plan import fewest_line
from balancer.report.perches.plan_json import corners_json, moved_json
from balancer.report.weighing.states import State, lift_lines, state_rows, trim_json, trim_names
from balancer.report.words.json_parts import by_corner, heading_json
from balancer.report.words.numbers import amount, number, percent
from balancer.report.words.prose import lines_of, listed, paragraphs, wrapped
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


def unmet_texts(file: CarFile, plan: BallastPlan, names: Sequence[str] = ()) -> list[str]:
    """Say which rules are missed and what keeps ballast from meeting them."""
    missed = rules.missed_texts(plan, file.units, names)
    if missed and not file.car.places:
        return [*missed, _NO_PLACE]
    return rules.binding_texts(plan, file.units, names)


def _limits(file: CarFile, ready: Preparation) -> list[str]:
    return [
        *unmet_texts(file, ready.ballast, list(_trims(ready))),
        *_ruled_texts(ready, file.units),
        *limit_texts(ready.perches, file),
    ]


def _ruled_texts(ready: Preparation, units: Units) -> list[str]:
    target = percent(ready.perches.goal.cross, 2)
    broken = f"turns on to {target} would break a rule:"
    return [
        f"{broken} {rules.rule_name(kind)}, {rules.asked_and_then(rule, units)[0]}"
        for kind, rule in {rule.kind: rule for rule in ready.ruled}.items()
    ]


def prep_json(file: CarFile, ready: Preparation, shown: Trim | None = None) -> dict[str, Any]:
    """Give a preparation as the dict that `balancer prep --json` prints.

    Args:
        shown: What pads that are not level will show; None: they are.
    """
    units, perches = file.units, ready.perches
    alone = ready.ballast.added if ready.rules_alone is None else ready.rules_alone
    return {
        **heading_json(file),
        "status": ready.status,
        "as_weighed": trim_json(ready.as_weighed, units),
        "ballast": [item_json(item, units) for item in ready.ballast.items],
        "added": units.from_si(ready.ballast.added, "mass"),
        "added_for_rules_alone": units.from_si(alone, "mass"),
        "turns": by_corner(perches.best.turns, "number", units),
        "height_change": by_corner(perches.best.height_change, "length", units),
        "race_trim": trim_json(ready.race_trim, units),
        "on_the_pads": trim_json(ready.on_the_pads, units),
        "on_the_pads_as_read": None if shown is None else trim_json(shown, units),
        "uncertainty": {"carried_cross_pct": 100 * ready.carried},
        "rules": [rules.rule_json(rule, units) for rule in ready.ballast.rules],
        "limits": _limits(file, ready),
        "other_trims": [
            {
                "name": name,
                **trim_json(trim, units),
                "rules": [rules.rule_json(rule, units) for rule in stand.rules],
            }
            for name, trim, stand in zip(
                list(_trims(ready))[1:], ready.others, ready.ballast.others, strict=True
            )
        ],
        **moved_json(perches.best),
        **corners_json(file, perches, ready.bars),
    }


def prep_text(file: CarFile, ready: Preparation, margin: Margin, shown: Trim | None = None) -> str:
    """Tell a preparation on one page of 80 columns."""
    units, best = file.units, ready.perches.best
    states = _states(ready, shown)
    return paragraphs(
        wrapped(f"Next on the pads with {in_words(ready.on_the_pads.on_board, units)}."),
        trim_lines(_trims(ready), units),
        "\n".join(lift_lines(states)),
        lines_of(warnings_of(ready.perches)),
        _verdict(ready, _limits(file, ready)),
        "\n".join(ballast_lines(ready.ballast, units)) or "No ballast.",
        _why_there(ready, units),
        "\n".join(turn_lines(best, file)) or "Nothing to turn.",
        wrapped(fewest_line(ready.perches, file, named=True)),
        lines_of(aside_lines(file, ready.ballast.loads, ready.perches)),
        lines_of(bar_lines(ready.bars, file, bool(best.corners)), "  "),
        table(state_rows(states, units, change=False), indent=""),
        _known(ready),
        "“On the pads” is with their heights as measured last." if shown else "",
        rules.rule_table(ready.ballast, units, _short(ready)),
        rules.miss_words(ready.ballast),
        _margin(margin, units) if ready.ballast.goal.minimum else "",
        _CHECKS.format(work=_SOLID if file.car.solid.all() else _SPRUNG),
    )


def _trims(ready: Preparation) -> dict[str, Trim]:
    """Give the race trims after ballast and turns by name; nothing where there is but one."""
    if not ready.others:
        return {}
    trims = (ready.race_trim, *ready.others)
    names = ready.names or [f"race trim {number}" for number in range(1, len(trims) + 1)]
    return dict(zip(names, trims, strict=True))


def _short(ready: Preparation) -> list[str]:
    return trim_names(list(_trims(ready))) if ready.others else []


def _states(ready: Preparation, shown: Trim | None) -> list[State]:
    pads = ready.on_the_pads
    weighed, race, turned = ready.as_weighed, ready.in_race_trim, ready.race_trim
    bolted = State("with ballast", ready.ballast.loads, ready.ballast.shares)
    return [
        State("as weighed", weighed.loads, weighed.shares),
        State("in race trim", race.loads, race.shares),
        *([bolted] if ready.ballast.items else []),
        State("and turns", turned.loads, turned.shares),
        *(
            State(name, trim.loads, trim.shares)
            for name, trim in zip(_short(ready)[1:], ready.others, strict=False)
        ),
        *([State("level pads", pads.loads, pads.shares)] if shown else []),
        State("on the pads", (shown or pads).loads, (shown or pads).shares),
    ]


def _why_there(ready: Preparation, units: Units) -> str:
    """Say that ballast is where it is for the turns; nothing where the rules alone say so."""
    if ready.rules_alone is None:
        return ""
    if ready.ballast.added > ready.rules_alone + A_GRAM:
        alone = amount(ready.rules_alone, "mass", units, unit=True)
        return wrapped(
            f"The rules alone ask for {alone}: the rest is there because no turns reach the cross"
            " weight without it."
        )
    return wrapped(
        "It goes there for the turns: where the rules alone would have it, none reach as much."
    )


def _verdict(ready: Preparation, limits: list[str]) -> str:
    said = listed(limits)
    if ready.status == "met":
        return ""
    if ready.status == "closest":
        words = "No allowed ballast and turns reach all of this (proved); the closest:"
    elif ready.perches.status == "reached" and all(rule.met for rule in ready.ballast.all_rules):
        words = "All of this is reached; that less ballast would not do is not proved."
    else:
        words = "This was not reached; that nothing reaches it is not proved. The best found:"
    return f"{wrapped(words)}\n{said}".rstrip()


def _known(ready: Preparation) -> str:
    """Say what is open of the cross weight because the car was weighed in another state."""
    open_ = number(100 * ready.carried, 2)
    if open_ == "0.00":
        return ""
    ballast = ", with the ballast," if ready.ballast.items else ""
    return wrapped(
        f"Carrying the cross weight to race trim{ballast} adds ± {open_} points to its"
        " uncertainty: which wheels take it hangs on the rates of the file."
    )


def _margin(margin: Margin, units: Units) -> str:
    if not margin.mass:
        return "The car file asks for no margin above the minimum weight."
    mass, own, other = (
        amount(value, "mass", units, unit=True)
        for value in (margin.mass, margin.own_uncertainty, margin.other_uncertainty)
    )
    if not margin.chance:
        return f"The margin of {mass} is the one in the car file."
    return wrapped(
        f"The margin of {mass} keeps the chance of reading light on another scale under"
        f" {100 * margin.chance:g} %: these pads know the total ± {own}, that scale ± {other}."
    )
