"""The last session as the log has it: weigh-ins, turns between them, and what is still due."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import NamedTuple, cast

import numpy as np

from balancer.ballast.plan import BallastPlan
from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.errors import InputError
from balancer.files.car_file import CarFile
from balancer.log.entry import Entry
from balancer.log.lookup import readings_of_entry
from balancer.log.reader import effective, log_path, read_log
from balancer.log.undo import Said, turns_in
from balancer.perches.goal import TOLERANCE, PerchGoal
from balancer.perches.plan import PerchPlan, made, plan_perches, with_moves
from balancer.prep import Preparation, Status
from balancer.weighing.load_states import Trim, carry
from balancer.weighing.weigh import WeighIn, weigh


class Leg(NamedTuple):
    """A weigh-in of a session, and the turns that led to it.

    Attributes
    ----------
    turns : array (4,) or None
        None: nothing was turned before it.
    assumed : bool
        Nobody said that they were made; the plan counted as done.
    """

    entry: Entry
    weighed: WeighIn
    turns: Floats | None
    assumed: bool


@dataclass(frozen=True, eq=False)
class Recorded:
    """A session that was written down, running or finished.

    Attributes
    ----------
    cross, tolerance : float
        Wanted, as fractions.
    legs : tuple of Leg
        At least one. Weigh-ins whose readings can't be used any more are left out.
    after : array (4,)
        Turns made after the last of them.
    due : array (4,)
        Turns planned after the last weigh-in and not yet said to be made.
    stop : str
        As `session.Step.stop` at the last weigh-in.
    ended : bool
        Whether it was said to be done.
    estimate : float or None
        The cross weight that the last plan reckons with, as a fraction: readings and turns
        together; None where the log has none.
    """

    cross: float
    tolerance: float
    legs: tuple[Leg, ...]
    after: Floats
    due: Floats
    stop: str
    ended: bool
    estimate: float | None = None

    @property
    def weigh_ins(self) -> tuple[WeighIn, ...]:
        """What was weighed."""
        return tuple(leg.weighed for leg in self.legs)

    @property
    def made(self) -> tuple[Floats, ...]:
        """Turns made after each weigh-in, the last included."""
        between = (np.zeros(4) if leg.turns is None else leg.turns for leg in self.legs[1:])
        return (*between, self.after)


def last_session(file: CarFile) -> Recorded | None:
    """Read from the log the session that the last weigh-in belongs to.

    Returns
    -------
    Recorded or None
        None where there is none.

    Raises
    ------
    InputError
        When the log can't be read at all.

    Examples
    --------
    >>> from balancer.files.car_reader import read_car
    >>> last_session(read_car("examples/coupe.toml")) is None
    True
    """
    return session_in(effective(read_log(log_path(file.path)).entries), file)


def session_in(entries: Sequence[Entry], file: CarFile) -> Recorded | None:
    """Find the session that the last weigh-in belongs to.

    Parameters
    ----------
    entries : sequence of Entry
        Effective ones.
    Returns
    -------
    Recorded or None
        None where the last weigh-in belongs to no session, or can't be used.
    """
    weighed = [index for index, entry in enumerate(entries) if entry.kind == "weigh_in"]
    last = weighed[-1] if weighed else -1
    start = next((i for i in range(last, -1, -1) if entries[i].kind == "session"), None)
    if start is None or entries[start].data.get("event") != "begin":
        return None

    def usable(entry: Entry) -> WeighIn | None:
        with suppress(InputError):
            return weigh(file.car, readings_of_entry(entry, file))
        return None

    return session_from(entries, start, usable)


def session_from(
    entries: Sequence[Entry], start: int, weighed: Callable[[Entry], WeighIn | None]
) -> Recorded | None:
    """Follow a session from where it begins.

    Parameters
    ----------
    entries : sequence of Entry
        Effective ones.
    start : int
        Where among them it begins.
    weighed : callable
        Weighs the car by an entry; None where its readings can't be used.

    Returns
    -------
    Recorded or None
        None where nothing was weighed.
    """
    legs: list[Leg] = []
    turns, assumed, said = None, False, Said()
    due, stop, ended = np.zeros(4), "", False
    estimate: float | None = None
    for entry in entries[start + 1 :]:
        if entry.kind == "session":
            ended = entry.data.get("event") == "end"
            break
        if legs:
            said = said.then(entry)
        if entry.kind == "weigh_in" and (found := weighed(entry)):
            legs.append(Leg(entry, found, turns, assumed))
            turns, assumed, due, stop, estimate = None, False, np.zeros(4), "", None
        elif entry.kind == "plan" and legs:
            why = entry.data.get("stop")
            due, stop = turns_in(entry), why if isinstance(why, str) else ""
            turns = said.total if said.total.any() else turns
            reckoned = entry.data.get("cross_pct")
            estimate = _fraction(reckoned, -1000, 1000)
        elif entry.kind == "made" and legs:
            turns, assumed = said.total, bool(entry.data.get("assumed"))
            due = np.zeros(4)
    if not legs:
        return None
    wanted, within = (entries[start].data.get(key) for key in ("target_cross_pct", "tolerance_pct"))
    return Recorded(
        cross=_fraction(wanted, 20, 80) or 0.5,
        tolerance=_fraction(within, 1e-6, 10) or TOLERANCE,
        legs=tuple(legs),
        after=np.zeros(4) if turns is None else turns,
        due=due,
        stop=stop,
        ended=ended,
        estimate=estimate,
    )


def _fraction(percent: object, low: float, high: float) -> float | None:
    """Take a percentage from the log, unless it is none that this program wrote."""
    within = isinstance(percent, int | float) and low <= percent <= high
    return float(cast(float, percent)) / 100 if within else None


def _missed(ballast: BallastPlan, plan: PerchPlan) -> Status:
    return "gave_up" if "gave_up" in (ballast.status, plan.status) else "closest"


def as_recorded(
    ready: Preparation, car: Car, found: Recorded, tolerance: float, cross_uncertainty: float
) -> Preparation:
    """Put what a session has left to turn in the place of a plan made from its last weigh-in.

    Two plans for one car would contradict each other. Only where ballast is still to be bolted in,
    which the session knows nothing of, the turns are planned anew with it on board.

    Parameters
    ----------
    ready : Preparation
        From the last weigh-in of the session.
    tolerance : float
        Of the cross weight, as a fraction.
    cross_uncertainty : float
        Standard uncertainty of the cross weight, as a fraction.

    Returns
    -------
    """
    loads = ready.ballast.loads
    goal = replace(PerchGoal.level(found.cross), tolerance=tolerance)
    plan = plan_perches(car, loads, goal, cross_uncertainty)
    if not ready.ballast.items:
        moves = made(car, loads, goal, found.due)
        reached = found.stop != "out_of_reach"
        plan = replace(
            plan,
            status="reached" if reached else "closest",
            best=moves,
            alternatives=(),
            limits=() if reached else plan.limits,
        )
    raced = Trim(ready.race_trim.on_board, plan.best.loads, plan.best.shares)
    legal = ready.ballast.status == "met"
    return replace(
        ready,
        status="met" if legal and plan.status == "reached" else _missed(ready.ballast, plan),
        perches=plan,
        race_trim=raced,
        on_the_pads=carry(
            with_moves(car, plan.best), raced.loads, raced.on_board, ready.on_the_pads.on_board
        ),
    )
