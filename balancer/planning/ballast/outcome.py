"""What ballast comes to: what is bolted in where, and how the car then stands to the rules."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.ground import off_the_ground
from balancer.car.leaning import leaned_loads
from balancer.car.model import Car
from balancer.car.statics import statics_of
from balancer.planning.ballast.goal import BallastGoal, RuleCheck, met_rules
from balancer.planning.ballast.limits import Binding
from balancer.planning.ballast.program import Program
from balancer.weighing.uncertainty import Shares, shares

Status = Literal["met", "closest", "gave_up"]

A_GRAM = 1e-3
"""Mass [kg] that nobody bolts in or leaves out."""


class BallastItem(NamedTuple):
    """Ballast at one place.

    Attributes:
        mass: [kg].
        aft, left, up: Center of what is put there [m].
        pieces: Mass of a piece [kg] and how many; empty when any mass can be had.
    """

    place: str
    mass: float
    aft: float
    left: float
    up: float
    pieces: tuple[tuple[float, int], ...]


class Stand(NamedTuple):
    """How the car stands to the rules in one race trim, with the ballast in.

    Attributes:
        loads: (4,) [N].
    """

    loads: Floats
    shares: Shares
    rules: tuple[RuleCheck, ...]


@dataclass(frozen=True, eq=False)
class BallastPlan:
    """Ballast to bolt in, and the car with it.

    Attributes:
        status: `met`; `closest`: proved that no allowed ballast meets the goal; `gave_up`: the
            solver stopped without a proof, or there is none for a chassis that twists: then the
            rules may be met all the same, by what is not proved to be the lightest.
        added: [kg].
        loads: (4,), with the ballast [N].
        change: (4,), what the ballast does to the loads [N].
        shares: With the ballast.
        bindings: Empty when met.
        others: The other race trims, where the ballast is planned for several.
    """

    status: Status
    items: tuple[BallastItem, ...]
    added: float
    loads: Floats
    change: Floats
    shares: Shares
    rules: tuple[RuleCheck, ...]
    bindings: tuple[Binding, ...]
    goal: BallastGoal
    others: tuple[Stand, ...]

    @property
    def first(self) -> Stand:
        """The race trim that the plan is first made for."""
        return Stand(self.loads, self.shares, self.rules)

    @property
    def all_rules(self) -> tuple[RuleCheck, ...]:
        """The rules in every race trim, one trim after the other."""
        return sum((stand.rules for stand in self.others), self.rules)

    @property
    def left_to_turns(self) -> bool:
        """Whether the class asks for another cross weight, and this ballast was not to bring it."""
        cross = (rule for rule in self.all_rules if rule.share == "cross")
        return self.goal.cross is None and not all(rule.met for rule in cross)


def held_against(
    car: Car,
    trims: Sequence[Floats],
    goal: BallastGoal,
    items: tuple[BallastItem, ...],
    proved: bool,
) -> BallastPlan:
    """Put ballast in and hold the car against the rules.

    What weighs under a gram and no rule needs stays out: a solver's tolerance leaves such slivers,
    on one processor and not on another.

    Args:
        trims: (4,) each, in the race trims, without the ballast [N].
        proved: Whether it is proved to be the best there is.
    """
    each = (leaned_loads(car, trims[0], item.mass, item.aft, item.left) for item in items)
    change = np.zeros(4) + sum(each)
    stands = [_stand(car, goal, loads + change) for loads in trims]
    met = all(rule.met for stand in stands for rule in stand.rules)
    plan = BallastPlan(
        status="met" if met and proved else "closest" if proved else "gave_up",
        items=items,
        added=sum((item.mass for item in items), 0.0),
        change=change,
        **stands[0]._asdict(),
        bindings=(),
        goal=goal,
        others=tuple(stands[1:]),
    )
    heavy = tuple(item for item in items if item.pieces or item.mass >= A_GRAM)
    if heavy == items:
        return plan
    less = held_against(car, trims, goal, heavy, proved)
    same = [rule.met for rule in less.all_rules] == [rule.met for rule in plan.all_rules]
    return less if same else plan


def standing(car: Car, plan: BallastPlan) -> BallastPlan:
    """Give a plan as the car stands on pads that only push; as it is unless a wheel is off them."""
    every = [statics_of(car, stand.loads).standing.loads for stand in (plan.first, *plan.others)]
    if not any(map(off_the_ground, every)):
        return plan
    first, *others = (_stand(car, plan.goal, loads) for loads in every)
    found = replace(plan, **first._asdict(), others=tuple(others))
    met = all(rule.met for rule in found.all_rules)
    return found if met or plan.status != "met" else replace(found, status="closest")


def judged_by(plan: BallastPlan, goal: BallastGoal) -> BallastPlan:
    """Hold the car with a plan's ballast in against other rules."""
    others = tuple(stand._replace(rules=met_rules(goal, stand.loads)) for stand in plan.others)
    return replace(plan, rules=met_rules(goal, plan.loads), others=others)


def _stand(car: Car, goal: BallastGoal, loads: Floats) -> Stand:
    return Stand(loads, shares(car, loads), met_rules(goal, loads))


def items_of(car: Car, program: Program, values: Floats) -> tuple[BallastItem, ...]:
    """Read places, masses and pieces back from the unknowns.

    Args:
        values: (unknowns,)
    """
    items = []
    for index, place in enumerate(car.places):
        pieces: tuple[tuple[float, int], ...] = ()
        mass = float(program.mass[index] @ values)
        if program.counts is not None:
            counts = np.round(values[program.counts[index]]).astype(int)
            pieces = tuple(
                (piece.mass, int(count))
                for piece, count in zip(car.pieces, counts, strict=True)
                if count
            )
            mass = sum(each * count for each, count in pieces)
        if mass < 1e-6:
            continue
        aft = float(np.clip(program.aft_moment[index] @ values / mass, *place.aft))
        left = float(np.clip(program.left_moment[index] @ values / mass, *place.left))
        items.append(BallastItem(place.name, mass, aft, left, place.up, pieces))
    return tuple(items)
