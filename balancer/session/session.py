"""A session at the pads: what has been weighed and turned so far.

Plain values in, plain values out: every function gives a new `Session`. Whoever talks to the user,
or keeps the log, does so around it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from balancer.car.adjusters import adjusters_of, all_turns, with_travel_spent
from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.car.statics import statics_of
from balancer.perches.goal import PerchGoal
from balancer.session.belief import Belief
from balancer.session.learning import Learned
from balancer.weighing.weigh import WeighIn


class Taught(NamedTuple):
    """What a session has taught up to one of its weigh-ins.

    Attributes:
        diagonal, scatter: `learning.diagonal_load` and `learning.scatter_of` this weigh-in [N·m].
        counted: (4,), turns made before it, by what they come to where the car is not linear;
            none before the first.
        since: The weigh-in from which on all is learned from together.
        before: At that one.
        disbelieved: Whether it is so unlike the turns before it that those can't be what was
            made.
    """

    diagonal: float
    scatter: float
    counted: Floats
    learned: Learned
    since: int
    before: Belief
    disbelieved: bool


@dataclass(frozen=True, eq=False)
class Session:
    """What has been weighed and turned so far.

    Attributes:
        car: As the file has it, with the perch travel left at the start of the session.
        belief: Before the session.
        made: tuple of array (4,), turns made after each weigh-in but the last, or after it too
            once they are said.
        taught: By the first weigh-ins, as `lessons.remembering` carries it along: what is known
            need not be learned again. Leave it out in a session with another car or belief.
    """

    car: Car
    belief: Belief
    goal: PerchGoal
    weigh_ins: tuple[WeighIn, ...] = ()
    made: tuple[Floats, ...] = ()
    taught: tuple[Taught, ...] = ()

    @property
    def made_before(self) -> tuple[Floats, ...]:
        """Turns that led to the last weigh-in, set by set."""
        return self.made[: max(len(self.weigh_ins) - 1, 0)]

    @property
    def linear_car(self) -> Car:
        """The car that the belief is about: as the first weigh-in found it."""
        return statics_of(self.car, self.weigh_ins[0].loads).unstopped


def weighed(session: Session, weigh_in: WeighIn, planned: Floats | None = None) -> Session:
    """Add a weigh-in.

    Args:
        planned: (4,) or None, the turns last planned, which count as made unless others were
            said; None: nothing was turned.
    """
    made = session.made
    if session.weigh_ins and len(made) < len(session.weigh_ins):
        made = (*made, np.zeros(4) if planned is None else planned)
    return replace(session, weigh_ins=(*session.weigh_ins, weigh_in), made=made)


def with_made(session: Session, turns: Floats) -> Session:
    """Say what was really turned since the last weigh-in.

    Args:
        turns: (4,)

    Raises:
        ValueError: When nothing has been weighed yet.
    """
    if not session.weigh_ins:
        raise ValueError("nothing has been weighed yet")
    return replace(session, made=(*session.made_before, np.asarray(turns, dtype=float)))


def without_made(session: Session) -> Session:
    """Take back what was said to be turned since the last weigh-in."""
    return replace(session, made=session.made_before)


def travel_left(session: Session) -> Floats:
    """Compute how far each perch can still be turned from where the last weigh-in found it.

    Returns:
        (4, 2), turns down, negative, and up.
    """
    spent = all_turns(session.made_before)
    return adjusters_of(with_travel_spent(session.car, spent)).travel


def until(session: Session, count: int) -> Session:
    """Take weigh-ins back but for the first, and the turns that led to those taken back.

    Args:
        count: How many stay.
    """
    return replace(
        session,
        weigh_ins=session.weigh_ins[:count],
        made=session.made[: max(count - 1, 0)],
        taught=session.taught[:count],
    )


def undone(session: Session) -> Session:
    """Take the last weigh-in back, with the turns that led to it."""
    return until(session, max(len(session.weigh_ins) - 1, 0))
