"""From the state a car was weighed in to any other: what is on board, and what that does.

A state is a sequence of items with their masses. Loads are linear in what is put on the body, so
carrying a weigh-in from one state to another is exact within the model, and states form a group:
there and back is nothing, and the order does not matter.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.model import Car, Item
from balancer.car.statics import statics_of
from balancer.weighing.uncertainty import Shares, shares


@dataclass(frozen=True, eq=False)
class Trim:
    """A car in a state.

    Attributes:
        loads: (4,) [N], on level pads; 0 at a wheel that is off the ground.
        tied: (4,) or None, what to go on from where a wheel is off: the loads if it were tied to
            the ground, and pulled [N].
    """

    on_board: tuple[Item, ...]
    loads: Floats
    shares: Shares
    tied: Floats | None = None

    @property
    def held(self) -> Floats:
        """The loads (4,) to go on from [N]."""
        return self.loads if self.tied is None else self.tied


def carry(car: Car, loads: Floats, was: Sequence[Item], now: Sequence[Item]) -> Trim:
    """Carry loads from the state they were weighed in to another.

    Args:
        loads: (4,), as weighed, on level pads [N].
        was, now: What was on board then, and what is to be.

    References:
        Derived here; see tests/oracles (a simulated car with the masses really added).
    """
    after = statics_of(car, loads).carried(put_on=now, taken_off=was)
    stands = statics_of(car, after).standing.loads
    return Trim(tuple(now), stands, shares(car, stands), after)


class Stint(NamedTuple):
    """A fluid used up along a stint.

    Attributes:
        masses: (n,), what is left of it [kg], from full to reserve.
        trims: The car at each.
        worst: Where the cross weight is farthest from the wanted one.
    """

    masses: Floats
    trims: tuple[Trim, ...]
    worst: int


def stint(
    car: Car,
    loads: Floats,
    was: Sequence[Item],
    now: Sequence[Item],
    fluid: str,
    reserve: float,
    cross: float,
    rows: int = 6,
) -> Stint:
    """Follow a stint from what is on board of a fluid down to its reserve.

    Args:
        loads: (4,), as weighed [N].
        was, now: What was on board when weighed, and at the start of the stint.
        fluid: Name of the item that is used up; in `now`.
        reserve: What of it is left at the end [kg].
        cross: Cross weight wanted, as a fraction.
        rows: How many states to look at, at least 2.

    Returns:
        The tank is a point: slosh and the fall of its level are left out.

    Raises:
        ValueError: When no item of `now` has that name.

    """
    start = next((item for item in now if item.name == fluid), None)
    if start is None:
        raise ValueError(f"nothing called {fluid} is on board")
    masses = np.linspace(start.mass, min(reserve, start.mass), rows)

    def burnt(left: float) -> Trim:
        on_board = [item._replace(mass=left) if item.name == fluid else item for item in now]
        return carry(car, loads, was, on_board)

    trims = tuple(burnt(left) for left in masses.tolist())
    off = [abs(trim.shares.cross - cross) for trim in trims]
    return Stint(masses, trims, int(np.argmax(off)))
