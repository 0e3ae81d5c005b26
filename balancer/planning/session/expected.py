"""What the next weigh-in is to show: loads and cross weight after turns, by what is believed."""

from collections.abc import Sequence

import numpy as np

from balancer.car.adjusters import all_turns, ways_to_turn, with_travel_spent
from balancer.car.conventions import Floats
from balancer.car.linear import free_pattern
from balancer.car.model import Car, Item
from balancer.car.statics import statics_of
from balancer.planning.session.belief import believed
from balancer.planning.session.diagonal import (
    cross_per_diagonal,
    diagonal_load,
    gain,
    gain_uncertainty,
)
from balancer.planning.session.learning import Learned
from balancer.planning.session.lessons import counted_turns, lessons
from balancer.planning.session.session import Session, with_made
from balancer.weighing.load_states import carry
from balancer.weighing.uncertainty import cross_of
from balancer.weighing.weigh import WeighIn


def expected(session: Session, turns: Floats) -> tuple[float, float]:
    """Say where turns after the last weigh-in will bring the cross weight.

    Args:
        session: With at least one weigh-in.
        turns: (n,), as in `Session.made`.

    Returns:
        As a fraction, and its standard uncertainty on these pads from belief, hands and scales.
    """
    car, last = session.linear_car, session.weigh_ins[-1]
    counted = counted_turns(with_made(session, turns), car, len(session.weigh_ins) - 1)
    learned = lessons(session)[-1].learned
    per_diagonal = cross_per_diagonal(car, last.shares.total)
    loads = believed_loads(car, last, learned)
    moved = per_diagonal * gain(car, learned.belief.mean, counted)
    unsure = per_diagonal * gain_uncertainty(car, learned.belief, counted)
    read = per_diagonal * learned.diagonal_uncertainty
    uncertainty = float(np.hypot(read, unsure))
    return cross_of(loads) + moved, uncertainty


def expected_loads(
    session: Session, turns: Floats | None, was: Sequence[Item] | None = None
) -> Floats:
    """Say what the pads are to show after turns, near enough to tell a slip.

    Args:
        session: With at least one weigh-in.
        turns: (n,) as in `Session.made`, or None, after the last one.
        was: What is on board then; None: what the session plans for.

    Returns:
        (4,) [N].
    """
    last, learned = session.weigh_ins[-1], lessons(session)[-1].learned
    car, expected = believed_car(session, learned), last.loads
    if turns is not None and np.any(turns):
        loads = believed_loads(session.linear_car, last, learned)
        statics, adjusters = statics_of(car, loads), next(ways_to_turn(car, links=True))
        per_turn = statics.per_turn().loads
        expected = expected + np.nan_to_num(per_turn).T @ turns[:4]
        if np.any(turns[4:]):
            alone = adjusters.in_order(np.append(np.zeros(4), turns[4:]))
            expected = expected + statics.turned(adjusters, alone).loads - loads
    if was is None or session.state is None or set(was) == set(session.state):
        return expected
    return carry(car, expected, session.state, was).loads


def believed_car(session: Session, learned: Learned) -> Car:
    """Give the car as it is believed to stand at the last weigh-in."""
    made = all_turns(session.made_before)
    now = with_travel_spent(believed(session.car, learned.belief), made)
    return session.at_first(now).after(made)


def believed_loads(car: Car, last: WeighIn, learned: Learned) -> Floats:
    """Take the free pattern's amount from all of the session, the rest from the last readings."""
    moved = learned.diagonal - diagonal_load(car, last.loads)
    return last.loads + moved * free_pattern(car.tracks)
