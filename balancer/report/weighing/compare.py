"""Two weigh-ins beside each other, told."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from balancer.car.conventions import CORNERS, Floats
from balancer.files.car_file import CarFile
from balancer.report.weighing.states import State, state_rows, uncertainty_row
from balancer.report.words.json_parts import by_corner, center_json, heading_json, loads_json
from balancer.report.words.numbers import amount, amounts, number, side, uncertainty
from balancer.report.words.prose import lines_of, paragraphs, wrapped
from balancer.report.words.tables import table
from balancer.units import Units
from balancer.weighing.comparison import REAL, Difference
from balancer.weighing.weigh import WeighIn

_NAMES = {
    "total": "total", "front": "front share", "left": "left share", "cross": "cross weight"
}  # fmt: skip


def compare_json(file: CarFile, difference: Difference, explained: bool) -> dict[str, Any]:
    """Give a difference of weigh-ins as the dict that `balancer compare --json` prints.

    Args:
        explained: Whether a prediction was given, so that the rest means something.
    """
    units, added = file.units, difference.added
    known = added.aft_uncertainty < float("inf")

    def mass_json(mass: float, aft: float, left: float) -> dict[str, float | None]:
        return {
            "mass": units.from_si(mass, "mass"),
            "aft": units.from_si(aft, "length") if known else None,
            "left": units.from_si(left, "length") if known else None,
        }

    return {
        **heading_json(file),
        **loads_json(difference.loads, difference.shares, units),
        "cg": center_json(difference.shares, units),
        "uncertainty": {
            **loads_json(difference.load_uncertainties, difference.uncertainties, units),
            "cg": center_json(difference.uncertainties, units),
        },
        "real": {
            name if name == "total" else f"{name}_pct": difference.real(name) for name in _NAMES
        },
        "added": {
            **mass_json(added.mass, added.aft, added.left),
            "uncertainty": mass_json(
                added.mass_uncertainty, added.aft_uncertainty, added.left_uncertainty
            ),
        },
        "unexplained": by_corner(difference.rest, "load", units) if explained else None,
    }


def compare_text(
    file: CarFile, weighed: tuple[WeighIn, WeighIn], names: tuple[str, str],
    difference: Difference, predicted: Floats | None,
) -> str:  # fmt: skip
    """Tell what is different between two weigh-ins, in at most 80 columns.

    Args:
        predicted: (4,) or None, change of the loads that was expected [N].
    """
    units = file.units
    states = [State(name, one.loads, one.shares) for name, one in zip(names, weighed, strict=True)]
    sure = uncertainty_row(difference.load_uncertainties, difference.uncertainties, units)
    return paragraphs(
        lines_of([f"{file.car.name}: {names[1]} less {names[0]}", *_aboard(weighed)]),
        table([*state_rows(states, units), sure], indent=""),
        lines_of(_verdicts(difference)),
        _added(difference, units),
        "" if predicted is None else _explained(difference, predicted, units),
    )


def _aboard(weighed: tuple[WeighIn, WeighIn]) -> list[str]:
    """Say what was on board where it was not the same."""
    before, after = (one.readings.on_board for one in weighed)
    if before == after or before is None or after is None:
        return []
    was, now = (", ".join(words) or "nothing" for words in (before, after))
    return [f"On board then: {was}; now: {now}. That is part of the difference."]


def _verdicts(difference: Difference) -> Iterator[str]:
    real = [text for name, text in _NAMES.items() if difference.real(name)]
    lost = [text for text in _NAMES.values() if text not in real]
    if real:
        yield f"Real, beyond {REAL:g} times its uncertainty: {', '.join(real)}."
    if lost:
        yield f"Within the uncertainty, so nothing to explain: {', '.join(lost)}."


def _added(difference: Difference, units: Units) -> str:
    added = difference.added
    if added.aft_uncertainty == float("inf"):
        return ""
    aft, left = (
        f"{number(units.from_si(value, 'length'), 0)}"
        f" {uncertainty(units.from_si(sure, 'length'), 0)} {units.labels['length']}"
        for value, sure in (
            (added.aft, added.aft_uncertainty),
            (abs(added.left), added.left_uncertainty),
        )
    )
    what = "More" if added.mass > 0 else "Less"
    mass = amount(abs(added.mass), "mass", units, unit=True)
    return wrapped(
        f"{what} by {mass}, centered {aft} behind the front axle and {left} {side(added.left)}"
        " of the centerline."
    )


def _explained(difference: Difference, predicted: Floats, units: Units) -> str:
    rows = [["", *CORNERS, f"{units.labels['load']} in all"]]
    changes = {"found": difference.loads, "parts say": predicted, "unexplained": difference.rest}
    for name, loads in changes.items():
        rows.append([name, *amounts([*loads, loads.sum()], "load", units, sign=True)])
    beyond = abs(float(difference.rest.sum())) > REAL * difference.uncertainties.total
    verdict = "is more than chance" if beyond else "is within the uncertainty"
    return f"{table(rows, indent='')}\nThe unexplained total {verdict}."
