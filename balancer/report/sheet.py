"""The sheet that hangs on the garage wall: one page of HTML that needs nothing else."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

import numpy as np

from balancer.car import CORNERS
from balancer.carfile import CarFile
from balancer.prep import Preparation
from balancer.report.ballast import ballast_lines, binding_texts, rule_name
from balancer.report.cautions import BALLAST, PERCHES
from balancer.report.perches import limit_texts
from balancer.report.plan_view import plan_view
from balancer.report.trim import load_rows
from balancer.report.words import amount, doubt, percent, turns
from balancer.states import in_words
from balancer.units import Units
from balancer.weighing import WeighIn

BOXES = (
    "LF pressure", "RF pressure", "LF clicks", "RF clicks",
    "LR pressure", "RR pressure", "LR clicks", "RR clicks",
    "Who", "When", "Track", "Weather",
)  # fmt: skip


def sheet_html(file: CarFile, weighed: WeighIn, ready: Preparation) -> str:
    """Write a preparation as one self-contained page.

    Parameters
    ----------
    file : CarFile
    weighed : WeighIn
    ready : Preparation

    Returns
    -------
    str
        HTML without scripts or anything to fetch; every name in it is text, never markup. The same
        input gives the same bytes.
    """
    from jinja2 import Environment, StrictUndefined

    source = files("balancer.report").joinpath("sheet.html").read_text(encoding="utf-8")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=False)
    return environment.from_string(source).render(_words(file, weighed, ready)) + "\n"


def _words(file: CarFile, weighed: WeighIn, ready: Preparation) -> dict[str, Any]:
    units, best = file.units, ready.perches.best
    goal, pads = ready.perches.goal, ready.on_the_pads
    limits = [*binding_texts(ready.ballast, units), *limit_texts(ready.perches, units)]
    rows = [
        ("as weighed", ready.as_weighed.loads, ready.as_weighed.shares),
        ("race trim", ready.in_race_trim.loads, ready.in_race_trim.shares),
        ("with ballast", ready.ballast.loads, ready.ballast.shares),
        ("and turns", ready.race_trim.loads, ready.race_trim.shares),
        ("on the pads", pads.loads, pads.shares),
    ]
    numbers = load_rows(rows, units, change=False)
    heights = [amount(one, "length", units, sign=True) for one in best.height_change]
    numbers.append([f"height change, {units.labels['length']}", *heights, "", "", "", ""])
    readings = weighed.readings
    about = [f"Weighed with {in_words(ready.as_weighed.on_board, units)}"]
    about[0] += f", {readings.date}." if readings.date else "."
    total = float(np.abs(best.turns).sum())
    return {
        "car": file.car.name,
        "about": [*about, *([readings.note] if readings.note else [])],
        "view_title": "As weighed, " + units.labels["load"],
        "view": plan_view(
            file.car, units, ready.as_weighed.loads, ready.as_weighed.shares, ready.ballast.puts
        ),
        "turns_title": f"Turn, {turns(total)} in all" if total else "Nothing to turn",
        "turns": [_corner(ready, index, units) for index in range(4)],
        "verdict": [
            f"Wanted in race trim: cross weight (RF+LR) {percent(goal.cross)}"
            f" ± {100 * goal.tolerance:g}; this makes {percent(best.shares.cross)}.",
            *(f"Can't all be reached: {text}." for text in limits),
        ],
        "numbers": numbers,
        "doubt": f"Total {doubt(units.from_si(weighed.doubts.total, 'load'), 1)}"
        f" {units.labels['load']}, cross weight {doubt(100 * weighed.doubts.cross, 2)} points"
        " (one standard uncertainty).",
        "ballast": [line.strip() for line in ballast_lines(ready.ballast, units)],
        "rules": _rules(ready, units),
        "board": [
            f"Race trim: {in_words(ready.race_trim.on_board, units)}.",
            f"Next on the pads: {in_words(pads.on_board, units)}.",
        ],
        "boxes": BOXES,
        "care": [" ".join(text.split()) for text in (PERCHES, *_ballast_care(ready))],
    }


def _corner(ready: Preparation, index: int, units: Units) -> dict[str, Any]:
    best = ready.perches.best
    value = float(best.turns[index])
    if not value:
        return {"corner": CORNERS[index], "turn": False, "much": "leave", "way": ""}
    perch = amount(float(best.perch[index]), "length", units, sign=True, unit=True)
    arrow = "▲ up" if value > 0 else "▼ down"
    return {
        "corner": CORNERS[index],
        "turn": True,
        "much": f"{turns(value)} {arrow}",
        "way": f"{'raises' if value > 0 else 'lowers'} it: perch {perch}",
    }


def _rules(ready: Preparation, units: Units) -> list[dict[str, Any]]:
    told = []
    for rule in ready.ballast.rules:
        share = rule.kind.startswith("front_")
        asked, value = (
            percent(one, 2) if share else amount(one, "mass", units, unit=True)
            for one in (rule.limit, rule.value)
        )
        told.append({"name": rule_name(rule.kind), "asked": asked, "value": value, "met": rule.met})
    return told


def _ballast_care(ready: Preparation) -> list[str]:
    return [BALLAST] if ready.ballast.puts else []
