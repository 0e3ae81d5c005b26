"""Doors of `import balancer` that check what is handed in, and results that print themselves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from balancer.ballast.goal import BallastGoal
from balancer.ballast.plan import BallastPlan
from balancer.ballast.plan import plan_ballast as _plan_ballast
from balancer.car.conventions import CORNERS, Floats
from balancer.car.finite import LARGEST, refuse, unusable
from balancer.car.model import Car
from balancer.errors import Fault
from balancer.files.car_file import CarFile
from balancer.perches.goal import PerchGoal
from balancer.perches.plan import PerchPlan
from balancer.perches.plan import plan_perches as _plan_perches
from balancer.units import METRIC
from balancer.weighing.load_states import Trim
from balancer.weighing.uncertainty import shares
from balancer.weighing.weigh import Readings, WeighIn
from balancer.weighing.weigh import weigh as _weigh


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedWeighIn(WeighIn):
    """A weigh-in whose `str` is what `balancer weigh` prints.

    Attributes:
        file: Whose units it is printed in.
    """

    file: CarFile

    def __str__(self) -> str:
        """Lay it out in at most 80 columns."""
        from balancer.report.weigh import weigh_text

        return weigh_text(self.file, self)


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedPerchPlan(PerchPlan):
    """A perch plan whose `str` is what `balancer perches` prints.

    Attributes:
        file: Whose units it is printed in.
        weighed: What it was made from.
    """

    file: CarFile
    weighed: WeighIn

    def __str__(self) -> str:
        """Lay it out in at most 80 columns."""
        from balancer.report.perches import perches_text

        return perches_text(self.file, self.weighed, self, "cross weight")


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedBallastPlan(BallastPlan):
    """A ballast plan whose `str` is what `balancer ballast` prints.

    Attributes:
        file: Whose units it is printed in.
        racing: The car before it.
    """

    file: CarFile
    racing: Trim

    def __str__(self) -> str:
        """Lay it out in at most 80 columns."""
        from balancer.report.ballast import ballast_text

        return ballast_text(self.file, self.racing, self)


def weigh(car: Car | CarFile, readings: Readings) -> PrintedWeighIn:
    """Compute what a car weighs and where.

    Args:
        car: A file brings its units along, for what is printed; a car alone is printed in kg
            and mm.

    Raises:
        InputError: When a reading is negative or no finite number, or there are not four a row.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> print(str(weigh(plain_car(), Readings.of(np.full(4, 2451.6625)))).splitlines()[0])
        plain car, weighed once
    """
    file = _file_of(car)
    for row in np.atleast_2d(readings.repeats):
        checked(row, "readings")
    return PrintedWeighIn(**vars(_weigh(file.car, readings)), file=file)


def plan_perches(
    car: Car | CarFile,
    loads: Sequence[float] | Floats,
    goal: PerchGoal,
    cross_uncertainty: float = 0.0,
    links: bool = False,
) -> PrintedPerchPlan:
    """Find the exact best whole-step perch moves for a goal.

    Args:
        car: See `weigh`.
        loads: four numbers, LF RF LR RR on level pads [N].
        cross_uncertainty: Standard uncertainty of the cross weight, as a fraction.
        links: Whether the drop links of anti-roll bars that are connected may be used too.

    Raises:
        InputError: When the loads are not four, negative, or no finite numbers.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> plan = plan_perches(plain_car(), [2950, 2850, 2350, 2350], PerchGoal.level(0.5))
        >>> plan.status, "LF" in str(plan)
        ('reached', True)
    """
    file, now = _file_of(car), checked(loads)
    plan = _plan_perches(file.car, now, goal, cross_uncertainty, links)
    weighed = _weigh(file.car, Readings.of(now))
    known = weighed.uncertainties._replace(cross=cross_uncertainty)
    weighed = replace(weighed, uncertainties=known if cross_uncertainty else weighed.uncertainties)
    return PrintedPerchPlan(**vars(plan), file=file, weighed=weighed)


def plan_ballast(
    car: Car | CarFile, loads: Sequence[float] | Floats, goal: BallastGoal
) -> PrintedBallastPlan:
    """Find the least ballast, and where, that meets a goal.

    Args:
        car: See `weigh`.
        loads: four numbers, LF RF LR RR in race trim [N].

    Raises:
        InputError: When the loads are not four, negative, or no finite numbers.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> plan_ballast(plain_car(), [2500] * 4, BallastGoal()).status
        'met'
    """
    file, now = _file_of(car), checked(loads)
    plan = _plan_ballast(file.car, now, goal)
    return PrintedBallastPlan(**vars(plan), file=file, racing=Trim((), now, shares(file.car, now)))


def checked(loads: Sequence[float] | Floats, where: str = "loads") -> Floats:
    """Take four loads as they are handed over by a program.

    Args:
        loads: four numbers, LF RF LR RR [N].
        where: What to call them in a fault.

    Raises:
        InputError: With a fault for each that no pad shows.

    Examples:
        >>> checked([2500, 2500, 2500])
        Traceback (most recent call last):
        balancer.errors.InputError: loads: has 3 values: give four in newtons: LF RF LR RR
    """
    values = np.asarray(loads, dtype=float)
    refuse(_faults(values, where))
    return values


def _faults(values: Floats, where: str) -> Iterator[Fault]:
    if values.shape != (len(CORNERS),):
        yield Fault(where, f"has {values.size} values", "give four in newtons: LF RF LR RR")
        return
    for corner, value in zip(CORNERS, values.tolist(), strict=True):
        yield from unusable(f"{where} {corner}", value, 0, LARGEST, "give newtons, 0 or more")


def _file_of(car: Car | CarFile) -> CarFile:
    return car if isinstance(car, CarFile) else CarFile("", car, METRIC, ())
