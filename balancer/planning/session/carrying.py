"""A weigh-in carried to another state, with what that leaves open of the cross weight."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.model import Car, Item
from balancer.car.statics import statics_of
from balancer.planning.session.belief import carry_uncertainty
from balancer.weighing.comparison import carried
from balancer.weighing.weigh import WeighIn


def carried_to(
    car: Car,
    weigh_in: WeighIn,
    was: Sequence[Item],
    now: Sequence[Item],
    learned: Floats | None = None,
) -> WeighIn:
    """Carry a weigh-in to another state.

    Args:
        was, now: What was on board, and what is to be.
        learned: (6, 6) or None, covariance of what is believed of the car.

    Returns:
        Its cross weight as uncertain as read, and by what rates not quite known leave open of how
        masses lean on the car; the same one where nothing comes or goes.
    """
    if set(was) == set(now):
        return weigh_in
    there = carried(car, weigh_in, was, now)
    rates = carry_uncertainty(statics_of(car, weigh_in.loads).linear, now, was, learned)
    unsure = rates / there.shares.total
    known, seen = (
        each._replace(cross=float(np.hypot(each.cross, unsure)))
        for each in (there.uncertainties, there.repeatable)
    )
    return replace(there, uncertainties=known, repeatable=seen, carried=unsure)
