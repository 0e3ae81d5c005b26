"""Ballast on real corners: what is promised is where the car comes to rest with it bolted in."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.model import Car, Item
from balancer.car.statics import statics_of
from balancer.planning.ballast.goal import met_rules
from balancer.planning.ballast.outcome import BallastPlan, Stand
from balancer.weighing.uncertainty import shares

_ROUNDS = 6
"""Plans after which rates have had their chance to say where the car comes to rest."""


def settled_plan(
    car: Car, trims: Sequence[Floats], planned: Callable[[Sequence[Floats]], BallastPlan]
) -> BallastPlan:
    """Plan by the rates as they stand, and again by how far off the car comes to rest.

    Args:
        trims: (4,) each, in the race trims, without the ballast [N].
        planned: Gives a plan by the rates alone, from loads (4,) each without the ballast [N].

    Returns:
        With the loads that the car comes to rest under, and the rules held there. What is not met
        there is not proved to be impossible.
    """
    off = [np.zeros(4) for _ in trims]
    for _ in range(_ROUNDS):
        plan = planned([loads + miss for loads, miss in zip(trims, off, strict=True)])
        rested = _at_rest(car, trims, plan)
        missed = not all(rule.met for rule in rested.all_rules)
        if missed == (plan.status == "closest") and plan.status != "gave_up":
            return rested
        off = [
            stand.loads - loads - plan.change
            for stand, loads in zip((rested.first, *rested.others), trims, strict=True)
        ]
    return replace(rested, status="gave_up")


def _at_rest(car: Car, trims: Sequence[Floats], plan: BallastPlan) -> BallastPlan:
    put = [Item(*item[:5]) for item in plan.items]
    every = [statics_of(car, loads).carried(put, ()) for loads in trims]
    first, *others = (
        Stand(loads, shares(car, loads), met_rules(plan.goal, loads)) for loads in every
    )
    change = first.loads - trims[0]
    return replace(plan, **first._asdict(), change=change, others=tuple(others))
