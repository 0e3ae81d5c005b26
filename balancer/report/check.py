"""What a car file means, told."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from balancer.car.answers import ShockTravel
from balancer.car.conventions import CORNERS, Flags, Floats
from balancer.car.meaning import Meaning
from balancer.files.car_file import CarFile
from balancer.files.on_board import in_words
from balancer.files.states import race_states
from balancer.files.units import METRIC, Units
from balancer.planning.perches.goal import NOTHING_ASKED, asked_for
from balancer.report.perches.corners import standing_lines
from balancer.report.perches.moves import per_turn_table
from balancer.report.perches.plan_json import contacts_json
from balancer.report.words.floor import level_words
from balancer.report.words.json_parts import by_corner, heading_json, known_by_corner, per_turn_json
from balancer.report.words.numbers import amount, amounts, number
from balancer.report.words.opening import tolerance_words, wanted_words
from balancer.report.words.prose import first_line, lines_of, paragraphs
from balancer.report.words.tables import table

_SLOW, _FAST = 0.9, 6.0
"""Ride frequencies of cars from soft road cars to stiff downforce cars [Hz]; common practice, no
published source. Outside them a rate, a ratio or a unit is more likely wrong than the car odd."""


def check_json(file: CarFile, meaning: Meaning) -> dict[str, Any]:
    """Give what a car file means as the dict that `balancer check --json` prints."""
    units = file.units
    if file.missing.springs:
        unknown = np.full(4, np.nan)
        meaning = replace(
            meaning, wheel_rate=unknown, ride_rate=unknown, frequency=unknown, pad=unknown
        )
    return {
        **heading_json(file),
        "loads": by_corner(meaning.loads, "load", units),
        "loads_assumed": meaning.assumed,
        "wheel_rate": known_by_corner(
            np.where(_topped_out(meaning), np.nan, meaning.wheel_rate), "rate", units
        ),
        "ride_rate": known_by_corner(meaning.ride_rate, "rate", units),
        "frequency_hz": known_by_corner(meaning.frequency, "number", units),
        "per_turn": per_turn_json(meaning.per_turn, file.car.adjustable, units),
        "level": units.from_si(file.car.scales.level, "length"),
        "level_assumed": not file.car.scales.level_stated,
        "cross_pct_per_mm_of_pad": known_by_corner(100 * meaning.pad, "number", units),
        "notes": [*file.notes, *([] if file.missing.springs else oddities(meaning))],
        **(
            {}
            if meaning.contacts is None or meaning.shock is None
            else {
                "stands_on": contacts_json(meaning.contacts),
                "shock_travel": by_corner(np.maximum(meaning.shock.closed, 0.0), "length", units),
            }
        ),
        **({} if meaning.twist is None else {"drop_links": _links_json(file, meaning.twist)}),
    }


def check_text(file: CarFile, meaning: Meaning) -> str:
    """Tell what a car file means in at most 80 columns."""
    units = file.units
    if file.missing.springs:
        return paragraphs(first_line(file, ""), lines_of(_contents(file, meaning), "  "))
    rate, load = units.labels["rate"], units.labels["load"]
    rows = [
        ["", *CORNERS],
        [f"load, {load}", *amounts(meaning.loads, "load", units)],
        [f"wheel rate, {rate}", *_wheel_rates(meaning, units)],
        [f"ride rate, {rate}", *(_rate(value, units) for value in meaning.ride_rate)],
        ["frequency, Hz", *(number(v, 2) if np.isfinite(v) else "–" for v in meaning.frequency)],
    ]
    if meaning.shock is not None:
        rows += _travels(units, meaning.shock)
    # What a shim does: a millimeter, or a tenth of an inch.
    step, lift = ("One mm of height", 1.0) if units is METRIC else ("0.1 in of height", 2.54)
    pads = [number(100 * lift * value, 2, sign=True) for value in meaning.pad]
    basis = "loads as read"
    if meaning.assumed:
        total = f": {amount(meaning.loads.sum(), 'load', units, unit=True)} in all"
        basis = f"loads assumed{' from [class]' if file.car.rules.minimum else total}"
    return paragraphs(
        first_line(file, f" ({basis})"),
        table(rows, indent=""),
        per_turn_table(meaning.per_turn, file),
        table([[f"{step} under", *CORNERS], ["cross weight, points", *pads]], indent=""),
        lines_of(_contents(file, meaning), "  "),
        lines_of((f"Odd: {text}" for text in oddities(meaning)), "  "),
    )


def oddities(meaning: Meaning) -> list[str]:
    """Name what follows from the file and yet no car has.

    References:
        Common practice, no published source.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.meaning import meaning
        >>> oddities(meaning(plain_car()))
        []
    """
    stopped = np.zeros(4, dtype=bool) if meaning.contacts is None else meaning.contacts.stopped()
    # Tires alone bounce faster, and so does a stop: no spring or ratio of the file to look at.
    sprung = np.isfinite(meaning.wheel_rate) & ~stopped
    return [
        f"{corner} would bounce at {value:.2f} Hz: check its spring rate, motion ratio and units"
        if np.isfinite(value)
        else f"{corner} carries no more than its wheel weighs: check unsprung_mass and the load"
        for corner, value, can in zip(CORNERS, meaning.frequency, sprung, strict=True)
        if can and not _SLOW <= value <= _FAST
    ]


def _rate(value: float, units: Units) -> str:
    return amount(value, "rate", units) if np.isfinite(value) else "unsprung"


def _wheel_rates(meaning: Meaning, units: Units) -> Iterator[str]:
    """Give wheel rates, but not that of a droop stop, of which the file seldom knows more."""
    for value, stop in zip(meaning.wheel_rate, _topped_out(meaning), strict=True):
        yield "on stop" if stop else _rate(value, units)


def _topped_out(meaning: Meaning) -> Flags:
    return np.zeros(4, dtype=bool) if meaning.contacts is None else meaning.contacts.topped_out


def _travels(units: Units, shock: ShockTravel) -> Iterator[list[str]]:
    """Say how far each shock may go either way."""
    stops, length = shock.bump_at, units.labels["length"]
    yield [f"droop left, {length}", *amounts(np.maximum(shock.closed, 0.0), "length", units)]
    if np.isfinite(stops).any():
        left = amounts(np.maximum(stops - shock.closed, 0.0), "length", units)
        known = [text if np.isfinite(at) else "–" for text, at in zip(left, stops, strict=True)]
        yield [f"bump left, {length}", *known]


def _aims(file: CarFile) -> Iterator[str]:
    """Say what the perches are to reach, and in which state."""
    asked, source = asked_for(file.car, NOTHING_ASKED)
    points, heights = tolerance_words(asked, file.units)
    usual = " (the usual: say another as [target] cross_pct)" if source == "usual" else ""
    yield f"Target: {wanted_words(asked)} {points}, {heights}{usual}."
    for name, state in race_states(file).items():
        yield f"{name[:1].upper()}{name[1:]}: {in_words(state.items, file.units)}."


def _links_json(file: CarFile, twist: Floats) -> dict[str, Any]:
    """Say of each axle with a bar how its links point, and what the bar is twisted by."""
    return {
        axle: {
            "hang": link.hangs,
            "connected": link.connected,
            "bar_twist": file.units.from_si(float(by), "length") if link.on else None,
        }
        for axle, link, by in zip(("front", "rear"), file.car.links, twist, strict=True)
        if link.rate
    }


def _drop_links(file: CarFile, meaning: Meaning) -> Iterator[str]:
    """Say how drop links point, in what is seen and in what it does, and how a bar is twisted."""
    for axle, link in enumerate(file.car.links):
        if not link.rate:
            continue
        corner, name = CORNERS[2 * axle], ("Front", "Rear")[axle]
        way, end = ("hang", "lower") if link.hangs else ("stand", "upper")
        does = "lowers" if link.hangs else "raises"
        line = f"{name} drop links {way}, the bar at their {end} ends: a longer left one {does}"
        line += f" {corner}."
        if not link.on:
            line += " The bar is off on the pads."
        elif meaning.twist is not None:
            twist = float(meaning.twist[axle])
            by = amount(abs(twist), "length", file.units, unit=True)
            side = "left" if twist > 0 else "right"
            free = by == amount(0.0, "length", file.units, unit=True)
            line += " The bar carries nothing." if free else f" Its {side} end is {by} too high."
        yield line


def _contents(file: CarFile, meaning: Meaning) -> Iterator[str]:
    car, units = file.car, file.units
    if file.missing.springs:
        keys = ", ".join(
            dict.fromkeys(fault.where.split(": ")[-1] for fault in file.missing.springs)
        )
        yield "No springs: good for weigh, trim, parts, compare, stint, ballast."
        yield f"For all that turns perches or asks how loads answer, add {keys}."
    if meaning.contacts is not None:
        yield from standing_lines(meaning.contacts, meaning.contacts)
    elif meaning.left_out:
        yield "Stops, tenders and tables are left out here: they need readings, LF RF LR RR."
    if car.solid.any():
        where = "" if car.solid.all() else f" at the {'front' if car.solid[0] else 'rear'}"
        yield f"No springs{where}: only tires and chassis give way; turns are spacers."
    fixed = [corner for corner, can in zip(CORNERS, car.adjustable, strict=True) if not can]
    if fixed:
        yield f"No threaded perch (perch_lead) at {', '.join(fixed)}."
    ramps = [name for name, ramp in zip(CORNERS, car.ramped, strict=True) if ramp]
    if ramps:
        yield f"Spring rates go straight from row to row at {', '.join(ramps)}."
    yield from _drop_links(file, meaning)
    if car.bar_rate.any():
        yield "An anti-roll bar is connected: most people weigh with the bars off."
    if np.isinf(car.tire_rate).all() and not file.missing.springs:
        yield "Tires are taken as rigid: give tire_rate for better turns."
    if not car.cg_up:
        yield "No cg_up: loads and heights leave out that a leaning car leans further."
    if car.rules.minimum:
        minimum = amount(car.rules.minimum, "mass", units, unit=True)
        margin = amount(car.rules.margin, "mass", units, unit=True)
        yield f"Class minimum weight {minimum}, margin {margin}."
    level = level_words(car.scales, units)
    yield f"{level[:1].upper()}{level[1:]}."
    yield from _aims(file)
    if car.places:
        names = ", ".join(place.name for place in car.places)
        yield f"Ballast may go to: {names}; {'pieces' if car.pieces else 'any mass'}."
