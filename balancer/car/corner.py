"""What a car file may say of corners that leave the linear range, and of anti-roll bar links."""

from math import inf, isinf, isnan, nan
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.curves import NOTHING, ForceCurve, RatioCurve

_HAIR = 1e-9
"""Of shock travel, what rounding may make of none [m]."""

LINKS = ("front link", "rear link")


class Mount(NamedTuple):
    """The lower mount of a full-length-adjustable coilover.

    Attributes:
        lead: How much longer one turn makes the unit [m]; NaN where the mount can't be turned.
        step: The smallest move [turn].
        travel: Turns left, down (≤ 0) and up (≥ 0); infinite where the file does not say.
    """

    lead: float = nan
    step: float = 0.25
    travel: tuple[float, float] = (-inf, inf)


class Corner(NamedTuple):
    """One corner: spring, ratio, stops, and where it stands.

    Attributes:
        spring: All springs of the corner together, at the spring.
        ratio: Spring travel per wheel travel, counted from where the car stands as weighed, or
            from full droop once `anchored`.
        droop_rate: Of the droop stop, at the shock [N/m]; infinite where it is solid: then the
            shock is never farther out than fully extended.
        bump: Of the bump stop, over its own compression.
        bump_at: Shock travel at which the bump stop is touched [m]; infinite without one.
        preload: Compression of the spring with the shock fully extended [m]; NaN when not
            known.
        shock_travel: How far the shock is closed as weighed, from fully extended [m]; NaN when
            not known.
        solid: Compression at which the tender is solid [m]; infinite without one.
        anchored: Whether it is tied to its shock, so that it stands right under any load, see
            `operating_point.anchored`; else it is as its file has it, and stands only as
            weighed.
    """

    spring: ForceCurve
    ratio: RatioCurve
    droop_rate: float = inf
    bump: ForceCurve = NOTHING
    bump_at: float = inf
    preload: float = nan
    shock_travel: float = nan
    solid: float = inf
    mount: Mount = Mount()
    anchored: bool = False

    @property
    def solid_droop(self) -> bool:
        """Whether its droop stop does not give."""
        return isinf(self.droop_rate)

    def stops(self, shock: Floats) -> Floats:
        """Compute what both stops push along the shock [N] at travels [m] of any shape.

        Minus infinity where a solid droop stop lets no shock come.
        """
        if self.solid_droop:
            droop = np.where(shock < -_HAIR, -inf, 0.0)
        else:
            droop = self.droop_rate * np.minimum(shock, 0.0)
        return self.bump.force(shock - self.bump_at) + droop

    def topped_out(self, shock: float) -> bool:
        """Say whether its droop stop is touched at a shock travel [m]."""
        return shock <= 0 if self.solid_droop else shock < 0


class Link(NamedTuple):
    """An anti-roll bar and the drop links that hold it, of one axle.

    What a link does is counted at the end of the bar that it holds: up where it goes up against the
    body, as it does with its wheel whichever way the link points.

    Attributes:
        rate: Of the bar at the wheel, when it is connected [N/m].
        connected: Whether it is, as weighed.
        ratio: Travel of the link's end per wheel travel [1].
        hangs: Whether the links hang from strut to bar, so that a longer one holds its end of the
            bar lower; else they stand on the arm.
        misfit: How much too long the left link is with one end of it undone, the car settled
            without the bar [m]; NaN where `twist` says it.
        twist: How much higher the left end of the bar stands than the right as weighed, less
            what it does where the bar carries nothing [m]. Once the corners are `anchored`: would
            stand with both shocks at full droop.
        lead: How much longer one turn makes the left link [m]; NaN where it can't be turned.
        step: The smallest move [turn].
        travel: Turns left, shorter (≤ 0) and longer (≥ 0).
    """

    rate: float
    connected: bool = True
    ratio: float = 1.0
    hangs: bool = False
    misfit: float = nan
    twist: float = 0.0
    lead: float = nan
    step: float = 0.5
    travel: tuple[float, float] = (-inf, inf)

    @property
    def way(self) -> float:
        """Where a longer left link takes its end of the bar: 1 up, -1 down."""
        return -1.0 if self.hangs else 1.0

    @property
    def on(self) -> bool:
        """Whether there is a bar that is connected."""
        return self.connected and self.rate > 0

    @property
    def usable(self) -> bool:
        """Whether turning the left link does something."""
        return self.on and not isnan(self.lead)
