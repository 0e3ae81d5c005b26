"""What a car answers when it is asked: the shapes that all its answers have."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from balancer.car.conventions import Flags, Floats

if TYPE_CHECKING:
    from balancer.car.model import Car


class PerTurn(NamedTuple):
    """What one turn up at each corner does. Row: the corner turned; column: where.

    Attributes:
        cross: (4,), change of cross weight [1].
        loads: (4, 4) [N].
        heights: (4, 4) [m].
        lifts: (4,), how far the corner itself would lift at constant load [m].
    """

    cross: Floats
    loads: Floats
    heights: Floats
    lifts: Floats

    def of(self, part: float) -> PerTurn:
        """Give what a part of a turn does."""
        return PerTurn(*(part * values for values in self))


class Contacts(NamedTuple):
    """What a corner stands on besides its springs, shape (m, 4) or (4,) each.

    Attributes:
        topped_out: (m, 4) of bool, the droop stop is loaded: the spring pushes harder than the
            corner weighs.
        bumped: (m, 4) of bool, the bump stop is touched.
        solid: (m, 4) of bool, the tender is solid.
        loose: (m, 4) of bool, no spring force.
        lifted: (m, 4) of bool, the wheel is off its pad.
    """

    topped_out: Flags
    bumped: Flags
    solid: Flags
    loose: Flags
    lifted: Flags

    def row(self, number: int) -> Contacts:
        """Give one case of several."""
        return Contacts(*(flags[number] for flags in self))

    def stopped(self) -> Flags:
        """Say where the corner is no longer free on its springs and tire."""
        return self.topped_out | self.bumped | self.loose | self.lifted


class Outcome(NamedTuple):
    """A car after turns.

    Attributes:
        perch, lifts: (4,), move of what was turned, and of the wheel station at constant load [m].
        loads: (4,) [N].
        heights: (4,), how far the body has risen above each wheel station [m].
        contacts: What each corner then stands on; None where a car is linear.
    """

    perch: Floats
    lifts: Floats
    loads: Floats
    heights: Floats
    contacts: Contacts | None


class Springs(NamedTuple):
    """Springs to put in.

    Attributes:
        rate: (4,) [N/m]; NaN where the old one stays, or one of its rate comes in.
        longer: (4,), free length less that of the old one [m].
    """

    rate: Floats
    longer: Floats


class Resprung(NamedTuple):
    """A car at rest on other springs, every perch at the turn where it was.

    Attributes:
        loads: (4,) [N].
        heights: (4,), how far the body has risen above each wheel station [m].
    """

    car: Car
    loads: Floats
    heights: Floats


class ShockTravel(NamedTuple):
    """Where shocks are in their travel.

    Attributes:
        closed: (4,), from fully extended [m]; below 0 a droop stop is loaded.
        bump_at: (4,), where the bump stop is touched [m]; infinite without one.
    """

    closed: Floats
    bump_at: Floats


class OddTravel(NamedTuple):
    """A shock whose travel does not fit the rest of the file: what that says, and measured [m]."""

    expected: float
    measured: float
