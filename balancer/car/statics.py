"""One way a car answers, whatever its corners are made of: `statics_of` is where a car is asked.

Nothing outside asks which kind a car is. One whose corners do the same everywhere answers in closed
form; any other is brought to equilibrium anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

import numpy as np

from balancer.car.answers import (
    Contacts,
    OddTravel,
    Outcome,
    PerTurn,
    Resprung,
    ShockTravel,
    Springs,
)
from balancer.car.conventions import GRAVITY, Floats
from balancer.car.ground import Standing, standing
from balancer.car.leaning import Masses, carried_loads, counted, leaned_change, put_loads
from balancer.car.linear import lift
from balancer.car.model import Car, Item
from balancer.car.resting import height_change

if TYPE_CHECKING:
    from balancer.car.adjusters import Adjusters
    from balancer.car.operating_point import OperatingPoint


class Statics(Protocol):
    """A car under loads that are known, and its answers from there."""

    @property
    def car(self) -> Car:
        """As its file has it, or anchored."""

    @property
    def loads(self) -> Floats:
        """Of the pads (4,) [N]."""

    @property
    def point(self) -> OperatingPoint | None:
        """From where moves are brought to equilibrium; None where they do the same everywhere."""

    @property
    def contacts(self) -> Contacts | None:
        """What each corner stands on (4,); None where nothing is known of stops."""

    @property
    def shock(self) -> ShockTravel | None:
        """Where the shocks are; None where nothing is known of them."""

    @property
    def standing(self) -> Standing:
        """How it stands where these loads would have to pull on a pad."""

    @property
    def linear(self) -> Car:
        """The linear car that answers to small changes as this one."""

    @property
    def unstopped(self) -> Car:
        """The linear car that this one is without stops, with the lead of the right adjusters."""

    def excess(self) -> Floats:
        """Give how far perches would come down before shocks leave the droop stop (4,) [m]."""

    def odd_travel(self) -> dict[str, OddTravel]:
        """Find corners whose measured shock travel does not fit preload, rate and ratio."""

    def per_turn(self, adjusters: Adjusters | None = None) -> PerTurn:
        """Compute what one turn up at each corner does; with the right adjusters, or with these."""

    def turned(self, adjusters: Adjusters, turns: Floats) -> Outcome:
        """Say what turns (n,) of adjusters come to."""

    def resprung(self, springs: Springs) -> Resprung:
        """Bring the car to rest on other springs, its perches left where they are."""

    def carried(self, put_on: Sequence[Item], taken_off: Sequence[Item]) -> Floats:
        """Give the loads (4,) [N] with other masses on the body."""

    def each_carried(self, changes: Sequence[tuple[Item | None, Item | None]]) -> Floats:
        """Give what putting one on and taking the other off does to the loads (k, 4) [N].

        All of them together do what `carried` says.
        """

    def on_pads(self, heights: Floats) -> Floats:
        """Give the loads (4,) [N] on pads that high (4,) [m], these being those of level ones."""

    def pad_effect(self, heights: Floats) -> Floats:
        """Give what of the loads (4,) [N] comes from pads that high (4,) [m]."""

    def anchored(self) -> Car:
        """Give the car tied to its shocks, so that it stands right under other loads too."""

    def after(self, turns: Floats) -> Car:
        """Give the car as turns leave it, as `adjusters.moves_of` takes them, anchored.

        Rates as they are believed to be may not hold a shock topped out that the file's do: then
        preload is believed, and not that it is.
        """

    def loads_before(self, turns: Floats) -> Floats:
        """Give the loads (4,) [N] that the car had before turns, as in `after`, led to these."""

    def counted(self, turns: Floats, simple: Car) -> Floats:
        """Count turns, as in `after`, by what they come to.

        Those (4,) at corners that do as much on the car `unstopped`.
        """


def statics_of(car: Car, loads: Floats) -> Statics:
    """Ask how a car answers.

    Args:
        loads: (4,), the loads now, on level pads [N].

    Examples:
        >>> from balancer.car.model import plain_car
        >>> statics = statics_of(plain_car(), np.full(4, 2500.0))
        >>> (100 * statics.per_turn().cross).round(2).tolist()
        [-0.34, 0.34, 0.34, -0.34]
    """
    if not car.corners:
        return LinearStatics(car, loads)
    # Not for cars that need no such thing: it would slow their every command.
    from balancer.car.nonlinear import NonlinearStatics

    return NonlinearStatics(car, loads)


def taken_for_linear(car: Car) -> Car:
    """Leave out stops, tables and links; the same car where its file says nothing of any."""
    return replace(car, corners=(), links=()) if car.corners else car


@dataclass(frozen=True, eq=False)
class LinearStatics:
    """A car whose moves do the same everywhere; see `Statics`."""

    car: Car
    loads: Floats

    point = contacts = shock = None

    @property
    def standing(self) -> Standing:
        """Take the wheel off that would have to pull; see `ground.standing`."""
        return standing(self.car, self.loads)

    @property
    def linear(self) -> Car:
        """The car itself."""
        return self.car

    @property
    def unstopped(self) -> Car:
        """The car itself."""
        return self.car

    def excess(self) -> Floats:
        """Know of no stops."""
        return np.zeros(4)

    def odd_travel(self) -> dict[str, OddTravel]:
        """Know of no shocks."""
        return {}

    @cached_property
    def _per_turn(self) -> PerTurn:
        car = self.car
        perches = np.diag(np.where(car.adjustable, car.perch_lead, 0.0))
        lifts = np.array([lift(car, perch) for perch in perches])
        changed = leaned_change(car, lifts, self.loads)
        raised = height_change(car, lifts, self.loads)
        own = np.diag(perches) / car.motion_ratio
        for values in (changed, raised, own):
            values[~car.adjustable] = np.nan
        cross = (changed[:, 1] + changed[:, 2]) / self.loads.sum()
        return PerTurn(cross, changed, raised, own)

    def per_turn(self, adjusters: Adjusters | None = None) -> PerTurn:
        """Compute it in closed form: there are perches only."""
        return self._per_turn

    def turned(self, adjusters: Adjusters, turns: Floats) -> Outcome:
        """Add up what each turn does, and take a wheel off that would have to pull.

        Heights are counted from where the car is tied down, or from where it stands if a wheel is
        off before and after.
        """
        each = self._per_turn
        stands = standing(self.car, self.loads + turns @ np.nan_to_num(each.loads))
        if stands.rise.any():
            stands = stands._replace(rise=stands.rise - self.standing.rise)
        return Outcome(
            perch=turns * np.nan_to_num(self.car.perch_lead),
            lifts=turns * np.nan_to_num(each.lifts),
            loads=stands.loads,
            heights=turns @ np.nan_to_num(each.heights) + stands.rise,
            contacts=None,
        )

    def resprung(self, springs: Springs) -> Resprung:
        """Take what the new spring has too much of length under the old force for a perch move.

        Bars are taken to carry nothing as the car stands.
        """
        car = self.car
        after = replace(
            car, spring_rate=np.where(np.isnan(springs.rate), car.spring_rate, springs.rate)
        )
        force = np.maximum(self.loads - car.unsprung_mass * GRAVITY, 0.0) / car.motion_ratio
        lifts = lift(after, force / car.spring_rate - force / after.spring_rate + springs.longer)
        loads = self.loads + leaned_change(after, lifts, self.loads)
        return Resprung(after, loads, height_change(after, lifts, self.loads))

    def carried(self, put_on: Sequence[Item], taken_off: Sequence[Item]) -> Floats:
        """Add what the masses do: nothing where those come on board that leave."""
        if [*put_on] == [*taken_off]:
            return self.loads
        return carried_loads(self.car, self.loads, Masses.of(put_on), Masses.of(taken_off))

    def each_carried(self, changes: Sequence[tuple[Item | None, Item | None]]) -> Floats:
        """Give what each does with all of them made."""
        now, was = (Masses.of([one[side] for one in changes]) for side in (0, 1))
        put_on, taken_off = put_loads(self.car, self.loads, now, was)
        return put_on - taken_off

    def on_pads(self, heights: Floats) -> Floats:
        """Add what the pads do."""
        return self.loads + leaned_change(self.car, heights, self.loads)

    def pad_effect(self, heights: Floats) -> Floats:
        """Give what the pads do."""
        return leaned_change(self.car, heights, self.loads)

    def anchored(self) -> Car:
        """Give the car itself: it stands right under any loads."""
        return self.car

    def after(self, turns: Floats) -> Car:
        """Give the car itself: it answers the same after any turns."""
        return self.car

    def loads_before(self, turns: Floats) -> Floats:
        """Take off what the turns did."""
        return self.loads - self._change(turns)

    def counted(self, turns: Floats, simple: Car) -> Floats:
        """Take turns as they are where nothing leans: they do the same everywhere."""
        turns = turns[:4]
        if not self.car.cg_up:
            return turns
        perch = turns * np.nan_to_num(self.car.perch_lead)
        return counted(simple, perch, self._change(turns), turns)

    def _change(self, turns: Floats) -> Floats:
        perch = turns[:4] * np.nan_to_num(self.car.perch_lead)
        return leaned_change(self.car, lift(self.car, perch), self.loads)
