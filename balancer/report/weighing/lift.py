"""The height of the center of gravity, told."""

from typing import Any

from balancer.files.car_file import CarFile
from balancer.files.lifts import Lifts
from balancer.files.on_board import words_of
from balancer.files.units import Units
from balancer.report.words.json_parts import heading_json
from balancer.report.words.numbers import amount, number, place, place_decimals, uncertainty
from balancer.report.words.opening import stood_line
from balancer.report.words.prose import lines_of, paragraphs
from balancer.report.words.tables import table
from balancer.weighing.cg_height import TOO_UNSURE, CgHeight, bare_height

CARE = """\
Care: a lifted axle wants to roll. Chock the wheels that stay, lift with a hoist
or on stands made for it, keep everybody out from under, and go up in steps."""


def lift_json(file: CarFile, lifts: Lifts, height: CgHeight) -> dict[str, Any]:
    """Give a height as the dict that `balancer lift --json` prints."""
    units, aboard = file.units, lifts.aboard
    bare, _ = bare_height(height, lifts.weight, aboard or ())
    return {
        **heading_json(file),
        "status": "met" if height.means else "too_unsure",
        "cg_up": units.from_si(height.up, "length"),
        "on_board": None if aboard is None else list(words_of(aboard, units, file.car.on_board)),
        "cg_up_without": None if aboard is None else units.from_si(bare, "length"),
        "uncertainty": {"cg_up": units.from_si(height.uncertainty, "length")},
        "residuals": [float(residual) for residual in height.residuals],
    }


def lift_text(file: CarFile, lifts: Lifts, height: CgHeight) -> str:
    """Tell the height of the center of gravity in at most 80 columns."""
    units = file.units
    length, load = units.labels["length"], units.labels["load"]
    rows = [["lifted", f"by, {length}", f"other axle, {load}", "off the line, in ±"]]
    for lift, off in zip(lifts.lifts, height.residuals, strict=True):
        cells = amount(lift.height, "length", units), amount(lift.load, "load", units)
        rows.append([lift.axle, *cells, number(off, 1, sign=True)])
    verdict = lines_of(_verdict(height, lifts, units))
    return paragraphs(stood_line(file, lifts.aboard), table(rows, indent=""), verdict, CARE)


def _verdict(height: CgHeight, lifts: Lifts, units: Units) -> list[str]:
    length, up = units.labels["length"], place(height.up, units)
    sure = uncertainty(units.from_si(height.uncertainty, "length"), place_decimals(units))
    if height.means:
        bare, unsure = bare_height(height, lifts.weight, lifts.aboard or ())
        alone, without = place(bare, units), ""
        if lifts.aboard:
            near = uncertainty(units.from_si(unsure, "length"), place_decimals(units))
            without = f"; {alone} {near} without what was on board"
        return [
            f"Center of gravity {up} {sure} {length} above the ground{without}.",
            f"In the car file, under [body]: cg_up = {alone.replace('−', '-')}",
        ]
    most = amount(TOO_UNSURE, "length", units, unit=True)
    return [
        f"These lifts say nothing: the height comes out as {up} {sure} {length}, and"
        f" ± above {most} is no measurement. Lift higher, or read more often."
    ]
