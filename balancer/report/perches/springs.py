"""Springs exchanged, told: what they do, and the turns that make it good."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.files.units import Units
from balancer.planning.springs import SpringPlan
from balancer.report.perches.corners import corner_lines
from balancer.report.perches.limits import limit_texts
from balancer.report.perches.moves import turn_lines
from balancer.report.perches.plan import verdict
from balancer.report.perches.plan_json import contacts_json, moved_json
from balancer.report.words.cautions import SPRINGS
from balancer.report.words.json_parts import by_corner, heading_json, loads_json
from balancer.report.words.numbers import amount, amounts, percent
from balancer.report.words.prose import (
    by_corner_words,
    care_of,
    lifted,
    lines_of,
    paragraphs,
    wrapped,
)
from balancer.report.words.tables import table
from balancer.weighing.uncertainty import shares


def springs_text(file: CarFile, found: SpringPlan) -> str:
    """Tell what other springs do, in at most 80 columns."""
    units, goal, after = file.units, found.aim.goal, found.shown
    other = file._replace(car=after.car)
    give = amount(goal.height_tolerance, "length", units, unit=True)
    return paragraphs(
        lines_of(care_of(after.loads, "on these springs")),
        lines_of(corner_lines(other, after.loads, found.plan)),
        table(list(_rows(file, found)), indent=""),
        wrapped(f"Heights wanted {_heights(found, units)} ± {give}."),
        verdict(found.plan, file),
        "\n".join(turn_lines(found.plan.best, other)),
        lines_of(_assumed(file.car, found)),
        SPRINGS,
    )


def _heights(found: SpringPlan, units: Units) -> str:
    rise = found.aim.goal.rise + found.resprung.heights
    if not np.abs(rise).max() > 1e-12:
        return "as on the old springs"
    return by_corner_words(amounts(rise, "length", units, sign=True))


def _rows(file: CarFile, found: SpringPlan) -> Iterator[list[str]]:
    units, after, best = file.units, found.shown, found.plan.best
    rate, length = units.labels["rate"], units.labels["length"]
    yield ["", *CORNERS, "cross"]
    yield [f"old springs, {rate}", *amounts(file.car.spring_rate, "rate", units), ""]
    yield [f"new springs, {rate}", *amounts(after.car.spring_rate, "rate", units), ""]
    if found.springs.longer.any():
        longer = amounts(found.springs.longer, "length", units, sign=True)
        yield [f"free length, {length}", *longer, ""]
    yield _load_row("old springs", file.car, found.before, units)
    yield _load_row("new springs", file.car, after.loads, units)
    yield _load_row("and turns", file.car, best.loads, units)
    heights = amounts(after.heights, "length", units, sign=True)
    yield [f"new springs, {length} higher", *heights, ""]
    turned = amounts(found.heights, "length", units, sign=True)
    yield [f"and turns, {length} higher", *turned, ""]


def _load_row(name: str, car: Car, loads: Floats, units: Units) -> list[str]:
    cross = percent(shares(car, loads).cross)
    return [f"{name}, {units.labels['load']}", *amounts(loads, "load", units), cross]


def _assumed(car: Car, found: SpringPlan) -> Iterator[str]:
    """Say what nobody has said."""
    exchanged = ~np.isnan(found.springs.rate)
    unsaid = exchanged & (found.springs.longer == 0)
    if unsaid.any():
        names = ", ".join(np.array(CORNERS)[unsaid])
        yield f"Free length at {names} is taken to be that of the old springs."
    if found.plan.best.contacts is None and car.bar_rate.any():
        yield "Connected anti-roll bars are taken to carry nothing as the car stands."


def springs_json(file: CarFile, found: SpringPlan) -> dict[str, Any]:
    """Give springs exchanged as the dict that `balancer springs --json` prints."""
    units, after, best = file.units, found.shown, found.plan.best
    return {
        **heading_json(file),
        "status": found.plan.status,
        "target_cross_pct": 100 * found.aim.goal.cross,
        "springs": _springs_json(file.car, found, units),
        "before": loads_json(found.before, shares(file.car, found.before), units),
        **loads_json(after.loads, shares(file.car, after.loads), units),
        "height_change": by_corner(after.heights, "length", units),
        "turns": by_corner(best.turns, "number", units),
        "after_turns": {
            **loads_json(best.loads, best.shares, units),
            "height_change": by_corner(found.heights, "length", units),
        },
        "limits": [*lifted(after.loads, "on these springs"), *limit_texts(found.plan, file)],
        **moved_json(best),
        **({"stands_on_now": contacts_json(found.plan.contacts)} if found.plan.contacts else {}),
    }


def _springs_json(car: Car, found: SpringPlan, units: Units) -> dict[str, Any]:
    rates = zip(car.spring_rate, found.resprung.car.spring_rate, found.springs.longer, strict=True)
    return {
        corner: {
            "was": units.from_si(float(old), "rate"),
            "rate": units.from_si(float(new), "rate"),
            "longer": units.from_si(float(longer), "length"),
        }
        for corner, (old, new, longer) in zip(CORNERS, rates, strict=True)
        if np.isfinite(old)
    }
