"""A perch plan as the JSON contract has it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from balancer.car.answers import Contacts
from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.files.units import Units
from balancer.planning.perches.plan import PerchPlan
from balancer.planning.perches.question import PerchMoves
from balancer.report.perches.corners import contact_names
from balancer.report.perches.limits import limit_texts
from balancer.report.perches.moves import fewest_name
from balancer.report.words.json_parts import by_corner, heading_json, per_turn_json, shares_json
from balancer.report.words.prose import lifted
from balancer.weighing.weigh import WeighIn

if TYPE_CHECKING:
    from balancer.planning.perches.bar_links import BarFit


def perches_json(
    file: CarFile, weighed: WeighIn, plan: PerchPlan, bars: Sequence[BarFit] = ()
) -> dict[str, Any]:
    """Give a perch plan as the dict that `balancer perches --json` prints."""
    units = file.units
    return {
        **heading_json(file),
        "status": plan.status,
        "target_cross_pct": 100 * plan.goal.cross,
        "now": {
            "loads": by_corner(weighed.loads, "load", units),
            "cross_pct": 100 * weighed.shares.cross,
            "warnings": lifted(weighed.loads),
        },
        **_moves_json(plan.best, units),
        "tells_more": plan.tells_more,
        "limits": limit_texts(plan, file),
        "alternatives": [
            {
                "why": fewest_name(plan) if moves is plan.fewest_turns else "other corners",
                **_moves_json(moves, units),
            }
            for moves in plan.alternatives
        ],
        "per_turn": per_turn_json(plan.per_turn, file.car.adjustable, units),
        "uncertainty": _sure_json(plan, weighed.uncertainties.cross),
        "repeatable": _sure_json(plan, weighed.repeatable.cross),
        **corners_json(file, plan, bars),
    }


def _moves_json(moves: PerchMoves, units: Units) -> dict[str, Any]:
    return {
        "corners": moves.corners,
        "turns": by_corner(moves.turns, "number", units),
        "loads": by_corner(moves.loads, "load", units),
        **shares_json(moves.shares),
        "height_change": by_corner(moves.height_change, "length", units),
        "cross_met": moves.cross_met,
        "heights_met": moves.heights_met,
        "proved": moves.proved,
        **moved_json(moves),
    }


def _sure_json(plan: PerchPlan, standard: float) -> dict[str, float | None]:
    crossed = np.abs(plan.per_turn.cross)
    largest = 0.0 if np.isnan(crossed).all() else float(np.nanmax(crossed))
    return {"cross_pct": 100 * standard, "turns": standard / largest if largest else None}


def contacts_json(contacts: Contacts) -> dict[str, list[str]]:
    """Give what corners stand on: by corner a list of short names, empty where it is free."""
    return {corner: contact_names(contacts, index) for index, corner in enumerate(CORNERS)}


def moved_json(moves: PerchMoves) -> dict[str, Any]:
    """Give what a plan says beyond the turns for a car that is not linear; nothing of others."""
    if moves.mounts is None or moves.link_turns is None or moves.contacts is None:
        return {}
    where = ("mount" if mounted else "perch" for mounted in moves.mounts)
    return {
        "at": dict(zip(CORNERS, where, strict=True)),
        "link_turns": dict(zip(("front", "rear"), moves.link_turns.tolist(), strict=True)),
        "stands_on": contacts_json(moves.contacts),
    }


def corners_json(file: CarFile, plan: PerchPlan, bars: Sequence[BarFit]) -> dict[str, Any]:
    """Give what there is to say of corners and bars beside a plan; nothing of a linear car."""
    if plan.contacts is None:
        return {}
    axles, linear = ("front", "rear"), plan.linear and _moves_json(plan.linear, file.units)
    return {
        "stands_on_now": contacts_json(plan.contacts),
        "if_taken_for_linear": linear
        and {key: linear[key] for key in ("turns", "cross_pct", "height_change")},
        "bars": {axles[fit.axle]: _bar_json(fit, file.units) for fit in bars},
    }


def _bar_json(fit: BarFit, units: Units) -> dict[str, float | None]:
    return {
        "left_link_longer": units.from_si(fit.longer, "length"),
        "left_link_turns": fit.turns if np.isfinite(fit.turns) else None,
        "cross_pct": 100 * fit.cross,
        "cross_pct_per_mm": 100e-3 * fit.cross_per_meter,
    }
