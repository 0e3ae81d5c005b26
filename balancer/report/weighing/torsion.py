"""The torsional stiffness of a chassis, told."""

from collections.abc import Iterator, Sequence
from math import floor, inf, isfinite, log10
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.files.car_file import CarFile
from balancer.files.units import METRIC
from balancer.planning.session.chassis_stiffness import CONFIDENCE_LEVEL, Torsion
from balancer.report.words.json_parts import heading_json
from balancer.report.words.numbers import amounts, number, percent
from balancer.report.words.opening import Aboard, state_words
from balancer.report.words.prose import by_corner_words, lines_of, paragraphs
from balancer.report.words.turns import turned_corners

SOFT, SOFT_FRAME, STIFF = 200.0, 20.0, 60_000.0
"""Stiffness below which no chassis is, nor a bare frame without springs, and above which none is
[N·m/deg]; common practice, no published source."""

_CURES = {
    "scales": "the scales: turn more, or weigh several times before and after",
    "turns": "how well turns are made by hand: turn more",
    "rates": "the rates: only better measured springs, ratios and tires would narrow it",
}


def torsion_json(file: CarFile, torsion: Torsion) -> dict[str, Any]:
    """Give a stiffness as the dict that `balancer torsion --json` prints."""

    def stiff(value: float) -> float | None:
        return file.units.from_si(value, "torsion") if value and isfinite(value) else None

    known, causes = isfinite(torsion.uncertainty), list(torsion.causes.values())
    sources = {name: 100 * cause if known else None for name, cause in torsion.causes.items()}
    return {
        **heading_json(file),
        "status": torsion.status,
        "torsional_stiffness": stiff(torsion.stiffness),
        "interval": {
            "low": stiff(torsion.low),
            "high": stiff(torsion.high),
            "pct": 100 * CONFIDENCE_LEVEL,
        },
        "in_file": stiff(file.car.torsional_stiffness),
        "answer_pct": 100 * torsion.answer if torsion.answer else None,
        "share_pct": 100 * torsion.share if known else None,
        "uncertainty": {
            "answer_pct": 100 * torsion.answer_uncertainty if torsion.answer else None,
            "share_pct": 100 * float(np.linalg.norm(causes)) if known else None,
        },
        "uncertainty_from": sources,
        "doubt_from": sources,  # the key of 0.1, for one version more
        "strange": [
            {"set": index + 1, "corner": corner, "load": file.units.from_si(float(load), "load")}
            for index, rest in torsion.strange
            for corner, load in zip(CORNERS, rest, strict=True)
        ],
    }


def torsion_text(
    file: CarFile, names: Sequence[str], was: Aboard, made: Sequence[Floats], torsion: Torsion,
    trusted: float,
) -> str:  # fmt: skip
    """Tell a stiffness, the rates trusted so far [1], in at most 80 columns."""
    lines = [
        f"{file.car.name}, each time {state_words(file, was)}",
        f"Torsional stiffness of the chassis from {names[0]}",
    ]
    for name, turns in zip(names[1:], made, strict=True):
        lines.append(f"  then {turned_corners(turns, file.counts()) or 'nothing turned'}; {name}")
    remarks = [*_remarks(file, torsion), _trust(torsion, trusted)]
    return paragraphs(
        lines_of(lines),
        lines_of(_verdict(file, torsion)),
        lines_of(remark for remark in remarks if remark),
    )


def _verdict(file: CarFile, torsion: Torsion) -> Iterator[str]:
    if torsion.answer:
        answer = f"{percent(torsion.answer)} ± {number(100 * torsion.answer_uncertainty, 1)}"
        yield f"The loads answered with {answer} of what a rigid chassis would make of these turns."
    if torsion.status in ("found", "at_least"):
        yield from _interval(file, torsion)
    elif torsion.status == "unclear":
        yield "That says nothing: turn more, or weigh several times before and after."
    elif torsion.answer < 0 or torsion.flexibility == inf:
        yield "They went against the turns: look at the signs after --made, up is positive."
    else:
        yield (
            "That is certainly more than a rigid chassis can: rates, motion ratios or the turns"
            " made can't be right."
        )


def _interval(file: CarFile, torsion: Torsion) -> Iterator[str]:
    unit, span = file.units.labels["torsion"], f"{100 * CONFIDENCE_LEVEL:.0f} % interval"
    value, low, high = (
        _digits(file, stiffness) for stiffness in (torsion.stiffness, torsion.low, torsion.high)
    )
    if torsion.status == "found":
        if METRIC.from_si(torsion.high, "torsion") > STIFF:
            high = "far beyond any chassis"
        yield f"Torsional stiffness about {value} {unit}; {span} {low} to {high}."
        return
    best = f"; the best guess is {value}" if isfinite(torsion.stiffness) else ""
    yield f"Torsional stiffness at least {low} {unit}, the lower end of the {span}{best}."
    yield "It has no upper end: as far as this tells the chassis may be rigid."


def _remarks(file: CarFile, torsion: Torsion) -> list[str]:
    units, given = file.units, file.car.torsional_stiffness
    remarks = []
    for index, rest in torsion.strange:
        changes = amounts(rest, "load", units, sign=True)
        pads = f"{by_corner_words(changes)} {units.labels['load']}"
        remarks.append(
            f"After set {index + 1} the pads changed as no turn makes them ({pads}):"
            " was something else changed, or had it not settled?"
        )
    least = SOFT_FRAME if file.car.solid.all() else SOFT
    if torsion.status == "found" and METRIC.from_si(torsion.high, "torsion") < least:
        remarks.append("Softer than any chassis: look at rates, ratios and turns first.")
    if torsion.status in ("found", "at_least") and isfinite(given):
        inside = "within" if torsion.low <= given <= torsion.high else "outside"
        remarks.append(f"The car file says {_digits(file, given)}: {inside} the interval.")
    return remarks


def _trust(torsion: Torsion, trusted: float) -> str:
    if not isfinite(torsion.uncertainty):
        return ""
    most = max(torsion.causes, key=lambda name: torsion.causes[name])
    return (
        f"Rates are trusted to {100 * trusted:g} % (--rates-trusted). Most of the uncertainty comes"
        f" from {_CURES[most]}."
    )


def _digits(file: CarFile, value: float) -> str:
    """Write a stiffness with three digits, for it is never known better."""
    shown = file.units.from_si(value, "torsion")
    if not shown or not isfinite(shown):
        return "rigid" if shown else "0"
    return number(round(shown, 2 - floor(log10(abs(shown)))), 0)
