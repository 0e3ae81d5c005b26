"""The sheet that hangs on the garage wall: one page of HTML that needs nothing else."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

import numpy as np

from balancer.ballast.margin import Margin, margin_of
from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.log.last_session import PastSession
from balancer.perches.turns import UNSTATED_TRAVEL
from balancer.prep import Preparation, as_read
from balancer.report.perches.corners import bar_lines, corner_lines
from balancer.report.perches.limits import limit_texts
from balancer.report.perches.plan import turn_lines
from balancer.report.pictures.plan_view import plan_view
from balancer.report.prep import unmet_texts
from balancer.report.session import STOPS
from balancer.report.sheet.paper import Contents, Room, brief, room_for
from balancer.report.sheet.tables import (
    board_rows,
    heights_table,
    put_words,
    rules_words,
    states_of,
    states_table,
    steps_table,
    unnumbered,
)
from balancer.report.words.cautions import BALLAST, turning_care
from balancer.report.words.lettering import width
from balancer.report.words.numbers import amount, percent, turns, uncertainty
from balancer.weighing.weigh import WeighIn

_UNEVEN = "“Next on pads” is with the pads' heights as measured; the rest as on level pads."

BOXES = ("Who", "When", "Track", "Weather", "Next time")


def sheet_html(
    file: CarFile, weighed: WeighIn, ready: Preparation, session: PastSession | None = None
) -> str:
    """Write a preparation as one self-contained page.

    Args:
        session: The session that the weigh-in ends, to be told step by step.

    Returns:
        HTML without scripts or anything to fetch; every name in it is text, never markup. The
        same input gives the same bytes.
    """
    from jinja2 import Environment, StrictUndefined

    source = files("balancer.report.sheet").joinpath("sheet.html").read_text(encoding="utf-8")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    words = _words(file, weighed, ready, session)
    room = _room(words)
    environment.globals["brief"] = lambda name: brief(name, room.brief)
    return environment.from_string(source).render(words, room=room.name) + "\n"


def _words(
    file: CarFile, weighed: WeighIn, ready: Preparation, session: PastSession | None
) -> dict[str, Any]:
    units, items = file.units, ready.ballast.items
    shown = as_read(file.car, ready, weighed.readings.pad_heights)
    heights = heights_table(weighed, ready, session, units)
    return {
        "car": file.car.name,
        "about": _about(weighed),
        "view": plan_view(file.car, units, ready.as_weighed.loads, ready.as_weighed.shares, items),
        "turns_title": _title(file, ready, session),
        "corners": [_corner(file, ready, index) for index in range(4)],
        "verdict": _verdict(file, ready, session),
        "bars": _bars(file, ready),
        "states": states_table(states_of(ready, session, shown), units),
        "uneven": "" if shown is ready.on_the_pads else _UNEVEN,
        "heights": heights,
        "left_out": _left_out(ready) if heights else "",
        "length": units.labels["length"],
        "steps": steps_table(session),
        "stands": corner_lines(file, ready.ballast.loads, ready.perches),
        "doubts": _uncertainties(file, weighed, ready),
        "added": amount(ready.ballast.added, "mass", units, unit=True) if items else "",
        "puts": [put_words(put, units) for put in items],
        "mass": units.labels["mass"],
        "unnumbered": unnumbered(file, items),
        "rules": rules_words(ready, units),
        "margin": _margin(file, weighed),
        "board": board_rows(ready, units),
        "boxes": BOXES,
        "care": [" ".join(text.split()) for text in _care(file, ready)],
    }


def _room(words: dict[str, Any]) -> Room:
    """Pick the type for paper by all that is to be on the page."""
    items = [(put["place"], f" ({put['pieces']})" * bool(put["pieces"])) for put in words["puts"]]
    board = [(row[0], "") for row in words["board"]]
    contents = Contents(
        title=words["car"],
        paragraphs=[*words["about"], " ".join(words["verdict"]), words["bars"]],
        notes=[
            *(" ".join(words["doubts"]), words["margin"], words["unnumbered"]),
            *(words["uneven"], words["left_out"], *words["stands"]),
        ],
        tables=[
            *(len(words[key]) for key in ("states", "steps", "heights", "rules") if words[key]),
            *([0] if words["stands"] else []),
        ],
        lists=[entries for entries in (items, board) if entries],
    )
    return room_for(contents)


def _about(weighed: WeighIn) -> list[str]:
    readings = weighed.readings
    times = "once" if weighed.repeats == 1 else f"{weighed.repeats} times"
    dated = f", {readings.date}" if readings.date else ""
    said = f"Weighed {times}{dated}."
    return [said, *([readings.note] if readings.note else [])]


def _care(file: CarFile, ready: Preparation) -> list[str]:
    return [turning_care(file.car), *([BALLAST] if ready.ballast.items else [])]


def _bars(file: CarFile, ready: Preparation) -> str:
    """Say in one line how the anti-roll bars go on."""
    if not ready.bars:
        return ""
    head, *each = bar_lines(ready.bars, file, bool(ready.perches.best.corners))
    return f"{head} " + "; ".join(line.removeprefix("- ") for line in each) + "."


def _left_out(ready: Preparation) -> str:
    """Say what else changes heights, where there is anything."""
    weighed, pads = ready.as_weighed.on_board, ready.on_the_pads.on_board
    moved = weighed not in (pads, ready.race_trim.on_board) or pads != ready.race_trim.on_board
    what = [*(["ballast"] if ready.ballast.items else []), *(["what is on board"] if moved else [])]
    return f"What {' and '.join(what)} would do to them is left out." if what else ""


def _title(file: CarFile, ready: Preparation, session: PastSession | None) -> str:
    """Say how much there is to turn."""
    told = turn_lines(ready.perches.best, file)
    if not told:
        return "Nothing to turn"
    title = told[0].removesuffix(":")
    return f"Still to do: {title[0].lower()}{title[1:]}" if session else title


def _corner(file: CarFile, ready: Preparation, index: int) -> dict[str, Any]:
    best, solid = ready.perches.best, bool(file.car.solid[index])
    value = float(best.turns[index])
    moved = amount(float(best.perch[index]), "length", file.units, sign=True, unit=True)
    moved = moved.replace(" ", "\N{NO-BREAK SPACE}")
    what = "perch" if best.mounts is None or not best.mounts[index] else "lower mount"
    up, down = ("in", "out") if solid else ("up", "down")
    much = turns(value) if value else "leave"
    return {
        "corner": CORNERS[index],
        "turn": "up" if value > 0 else "down" if value else "",
        "much": much,
        "ems": f"{width(much, 1, bold=True):.2f}",
        "way": f"▲ {up}" if value > 0 else f"▼ {down}" if value else "",
        "perch": f"{'raises' if value > 0 else 'lowers'} it:"
        f" {'spacers' if solid else what} {moved}",
    }


def _verdict(file: CarFile, ready: Preparation, session: PastSession | None) -> list[str]:
    units, goal, best = file.units, ready.perches.goal, ready.perches.best
    # What is turned and is no corner: a drop link.
    also = [line.strip() for line in turn_lines(best, file) if line.startswith("  left ")]
    wanted = f"{percent(goal.cross)} ± {100 * goal.tolerance:g}"
    makes = "this makes" if best.corners else "it is"
    lines = [
        *(f"Also turn the {line}." for line in also),
        f"Drawn as weighed, in {units.labels['load']}.",
        f"Wanted in race trim: cross weight (RF+LR) {wanted};"
        f" {makes} {percent(best.shares.cross)}.",
    ]
    if session and session.stop in STOPS:
        ended = "The session has ended" if session.lines.ended else "The session says stop"
        lines.append(f"{ended}: {STOPS[session.stop]}.")
    elif session and session.made[-1].any():
        lines.append("Turned since the last weigh-in: settle the car and weigh again.")
    elif session:
        lines.append(f"The session {'has ended' if session.lines.ended else 'goes on'}.")
    if session and (told := _session_differs(ready, session)):
        lines.append(told)
    if session and ready.ballast.items and best.corners:
        lines.append("These turns are for the car with the ballast below bolted in.")
    missed = sum(not rule.met for rule in ready.ballast.rules)
    # The rules that are missed come first; they have a table of their own.
    limits = unmet_texts(file, ready.ballast)[missed:] + limit_texts(ready.perches, units)
    if missed:
        count = "1 rule is" if missed == 1 else f"{missed} rules are"
        limits.insert(0, f"{count} missed, see below")
    return [*lines, *([f"Can't all be reached: {'; '.join(limits)}."] if limits else [])]


def _session_differs(ready: Preparation, session: PastSession) -> str:
    """Say why the turns of a session may miss the target by what is shown here."""
    goal, plan = ready.perches.goal, ready.perches
    near = abs(plan.best.shares.cross - goal.cross) <= goal.tolerance + 1e-9
    # Any other stop, and turns made since, are said in words of their own.
    told = session.stop not in ("", "in_tolerance") or session.made[-1].any()
    if near or told or ready.ballast.items or plan.status != "reached":
        return ""
    read = percent(session.weigh_ins[-1].shares.cross, 2)
    makes = percent(plan.best.shares.cross, 2)
    line = f"By the last reading alone, {read} as weighed, {makes} is out of tolerance"
    if session.estimate is None:
        return f"{line}."
    return (
        f"{line}; the session reckons with {percent(session.estimate, 2)} as weighed, from all"
        " readings and turns."
    )


def _uncertainties(file: CarFile, weighed: WeighIn, ready: Preparation) -> list[str]:
    units, uncertainties, plan = file.units, weighed.uncertainties, ready.perches
    total = uncertainty(units.from_si(uncertainties.total, "load"), 1)
    front, left, cross = (
        uncertainty(100 * one, 2)
        for one in (uncertainties.front, uncertainties.left, uncertainties.cross)
    )
    turned = ""
    if np.isfinite(plan.turns_uncertainty):
        turned = f", which is {plan.turns_uncertainty:.2f} turns at one corner"
    lines = [
        f"One standard uncertainty: total {total} {units.labels['load']}, front share {front},"
        f" left share {left}, cross weight {cross} points{turned}."
    ]
    if weighed.outliers:
        pads = ", ".join(dict.fromkeys(pad for _, pad in weighed.outliers))
        lines.append(f"Not settled: the readings of {pads} wander.")
    if not file.car.scales.stated:
        lines.append("The car file does not describe the scales: usual ones are assumed.")
    open_ended = file.car.adjustable & ~np.isfinite(file.car.perch_travel).all(axis=1)
    if plan.best.corners and open_ended.any():
        pads = ", ".join(CORNERS[index] for index in np.flatnonzero(open_ended))
        lines.append(f"Perch travel at {pads} is not known: {UNSTATED_TRAVEL:g} turns assumed.")
    return lines


def _margin(file: CarFile, weighed: WeighIn) -> str:
    """Say what margin the minimum weight holds, and what it is for."""
    margin: Margin = margin_of(file.car, weighed.uncertainties.total)
    if not margin.mass:
        return ""
    mass = amount(margin.mass, "mass", file.units, unit=True)
    if not margin.chance:
        return f"The minimum weight holds the car file's margin of {mass}."
    return (
        f"The minimum weight holds a margin of {mass}: a chance under {100 * margin.chance:g} % of"
        " being light on another scale."
    )
