"""How a car with ballast stands to the rules of its class, told, and what stands in the way."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from balancer.car.conventions import GRAVITY
from balancer.files.units import Units
from balancer.planning.ballast.goal import RuleCheck
from balancer.planning.ballast.limits import Binding, Bound
from balancer.planning.ballast.outcome import BallastPlan
from balancer.report.words.numbers import amount, number, percent
from balancer.report.words.prose import wrapped
from balancer.report.words.tables import table

_SANE = 0.3
"""Ballast beyond this part of the car's mass is nothing to be told to bolt in."""

_BY_TURNS = "without turns: prep plans both, --cross asks it of ballast alone"
_CLOSEST = "is the closest"
_TOO_NEAR = "they are not far enough forward, aft or out"
_RULES = {
    "minimum": "minimum weight, margin included",
    "maximum": "maximum weight",
    "axle_front": "minimum on the front axle",
    "axle_rear": "minimum on the rear axle",
    "front_low": "front share, lowest",
    "front_high": "front share, highest",
    "left_low": "left share, lowest",
    "left_high": "left share, highest",
    "cross_low": "cross weight, lowest",
    "cross_high": "cross weight, highest",
}
SHARE_NAMES = {"front": "front share", "left": "left share", "cross": "cross weight"}


def rule_json(rule: RuleCheck, units: Units) -> dict[str, Any]:
    """Give a rule and how the car stands to it under the names of the contract."""
    limit, value = (
        100 * value if rule.share else units.from_si(value, "mass")
        for value in (rule.limit, rule.value)
    )
    return {
        "rule": rule_name(rule.kind),
        "limit": limit,
        "value": value,
        "met": rule.met,
        "chance_pct": None if rule.chance is None else 100 * rule.chance,
    }


def rule_name(kind: str) -> str:
    """Name a rule in words.

    >>> rule_name("wheel_LF")
    'minimum at LF'
    """
    return _RULES.get(kind) or f"minimum at {kind.removeprefix('wheel_')}"


def rule_table(plan: BallastPlan, units: Units, names: Sequence[str]) -> str:
    """Set out the rules and how the car stands to them; a column for each race trim, named."""
    if not plan.rules:
        return ""
    each = [ends_of(stand.rules) for stand in (plan.first, *plan.others)]
    rows = [["Rule", "asked", *(names if plan.others else ["then"]), ""]]
    for alike in zip(*each, strict=True):
        ends = alike[0]
        rule = ends[0]
        name, asked = rule_name(rule.kind), asked_and_then(rule, units)[0]
        if rule.share:
            name, asked = SHARE_NAMES[rule.share], band_words((rule.limit, ends[-1].limit), " %")
        if plan.others:
            name, asked = name.removesuffix(", margin included"), asked.replace(" % to", " to")
        thens = [asked_and_then(there[0], units)[1] for there in alike]
        rows.append([name, asked, *thens, met_word([end for there in alike for end in there])])
    return table(rows, indent="")


def ends_of(rules: Sequence[RuleCheck]) -> list[list[RuleCheck]]:
    """Put the two ends of a band together; masses first, each alone."""
    masses = [[rule] for rule in rules if not rule.share]
    bands = [[rule for rule in rules if rule.share == name] for name in SHARE_NAMES]
    return [*masses, *(band for band in bands if band)]


def miss_words(plan: BallastPlan) -> str:
    """Say how sure `met` is; nothing where no rule but the minimum weight has a chance."""
    scale, judged = plan.goal.other_scale, ("minimum", "maximum")
    if not scale or all(rule.chance is None or rule.kind in judged for rule in plan.rules):
        return ""
    said = "as the car file says" if scale.stated else "where the car file states no chance"
    return wrapped(
        f"A share, axle or wheel is “met” where another scale misses it with a chance of"
        f" {100 * scale.chance:g} % at most, {said}."
    )


def asked_and_then(rule: RuleCheck, units: Units) -> tuple[str, str]:
    """Say what a rule asks for, and how the car stands to it."""
    if rule.share:
        return percent(rule.limit, 2), percent(rule.value, 2)
    return (
        amount(rule.limit, "mass", units, unit=True),
        amount(rule.value, "mass", units, unit=True),
    )


def band_words(band: tuple[float, float], unit: str = "") -> str:
    """Say which front shares will do, one where both ends are the same.

    >>> band_words((0.5, 0.52)), band_words((0.5, 0.5), " %")
    ('50.00 to 52.00', '50.00 %')
    """
    low, high = (f"{number(100 * share, 2)}{unit}" for share in band)
    return low if low == high else f"{low} to {high}"


def met_word(ends: Sequence[RuleCheck]) -> str:
    """Say in a word how the car stands to a rule, both ends of a band together."""
    if all(rule.met for rule in ends):
        return "met"
    return "IN DOUBT" if all(rule.within for rule in ends) else "MISSED"


def binding_texts(plan: BallastPlan, units: Units, names: Sequence[str] = ()) -> list[str]:
    """Say what is missed, then what stands in the way and what lifting it would take."""
    return [*missed_texts(plan, units, names), *_ways(plan, units)]


def missed_texts(plan: BallastPlan, units: Units, names: Sequence[str] = ()) -> list[str]:
    """Say which rules are missed in any of several race trims."""
    left = plan.goal.cross is None
    missed = miss_texts(plan.rules, units, left)
    for name, stand in zip(names[1:], plan.others, strict=False):
        missed += [f"in {name}, {text}" for text in miss_texts(stand.rules, units, left)]
    return missed


def miss_texts(rules: Sequence[RuleCheck], units: Units, left: bool = False) -> list[str]:
    """Say which rules are not met, a line each.

    Args:
        left: Whether the cross weight is left to the perches.
    """
    outside = {rule.share for rule in rules if rule.share and not rule.within}
    # Of a band that is missed at one end the other goes without saying.
    said = (rule for rule in rules if not rule.met and not (rule.within and rule.share in outside))
    return [_miss(rule, units, left and rule.share == "cross") for rule in said]


def _miss(rule: RuleCheck, units: Units, left: bool) -> str:
    asked, closest = asked_and_then(rule, units)
    if rule.within:
        chance = number(100 * (rule.chance or 0.0), 0)
        return (
            f"{rule_name(rule.kind)}: {asked} asked, {closest} is within, but {chance} % likely to"
            f" miss on another scale{f' {_BY_TURNS}' if left else ''}"
        )
    return f"{rule_name(rule.kind)}: {asked} asked, {closest} {_BY_TURNS if left else _CLOSEST}"


def _ways(plan: BallastPlan, units: Units) -> list[str]:
    car_mass = float((plan.loads - plan.change).sum()) / GRAVITY
    # A share can be forced by tons; a minimum weight that is far off is another matter.
    it = "all of it" if sum(not rule.met for rule in plan.all_rules) > 1 else "it"
    forced = any(not rule.met and rule.kind != "minimum" for rule in plan.all_rules)
    sane = [way for way in plan.bindings if not forced or way.needed <= _SANE * car_mass]
    if sane or not plan.bindings or not any(way.bounds for way in plan.bindings):
        return [_way(way, units, it) for way in sane or plan.bindings]
    most = f"{100 * _SANE:.0f} % of the car's"
    return [f"no mass up to {most} at these places does {it}: {_TOO_NEAR}"]


def _way(way: Binding, units: Units, it: str) -> str:
    if not way.bounds:
        return f"no mass at these places does {it}: {_TOO_NEAR}"
    needed = amount(way.needed, "mass", units, unit=True)
    bounds = " and ".join(_bound(bound, units) for bound in way.bounds)
    return f"{needed} in all would do it, {bounds}"


def _bound(bound: Bound, units: Units) -> str:
    limit = "" if np.isinf(bound.limit) else amount(bound.limit, "mass", units, unit=True)
    return {
        "most": f"with more ballast allowed than {limit}",
        "place": f"with more room at “{bound.name}”" + (f" than {limit}" if limit else ""),
        "stock": "with more pieces",
        "grid": "cut to measure instead of in these pieces",
    }[bound.kind]
