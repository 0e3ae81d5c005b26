"""The last session as the log has it: weigh-ins, turns between them, and what is still due."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from balancer.ballast import BallastPlan
from balancer.car import Car, Floats
from balancer.carfile import CarFile
from balancer.doubt import shares
from balancer.errors import InputError
from balancer.log import effective, log_path, read_log
from balancer.log_line import Entry
from balancer.perches import PerchPlan, plan_perches
from balancer.prep import Preparation, Status
from balancer.targets import PerchGoal
from balancer.trim import Trim, carry
from balancer.turns import PerchMoves
from balancer.undoing import turns_in
from balancer.weighing import WeighIn, weigh
from balancer.weighins import readings_of_entry


@dataclass(frozen=True, eq=False)
class Recorded:
    """A session that was written down, running or finished.

    Attributes
    ----------
    cross : float
        Wanted, as a fraction.
    weigh_ins : tuple of WeighIn
        At least one. Those whose readings can't be used any more are left out.
    made : tuple of array (4,)
        Turns made after each of them, the last included.
    due : array (4,)
        Turns planned after the last weigh-in and not yet said to be made.
    stop : str
        As `session.Step.stop` at the last weigh-in.
    ended : bool
        Whether it was said to be done.
    """

    cross: float
    weigh_ins: tuple[WeighIn, ...]
    made: tuple[Floats, ...]
    due: Floats
    stop: str
    ended: bool


def last_session(file: CarFile) -> Recorded | None:
    """Read from the log the session that the last weigh-in belongs to.

    Parameters
    ----------
    file : CarFile

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
    >>> from balancer.carfile import read_car
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
    file : CarFile

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
    begun = entries[start].data
    weigh_ins: list[WeighIn] = []
    made: list[Floats] = []
    due, stop, ended = np.zeros(4), "", False
    for entry in entries[start + 1 :]:
        if entry.kind == "session":
            ended = entry.data.get("event") == "end"
            break
        if entry.kind == "weigh_in":
            try:
                found = weigh(file.car, readings_of_entry(entry, file))
            except InputError:
                continue
            weigh_ins.append(found)
            made.append(np.zeros(4))
            due, stop = np.zeros(4), ""
        elif entry.kind == "plan" and weigh_ins:
            said = entry.data.get("stop")
            due, stop = turns_in(entry), said if isinstance(said, str) else ""
        elif entry.kind == "made" and weigh_ins:
            made[-1], due = made[-1] + turns_in(entry), np.zeros(4)
    if not weigh_ins:
        return None
    wanted = begun.get("target_cross_pct")
    cross = wanted / 100 if isinstance(wanted, int | float) and 0 < wanted < 100 else 0.5
    return Recorded(cross, tuple(weigh_ins), tuple(made), due, stop, ended)


def _missed(ballast: BallastPlan, plan: PerchPlan) -> Status:
    return "gave_up" if "gave_up" in (ballast.status, plan.status) else "closest"


def as_recorded(
    ready: Preparation, car: Car, found: Recorded, tolerance: float, cross_doubt: float
) -> Preparation:
    """Put what a session has left to turn in the place of a plan made from its last weigh-in.

    Two plans for one car would contradict each other. Only where ballast is still to be bolted in,
    which the session knows nothing of, the turns are planned anew with it on board.

    Parameters
    ----------
    ready : Preparation
        From the last weigh-in of the session.
    car : Car
    found : Recorded
    tolerance : float
        Of the cross weight, as a fraction.
    cross_doubt : float
        Standard uncertainty of the cross weight, as a fraction.

    Returns
    -------
    Preparation
    """
    loads = ready.ballast.loads
    goal = replace(PerchGoal.level(found.cross), tolerance=tolerance)
    plan = plan_perches(car, loads, goal, cross_doubt)
    if not ready.ballast.puts:
        turned = plan.per_turn
        lifts = found.due * np.nan_to_num(turned.lifts)
        after = loads + found.due @ np.nan_to_num(turned.loads)
        there = shares(car, after)
        height = found.due @ np.nan_to_num(turned.heights)
        moves = PerchMoves(
            turns=found.due,
            perch=found.due * np.nan_to_num(car.perch_lead),
            lifts=lifts,
            loads=after,
            shares=there,
            height_change=height,
            cross_met=abs(there.cross - goal.cross) <= tolerance * (1 + 1e-9),
            heights_met=bool(np.all(np.abs(height) <= goal.height_tolerance * (1 + 1e-9))),
            proved=False,
        )
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
        on_the_pads=carry(car, raced.loads, raced.on_board, ready.on_the_pads.on_board),
    )
