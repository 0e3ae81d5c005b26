"""The car and its pads apart, told: tables, and the JSON contract."""

from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.files.on_board import words_of
from balancer.files.pads import PadsFile
from balancer.files.units import Units
from balancer.report.weighing.pad_findings import SHORT, findings, sure_length
from balancer.report.weighing.states import State, state_rows, uncertainty_row
from balancer.report.words.json_parts import by_corner, heading_json, loads_json, shares_json
from balancer.report.words.numbers import amount, amounts, number, uncertainty
from balancer.report.words.opening import stood_line
from balancer.report.words.prose import lines_of, paragraphs, times
from balancer.report.words.tables import cut, table
from balancer.weighing.pad_errors import DETERMINED_LENGTH, Lengths, PadErrors


def pads_json(file: CarFile, read: PadsFile, errors: PadErrors) -> dict[str, Any]:
    """Give car and pads as the dict that `balancer pads --json` prints."""
    units, uncertainties = file.units, np.sqrt(np.diag(errors.covariance))
    as_read = {"total": units.from_si(errors.as_read.total, "load"), **shares_json(errors.as_read)}
    return {
        **heading_json(file),
        "on_board": None if read.aboard is None else list(words_of(read.aboard, units)),
        "status": errors.status,
        **loads_json(errors.loads, errors.shares, units),
        "uncertainty": loads_json(uncertainties, errors.uncertainties, units),
        "as_read": as_read,
        "pads": {name: _pad_json(errors, pad, units) for pad, name in enumerate(errors.pads)},
        "pairs": _pairs_json(errors),
        **_floor_json(errors, units),
        "level": errors.level,
        "settled": errors.consistent,
        "chi_square": errors.chi_square,
        "degrees": errors.degrees,
        "chance_pct": 100 * errors.chance,
        "residuals": [by_corner(row, "load", units) for row in errors.residuals],
        "next": errors.next and {
            "pads": dict(zip(CORNERS, errors.next.pads, strict=True)),
            "told": errors.next.determined,
            "turned": read.weighings[-1].reversed,
        },
    }  # fmt: skip


def _pad_json(errors: PadErrors, pad: int, units: Units) -> dict[str, Any]:
    return {
        "gain_pct": 100 * float(errors.gains[pad]),
        "uncertainty": 100 * float(errors.gain_uncertainties[pad]),
        "told": bool(errors.determined[pad]),
        "beyond_chance": bool(errors.beyond_chance[pad]),
        "thickness": _length_json(errors.thickness, pad, units),
    }


def _pairs_json(errors: PadErrors) -> list[dict[str, Any]]:
    return [
        {
            "pads": [errors.pads[pair.first], errors.pads[pair.second]],
            "reads_more_pct": 100 * pair.more,
            "uncertainty": 100 * pair.uncertainty,
        }
        for pair in errors.pairs
    ]


def _floor_json(errors: PadErrors, units: Units) -> dict[str, Any]:
    lean = {way: _length_json(errors.lean, axis, units) for axis, way in enumerate(("aft", "left"))}
    floor = _length_json(errors.floor, 0, units)
    return {
        "lean": errors.lean and lean,
        "floor": floor and {**floor, "cross_pct": 100 * errors.floor_cross},
    }


def _length_json(lengths: Lengths | None, which: int, units: Units) -> dict[str, Any] | None:
    if lengths is None:
        return None
    standard = float(lengths.uncertainties[which])
    return {
        "value": units.from_si(float(lengths.values[which]), "length"),
        "uncertainty": units.from_si(standard, "length"),
        "told": standard <= DETERMINED_LENGTH,
    }


def pads_text(file: CarFile, read: PadsFile, errors: PadErrors) -> str:
    """Tell car and pads apart in at most 80 columns."""
    units, often = file.units, times(len(read.weighings))
    first = State("as read at first", read.weighings[0].repeats.mean(axis=0), errors.as_read)
    states = [first, State("without the pads", errors.loads, errors.shares)]
    sure = uncertainty_row(np.sqrt(np.diag(errors.covariance)), errors.uncertainties, units)
    pads = ", ".join(errors.pads)
    return paragraphs(
        lines_of([stood_line(file, read.aboard), f"Weighed {often}, on pads {pads}."]),
        _weighings(read, errors, units),
        table([*state_rows(states, units, change=False), sure], indent=""),
        _pads(errors, units),
        lines_of(findings(file, read, errors)),
    )


def _weighings(read: PadsFile, errors: PadErrors, units: Units) -> str:
    """Show which pad stood where, what it read, and the reading that the fit explains least."""
    rows = [["weighing", *CORNERS, f"off by, {units.labels['load']}"]]
    for which, (weighing, off) in enumerate(zip(read.weighings, errors.residuals, strict=True), 1):
        loads = amounts(weighing.repeats.mean(axis=0), "load", units)
        each = zip(weighing.pads, loads, strict=True)
        worst = int(np.abs(off).argmax())
        rows.append(
            [
                f"{which}{' turned' if weighing.reversed else ''}",
                *(f"{cut(pad, SHORT)} {load}" for pad, load in each),
                f"{CORNERS[worst]} {amount(off[worst], 'load', units, sign=True)}",
            ]
        )
    return table(rows, indent="")


def _pads(errors: PadErrors, units: Units) -> str:
    """Show what each pad reads too much, and how much thicker it is."""
    rows = [["pad", "reads, %", "±", ""], *(_gain_row(errors, pad) for pad in range(4))]
    thickness = errors.thickness
    if thickness is not None and (thickness.uncertainties <= DETERMINED_LENGTH).any():
        rows[0] += [f"thicker, {units.labels['length']}", "±"]
        for pad, row in enumerate(rows[1:]):
            row += _thickness_cells(thickness, pad, units)
    return table(rows, indent="")


def _gain_row(errors: PadErrors, pad: int) -> list[str]:
    name = cut(errors.pads[pad], 30)
    if not errors.determined[pad]:
        return [name, "–", "–", "not told"]
    gain = 100 * errors.gains[pad]
    verdict = "within chance"
    if errors.beyond_chance[pad]:
        verdict = "high" if gain > 0 else "low"
    sure = uncertainty(100 * errors.gain_uncertainties[pad], 2).removeprefix("± ")
    return [name, number(gain, 2, sign=True), sure, verdict]


def _thickness_cells(thickness: Lengths, pad: int, units: Units) -> list[str]:
    standard = thickness.uncertainties[pad]
    if standard > DETERMINED_LENGTH:
        return ["–", "–"]
    more = amount(thickness.values[pad], "length", units, sign=True)
    return [more, sure_length(standard, units).removeprefix("± ")]
