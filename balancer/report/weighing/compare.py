"""Two weigh-ins beside each other, told."""

from __future__ import annotations

from typing import Any

from balancer.car.conventions import CORNERS, Floats
from balancer.files.car_file import CarFile
from balancer.report.weighing.trim import load_rows
from balancer.report.words.json_parts import by_corner, center_json, heading_json, loads_json
from balancer.report.words.numbers import (
    amount,
    amounts,
    number,
    paragraphs,
    side,
    uncertainty,
    wrapped,
)
from balancer.report.words.tables import table
from balancer.units import Units
from balancer.weighing.comparison import REAL, Difference
from balancer.weighing.weigh import WeighIn


def compare_json(file: CarFile, found: Difference, explained: bool) -> dict[str, Any]:
    """Give a difference of weigh-ins as the dict that `balancer compare --json` prints.

    Args:
        explained: Whether a prediction was given, so that the rest means something.
    """
    units = file.units
    added = found.added
    known = added.aft_uncertainty < float("inf")
    return {
        **heading_json(file),
        **loads_json(found.loads, found.shares, units),
        "cg": center_json(found.shares, units),
        "uncertainty": {
            **loads_json(found.load_uncertainties, found.uncertainties, units),
            "cg": center_json(found.uncertainties, units),
        },
        "real": {
            f"{name}_pct" if name != "total" else name: found.real(name)
            for name in ("total", "front", "left", "cross")
        },
        "added": {
            "mass": units.from_si(added.mass, "mass"),
            "aft": units.from_si(added.aft, "length") if known else None,
            "left": units.from_si(added.left, "length") if known else None,
            "uncertainty": {
                "mass": units.from_si(added.mass_uncertainty, "mass"),
                "aft": units.from_si(added.aft_uncertainty, "length") if known else None,
                "left": units.from_si(added.left_uncertainty, "length") if known else None,
            },
        },
        "unexplained": by_corner(found.rest, "load", units) if explained else None,
    }


def compare_text(
    file: CarFile, weighed: tuple[WeighIn, WeighIn], names: tuple[str, str], found: Difference,
    predicted: Floats | None,
) -> str:  # fmt: skip
    """Tell what is different between two weigh-ins, in at most 80 columns.

    Args:
        predicted: (4,) or None, change of the loads that was expected [N].
    """
    units = file.units
    rows = [(name, one.loads, one.shares) for name, one in zip(names, weighed, strict=True)]
    cells = load_rows(rows, units)
    masses = [*found.load_uncertainties, found.uncertainties.total]
    points = (
        100 * one
        for one in (found.uncertainties.front, found.uncertainties.left, found.uncertainties.cross)
    )
    uncertainties = ["±", *amounts(masses, "load", units)]
    cells.append([*uncertainties, *(f"{number(one, 2)} " for one in points)])
    parts = [
        "\n".join([wrapped(f"{file.car.name}: {names[1]} less {names[0]}"), *_aboard(weighed)]),
        table(cells, indent=""),
        "\n".join(_verdicts(found)),
        _added(found, units),
    ]
    if predicted is not None:
        parts.append(_explained(found, predicted, units))
    return paragraphs(*parts)


def _aboard(weighed: tuple[WeighIn, WeighIn]) -> list[str]:
    """Say what was on board where it was not the same."""
    before, after = (one.readings.on_board for one in weighed)
    if before == after or before is None or after is None:
        return []
    was, now = (", ".join(words) or "nothing" for words in (before, after))
    return [wrapped(f"On board then: {was}; now: {now}. That is part of the difference.")]


def _verdicts(found: Difference) -> list[str]:
    words = {
        "total": "total",
        "front": "front share",
        "left": "left share",
        "cross": "cross weight",
    }
    real = [text for name, text in words.items() if found.real(name)]
    lost = [text for name, text in words.items() if not found.real(name)]
    lines = []
    if real:
        lines.append(wrapped(f"Real, beyond {REAL:g} times its uncertainty: {', '.join(real)}."))
    if lost:
        lines.append(wrapped(f"Within the uncertainty, so nothing to explain: {', '.join(lost)}."))
    return lines


def _added(found: Difference, units: Units) -> str:
    added = found.added
    if added.aft_uncertainty == float("inf"):
        return ""
    unit = units.labels["length"]
    aft, left = (units.from_si(one, "length") for one in (added.aft, abs(added.left)))
    sure = [
        uncertainty(units.from_si(one, "length"), 0)
        for one in (added.aft_uncertainty, added.left_uncertainty)
    ]
    what = "More" if added.mass > 0 else "Less"
    mass = amount(abs(added.mass), "mass", units, unit=True)
    return wrapped(
        f"{what} by {mass}, centered {number(aft, 0)} {sure[0]} {unit} behind the front axle and"
        f" {number(left, 0)} {sure[1]} {unit} {side(added.left)} of the centerline."
    )


def _explained(found: Difference, predicted: Floats, units: Units) -> str:
    rows = [["", *CORNERS, f"{units.labels['load']} in all"]]
    for name, loads in (
        ("found", found.loads),
        ("parts say", predicted),
        ("unexplained", found.rest),
    ):
        masses = [*loads, loads.sum()]
        rows.append([name, *amounts(masses, "load", units, sign=True)])
    rest, sure = float(found.rest.sum()), found.uncertainties.total
    verdict = "is more than chance" if abs(rest) > REAL * sure else "is within the uncertainty"
    return table(rows, indent="") + f"\nThe unexplained total {verdict}."
