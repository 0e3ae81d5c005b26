"""A session at the pads: what has been weighed and turned so far.

Plain values in, plain values out: every function gives a new `Session`. Whoever talks to the user,
or keeps the log, does so around it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from balancer.car.adjusters import all_turns, ways_to_turn, with_travel_spent
from balancer.car.conventions import Floats, Integers
from balancer.car.model import Car, Item
from balancer.car.statics import Statics, statics_of
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.session.bearing import arms
from balancer.planning.session.belief import Belief
from balancer.planning.session.carrying import carried_to
from balancer.planning.session.learning import Learned
from balancer.weighing.weigh import WeighIn


class Taught(NamedTuple):
    """What a session has taught up to one of its weigh-ins.

    Attributes:
        diagonal: `diagonal.diagonal_load` of this weigh-in [N·m].
        scatter: (k,), how it scatters, as each value of `scatter.SETTLING` has it [N·m].
        counted: (4,), turns made before it, by what they come to where the car is not linear;
            none before the first.
        each: What each value of the settling makes of it; `learned` mixes them.
        since: (k,), the weigh-in from which on all is learned from together, as each value of the
            settling has it.
        disbelieved: Whether it is so unlike the turns before it that those are likelier not to
            be what was made.
    """

    diagonal: float
    scatter: Floats
    counted: Floats
    learned: Learned
    each: tuple[Learned, ...]
    since: Integers
    disbelieved: bool


@dataclass(frozen=True, eq=False)
class Session:
    """What has been weighed and turned so far.

    Attributes:
        car: As the file has it, with the perch travel left at the start of the session.
        belief: Before the session.
        weigh_ins: Of the car in the state that it is planned for.
        made: Turns made after each weigh-in but the last, or after it too once they are said: (4,)
            each, or (6,) where the left drop links of front and rear were turned too.
        taught: By the first weigh-ins, as `lessons.remembering` carries it along: what is known
            need not be learned again. Leave it out in a session with another car or belief.
        state: What is on board there; None: what is on the pads.
        others: What is on board in other race trims that it is planned for too; the goal says what
            is wanted there.
        links: Whether drop links may be turned too.
        pads: Weigh-ins as they were read, each in a state of its own.
        aboard: What was on board at each; None: what the session plans for.
    """

    car: Car
    belief: Belief
    goal: PerchGoal
    weigh_ins: tuple[WeighIn, ...] = ()
    made: tuple[Floats, ...] = ()
    taught: tuple[Taught, ...] = ()
    state: tuple[Item, ...] | None = None
    pads: tuple[WeighIn, ...] = ()
    aboard: tuple[tuple[Item, ...] | None, ...] = ()
    others: tuple[tuple[Item, ...], ...] = ()
    links: bool = False

    @property
    def made_before(self) -> tuple[Floats, ...]:
        """Turns that led to the last weigh-in, set by set."""
        return self.made[: max(len(self.weigh_ins) - 1, 0)]

    @property
    def last_read(self) -> WeighIn:
        """The last weigh-in as it was read."""
        return (self.pads or self.weigh_ins)[-1]

    @property
    def linear_car(self) -> Car:
        """The car that the belief is about: as the first weigh-in found it."""
        return self.at_first(self.car).unstopped

    @property
    def moved(self) -> tuple[Floats, ...]:
        """What each weigh-in was carried by, as `bearing.arms` adds it up."""
        there = self.state or ()
        return tuple(arms(there, there if was is None else was) for was in self.aboard)

    @property
    def risen(self) -> Floats:
        """How far the turns that led to the last weigh-in have raised the body at each wheel [m].

        Returns:
            (4,), as the file has the car.
        """
        turns = all_turns(self.made_before)
        if not turns.any():
            return np.zeros(4)
        adjusters = next(ways_to_turn(self.car, links=True))
        return self.at_first(self.car).turned(adjusters, adjusters.in_order(turns)).heights

    @property
    def missing(self) -> tuple[Item, ...]:
        """What was not on board at the last weigh-in and is in the state planned for."""
        was = self.aboard[-1] if self.aboard else None
        if was is None:
            return ()
        names = {one.name for one in was}
        return tuple(one for one in self.state or () if one.name not in names)

    def at_first(self, car: Car) -> Statics:
        """Ask how a car answers from where the first weigh-in found it.

        Carried to another state it has other loads on the springs that the pads found.
        """
        if self.pads and self.pads[0] is not self.weigh_ins[0]:
            car = statics_of(car, self.pads[0].loads).anchored()
        return statics_of(car, self.weigh_ins[0].loads)

    def carried(self, weigh_in: WeighIn, was: Sequence[Item]) -> WeighIn:
        """Carry a weigh-in to the state that is planned for, all turns so far being made.

        Args:
            was: What was on board.
        """
        if self.state is None:
            return weigh_in
        car = self.car
        if self.weigh_ins:
            car = self.at_first(car).after(all_turns(self.made))
        return carried_to(car, weigh_in, was, self.state)


def weighed(
    session: Session,
    weigh_in: WeighIn,
    planned: Floats | None = None,
    was: Sequence[Item] | None = None,
) -> Session:
    """Add a weigh-in.

    Args:
        weigh_in: As read.
        planned: (n,) as in `Session.made`, or None, the turns last planned, which count as made
            unless others were said; None: nothing was turned.
        was: What was on board; None: what the session plans for.
    """
    made = session.made
    if session.weigh_ins and len(made) < len(session.weigh_ins):
        made = (*made, np.zeros(4) if planned is None else planned)
    session = replace(session, made=made)
    there = weigh_in if was is None else session.carried(weigh_in, was)
    weigh_ins, pads = (*session.weigh_ins, there), (*session.pads, weigh_in)
    aboard = (*session.aboard, None if was is None or session.state is None else tuple(was))
    return replace(session, weigh_ins=weigh_ins, pads=pads, aboard=aboard)


def with_made(session: Session, turns: Floats) -> Session:
    """Say what was really turned since the last weigh-in.

    Args:
        turns: (n,), as in `Session.made`.

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
        (n, 2), turns down, negative, and up, of the corners and of what links can be turned.
    """
    spent = all_turns(session.made_before)
    return next(ways_to_turn(with_travel_spent(session.car, spent), links=True)).travel


def until(session: Session, count: int) -> Session:
    """Take weigh-ins back but for the first, and the turns that led to those taken back.

    Args:
        count: How many stay.
    """
    return replace(
        session,
        weigh_ins=session.weigh_ins[:count],
        pads=session.pads[:count],
        aboard=session.aboard[:count],
        made=session.made[: max(count - 1, 0)],
        taught=session.taught[:count],
    )


def undone(session: Session) -> Session:
    """Take the last weigh-in back, with the turns that led to it."""
    return until(session, max(len(session.weigh_ins) - 1, 0))
