"""What the session says after each line."""

from __future__ import annotations

from typing import Any

import numpy as np

from balancer.car.conventions import CORNERS
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.report.perches.corners import stop_lines
from balancer.report.perches.limits import limit_texts
from balancer.report.perches.plan import turn_lines
from balancer.report.perches.plan_json import perches_json
from balancer.report.words.json_parts import by_corner
from balancer.report.words.numbers import amount, chance, number, percent, uncertainty, wrapped
from balancer.session.belief import Belief
from balancer.session.learning import gain
from balancer.session.plausibility import Suspect
from balancer.session.session import Session
from balancer.session.step import Step
from balancer.units import Units

STOPS = {
    "in_tolerance": "in tolerance",
    "below_a_step": "nearer than one step of a perch can bring it",
    "below_the_scales": "nearer than these scales can see",
    "out_of_reach": "as near as the perches can bring it",
}


def step_json(file: CarFile, session: Session, step: Step) -> dict[str, Any]:
    """Give a step as the dict that `balancer session --json` answers with.

    Returns:
        As `perches`, and `in_tolerance`, `confidence`, `stop`, `estimate`, `belief`.
    """
    return {
        **perches_json(file, session.weigh_ins[-1], step.plan),
        "reading": len(session.weigh_ins),
        "in_tolerance": step.in_tolerance,
        "confidence": step.confidence,
        "stop": step.stop or None,
        "estimate": {"cross_pct": 100 * step.cross, "uncertainty": 100 * step.cross_uncertainty},
        "belief": belief_json(session.car, step.learned.belief),
    }


def belief_json(car: Car, belief: Belief) -> dict[str, Any]:
    """Give a belief: ratios of true over file, with relative standard uncertainties.

    Args:
        car: As the file has it.

    Returns:
        `answer` to the same turn up and down at all four, `compliance` of the free pattern, and
        `motion_ratio` of front and rear, in the units of the file; None on an unsprung axle.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.session.belief import Sigmas, prior
        >>> round(belief_json(plain_car(), prior(plain_car(), Sigmas()))["answer"], 6)
        1.0
    """
    sure = np.sqrt(np.diag(belief.covariance))
    front, rear = np.exp(belief.mean[1:])
    solid = car.solid[[0, 2]]
    return {
        "answer": answer_ratio(car, belief),
        "compliance": float(np.exp(belief.mean[0])),
        "motion_ratio": {
            "front": None if solid[0] else float(car.motion_ratio[:2].mean() * front),
            "rear": None if solid[1] else float(car.motion_ratio[2:].mean() * rear),
        },
        "uncertainty": {
            "compliance": float(sure[0]),
            "front": None if solid[0] else float(sure[1]),
            "rear": None if solid[1] else float(sure[2]),
        },
    }


def answer_ratio(car: Car, belief: Belief) -> float:
    """Compute how the car answers to turns at all four corners, over what the file says.

    >>> from balancer.car.model import plain_car
    >>> round(answer_ratio(plain_car(), Belief(np.array([0.1, 0.0, 0.0]), np.eye(3))), 3)
    0.905
    """
    can = np.where(car.adjustable, np.array([1.0, -1.0, -1.0, 1.0]), 0.0)
    file = gain(car, np.zeros(3), can)
    return gain(car, belief.mean, can) / file if file else 1.0


def belief_text(car: Car, belief: Belief) -> str:
    """Say in plain words what the car has taught.

    Returns:
        Empty where nothing is a percent away from the file.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> print(belief_text(plain_car(), Belief(np.array([0.12, 0.0, -0.06]), np.eye(3) / 1e4)))
        This car answers 9 % less to a turn than the file says; rear motion ratio nearer
        0.66 than 0.70.
    """
    said = []
    answer = answer_ratio(car, belief) - 1
    if abs(answer) >= 0.01:
        word = "less" if answer < 0 else "more"
        said.append(
            f"This car answers {number(100 * abs(answer), 0)} % {word} to a turn than the file says"
        )
    for name, where, index in (("front", slice(0, 2), 1), ("rear", slice(2, 4), 2)):
        file = float(car.motion_ratio[where].mean())
        true = file * float(np.exp(belief.mean[index]))
        if abs(true - file) >= 0.005:
            said.append(f"{name} motion ratio nearer {true:.2f} than {file:.2f}")
    return wrapped("; ".join(said) + ".") if said else ""


def step_text(file: CarFile, session: Session, step: Step) -> str:
    """Tell a step in as few lines as it takes."""
    units, goal = file.units, session.goal
    now = f"{percent(step.cross, 2)} {uncertainty(100 * step.cross_uncertainty, 2)}"
    wanted = f"{percent(goal.cross)} ± {100 * goal.tolerance:g}"
    lines = [f"Weigh-in {len(session.weigh_ins)}: cross weight (RF+LR) {now}, wanted {wanted}"]
    lines += outlier_lines(file, session)
    lines += disbelief_lines(session, step)
    if step.stop:
        sure = f" ({chance(step.confidence)} sure)" if step.stop == "in_tolerance" else ""
        lines.append(f"Stop here: it is {STOPS[step.stop]}{sure}.")
        if step.stop == "out_of_reach":
            lines += [wrapped(f"- {text}", "  ") for text in limit_texts(step.plan, units)]
    else:
        if step.plan.status != "reached":
            lines.append("It can't be reached; the closest there is:")
            lines += [wrapped(f"- {text}", "  ") for text in limit_texts(step.plan, units)]
        lines += turn_lines(step.plan.best, file)
        lines += [wrapped(line) for line in stop_lines(step.plan)]
        promised = percent(step.plan.best.shares.cross, 2)
        lines.append(f"That makes {promised}. Settle the car and weigh again.")
    taught = belief_text(session.car, step.learned.belief) if len(session.weigh_ins) > 1 else ""
    return "\n".join([*lines, *([taught] if taught else [])])


def outlier_lines(file: CarFile, session: Session) -> list[str]:
    """Say when repeats wander: the car has not settled."""
    last = session.weigh_ins[-1]
    if not last.outliers:
        return []
    pads = ", ".join(dict.fromkeys(pad for _, pad in last.outliers))
    return [f"Not settled: the readings of {pads} wander. Roll the car and read again."]


def disbelief_lines(session: Session, step: Step) -> list[str]:
    """Say when what was turned can't have led to the last readings."""
    last = len(session.weigh_ins) - 1
    if last not in step.disbelieved:
        return []
    if np.any(session.made[last - 1]):
        text = "The turns can't have been made as planned: nothing is learned from them."
        if not step.stop:
            text += " The plan is for the car as it now reads."
        return [wrapped(text)]
    return ["Nothing was turned and yet it reads otherwise: only this weigh-in counts."]


def suspect_text(suspect: Suspect, loads: Any, units: Units) -> str:
    """Ask about a reading that looks wrong.

    Args:
        loads: (4,), as typed [N].
    """
    if suspect.kind == "swapped":
        one, other = suspect.pads
        return f"{one} and {other} look swapped: say yes if they are not, or give the four again"
    if suspect.kind == "digit":
        pad = suspect.pads[0]
        typed, meant = (
            amount(float(values[CORNERS.index(pad)]), "load", units, unit=unit)
            for values, unit in ((loads, False), (suspect.meant, True))
        )
        way_out = f"say yes if it does, or give it again: {pad} and its number"
        return f"{pad} reads {typed}, expected about {meant}: {way_out}"
    if suspect.kind == "turns":
        now, expected = (
            percent(float((four[1] + four[2]) / four.sum()), 2) for four in (loads, suspect.meant)
        )
        return (
            f"Cross weight reads {now}, the turns would make it {expected}: say yes if they were"
            " made and it was read right, or say what was made, or give the four again"
        )
    change = amount(float(loads.sum() - suspect.meant.sum()), "load", units, sign=True, unit=True)
    return f"The total has jumped by {change}: say yes if it has, or give the four again"


def suspect_json(suspect: Suspect, loads: Any, units: Units) -> dict[str, Any]:
    """Give the question about a reading as `balancer session --json` answers with it."""
    return {
        "question": suspect_text(suspect, loads, units),
        "suspect": list(suspect.pads),
        "meant": by_corner(suspect.meant, "load", units),
    }
