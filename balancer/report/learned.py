"""What the sessions have taught, as values for the car file; and what more turns would teach."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.linear import free_pattern, warp_compliance, wheel_rate
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.planning.session.belief import Belief
from balancer.planning.session.identified import TOLD, answer, identified, told_ratios
from balancer.report.session import belief_json, belief_text
from balancer.report.words.json_parts import heading_json
from balancer.report.words.numbers import amounts, chance, number
from balancer.report.words.prose import paragraphs, wrapped
from balancer.report.words.tables import table
from balancer.report.words.turns import turned_corners

if TYPE_CHECKING:
    from balancer.planning.session.identify import Before, Lesson

_MEASURE = (
    "Turns can't tell a spring from a motion ratio or a tire: measure before you change the file."
    " Once it is changed, learning starts anew from there."
)
_MEASURE_SOLID = (
    "Spacers can't tell a tire from the twist of the frame: measure before you change the file."
    " Once it is changed, learning starts anew from there."
)


class Proposal(NamedTuple):
    """Values that would make the file say what the car does.

    Attributes:
        motion_ratio: Front and rear; 1 on an unsprung axle.
        spring_factor: For all spring rates [1]; NaN where springs alone can't explain it.
    """

    motion_ratio: tuple[float, float]
    spring_factor: float


def proposal(car: Car, belief: Belief) -> Proposal:
    """Find motion ratios and spring rates that a belief amounts to, tires left as they are.

    Ratios that turns have not told are the file's: springs take what is left.

    References:
        Derived here: nᵀ C n with the new ratios and springs is the believed compliance.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> round(proposal(plain_car(), Belief(np.zeros(3), np.eye(3))).spring_factor, 9)
        1.0
    """
    told = identified(car, belief)
    ratios = np.where(car.solid, 1.0, car.motion_ratio * np.exp(told[[1, 1, 2, 2]]))
    pattern2 = free_pattern(car.tracks) ** 2
    springs = float(np.sum(pattern2 / wheel_rate(car.spring_rate, ratios)))
    rest = float(np.sum(pattern2 / car.tire_rate)) + 1 / car.torsional_stiffness
    left = warp_compliance(car) * float(np.exp(told[0])) - rest
    factor = springs / left if left > 0 and springs else float("nan")
    return Proposal((float(ratios[:2].mean()), float(ratios[2:].mean())), factor)


def learned_json(file: CarFile, belief: Belief | None) -> dict[str, Any]:
    """Give a proposal as the dict that `balancer learned --json` prints."""
    if belief is None:
        return {**heading_json(file), "belief": None, "proposal": None, "told": None}
    return {
        **heading_json(file),
        "belief": belief_json(file.car, belief),
        "proposal": {
            axle: _axle_json(file, proposal(file.car, belief), index)
            for index, axle in enumerate(("front", "rear"))
        },
        "told": _told_json(file.car, belief),
    }


def _told_json(car: Car, belief: Belief) -> dict[str, bool]:
    front, rear = told_ratios(belief) & ~car.solid[[0, 2]]
    return {"front": bool(front), "rear": bool(rear)}


def _axle_json(file: CarFile, proposed: Proposal, axle: int) -> dict[str, float | None]:
    if file.car.solid[2 * axle]:
        return {"motion_ratio": None, "spring_rate": None}
    rate = _mean(file.car.spring_rate, axle) * proposed.spring_factor
    return {
        "motion_ratio": proposed.motion_ratio[axle],
        "spring_rate": file.units.from_si(rate, "rate") if np.isfinite(rate) else None,
    }


def _mean(values: Floats, axle: int) -> float:
    return float(values.reshape(2, 2)[axle].mean())


def learned_text(file: CarFile, belief: Belief | None) -> str:
    """Tell a proposal in at most 80 columns."""
    car = file.car
    if belief is None:
        return wrapped(
            f"Nothing learned yet of {car.name}: balancer session CAR learns from each re-weigh."
        )
    rows = list(_rows(file, belief))
    return paragraphs(
        belief_text(car, belief) or "This car answers as its file says.",
        table([["", "file", "proposed", "±"], *rows], indent="") if rows else _give(belief),
        wrapped(_not_told(car, belief)),
        wrapped(_MEASURE if rows else _MEASURE_SOLID),
    )


def _rows(file: CarFile, belief: Belief) -> Iterator[list[str]]:
    car, proposed = file.car, proposal(file.car, belief)
    if car.solid.all():
        return
    ratio, unsure = answer(car, belief)
    yield ["answer to a turn", "1.000", f"{ratio:.3f}", f"{unsure:.3f}"]
    standard = np.sqrt(np.diag(belief.covariance))[1:3]
    for index, axle in enumerate(("front", "rear")):
        if car.solid[2 * index]:
            continue
        ratio, learned = _mean(car.motion_ratio, index), proposed.motion_ratio[index]
        unsure = learned * standard[index]
        yield [f"{axle} motion_ratio", f"{ratio:.3f}", f"{learned:.3f}", f"{unsure:.3f}"]
        rate = _mean(car.spring_rate, index)
        if np.isfinite(proposed.spring_factor):
            rates = amounts((rate, rate * proposed.spring_factor), "rate", file.units)
            yield [f"{axle} spring_rate", *rates, ""]


def _not_told(car: Car, belief: Belief) -> str:
    ratio, unsure = answer(car, belief)
    if abs(ratio - 1) < TOLD * unsure:
        return "All that is within two of its uncertainties: no reason to change the file yet."
    left = ~told_ratios(belief) & ~car.solid[[0, 2]]
    axles = [axle for axle, stays in zip(("front", "rear"), left, strict=True) if stays]
    if not axles:
        return ""
    return (
        f"The motion ratio of {' and '.join(axles)} stays as in the file: what these turns say of"
        " it is less than two of its uncertainties."
    )


def _give(belief: Belief) -> str:
    """Say what there is to say of a car without springs."""
    more, sure = np.expm1(belief.mean[0]), float(np.sqrt(belief.covariance[0, 0]))
    word = "more" if more > 0 else "less"
    return wrapped(
        f"Tires and frame together give way {abs(100 * more):.0f} % {word} than the file says,"
        f" ± {100 * sure:.0f} %."
    )


def lessons_json(lessons: Sequence[Lesson]) -> list[dict[str, Any]]:
    """Give lessons as dicts, under the names of the contract."""
    return [
        {
            "turns": dict(zip(CORNERS, each.turns.tolist(), strict=True)),
            "answer_uncertainty": {"front": each.front._asdict(), "rear": each.rear._asdict()},
            "landing": each.landing._asdict(),
        }
        for each in lessons
    ]


def lessons_text(lessons: Sequence[Lesson], file: CarFile) -> str:
    """Tell lessons, a paragraph each."""
    if not lessons:
        return "Nothing can be turned on one axle alone, so nothing only to learn."
    return "\n".join(wrapped(_text(each, file)) for each in lessons)


def _text(lesson: Lesson, file: CarFile) -> str:
    turns = turned_corners(lesson.turns.tolist(), file.counts())
    front, rear = _percents(lesson.front), _percents(lesson.rear)
    then, now = chance(lesson.landing.then), chance(lesson.landing.now)
    return (
        f"Turned only to learn, {turns} and weighed: how the front answers to turns is known to"
        f" {front}, the rear to {rear}. What is turned after that lands in tolerance with {then};"
        f" the plan now, with {now}."
    )


def _percents(each: Before) -> str:
    return f"± {number(100 * each.then, 1)} % (now {number(100 * each.now, 1)} %)"
