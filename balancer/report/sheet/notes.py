"""The sentences of the sheet: what the turns make, what is not reached, and how sure all is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from balancer.car.adjusters import all_turns
from balancer.files.car_file import CarFile
from balancer.files.counting import TURN
from balancer.files.on_board import in_words
from balancer.files.units import Units
from balancer.planning.ballast.goal import RuleCheck
from balancer.planning.ballast.margin import margin_of
from balancer.planning.perches.posed import UNSTATED_TRAVEL
from balancer.planning.prep.preparation import Preparation
from balancer.report.perches.corners import warnings_of
from balancer.report.perches.limits import limit_texts
from balancer.report.perches.moves import travel_unstated, turn_lines
from balancer.report.perches.plan import unsure_by
from balancer.report.prep import unmet_texts
from balancer.report.rules import miss_texts
from balancer.report.words.floor import cross_apart, floor_lines
from balancer.report.words.numbers import amount, percent, three, uncertainty, wanted
from balancer.report.words.prose import care_of, unsettled
from balancer.report.words.turns import turned_corners
from balancer.weighing.weigh import WeighIn

if TYPE_CHECKING:
    from balancer.log.last_session import PastSession


def verdict(file: CarFile, ready: Preparation, session: PastSession | None) -> list[str]:
    """Say what the turns make of the car, where a session stands, and what is not reached."""
    goal, best = ready.perches.goal, ready.perches.best
    # What is turned and is no corner: a drop link.
    also = [line.strip() for line in turn_lines(best, file) if line.startswith("  left ")]
    makes = f"{'this makes' if best.corners else 'it is'} {percent(best.shares.cross)}"
    return [
        *(f"Also turn the {line}." for line in also),
        f"Wanted: cross weight (RF+LR) {wanted(goal.cross, goal.tolerance)}; {makes}.",
        *(_of_the_session(ready, session) if session else ()),
    ]


def drawn_words(file: CarFile, ready: Preparation) -> str:
    """Name the one state that the turns, the drawing and its loads are for."""
    ballast = " with the ballast" if ready.ballast.items else ""
    turned = " once turned" if ready.perches.best.corners else ""
    load = file.units.labels["load"]
    return f"in race trim{ballast}; loads{turned}, {load}"


def first_of_all(file: CarFile, ready: Preparation) -> list[str]:
    """Say what matters before the turns: what is not reached, stops, wheels off the ground."""
    off = (
        *care_of(ready.race_trim.loads, "race trim"),
        *care_of(ready.on_the_pads.loads, "on pads"),
    )
    return [*_not_reached(file, ready), *off, *warnings_of(ready.perches)]


def other_trims(file: CarFile, ready: Preparation) -> list[str]:
    """Say how the car stands in each further race trim."""
    return [
        f"With {in_words(trim.on_board, file.units)}: {percent(trim.shares.front)} front,"
        f" {percent(trim.shares.left)} left, cross weight {percent(trim.shares.cross)};"
        f" {met_words(stand.rules, file.units)}."
        for trim, stand in zip(ready.others, ready.ballast.others, strict=True)
    ]


def met_words(rules: Sequence[RuleCheck], units: Units) -> str:
    """Say which rules are missed, if any."""
    missed = miss_texts(rules, units)
    return f"missed: {'; '.join(missed)}" if missed else "every rule is met"


def _of_the_session(ready: Preparation, session: PastSession) -> Iterator[str]:
    from balancer.report.session import STOPS

    ended = session.lines.ended
    if session.stop in STOPS:
        stopped = "The session has ended" if ended else "The session says stop"
        yield f"{stopped}: {STOPS[session.stop]}."
    elif session.made[-1].any():
        yield "Turned since the last weigh-in: settle the car and weigh again."
    else:
        yield f"The session {'has ended' if ended else 'goes on'}."
    links = np.append(np.zeros(4), all_turns(session.made)[4:])
    if turned := turned_corners(links, [TURN] * 4):
        yield f"Drop links were turned in it too: {turned}."
    if differs := _session_differs(ready, session):
        yield differs
    if ready.ballast.items and ready.perches.best.corners:
        yield "These turns are for the car with the ballast below bolted in."


def _not_reached(file: CarFile, ready: Preparation) -> Iterator[str]:
    missed = sum(not rule.met for rule in ready.ballast.all_rules)
    # The rules that are missed come first; they have a table of their own.
    limits = unmet_texts(file, ready.ballast)[missed:] + limit_texts(ready.perches, file)
    if missed:
        count = "1 rule is" if missed == 1 else f"{missed} rules are"
        limits.insert(0, f"{count} missed, see below")
    if limits:
        yield f"Can't all be reached: {'; '.join(limits)}."


def _session_differs(ready: Preparation, session: PastSession) -> str:
    """Say why the turns of a session may miss the target by what is shown here."""
    goal, plan = ready.perches.goal, ready.perches
    near = abs(plan.best.shares.cross - goal.cross) <= goal.tolerance + 1e-9
    # Any other stop, and turns made since, are said in words of their own.
    explained = session.stop not in ("", "in_tolerance") or session.made[-1].any()
    if near or explained or ready.ballast.items or plan.status != "reached":
        return ""
    read = percent(session.weigh_ins[-1].shares.cross, 2)
    makes = percent(plan.best.shares.cross, 2)
    line = f"By the last reading alone, {read} as weighed, {makes} is out of tolerance"
    if session.estimate is None:
        return f"{line}."
    return (
        f"{line}; the session reckons with {percent(session.estimate, 2)} {session.aim}, from all"
        " readings and turns."
    )


def uncertainties(file: CarFile, weighed: WeighIn, ready: Preparation) -> Iterator[str]:
    """Say how sure the weigh-in is, and what is only assumed."""
    units, standard, plan = file.units, weighed.uncertainties, ready.perches
    total = uncertainty(units.from_si(standard.total, "load"), 1)
    front, left, _ = (uncertainty(100 * share, 2) for share in three(standard))
    turns = ""
    if np.isfinite(plan.turns_uncertainty):
        turns = f" (here {unsure_by(plan, file)})"
    yield (
        f"Standard uncertainty: total {total} {units.labels['load']}; in points front {front},"
        f" left {left}, cross weight {cross_apart(weighed)}{turns}."
    )
    yield from floor_lines(file.car.scales, weighed, units, brief=True)
    if wander := unsettled(weighed):
        yield wander
    if not file.car.scales.stated:
        yield "Usual scales are assumed."
    if plan.best.corners and (corners := travel_unstated(file.car)):
        yield f"Perch travel at {corners} not known: {UNSTATED_TRAVEL:g} turns assumed."


def left_out(ready: Preparation) -> str:
    """Say what else changes heights, where there is anything."""
    weighed, pads = ready.as_weighed.on_board, ready.on_the_pads.on_board
    moved = weighed not in (pads, ready.race_trim.on_board) or pads != ready.race_trim.on_board
    what = [*(["ballast"] if ready.ballast.items else []), *(["what is on board"] if moved else [])]
    return f"What {' and '.join(what)} would do to them is left out." if what else ""


def margin_words(file: CarFile, weighed: WeighIn) -> str:
    """Say what margin the minimum weight holds, and what it is for."""
    margin = margin_of(file.car, weighed.uncertainties.total)
    if not margin.mass:
        return ""
    mass = amount(margin.mass, "mass", file.units, unit=True)
    if not margin.chance:
        return f"The minimum weight holds the car file's margin of {mass}."
    return (
        f"The minimum weight holds a margin of {mass}: a chance under {100 * margin.chance:g} % of"
        " being light on another scale."
    )
