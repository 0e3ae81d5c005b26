"""What the session says after each line."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.files.units import Units
from balancer.planning.session.belief import Belief
from balancer.planning.session.identified import answer, told_ratios
from balancer.planning.session.lessons import UNTURNED, unturned
from balancer.planning.session.plausibility import Suspect
from balancer.planning.session.session import Session
from balancer.planning.session.step import Step
from balancer.report import settling
from balancer.report.perches.corners import stop_lines
from balancer.report.perches.limits import limit_texts
from balancer.report.perches.moves import turn_lines
from balancer.report.perches.plan import why_corners, why_these
from balancer.report.perches.plan_json import perches_json
from balancer.report.perches.trims import trim_lines
from balancer.report.words.floor import ELSEWHERE, apart, floor_lines
from balancer.report.words.json_parts import by_corner
from balancer.report.words.numbers import amount, chance, number, percent, wanted
from balancer.report.words.prose import care_of, listed, unsettled, wrapped
from balancer.weighing.comparison import standing
from balancer.weighing.uncertainty import cross_of

_ALIKE = 0.02
"""Chances that differ by less are said as one."""

STOPS = {
    "in_tolerance": "in tolerance",
    "below_a_step": "nearer than one step of a perch can bring it",
    "below_the_scales": "nearer than these scales can see",
    "below_its_settling": "off by less than it comes to rest apart from one settling to the next",
    "out_of_reach": "as near as the perches can bring it",
}


def step_json(file: CarFile, session: Session, step: Step) -> dict[str, Any]:
    """Give a step as the dict that `balancer session --json` answers with: `perches`, and more."""
    return {
        **perches_json(file, standing(session.car, session.weigh_ins[-1]), step.plan),
        "reading": len(session.weigh_ins),
        "in_tolerance": step.in_tolerance,
        "confidence": step.confidence,
        "confidence_elsewhere": step.confidence_elsewhere,
        "stop": step.stop or None,
        "settle_again": step.settle_again,
        "settling_pct": 100 * step.settling,
        "pads_cross_pct": 100 * session.last_read.shown_cross,
        "aboard_first": [item.name for item in step.aboard_first],
        "carried_uncertainty": 100 * step.carried_uncertainty,
        "estimate": {
            "cross_pct": 100 * step.cross,
            "uncertainty": 100 * step.cross_uncertainty,
            "repeatable": 100 * step.repeatable,
        },
        "belief": belief_json(session.car, step.learned.belief),
    }


def belief_json(car: Car, belief: Belief) -> dict[str, Any]:
    """Give a belief: ratios of true over file, with relative standard uncertainties.

    Returns:
        `answer` to the same turn up and down at all four, `compliance` of the free pattern, and
        `motion_ratio` of front and rear, in the units of the file; None on an unsprung axle.
    """
    sure, (ratio, unsure) = np.sqrt(np.diag(belief.covariance)), answer(car, belief)
    solid = car.solid[[0, 2]]
    ratios = car.motion_ratio.reshape(2, 2).mean(axis=1) * np.exp(belief.mean[1:3])

    def of_axles(values: Floats) -> dict[str, float | None]:
        each = zip(("front", "rear"), solid, values, strict=True)
        return {axle: None if unsprung else float(value) for axle, unsprung, value in each}

    return {
        "answer": ratio,
        "compliance": float(np.exp(belief.mean[0])),
        "motion_ratio": of_axles(ratios),
        "uncertainty": {"answer": unsure, "compliance": float(sure[0]), **of_axles(sure[1:3])},
    }


def _answers_otherwise(car: Car, belief: Belief, before: Belief | None) -> bool:
    """Say whether the answer to turns has changed by more than its uncertainty."""
    if before is None:
        return True
    now, unsure = answer(car, belief)
    return abs(now - answer(car, before)[0]) > unsure


def belief_text(car: Car, belief: Belief, before: Belief | None = None) -> str:
    """Say in plain words what the car has taught.

    Args:
        before: Only what has changed since by more than its uncertainty is told; None: all.
            A ratio only where turns told it, as `identified.told_ratios` has it.

    Returns:
        Empty where nothing is a percent away from the file.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> print(belief_text(plain_car(), Belief(np.array([0.12, 0.0, -0.06]), np.eye(3) / 1e4)))
        This car answers 9 ± 1 % less to a turn than the file says; rear motion ratio
        nearer 0.66 than 0.70.
    """
    taught = []
    ratio, unsure = answer(car, belief)
    other, sure = ratio - 1, np.sqrt(np.diag(belief.covariance))
    moved = np.abs(belief.mean - (belief.mean - np.inf if before is None else before.mean)) > sure
    news = told_ratios(belief) & moved[1:3]
    if abs(other) >= 0.01 and _answers_otherwise(car, belief, before):
        word = "less" if other < 0 else "more"
        percents = " ± ".join(number(100 * each, 0) for each in (abs(other), unsure))
        taught.append(f"This car answers {percents} % {word} to a turn than the file says")
    ratios = car.motion_ratio.reshape(2, 2).mean(axis=1)
    true = ratios * np.exp(belief.mean[1:3])
    for axle, file, nearer, new in zip(("front", "rear"), ratios, true, news, strict=True):
        if abs(nearer - file) >= 0.005 and new:
            taught.append(f"{axle} motion ratio nearer {nearer:.2f} than {file:.2f}")
    return wrapped("; ".join(taught) + ".") if taught else ""


def step_text(
    file: CarFile,
    session: Session,
    step: Step,
    state: str = "as it stands",
    trims: Sequence[str] = (),
) -> str:
    """Tell a step in as few lines as it takes.

    Args:
        state: Which the session plans for; the first, where it plans for several race trims.
    """
    goal, weighed = session.goal, session.weigh_ins[-1]
    state = state if file.car.on_board else "the car"
    now = f"{percent(step.cross, 2)} {apart(step.repeatable, step.cross_uncertainty)}"
    count, aim = len(session.weigh_ins), wanted(goal.cross, goal.tolerance)
    shown = percent(session.last_read.shown_cross, 2)
    lines = [
        wrapped(
            f"Weigh-in {count}: cross weight (RF+LR): pads show {shown};"
            f" {state} {now} (estimate), wanted {aim}"
        )
    ]
    if count == 1:
        lines += map(wrapped, floor_lines(file.car.scales, weighed, file.units))
    if step.aboard_first and not step.stop:
        lines.append(wrapped(f"Before you turn anything, {_with_all(step)}"))
    elif not step.aboard_first and step.carried_uncertainty > step.repeatable / 2:
        points = f"± {100 * step.carried_uncertainty:.2f}"
        lines.append(
            wrapped(
                f"{points} of it is from what is not on the pads and the rates of the file:"
                " weigh with it on board to be surer."
            )
        )
    stands = standing(session.car, weighed)
    lines += map(wrapped, care_of(stands.loads, f"{state}, {percent(stands.shares.cross, 2)}"))
    if wander := unsettled(weighed):
        lines.append(f"{wander} Roll the car and read again.")
    disbelief = settling.disbelief_lines(session, step)
    lines += [*disbelief, *settling.settling_lines(step, told=bool(disbelief))]
    if 0 < unturned(session) <= UNTURNED:
        lines.append("It reads as before the turns: that can't tell whether they were made.")
    lines += map(wrapped, stop_lines(step.plan))
    lines += _stop_lines(file, step) if step.stop else _next_lines(file, step)
    if trims:
        turned = bool(step.plan.best.corners) and not step.stop
        lines += trim_lines(trims, step.plan, step.cross, file.units, turned)
    taught = belief_text(session.car, step.learned.belief, session.belief) if count > 1 else ""
    return "\n".join([*lines, *([taught] if taught else [])])


def _with_all(step: Step) -> str:
    names = ", ".join(item.name for item in step.aboard_first)
    return (
        f"weigh once with {names} on board, and say aboard race trim first: how that bears on the"
        f" axles leaves ± {100 * step.carried_uncertainty:.2f} points open."
    )


def _stop_lines(file: CarFile, step: Step) -> list[str]:
    there = step.stop == "in_tolerance"
    lines = [wrapped(f"Stop here: it is {STOPS[step.stop]}{settling.sure_words(step)}.")]
    if step.aboard_first:
        lines.append(wrapped(f"To be surer {_with_all(step)}"))
    elif there and len(step.taught) == 1:
        lines.append(wrapped(settling.ONCE))
    if there and step.confidence_elsewhere < step.confidence - _ALIKE:
        lines.append(wrapped(_elsewhere(file, step)))
    reasons = limit_texts(step.plan, file) if step.stop == "out_of_reach" else []
    return [*lines, listed(reasons)] if reasons else lines


def _elsewhere(file: CarFile, step: Step) -> str:
    """Say how sure the same is where pads and floor are not these."""
    level = amount(file.car.scales.level, "length", file.units, unit=True)
    return (
        f"{ELSEWHERE.capitalize()} only {chance(step.confidence_elsewhere)} sure: how level these"
        f" pads stand is known to ± {level} each. Measured, their heights make it surer: --pads."
    )


def _next_lines(file: CarFile, step: Step) -> list[str]:
    if step.settle_again:
        return settling.settle_again_lines()
    plan, lines = step.plan, []
    if plan.status != "reached":
        there = "there is" if plan.nothing_closer else "found"
        lines.append(f"It can't be reached; the closest {there}:")
        lines += listed(limit_texts(plan, file)).splitlines()
    lines += turn_lines(plan.best, file)
    lines += map(wrapped, filter(None, [why_corners(plan, file), why_these(plan)]))
    promised = percent(plan.best.shares.cross, 2)
    return [*lines, f"That makes {promised}. Settle the car and weigh again."]


def suspect_text(suspect: Suspect, loads: Floats, units: Units) -> str:
    """Ask about a reading, as typed, that looks wrong."""
    if suspect.kind == "swapped":
        one, other = suspect.pads
        return f"{one} and {other} look swapped: say yes if they are not, or give the four again"
    if suspect.kind in ("sides", "rows"):
        pair = "left and right" if suspect.kind == "sides" else "front and rear"
        return (
            f"{pair} look swapped, beside the weigh-ins in the log: say yes if they are not, or"
            " give the four again"
        )
    if suspect.kind == "digit":
        pad = suspect.pads[0]
        typed, meant = (
            amount(float(values[CORNERS.index(pad)]), "load", units, unit=unit)
            for values, unit in ((loads, False), (suspect.meant, True))
        )
        way_out = f"say yes if it does, or give it again: {pad} and its number"
        return f"{pad} reads {typed}, expected about {meant}: {way_out}"
    now, expected = (percent(cross_of(four), 2) for four in (loads, suspect.meant))
    if suspect.kind == "unturned":
        return (
            f"Were the turns made? They would make it {expected}, and cross weight reads {now}, as"
            " before: say yes if they were, made nothing if not, or what was made"
        )
    if suspect.kind == "turns":
        return (
            f"Cross weight reads {now}, the turns would make it {expected}: roll it, bounce it and"
            f" give the four again, for it may be {settling.CAUSES}; say yes if it was read right,"
            " or what was made, if not that (the other way round?)"
        )
    change = amount(float(loads.sum() - suspect.meant.sum()), "load", units, sign=True, unit=True)
    return f"The total has jumped by {change}: say yes if it has, or give the four again"


def suspect_json(suspect: Suspect, loads: Floats, units: Units) -> dict[str, Any]:
    """Give the question about a reading as `balancer session --json` answers with it."""
    return {
        "question": suspect_text(suspect, loads, units),
        "suspect": list(suspect.pads),
        "meant": by_corner(suspect.meant, "load", units),
    }
