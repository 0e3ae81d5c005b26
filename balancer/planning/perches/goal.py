"""What the perches are to reach: a cross weight, asked for in one of several ways."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import Fault, InputError, refuse
from balancer.car.finite import LARGEST, unusable
from balancer.car.linear import load_change
from balancer.car.model import Car
from balancer.weighing.uncertainty import shares

CROSS = 0.5
"""Cross weight wanted, unless another is asked for [1]."""

TOLERANCE = 0.002
"""Of the cross weight, unless another is asked for [1]."""

HEIGHT_TOLERANCE = 1.5e-3
"""Of the ride heights, unless another is asked for [m]."""

EXACT = 1e-9
"""What a tolerance of 0 comes to [1], [m]: nothing that a pad or a gauge could tell from it, and
room for the last bits of the sums that are held against it."""


class OtherTrim(NamedTuple):
    """The car in another state, in which the same turns are to be good too.

    Attributes:
        loads: (4,), as they are there before any turn [N].
        cross: Cross weight wanted there, as a fraction.
    """

    loads: Floats
    cross: float


@dataclass(frozen=True, eq=False)
class PerchGoal:
    """What the perches are to reach.

    A number that is not one, or that no car could mean, raises an InputError.

    Attributes:
        cross: Cross weight (RF+LR)/total wanted, as a fraction.
        tolerance: Of the cross weight, as a fraction; 0 asks for it exactly.
        rise: (4,), wanted change of ride height at the wheel stations [m].
        height_tolerance: [m]; 0 asks for them exactly.
        keep: Corners that may not be touched.
        others: Where the cross weight is to be within tolerance too: what is farthest off counts.
    """

    cross: float
    tolerance: float
    rise: Floats
    height_tolerance: float
    keep: frozenset[str] = frozenset()
    others: tuple[OtherTrim, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what no car could mean, all of it."""
        refuse(self._unusable())

    def _unusable(self) -> Iterator[Fault]:
        share, length = "give a fraction, 0.5 for 50 %", "give meters, 0.0015 for 1.5 mm"
        points = "give a fraction, 0.002 for 0.2 points, or 0 for exactly"
        for cross in (self.cross, *(other.cross for other in self.others)):
            yield from unusable("cross", cross, 0, 1, share)
        yield from unusable("tolerance", self.tolerance, 0, 1, points)
        for corner, rise in zip(CORNERS, self.rise, strict=False):
            yield from unusable(f"rise {corner}", float(rise), -LARGEST, LARGEST, length)
        if len(self.rise) != len(CORNERS):
            yield Fault("rise", f"has {len(self.rise)} values", "give four: LF RF LR RR")
        yield from unusable(
            "height_tolerance", self.height_tolerance, 0, LARGEST, f"{length}, or 0 for exactly"
        )
        for name in sorted(self.keep - set(CORNERS)):
            yield Fault("keep", f"“{name}” is no corner", "give LF, RF, LR or RR")

    @classmethod
    def level(cls, cross: float) -> PerchGoal:
        """Want a cross weight, and the heights as they are, with the usual tolerances."""
        return cls(cross, TOLERANCE, np.zeros(4), HEIGHT_TOLERANCE)


Source = Literal["said", "file", "usual", "log"]
"""Where a cross weight wanted is from; from the `log`, where a session goes on."""


class Asked(NamedTuple):
    """What somebody asks for beyond what the car file says; None: nothing.

    Attributes:
        cross, tolerance: Of the cross weight, as fractions.
        equal: Instead of a cross weight, the axle whose wheels are to carry the same.
        loads: (4,) [N], instead: as close to these as perches can come.
        called: What these loads are in words.
        where: What to call what is asked for in a fault.
        height_tolerance: [m].
        rise: (4,) [m], as in `PerchGoal`.
        keep: As in `PerchGoal`.
    """

    cross: float | None = None
    equal: Literal["front", "rear"] | None = None
    loads: Floats | None = None
    called: str = "four loads"
    where: str = "target"
    tolerance: float | None = None
    height_tolerance: float | None = None
    rise: Floats = np.zeros(4)
    keep: frozenset[str] = frozenset()

    @property
    def targeted(self) -> bool:
        """Whether a cross weight is asked for, in whatever way."""
        return self.cross is not None or self.once_weighed

    @property
    def once_weighed(self) -> bool:
        """Whether what is asked for comes to a cross weight only once the car is weighed."""
        return self.equal is not None or self.loads is not None

    def wanting(self, other: Asked) -> Asked:
        """Put the target of another in the place of this one's."""
        return self._replace(**{name: getattr(other, name) for name in _TARGET})


_TARGET = ("cross", "equal", "loads", "called", "where")

NOTHING_ASKED = Asked()


class Aim(NamedTuple):
    """A goal, and where it is from.

    Attributes:
        words: What is wanted, in front of the cross weight that it comes to.
        source: Of the cross weight: `said`, the car `file`, a session in the `log`, or the `usual`
            50 %.
    """

    goal: PerchGoal
    words: str
    source: Source


def aim_of(
    car: Car, loads: Floats, asked: Asked = NOTHING_ASKED, others: Sequence[Floats] = ()
) -> Aim:
    """Work out what the perches are to reach: as asked, else as the car file says, else the usual.

    Args:
        loads: (4,), as they are in the state that is aimed at [N].
        others: (4,) each, in other states that are aimed at too [N].

    Raises:
        InputError: When what is asked for comes to a cross weight of no car.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> aim = aim_of(plain_car(), np.array([3200.0, 2800, 2000, 2000]), Asked(equal="front"))
        >>> round(aim.goal.cross, 6), aim.words, aim.source
        (0.52, 'equal fronts, so cross weight', 'said')
    """
    asked, source = asked_for(car, asked)
    (cross, words), *rest = (_cross_wanted(car, one, asked) for one in (loads, *others))
    trims = tuple(OtherTrim(one, there) for one, (there, _) in zip(others, rest, strict=True))
    tolerance, height = _first(asked.tolerance), _first(asked.height_tolerance)
    return Aim(PerchGoal(cross, tolerance, asked.rise, height, asked.keep, trims), words, source)


def asked_for(car: Car, asked: Asked) -> tuple[Asked, Source]:
    """Fill in what nobody asked for: as the car file says, else the usual; say where from."""
    said = car.target
    source: Source = "usual"
    if asked.targeted:
        source = "said"
    elif said.cross is not None or said.equal is not None:
        source = "file"
        asked = asked._replace(cross=said.cross, equal=said.equal)
    else:
        asked = asked._replace(cross=CROSS)
    return asked._replace(
        tolerance=_first(asked.tolerance, said.tolerance, TOLERANCE),
        height_tolerance=_first(asked.height_tolerance, said.height_tolerance, HEIGHT_TOLERANCE),
    ), source


def _first(*values: float | None) -> float:
    return next(value for value in values if value is not None)


def _cross_wanted(car: Car, loads: Floats, asked: Asked) -> tuple[float, str]:
    cross, words = _cross_in(car, loads, asked)
    if not 0 <= cross <= 1:
        percent = f"{100 * cross:.1f}".replace("-", "−")
        what = f"{words} of {percent} %, as no car stands on four wheels"
        raise InputError.one(asked.where, what, "check the numbers")
    return cross, words


def _cross_in(car: Car, loads: Floats, asked: Asked) -> tuple[float, str]:
    if asked.equal is not None:
        words = f"equal {asked.equal}s, so cross weight"
        return cross_for_equal_pair(car, loads, asked.equal), words
    if asked.loads is not None:
        return cross_for_loads(car, loads, asked.loads), f"{asked.called}, so cross weight"
    return CROSS if asked.cross is None else asked.cross, "cross weight"


def cross_for_equal_pair(car: Car, loads: Floats, axle: Literal["front", "rear"]) -> float:
    """Compute the cross weight at which the two wheels of an axle carry the same.

    Args:
        loads: (4,) [N].
        axle: `front` or `rear`.

    Returns:
        As a fraction. Perches move the difference of an axle by the free pattern only.

    References:
        Derived here from Bᵀn = 0.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> cross_for_equal_pair(plain_car(), np.array([320.0, 280.0, 200.0, 200.0]), "front")
        0.52
    """
    left, right = (0, 1) if axle == "front" else (2, 3)
    wanted = loads.copy()
    difference = (loads[left] - loads[right]) / 2
    moment = difference * (car.tracks[0] if axle == "front" else -car.tracks[1])
    front, rear = moment / car.tracks
    wanted += np.array([-front, front, rear, -rear])
    return shares(car, wanted).cross


def cross_for_loads(car: Car, loads: Floats, wanted: Floats) -> float:
    """Compute the cross weight of the closest loads to four wanted ones that perches can reach.

    Args:
        loads, wanted: (4,) [N].

    Returns:
        As a fraction; closest by least squares along the free pattern.

    References:
        Derived here.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> loads = np.array([320.0, 280.0, 200.0, 200.0])
        >>> cross_for_loads(plain_car(), loads, np.array([310.0, 290.0, 210.0, 190.0]))
        0.5
    """
    pattern = load_change(car, np.array([1.0, 0.0, 0.0, 0.0]))
    along = pattern @ (wanted - loads) / (pattern @ pattern)
    return shares(car, loads + along * pattern).cross
