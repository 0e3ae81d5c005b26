"""The calls of `import balancer`: they check what is handed in, and what they give prints itself.

A car may be a car alone, printed in kg and mm, or a file that was read, which brings its units.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from balancer.car import meaning as meant
from balancer.car.conventions import Floats
from balancer.car.finite import Loads, checked
from balancer.car.model import Car, Item
from balancer.files.car_file import CarFile
from balancer.files.states import race_state
from balancer.files.units import METRIC
from balancer.jobs.printed import (
    PrintedBallastPlan,
    PrintedDifference,
    PrintedMeaning,
    PrintedPerchPlan,
    PrintedPreparation,
    PrintedStep,
    PrintedTrim,
    PrintedVariant,
    PrintedWeighIn,
)
from balancer.planning.ballast import plan as ballast_plan
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.perches.goal import PerchGoal, aim_of
from balancer.planning.prep import preparation as prepared
from balancer.planning.session import step as steps
from balancer.planning.session.plan import believed_plan
from balancer.planning.session.session import Session
from balancer.weighing import comparison, load_states, parts
from balancer.weighing import weigh as weighing
from balancer.weighing.load_states import Trim
from balancer.weighing.parts import Change
from balancer.weighing.uncertainty import shares
from balancer.weighing.weigh import Readings, WeighIn


def meaning(car: Car | CarFile, loads: Loads | None = None) -> PrintedMeaning:
    """Work out what a car file means.

    Args:
        loads: four numbers, LF RF LR RR [N], or None: see `car.meaning`.

    Raises:
        InputError: When the loads are not four, negative, or no finite numbers.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> meaning(plain_car()).frequency.round(1).tolist()
        [1.9, 1.9, 1.7, 1.7]
    """
    file = _file_of(car)
    result = meant.meaning(file.car, None if loads is None else checked(loads))
    return PrintedMeaning(**vars(result), file=file)


def weigh(car: Car | CarFile, readings: Readings) -> PrintedWeighIn:
    """Compute what a car weighs and where.

    Raises:
        InputError: When a reading is negative or no finite number, or there are not four a row.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> print(str(weigh(plain_car(), Readings.of(np.full(4, 2451.6625)))).splitlines()[0])
        Weighed once.
    """
    file = _file_of(car)
    for row in np.atleast_2d(readings.repeats):
        checked(row, "readings")
    return PrintedWeighIn(**vars(weighing.weigh(file.car, readings)), file=file)


def carry(
    car: Car | CarFile, loads: Loads, was: Sequence[Item], now: Sequence[Item]
) -> PrintedTrim:
    """Carry loads from the state they were weighed in to another.

    Args:
        loads: four numbers, LF RF LR RR on level pads [N].
        was, now: What was on board then, and what is to be.

    Raises:
        InputError: When the loads are not four, negative, or no finite numbers.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> driver = Item("driver", 80, 1.2, 0.0, 0.4)
        >>> print(str(carry(plain_car(), [2500] * 4, [], [driver])).splitlines()[0])
        Now with driver.
    """
    file, weighed = _file_of(car), checked(loads)
    before = load_states.carry(file.car, weighed, was, was)
    return PrintedTrim(
        **vars(load_states.carry(file.car, weighed, was, now)), file=file, was=before
    )


def compare(
    car: Car | CarFile,
    first: WeighIn,
    second: WeighIn,
    predicted: Floats | None = None,
    second_car: Car | None = None,
) -> PrintedDifference:
    """Compare two weigh-ins.

    Args:
        car: Of the first weigh-in.
        predicted: (4,) or None, change of the loads that was expected [N].
        second_car: Of the second weigh-in, where it is another car.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> light, heavy = (weigh(plain_car(), Readings.of(np.full(4, n))) for n in (2500, 2600))
        >>> print(str(compare(plain_car(), light, heavy)).splitlines()[0])
        plain car: second less first
    """
    file = _file_of(car)
    result = comparison.compare(file.car, first, second, predicted, second_car)
    return PrintedDifference(
        **vars(result), file=file, weighed=(first, second), predicted=predicted
    )


def variant(
    car: Car | CarFile, loads: Loads, name: str, changes: Sequence[Change]
) -> PrintedVariant:
    """Work out what a set of changes does to a car.

    Args:
        loads: four numbers, LF RF LR RR before them [N].

    Raises:
        InputError: When the loads are not four, negative, or no finite numbers.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> jack = Item("jack", 8, 2.0, 0.3, 0.3)
        >>> out = variant(plain_car(), [2500] * 4, "no jack", [Change("jack off", jack, None)])
        >>> print(str(out).splitlines()[2])
        no jack:
    """
    file, now = _file_of(car), checked(loads)
    before = Trim((), now, shares(file.car, now))
    return PrintedVariant(
        **vars(parts.variant(file.car, now, name, changes)), file=file, before=before
    )


def plan_perches(
    car: Car | CarFile,
    loads: Loads,
    goal: PerchGoal | None = None,
    cross_uncertainty: float = 0.0,
    links: bool = False,
) -> PrintedPerchPlan:
    """Find the whole-step perch moves for a goal that land surest near its middle.

    Args:
        loads: four numbers, LF RF LR RR on level pads [N].
        goal: None: the target of the car file, else the usual 50 %.
        cross_uncertainty: Standard uncertainty of the cross weight on these pads, as a fraction.
        links: Whether the drop links of anti-roll bars that are connected may be used too.

    Raises:
        InputError: When the loads are not four, negative, or no finite numbers.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> plan = plan_perches(plain_car(), [2950, 2850, 2350, 2350])
        >>> plan.status, "LF" in str(plan)
        ('reached', True)
    """
    file, now = _file_of(car), checked(loads)
    goal = goal or aim_of(file.car, now).goal
    plan = believed_plan(file.car, now, goal, cross_uncertainty, links=links)
    weighed = weighing.weigh(file.car, Readings.of(now))
    if cross_uncertainty:
        known, seen = weighed.uncertainties, weighed.repeatable
        pads = max(known.cross**2 - seen.cross**2, 0.0)
        weighed = replace(
            weighed,
            uncertainties=known._replace(cross=(cross_uncertainty**2 + pads) ** 0.5),
            repeatable=seen._replace(cross=cross_uncertainty),
        )
    return PrintedPerchPlan(**vars(plan), file=file, weighed=weighed)


def plan_ballast(car: Car | CarFile, loads: Loads, goal: BallastGoal) -> PrintedBallastPlan:
    """Find the least ballast, and where, that meets a goal.

    The cross weight of the class is held against it, too.

    Args:
        loads: four numbers, LF RF LR RR in race trim [N].

    Raises:
        InputError: When the loads are not four, negative, or no finite numbers.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> plan_ballast(plain_car(), [2500] * 4, BallastGoal()).status
        'met'
    """
    file, now = _file_of(car), checked(loads)
    plan = ballast_plan.plan_for_class(file.car, now, goal)
    racing = Trim(race_state(file).items, now, shares(file.car, now))
    return PrintedBallastPlan(**vars(plan), file=file, racing=racing)


def prepare(
    car: Car | CarFile,
    loads: Loads,
    was: Sequence[Item],
    race: Sequence[Item],
    pads: Sequence[Item],
    ballast: BallastGoal,
    perches: PerchGoal | None = None,
    cross_uncertainty: float = 0.0,
) -> PrintedPreparation:
    """Plan ballast and perches for race trim from a weigh-in in any state.

    Args:
        loads: four numbers, LF RF LR RR on level pads [N].
        was, race, pads: On board when weighed, in race trim, and when next on the pads.
        perches: None: the target of the car file, else the usual 50 %.
        cross_uncertainty: Standard uncertainty of the cross weight on these pads, as a fraction.

    Raises:
        InputError: When the loads are not four, negative, or no finite numbers.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> ready = prepare(plain_car(), [2500] * 4, [], [], [], BallastGoal())
        >>> ready.status, str(ready).splitlines()[0]
        ('met', 'Next on the pads with nothing on board.')
    """
    file, now = _file_of(car), checked(loads)
    if perches is None:
        perches = aim_of(file.car, load_states.carry(file.car, now, was, race).held).goal
    plan = prepared.prepare(file.car, now, was, race, pads, ballast, perches, cross_uncertainty)
    total = weighing.weigh(file.car, Readings.of(now)).uncertainties.total
    return PrintedPreparation(**vars(plan), file=file, total_uncertainty=total)


def step(session: Session, file: CarFile | None = None) -> PrintedStep:
    """Learn from a session so far and plan the next turns.

    Args:
        session: With at least one weigh-in.
        file: Whose units the step is printed in; None: kg and mm.

    Raises:
        ValueError: When nothing has been weighed yet.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.planning.session.belief import Sigmas, prior
        >>> from balancer.planning.session.session import weighed
        >>> car = plain_car()
        >>> start = Session(car, prior(car, Sigmas()), PerchGoal.level(0.5))
        >>> first = weighed(start, weigh(car, Readings.of(np.array([2900.0, 2700, 2200, 2400]))))
        >>> print(str(step(first)).splitlines()[0])
        Weigh-in 1: cross weight (RF+LR): pads show 48.04 %; the car 48.04 % ± 0.06 on
    """
    file = file or _file_of(session.car)
    return PrintedStep(**vars(steps.step(session)), file=file, session=session)


def _file_of(car: Car | CarFile) -> CarFile:
    return car if isinstance(car, CarFile) else CarFile("", car, METRIC, ())
