"""What a part does to the car: off, on, moved or exchanged, before anybody lifts a wrench."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Car, Item, Scales
from balancer.car.statics import statics_of
from balancer.weighing.uncertainty import Shares, shares
from balancer.weighing.weigh import WeighIn


def weighed_uncertainty(scales: Scales, pads: Floats, tare: Floats) -> float:
    """Give how sure the mass of a part is that was weighed on the pads [kg].

    Args:
        pads: (n,), what each pad showed with the part [N].
        tare: (n,) or (0,), what each showed without it [N]; none: the displays were at zero.

    References:
        JCGM 100:2008, 5.1.2, F.2.2.1: accuracy counts of what the part itself weighs, what
        all pads share fully correlated; resolution and scatter at each reading.

    Examples:
        >>> scales = Scales(0.001, 0.0, 0.0, 0.0, 0.0, True, True)
        >>> round(weighed_uncertainty(scales, np.array([980.665, 0.0]), np.zeros(0)), 6)
        0.1
    """
    net = pads - tare if len(tare) else pads
    readings = np.count_nonzero(pads) + np.count_nonzero(tare)
    alone = scales.accuracy**2 * float(net @ net)
    common = (scales.common_accuracy * float(net.sum())) ** 2
    each = scales.resolution**2 / 12 + scales.repeatability**2
    return float(np.sqrt(alone + common + readings * each) / GRAVITY)


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
        each: (n, 4), what each change does to the loads, together with the others [N].
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
        Moving m by L along the wheelbase moves the front share by exactly m·L / (W·l), but for
        what the car adds by leaning where `cg_up` is known.

    """
    statics = statics_of(car, loads)
    each = statics.each_carried([(change.on, change.off) for change in changes])
    after = statics_of(car, loads + each.sum(axis=0)).standing.loads
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
    return weighed.with_loads(car, loads)
