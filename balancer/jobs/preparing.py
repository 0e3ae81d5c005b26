"""What is planned for an event from a weigh-in: ballast, turns, and the sheet that tells them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from balancer.car.model import Item
from balancer.files.on_board import State
from balancer.files.states import race_states
from balancer.jobs.weighed import Weighed
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.perches.goal import NOTHING_ASKED, Aim, Asked, aim_of
from balancer.report.words.opening import Aimed, opening_words, trims_named
from balancer.weighing.load_states import Trim, carry

if TYPE_CHECKING:
    from balancer.log.last_session import PastSession
    from balancer.planning.ballast.outcome import BallastPlan
    from balancer.planning.prep.preparation import Preparation


def goal_of(
    weighed: Weighed,
    front: tuple[float, float] | None = None,
    cross: tuple[float, float] | None = None,
) -> BallastGoal:
    """Take what ballast is to reach from the class rules, as sure as the weigh-in is.

    Args:
        front, cross: Lowest and highest share wanted, as fractions; None: that of the class.
    """
    weigh_in = weighed.weigh_in
    total = weigh_in.uncertainties.total
    return BallastGoal.of(weighed.file.car, total, front, weigh_in.covariance, cross)


def trims_of(weighed: Weighed, states: Mapping[str, State]) -> dict[str, Trim]:
    """Carry a weigh-in to states, by name."""
    car, loads = weighed.file.car, weighed.weigh_in.loads
    return {name: carry(car, loads, weighed.was, state.items) for name, state in states.items()}


def ballasted(weighed: Weighed, goal: BallastGoal, trims: Mapping[str, Trim]) -> BallastPlan:
    """Find the least ballast that meets a goal in every race trim."""
    from balancer.planning.ballast.plan import plan_for_class

    racing, *others = trims.values()
    return plan_for_class(weighed.file.car, racing.held, goal, [other.held for other in others])


def prepared(
    weighed: Weighed,
    trims: Mapping[str, Trim],
    asked: Asked = NOTHING_ASKED,
    front: tuple[float, float] | None = None,
    on_pads: Sequence[Item] | None = None,
) -> tuple[Preparation, Aimed]:
    """Plan ballast and turns for race trims.

    Args:
        front: Lowest and highest front share wanted; None: that of the class.
        on_pads: On board when next on the pads; None: as now.
    """
    from balancer.planning.prep.preparation import prepare_trims

    car, weigh_in, was = weighed.file.car, weighed.weigh_in, weighed.was
    racing, *others = trims.values()
    aim = aim_of(car, racing.held, asked, others=[other.held for other in others])
    ready = prepare_trims(
        car,
        carry(car, weigh_in.loads, was, was),
        list(trims.values()),
        was if on_pads is None else on_pads,
        goal_of(weighed, front),
        aim.goal,
        weigh_in.repeatable.cross,
        weighed.learned,
        list(trims) if len(trims) > 1 else (),
    )
    return ready, Aimed(aim, trims_named(list(trims)), racing.on_board)


def after_session(
    weighed: Weighed, ready: Preparation, asked: bool
) -> tuple[PastSession | None, Preparation]:
    """Take the last session of the log, and its turns unless another cross weight is asked for."""
    from balancer.log.last_session import last_session, with_session

    session = last_session(weighed.file)
    if session is None or asked:
        return session, ready
    uncertainty, tolerance = weighed.weigh_in.repeatable.cross, ready.perches.goal.tolerance
    car, learned = weighed.file.car, weighed.learned
    return session, with_session(ready, car, session, tolerance, uncertainty, learned)


def aimed_by(session: PastSession | None, ready: Preparation, aimed: Aimed) -> Aimed:
    """Say that what is aimed at is what the session was told, where one is gone on with."""
    if session is None:
        return aimed
    return aimed._replace(aim=Aim(ready.perches.goal, "cross weight", "log"))


def sheet_of(weighed: Weighed) -> str:
    """Write the sheet of the last session of the log, or of its last weigh-in alone."""
    from balancer.report.sheet.sheet import sheet_html

    ready, aimed = prepared(weighed, trims_of(weighed, race_states(weighed.file)))
    session, ready = after_session(weighed, ready, asked=False)
    aimed = aimed_by(session, ready, aimed)
    words = opening_words(weighed.file, weighed.aboard, aimed)
    return sheet_html(weighed.file, weighed.weigh_in, ready, session, words)
