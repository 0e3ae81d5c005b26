"""A perch plan by what is believed of how a car answers: the same one for whoever asks."""

from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.planning.perches.aim import aimed_plan
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import PerchPlan
from balancer.planning.session.diagonal import answer_uncertainty
from balancer.planning.session.identified import open_after


def believed_plan(
    car: Car,
    loads: Floats,
    goal: PerchGoal,
    cross_uncertainty: float,
    covariance: Floats | None = None,
    links: bool = False,
    fall_back: bool = True,
) -> PerchPlan:
    """Plan by `planning.perches.aim.aimed_plan` with what is believed of how a car answers.

    Args:
        car: As it is believed to be.
        loads: (4,) [N].
        cross_uncertainty: Standard uncertainty of the cross weight now [1].
        covariance: (3, 3) or None, as in `answer_uncertainty`.
        links, fall_back: As in `aimed_plan`.
    """
    unsure = answer_uncertainty(car, loads, covariance)
    left = open_after(car, loads, covariance)
    return aimed_plan(car, loads, goal, cross_uncertainty, unsure, links, fall_back, left)
