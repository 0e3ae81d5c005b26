"""A ballast plan told: as text, and as the JSON contract."""

from __future__ import annotations

from typing import Any

import numpy as np

from balancer.ballast.goal import RuleCheck
from balancer.ballast.limits import Binding, Bound
from balancer.ballast.plan import BallastItem, BallastPlan
from balancer.car.conventions import GRAVITY
from balancer.files.car_file import CarFile
from balancer.files.states import in_words
from balancer.report.weighing.trim import lift_lines, load_rows
from balancer.report.words.cautions import BALLAST
from balancer.report.words.json_parts import (
    by_corner,
    center_json,
    heading_json,
    place_json,
    shares_json,
)
from balancer.report.words.numbers import amount, lifted, number, paragraphs, percent, wrapped
from balancer.report.words.tables import table
from balancer.units import Units
from balancer.weighing.load_states import Trim
from balancer.weighing.uncertainty import Shares

_SANE = 0.3
"""Ballast beyond this part of the car's mass is nothing to be told to bolt in."""

_TOO_NEAR = "they are not far enough forward, aft or out"

_RULES = {
    "minimum": "minimum weight, margin included",
    "maximum": "maximum weight",
    "axle_front": "minimum on the front axle",
    "axle_rear": "minimum on the rear axle",
    "front_low": "front share, lowest",
    "front_high": "front share, highest",
}


def ballast_json(file: CarFile, plan: BallastPlan) -> dict[str, Any]:
    """Give a ballast plan as the dict that `balancer ballast --json` prints.

    Returns:
        Keys as documented in README.md; car file's units, shares in percent.
    """
    units = file.units
    return {
        **heading_json(file),
        "status": plan.status,
        "ballast": [put_json(put, units) for put in plan.items],
        "added": units.from_si(plan.added, "mass"),
        "total": units.from_si(plan.shares.total, "load"),
        "loads": by_corner(plan.loads, "load", units),
        "load_change": by_corner(plan.change, "load", units),
        **shares_json(plan.shares),
        "cg": center_json(plan.shares, units),
        "rules": [rule_json(rule, units) for rule in plan.rules],
        "limits": [*lifted(plan.loads, units), *binding_texts(plan, units)],
    }


def put_json(put: BallastItem, units: Units) -> dict[str, Any]:
    """Give the ballast at one place under the names of the contract."""
    return {
        "place": put.place,
        **place_json(put, units),
        "pieces": [
            {"mass": units.from_si(mass, "mass"), "count": count} for mass, count in put.pieces
        ],
    }


def rule_json(rule: RuleCheck, units: Units) -> dict[str, Any]:
    """Give a rule and how the car stands to it under the names of the contract."""
    share = rule.kind.startswith("front_")
    limit, value = (
        100 * number_ if share else units.from_si(number_, "mass")
        for number_ in (rule.limit, rule.value)
    )
    return {"rule": rule_name(rule.kind), "limit": limit, "value": value, "met": rule.met}


def rule_name(kind: str) -> str:
    """Name a rule in words.

    >>> rule_name("wheel_LF")
    'minimum at LF'
    """
    return _RULES.get(kind) or f"minimum at {kind.removeprefix('wheel_')}"


def ballast_text(file: CarFile, racing: Trim, plan: BallastPlan) -> str:
    """Tell a ballast plan in at most 80 columns.

    Args:
        racing: In race trim, without the ballast.
    """
    units = file.units
    now = racing.shares
    rows = [("now", racing.loads, now), ("then", plan.loads, plan.shares)]
    return paragraphs(
        wrapped(
            f"{file.car.name} in race trim, {in_words(racing.on_board, units)}:"
            f" {total_and_front(now, units, 1)}"
        ),
        "\n".join(lift_lines(rows, units)),
        _verdict(plan, units),
        "\n".join(ballast_lines(plan, units)),
        table(load_rows(rows, units), indent="") if plan.items else "",
        rule_table(plan, units),
        BALLAST if plan.items else "",
    )


def total_and_front(found: Shares, units: Units, decimals: int = 2) -> str:
    """Say what a car weighs, and how much of it is in front.

    Args:
        decimals: Of the front share.
    """
    total = amount(found.total, "load", units, unit=True)
    return f"{total}, {percent(found.front, decimals)} front"


def _verdict(plan: BallastPlan, units: Units) -> str:
    if plan.status == "met":
        return "" if plan.items else "No ballast needed: every rule is met."
    words = {
        "closest": "No allowed ballast meets every rule (proved). The closest there is:",
        "gave_up": "The solver stopped without a proof. The best it found:",
    }
    if plan.status == "gave_up" and all(rule.met for rule in plan.rules):
        return "Every rule is met; that less would not do is not proved. The best found:"
    reasons = (wrapped(f"- {text}", "  ") for text in binding_texts(plan, units))
    return "\n".join([words[plan.status], *reasons])


def ballast_lines(plan: BallastPlan, units: Units) -> list[str]:
    """Say what to bolt in and where, a line each and one for the place; nothing for nothing."""
    if not plan.items:
        return []
    lines = [f"Bolt in {amount(plan.added, 'mass', units, unit=True)} of ballast:"]
    for put in plan.items:
        pieces = " + ".join(
            f"{count} × {number(units.from_si(mass, 'mass'), 2).rstrip('0').rstrip('.')}"
            for mass, count in put.pieces
        )
        side = "left" if put.left > 0 else "right"
        across = (
            f"{_place(abs(put.left), units)} {side}"
            if abs(put.left) > 5e-4
            else "on the centerline"
        )
        lines.append(
            wrapped(
                f"  {put.place}: {amount(put.mass, 'mass', units, unit=True)}"
                + (f" ({pieces})" if pieces else ""),
                "    ",
            )
        )
        lines.append(f"    center {_place(put.aft, units)} behind the front axle, {across}")
    return lines


def _place(value: float, units: Units) -> str:
    label = units.labels["length"]
    return f"{number(units.from_si(value, 'length'), 0 if units.name == 'metric' else 1)} {label}"


def rule_table(plan: BallastPlan, units: Units) -> str:
    """Set out the rules and how the car stands to them; nothing where there are none."""
    if not plan.rules:
        return ""
    rows = [["Rule", "asked", "then", ""]]
    for rule in plan.rules:
        if rule.kind.startswith("front_"):
            continue
        asked = amount(rule.limit, "mass", units, unit=True)
        value = amount(rule.value, "mass", units, unit=True)
        rows.append([rule_name(rule.kind), asked, value, _verdict_word(rule.met)])
    if plan.goal.front:
        low, high = (percent(share, 2) for share in plan.goal.front)
        band = low if low == high else f"{low} to {high}"
        met = all(rule.met for rule in plan.rules if rule.kind.startswith("front_"))
        rows.append(["front share", band, percent(plan.shares.front, 2), _verdict_word(met)])
    return table(rows, indent="")


def _verdict_word(met: bool) -> str:
    return "met" if met else "MISSED"


def binding_texts(plan: BallastPlan, units: Units) -> list[str]:
    """Say what stands in the way, one line each, and what lifting it would take.

    Returns:
        Empty when every rule is met.
    """
    missed = [
        f"{rule_name(rule.kind)}: {_miss(rule, units)}" for rule in plan.rules if not rule.met
    ]
    return missed + _bindings_texts(plan, units)


def _bindings_texts(plan: BallastPlan, units: Units) -> list[str]:
    car_mass = float((plan.loads - plan.change).sum()) / GRAVITY
    # A share can be forced by tons; a minimum weight that is far off is another matter.
    forced = any(not rule.met and rule.kind != "minimum" for rule in plan.rules)
    sane = [one for one in plan.bindings if not forced or one.needed <= _SANE * car_mass]
    if sane or not plan.bindings or not any(one.bounds for one in plan.bindings):
        return [_binding_text(one, units) for one in sane or plan.bindings]
    return [f"no mass up to {100 * _SANE:.0f} % of the car's at these places does it: {_TOO_NEAR}"]


def _miss(rule: RuleCheck, units: Units) -> str:
    if rule.kind.startswith("front_"):
        return f"{percent(rule.limit, 2)} asked, {percent(rule.value, 2)} is the closest"
    return (
        f"{amount(rule.limit, 'mass', units, unit=True)} asked,"
        f" {amount(rule.value, 'mass', units, unit=True)} is the closest"
    )


def _binding_text(one: Binding, units: Units) -> str:
    if not one.bounds:
        return f"no mass at these places does it: {_TOO_NEAR}"
    needed = amount(one.needed, "mass", units, unit=True)
    return f"{needed} in all would do it, {' and '.join(_bound(b, units) for b in one.bounds)}"


def _bound(bound: Bound, units: Units) -> str:
    limit = "" if np.isinf(bound.limit) else amount(bound.limit, "mass", units, unit=True)
    return {
        "most": f"with more ballast allowed than {limit}",
        "place": f"with more room at “{bound.name}”" + (f" than {limit}" if limit else ""),
        "stock": "with more pieces",
        "grid": "cut to measure instead of in these pieces",
    }[bound.kind]
