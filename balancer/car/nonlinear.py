"""A car on real corners: every answer is an equilibrium, stops and all."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from balancer.car.adjusters import Adjusters, Moves, adjusters_of, moved, moves_of
from balancer.car.answers import (
    Contacts,
    OddTravel,
    Outcome,
    PerTurn,
    Resprung,
    ShockTravel,
    Springs,
)
from balancer.car.conventions import CORNERS, Floats
from balancer.car.equilibrium import contacts, solve_equilibrium, solve_or_tip
from balancer.car.ground import Standing
from balancer.car.leaning import counted, turns_like
from balancer.car.linearization import excess, lifts, linear
from balancer.car.model import Car, Item
from balancer.car.operating_point import OperatingPoint, anchored, with_springs
from balancer.car.undone import standing

_ODD = 3e-3
"""Of shock travel, what is not worth a word [m]; common practice, no published source."""


@dataclass(frozen=True, eq=False)
class NonlinearStatics:
    """A car that comes to rest anew after every move; see `statics.Statics`.

    What it stands on is worked out when asked for, and may then raise an OperatingPointError.
    """

    car: Car
    loads: Floats

    @cached_property
    def point(self) -> OperatingPoint:
        """Where each corner stands."""
        return standing(self.car, self.loads)

    @cached_property
    def contacts(self) -> Contacts:
        """What each corner stands on."""
        return contacts(self.point, solve_equilibrium(self.point, Moves.none())).row(0)

    @property
    def shock(self) -> ShockTravel:
        """Where the shocks are."""
        return ShockTravel(
            self.point.shock, np.array([corner.bump_at for corner in self.car.corners])
        )

    @property
    def standing(self) -> Standing:
        """Take it as it is: no pad ever pulls here."""
        return Standing(self.loads, np.zeros(4))

    @property
    def linear(self) -> Car:
        """See `linearization.linear`."""
        return linear(self.point)

    @property
    def unstopped(self) -> Car:
        """Springs as they stand, no stops."""
        return replace(linear(self.point, stops=False), perch_lead=adjusters_of(self.car).lead)

    def excess(self) -> Floats:
        """See `linearization.excess`."""
        return excess(self.point)

    def odd_travel(self) -> dict[str, OddTravel]:
        """Hold measured shock travel against what the spring says."""
        odd = {}
        for name, corner, pressed in zip(
            CORNERS, self.car.corners, self.point.compression.tolist(), strict=True
        ):
            expected = pressed - corner.preload
            if corner.shock_travel >= 0 and abs(expected - corner.shock_travel) > _ODD:
                odd[name] = OddTravel(expected, corner.shock_travel)
        return odd

    def per_turn(self, adjusters: Adjusters | None = None) -> PerTurn:
        """Turn each corner by itself."""
        used, point = adjusters or adjusters_of(self.car), self.point
        moves = used.moves(np.eye(4))
        after = solve_equilibrium(point, moves)
        changed = after.loads - point.loads
        cross = (after.loads[:, 1] + after.loads[:, 2]) / after.loads.sum(axis=1)
        crossed = cross - (point.loads[1] + point.loads[2]) / point.loads.sum()
        ratios = np.array([float(ratio.value(np.zeros(()))) for ratio in point.ratios])
        own = np.diag(moves.perch + moves.mount) / ratios
        for values in (crossed, changed, after.heights, own):
            values[~used.usable[:4]] = np.nan
        return PerTurn(crossed, changed, after.heights, own)

    def turned(self, adjusters: Adjusters, turns: Floats) -> Outcome:
        """Bring it to rest after the turns, or to where it tips over."""
        moves = adjusters.moves(turns)
        after = solve_or_tip(self.point, moves)[0]
        return Outcome(
            perch=(moves.perch + moves.mount)[0],
            lifts=lifts(self.point, moves.perch[0], moves.mount[0]),
            loads=after.loads[0],
            heights=after.heights[0],
            contacts=contacts(self.point, after).row(0),
        )

    def resprung(self, springs: Springs) -> Resprung:
        """Put springs in that push as the old ones do, then move perches by what is too long."""
        point, perch = with_springs(self.point, springs)
        rest = solve_equilibrium(point, Moves(perch[None], np.zeros((1, 4)), np.zeros((1, 2))))
        after = moved(anchored(point), perch, np.zeros(4))
        return Resprung(after, rest.loads[0], rest.heights[0])

    def carried(self, put_on: Sequence[Item], taken_off: Sequence[Item]) -> Floats:
        """Bring it to rest with the masses."""
        return self._rest(put_on=put_on, taken_off=taken_off)

    def each_carried(self, changes: Sequence[tuple[Item | None, Item | None]]) -> Floats:
        """Bring it to rest after each, those before it being made."""
        rests, sides = [self.loads], [[one[side] for one in changes] for side in (0, 1)]
        for count in range(1, len(changes) + 1):
            put_on, taken_off = ([item for item in sides[side][:count] if item] for side in (0, 1))
            rests.append(self.carried(put_on, taken_off))
        return np.diff(rests, axis=0)

    def on_pads(self, heights: Floats) -> Floats:
        """Bring it to rest on the pads."""
        return self._rest(pads=heights)

    def pad_effect(self, heights: Floats) -> Floats:
        """Bring it to rest on level pads; without a word of where it stands if they are level."""
        return self.loads - self._rest(pads=-heights) if heights.any() else np.zeros(4)

    def _rest(
        self,
        pads: Floats | None = None,
        put_on: Sequence[Item] = (),
        taken_off: Sequence[Item] = (),
    ) -> Floats:
        rest = solve_equilibrium(self.point, Moves.none(), pads, put_on, taken_off)
        return np.asarray(rest.loads[0])

    def anchored(self) -> Car:
        """See `operating_point.anchored`."""
        return anchored(self.point)

    def after(self, turns: Floats) -> Car:
        """Tie it to its shocks, then move its perches and mounts."""
        moves = moves_of(self.car, turns)
        return moved(self.anchored(), moves.perch[0], moves.mount[0], moves.link[0])

    def loads_before(self, turns: Floats) -> Floats:
        """Turn back, and bring it to rest."""
        if not turns.any():
            return self.loads
        tied = NonlinearStatics(self.after(np.zeros(4)), self.loads)
        return tied._after(-turns)

    def counted(self, turns: Floats, simple: Car) -> Floats:
        """Hold what the turns do here against what they do on the simple car."""
        at_corners, moves = turns[:4], moves_of(self.car, turns)
        lengths, after = (moves.perch + moves.mount)[0], self._after(at_corners)
        total = counted(simple, lengths, after - self.loads, at_corners)
        for axle in np.flatnonzero(turns[4:]).tolist():
            before, after = after, self._after(turns[: 5 + axle])
            total = total + turns_like(simple, after - before, axle)
        return total

    def _after(self, turns: Floats) -> Floats:
        return np.asarray(solve_equilibrium(self.point, moves_of(self.car, turns)).loads[0])
