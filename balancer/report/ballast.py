"""A ballast plan told: as text, and as the JSON contract."""

from collections.abc import Mapping, Sequence
from typing import Any

from balancer.files.car_file import CarFile
from balancer.files.on_board import in_words
from balancer.files.units import Units
from balancer.planning.ballast.outcome import BallastItem, BallastPlan
from balancer.report.rules import binding_texts, miss_words, rule_json, rule_table
from balancer.report.weighing.states import State, lift_lines, state_rows, trim_names
from balancer.report.words.cautions import BALLAST
from balancer.report.words.json_parts import (
    by_corner,
    center_json,
    heading_json,
    loads_json,
    place_json,
    shares_json,
)
from balancer.report.words.numbers import amount, number, percent, place
from balancer.report.words.prose import lifted, listed, paragraphs, wrapped
from balancer.report.words.tables import table
from balancer.weighing.load_states import Trim
from balancer.weighing.uncertainty import Shares


def ballast_json(file: CarFile, plan: BallastPlan, trims: Mapping[str, Trim]) -> dict[str, Any]:
    """Give a ballast plan as the dict that `balancer ballast --json` prints.

    Args:
        trims: The race trims by name, without the ballast; the plan's own first.
    """
    units = file.units
    return {
        **heading_json(file),
        "status": plan.status,
        "ballast": [item_json(item, units) for item in plan.items],
        "added": units.from_si(plan.added, "mass"),
        "total": units.from_si(plan.shares.total, "load"),
        "loads": by_corner(plan.loads, "load", units),
        "load_change": by_corner(plan.change, "load", units),
        **shares_json(plan.shares),
        "cg": center_json(plan.shares, units),
        "rules": [rule_json(rule, units) for rule in plan.rules],
        "left_to_turns": plan.left_to_turns,
        "limits": [*lifted(plan.loads), *binding_texts(plan, units, list(trims))],
        "trims": trims_json(plan, trims, units),
    }


def trims_json(
    plan: BallastPlan, trims: Mapping[str, Trim], units: Units
) -> dict[str, dict[str, Any]]:
    """Give loads and rules in every race trim, with the ballast."""
    each = zip(trims, (plan.first, *plan.others), strict=False)
    return {
        name: {
            **loads_json(stand.loads, stand.shares, units),
            "rules": [rule_json(rule, units) for rule in stand.rules],
        }
        for name, stand in each
    }


def item_json(item: BallastItem, units: Units) -> dict[str, Any]:
    """Give the ballast at one place under the names of the contract."""
    pieces = [{"mass": units.from_si(mass, "mass"), "count": count} for mass, count in item.pieces]
    return {"place": item.place, **place_json(item, units), "pieces": pieces}


def ballast_text(file: CarFile, racing: Trim, plan: BallastPlan, trims: Mapping[str, Trim]) -> str:
    """Tell a ballast plan, for a car in race trim without it, in at most 80 columns."""
    units, shares = file.units, racing.shares
    several, names = len(trims) > 1, trim_names(list(trims)) if trims else []
    states = [State("now", racing.loads, shares), State("then", plan.loads, plan.shares)]
    states += [
        State(f"then, {name}", stand.loads, stand.shares)
        for name, stand in zip(names[1:], plan.others, strict=False)
    ]
    trim = in_words(racing.on_board, units)
    return paragraphs(
        wrapped(f"In race trim, {trim}: {total_and_front(shares, units, 1)}."),
        trim_lines(trims, units),
        "\n".join(lift_lines(states)),
        _verdict(plan, units, names),
        "\n".join(ballast_lines(plan, units)),
        table(state_rows(states, units, not several), indent="") if plan.items or several else "",
        rule_table(plan, units, names),
        miss_words(plan),
        BALLAST if plan.items else "",
    )


def total_and_front(shares: Shares, units: Units, decimals: int = 2) -> str:
    """Say what a car weighs, and how much of it is in front."""
    total = amount(shares.total, "load", units, unit=True)
    return f"{total}, {percent(shares.front, decimals)} front"


def _verdict(plan: BallastPlan, units: Units, names: Sequence[str]) -> str:
    if plan.status == "met" and not plan.left_to_turns:
        return "" if plan.items else "No ballast needed: every rule is met."
    if plan.status == "gave_up" and all(rule.met for rule in plan.all_rules):
        return "Every rule is met; that less would not do is not proved. The best found:"
    words = {
        "met": "Every rule is met but for what is left to the perches:",
        "closest": "No allowed ballast meets every rule (proved). The closest there is:",
        "gave_up": "The solver stopped without a proof. The best it found:",
    }
    return f"{words[plan.status]}\n{listed(binding_texts(plan, units, names))}".rstrip()


def ballast_lines(plan: BallastPlan, units: Units) -> list[str]:
    """Say what to bolt in and where, a line each and one for the place; nothing for nothing."""
    if not plan.items:
        return []
    lines = [f"Bolt in {amount(plan.added, 'mass', units, unit=True)} of ballast:"]
    for item in plan.items:
        pieces, length = pieces_words(item, units), units.labels["length"]
        what = f"  {item.place}: {amount(item.mass, 'mass', units, unit=True)}"
        lines.append(wrapped(what + (f" ({pieces})" if pieces else ""), "    "))
        aside = place_aside(item, units, f" {length}") or "on the centerline"
        aft = place(item.aft, units)
        lines.append(f"    center {aft} {length} behind the front axle, {aside}")
    return lines


def pieces_words(item: BallastItem, units: Units) -> str:
    """Say of which pieces ballast is made; empty where it is cut to measure."""
    masses = [(number(units.from_si(mass, "mass"), 2), count) for mass, count in item.pieces]
    return " + ".join(f"{count} × {mass.rstrip('0').rstrip('.')}" for mass, count in masses)


def place_aside(item: BallastItem, units: Units, unit: str = "") -> str:
    """Say how far to a side of the centerline ballast is; empty where it is on it."""
    if abs(item.left) <= 5e-4:
        return ""
    return f"{place(abs(item.left), units)}{unit} {'left' if item.left > 0 else 'right'}"


def trim_lines(trims: Mapping[str, Trim], units: Units) -> str:
    """Say what race trims are, and what they are called in tables; nothing for one alone."""
    if len(trims) < 2:
        return ""
    called = zip(trim_names(list(trims)), trims.items(), strict=True)
    return "\n".join(
        wrapped(
            f"{short if short == name else f'{short} is {name}'}: {in_words(trim.on_board, units)}"
        )
        for short, (name, trim) in called
    )
