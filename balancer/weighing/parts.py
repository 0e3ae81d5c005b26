"""What a part does to the car: off, on, moved or exchanged, before anybody lifts a wrench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.linear import item_loads
from balancer.car.model import Car, Item
from balancer.car.statics import statics_of
from balancer.weighing.uncertainty import Shares, share_uncertainties, shares
from balancer.weighing.weigh import WeighIn


class Change(NamedTuple):
    """One thing done to the car.

    Attributes:
        label: How it is called in a table.
        off, on: What leaves the car and what comes in; both for an exchange, the same part at
            two places for a move.
    """

    label: str
    off: Item | None
    on: Item | None


@dataclass(frozen=True, eq=False)
class Variant:
    """The car with a set of changes.

    Attributes:
        each: (n, 4), what each change does to the loads [N].
        loads: (4,), after all of them [N].
    """

    name: str
    changes: tuple[Change, ...]
    each: Floats
    loads: Floats
    shares: Shares


def variant(car: Car, loads: Floats, name: str, changes: Sequence[Change]) -> Variant:
    """Work out what a set of changes does to the car.

    Args:
        loads: (4,), before [N].
        changes: In any order: the result is the same.

    Returns:
        Moving m by L along the wheelbase moves the front share by exactly m·L / (W·l).

    """
    simple = statics_of(car, loads).linear
    each = np.array([_effect(simple, change) for change in changes]).reshape(len(changes), 4)
    after = loads + each.sum(axis=0)
    return Variant(name, tuple(changes), each, after, shares(car, after))


def fitted(car: Car, weighed: WeighIn, changes: Sequence[Change]) -> WeighIn:
    """Give a weigh-in as it would have been with a set of changes made before.

    Args:
        car: On real corners one that is `anchored`, for it comes to rest anew.
        weighed: Of that car.
        changes: In any order: the result is the same.

    Returns:
        Masses and places of parts are taken as exact; the readings stay as they were.
    """
    loads = statics_of(car, weighed.loads).carried(
        put_on=[change.on for change in changes if change.on],
        taken_off=[change.off for change in changes if change.off],
    )
    return replace(
        weighed,
        loads=loads,
        shares=shares(car, loads),
        uncertainties=share_uncertainties(car, loads, weighed.covariance),
    )


def _effect(car: Car, change: Change) -> Floats:
    put_on = [] if change.on is None else [change.on]
    taken_off = [] if change.off is None else [change.off._replace(mass=-change.off.mass)]
    return item_loads(car, [*put_on, *taken_off])
