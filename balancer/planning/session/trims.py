"""The race trims that a session plans for: where the car is in each, and what is good in all."""

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt
from typing import NamedTuple

from balancer.car.adjusters import all_turns
from balancer.car.conventions import Floats
from balancer.car.linear import free_pattern
from balancer.car.model import Item
from balancer.planning.perches.goal import OtherTrim, PerchGoal
from balancer.planning.session.bearing import arms
from balancer.planning.session.diagonal import cross_per_diagonal
from balancer.planning.session.learning import Learned
from balancer.planning.session.session import Session
from balancer.weighing.load_states import carry
from balancer.weighing.uncertainty import cross_of


class Elsewhere(NamedTuple):
    """The car in another race trim.

    Attributes:
        trim: As it is there before any more turns, and the cross weight wanted.
        carried: What is open of its cross weight because of how masses bear [1].
    """

    trim: OtherTrim
    carried: float

    @property
    def off(self) -> float:
        """How far the cross weight is from the one wanted [1]."""
        return cross_of(self.trim.loads) - self.trim.cross


def elsewhere(session: Session, loads: Floats, learned: Learned) -> tuple[Elsewhere, ...]:
    """Carry what is believed of the car to the other race trims that it is planned for.

    Args:
        session: With at least one weigh-in.
        loads: (4,), as believed in the first [N].
    """
    each = zip(session.others, session.goal.others, strict=True)
    return tuple(_there(session, loads, learned, items, goal.cross) for items, goal in each)


def _there(
    session: Session, loads: Floats, learned: Learned, items: Sequence[Item], cross: float
) -> Elsewhere:
    car, first = session.linear_car, session.state or ()
    now = session.at_first(session.car).after(all_turns(session.made_before))
    level, sd = learned.shown(arms(first, items))
    # By the file, and then by what was learned of how masses bear.
    there = carry(now, loads, first, items).held
    there = there + (level - learned.diagonal) * free_pattern(car.tracks)
    borne = sqrt(max(sd**2 - learned.read_uncertainty**2, 0.0))
    per_diagonal = abs(cross_per_diagonal(car, float(there.sum())))
    return Elsewhere(OtherTrim(there, cross), per_diagonal * borne)


def good_in_all(goal: PerchGoal, cross: float, others: Sequence[Elsewhere]) -> PerchGoal:
    """Give what the cross weight of the first race trim is to be, so that it is good in each.

    Turns move it alike in all of them.

    Args:
        cross: Of the first, as a fraction.

    Returns:
        With the middle between those that are farthest apart, and what the tolerance leaves
        around it; nothing where they are too far apart to be good in each at once.

    Examples:
        >>> import numpy as np
        >>> there = Elsewhere(OtherTrim(np.array([260.0, 250, 251, 239]), 0.5), 0.0)
        >>> both = good_in_all(PerchGoal.level(0.5), 0.499, [there])
        >>> round(both.cross, 6), round(both.tolerance, 6)
        (0.499, 0.001)
    """
    ahead = [0.0, *(there.off - (cross - goal.cross) for there in others)]
    middle = (max(ahead) + min(ahead)) / 2
    left = max(goal.tolerance - (max(ahead) - min(ahead)) / 2, 0.0)
    return replace(goal, cross=goal.cross - middle, tolerance=left, others=())
