"""What the weigh-ins of a session teach, each seen against the turns before it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from balancer.car.adjusters import all_turns
from balancer.car.conventions import Floats
from balancer.car.model import Car, Item
from balancer.car.statics import statics_of
from balancer.session.learning import (
    REAL_CORNERS_SD,
    Learned,
    diagonal_load,
    gain,
    gain_uncertainty,
    learn,
    scatter_of,
)
from balancer.session.session import Session, Taught, weighed
from balancer.weighing.weigh import WeighIn

ODD = 5.0
"""Standard deviations between turns and their answer from which on the pads are believed alone."""


def remembering(session: Session) -> Session:
    """Learn from a session what it has to teach, and carry it along: its steps come sooner."""
    return replace(session, taught=lessons(session))


def lessons(session: Session) -> tuple[Taught, ...]:
    """Learn from the weigh-ins that nothing was learned from yet; give all, one a weigh-in."""
    car, taught = session.linear_car, session.taught
    for index in range(len(taught), len(session.weigh_ins)):
        taught = (*taught, _teach(session, car, taught, index))
    return taught


def surprise(
    session: Session,
    weigh_in: WeighIn,
    planned: Floats | None = None,
    was: Sequence[Item] | None = None,
) -> float:
    """Say how unlike the turns made the change since the last weigh-in is.

    Args:
        session: With at least one weigh-in.
        weigh_in: The next.
        planned: (4,) or None, as in `weighed`.
        was: What was on board, as in `weighed`.

    Returns:
        In standard deviations of belief, hands and scales together; 0 where nothing was turned.
    """
    after = weighed(session, weigh_in, planned, was)
    if not np.any(after.made[-1]):
        return 0.0
    car = session.linear_car
    turns = counted_turns(after, car, len(session.weigh_ins) - 1)
    learned = lessons(session)[-1].learned
    return _surprise(car, learned, after.weigh_ins[-1], turns, after.moved[-1])


def counted_turns(session: Session, linear: Car, after: int) -> Floats:
    """Give the turns made after a weigh-in by what they come to where the car is not linear.

    Args:
        linear: The session's `linear_car`.
        after: Number of the weigh-in, from 0.
    """
    weigh_ins, made = session.weigh_ins, session.made
    before = session.at_first(session.car).after(all_turns(made[:after]))
    return statics_of(before, weigh_ins[after].loads).counted(made[after], linear)


def _surprise(
    car: Car, learned: Learned, weigh_in: WeighIn, turns: Floats, carried: Floats
) -> float:
    level, unsure = learned.shown(carried)
    moved = diagonal_load(car, weigh_in.loads) - level
    spread = np.hypot(
        gain_uncertainty(car, learned.belief, turns),
        np.hypot(unsure, scatter_of(car, car.scales, weigh_in.repeats)),
    )
    return float(abs(moved - gain(car, learned.belief.mean, turns)) / max(spread, 1e-12))


def _teach(session: Session, car: Car, taught: tuple[Taught, ...], index: int) -> Taught:
    """Learn from a weigh-in, or begin anew where the turns before it can't have led to it.

    Such a weigh-in is there only because somebody has said that it was read right. That it begins
    anew follows from the readings alone, so a session taken up again comes to the same.
    """
    weigh_in = session.weigh_ins[index]
    moved = session.moved
    diagonal = diagonal_load(car, weigh_in.loads)
    scatter = max(scatter_of(car, car.scales, weigh_in.repeats), 1e-6)
    if not taught:
        anew = learn(car, session.belief, [diagonal], [scatter], [], carried=moved[:1])
        return Taught(diagonal, scatter, np.zeros(4), anew, 0, session.belief, disbelieved=False)
    last = taught[-1]
    turns = counted_turns(session, car, index - 1)
    if _surprise(car, last.learned, weigh_in, turns, moved[index]) > ODD:
        belief = last.learned.belief
        anew = learn(car, belief, [diagonal], [scatter], [], carried=moved[index : index + 1])
        return Taught(diagonal, scatter, turns, anew, index, belief, disbelieved=True)
    span = taught[last.since :]
    learned = learn(
        car,
        last.before,
        [*(each.diagonal for each in span), diagonal],
        [*(each.scatter for each in span), scatter],
        [*(each.counted for each in span[1:]), turns],
        carried=moved[last.since : index + 1],
        answer_sd=REAL_CORNERS_SD if session.car.corners else 0.0,
    )
    return Taught(diagonal, scatter, turns, learned, last.since, last.before, disbelieved=False)
