"""The height of the center of gravity, told."""

from __future__ import annotations

from typing import Any

from balancer.files.car_file import CarFile
from balancer.files.lifts import Lifts
from balancer.report.words.json_parts import heading_json
from balancer.report.words.numbers import amount, lines_of, number, paragraphs, uncertainty, wrapped
from balancer.report.words.tables import table
from balancer.weighing.cg_height import TOO_UNSURE, CgHeight

CARE = """\
Care: a lifted axle wants to roll. Chock the wheels that stay, lift with a hoist
or on stands made for it, keep everybody out from under, and go up in steps."""


def lift_json(file: CarFile, found: CgHeight) -> dict[str, Any]:
    """Give a height as the dict that `balancer lift --json` prints."""
    units = file.units
    return {
        **heading_json(file),
        "status": "met" if found.means else "too_unsure",
        "cg_up": units.from_si(found.up, "length"),
        "uncertainty": {"cg_up": units.from_si(found.uncertainty, "length")},
        "residuals": [float(one) for one in found.residuals],
    }


def lift_text(file: CarFile, lifts: Lifts, found: CgHeight) -> str:
    """Tell the height of the center of gravity in at most 80 columns."""
    units = file.units
    length, load = units.labels["length"], units.labels["load"]
    rows = [["lifted", f"by, {length}", f"other axle, {load}", "off the line, in ±"]]
    for one, off in zip(lifts.lifts, found.residuals, strict=True):
        height = amount(one.height, "length", units)
        rows.append([one.axle, height, amount(one.load, "load", units), number(off, 1, sign=True)])
    decimals = 0 if units.name == "metric" else 1
    up = number(units.from_si(found.up, "length"), decimals)
    sure = uncertainty(units.from_si(found.uncertainty, "length"), decimals)
    verdict = f"Center of gravity {up} {sure} {length} above the ground."
    if found.means:
        verdict += f"\nIn the car file, under [body]: cg_up = {up.replace('−', '-')}"
    else:
        most = amount(TOO_UNSURE, "length", units, unit=True)
        verdict = (
            f"These lifts say nothing: the height comes out as {up} {sure} {length}, and"
            f" ± above {most} is no measurement. Lift higher, or read more often."
        )
    said = lines_of(verdict.split("\n"))
    return paragraphs(wrapped(file.car.name), table(rows, indent=""), said, CARE)
