"""What the sessions have taught, as values for the car file."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from balancer.car.linear import free_pattern, warp_compliance, wheel_rate
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.report.session import belief_json, belief_text
from balancer.report.words.numbers import amount, wrapped
from balancer.report.words.tables import table
from balancer.session.belief import Belief

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
        spring_factor: By which all spring rates would be multiplied; NaN where springs alone
            can't explain it, or there are none.
    """

    motion_ratio: tuple[float, float]
    spring_factor: float


def proposal(car: Car, belief: Belief) -> Proposal:
    """Find motion ratios and spring rates that a belief amounts to, tires left as they are.

    References:
        Derived here: nᵀ C n with the new ratios and springs is the believed compliance.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> round(proposal(plain_car(), Belief(np.zeros(3), np.eye(3))).spring_factor, 9)
        1.0
    """
    ratios = np.where(car.solid, 1.0, car.motion_ratio * np.exp(belief.mean[[1, 1, 2, 2]]))
    pattern2 = free_pattern(car.tracks) ** 2
    springs = float(np.sum(pattern2 / wheel_rate(car.spring_rate, ratios)))
    rest = float(np.sum(pattern2 / car.tire_rate)) + 1 / car.torsional_stiffness
    left = warp_compliance(car) * float(np.exp(belief.mean[0])) - rest
    factor = springs / left if left > 0 and springs else float("nan")
    return Proposal((float(ratios[:2].mean()), float(ratios[2:].mean())), factor)


def learned_json(file: CarFile, belief: Belief | None) -> dict[str, Any]:
    """Give a proposal as the dict that `balancer learned --json` prints.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.units import METRIC
        >>> learned_json(CarFile("a.toml", plain_car(), METRIC, ()), None)["belief"] is None
        True
    """
    told: dict[str, Any] = {"car": file.car.name, "units": file.units.name, "belief": None}
    if belief is None:
        return {**told, "proposal": None}
    found = proposal(file.car, belief)
    springs = file.car.spring_rate.reshape(2, 2).mean(axis=1) * found.spring_factor
    known, solid = bool(np.isfinite(found.spring_factor)), file.car.solid[[0, 2]]
    return {
        **told,
        "belief": belief_json(file.car, belief),
        "proposal": {
            axle: {
                "motion_ratio": None if solid[index] else found.motion_ratio[index],
                "spring_rate": file.units.from_si(float(springs[index]), "rate")
                if known and not solid[index]
                else None,
            }
            for index, axle in enumerate(("front", "rear"))
        },
    }


def learned_text(file: CarFile, belief: Belief | None) -> str:
    """Tell a proposal in at most 80 columns.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.units import METRIC
        >>> print(learned_text(CarFile("a.toml", plain_car(), METRIC, ()), None))
        Nothing learned yet of plain car: balancer session CAR learns from each
        re-weigh.
    """
    car, units = file.car, file.units
    if belief is None:
        return wrapped(
            f"Nothing learned yet of {car.name}: balancer session CAR learns from each re-weigh."
        )
    found = proposal(car, belief)
    springs = car.spring_rate.reshape(2, 2).mean(axis=1)
    sure = np.sqrt(np.diag(belief.covariance))
    rows = [["", "file", "learned", "±"]]
    for index, axle in enumerate(("front", "rear")):
        if car.solid[2 * index]:
            continue
        ratio = float(car.motion_ratio.reshape(2, 2).mean(axis=1)[index])
        unsure = f"{found.motion_ratio[index] * sure[index + 1]:.3f}"
        rows.append(
            [f"{axle} motion_ratio", f"{ratio:.3f}", f"{found.motion_ratio[index]:.3f}", unsure]
        )
        if np.isfinite(found.spring_factor):
            rate = amount(float(springs[index]), "rate", units)
            stiffer = amount(float(springs[index] * found.spring_factor), "rate", units)
            rows.append([f"{axle} spring_rate", rate, stiffer, ""])
    parts = [
        belief_text(car, belief) or "This car answers as its file says.",
        table(rows, indent="") if len(rows) > 1 else _give(belief),
        wrapped(_MEASURE if len(rows) > 1 else _MEASURE_SOLID),
    ]
    return "\n\n".join(parts)


def _give(belief: Belief) -> str:
    """Say what there is to say of a car without springs."""
    more, sure = np.expm1(belief.mean[0]), float(np.sqrt(belief.covariance[0, 0]))
    word = "more" if more > 0 else "less"
    return wrapped(
        f"Tires and frame together give way {abs(100 * more):.0f} % {word} than the file says,"
        f" ± {100 * sure:.0f} %."
    )
