"""A session and its log: what is written down as it happens, and taken up again from there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any, NamedTuple
from zlib import crc32

import numpy as np

from balancer.car.adjusters import adjuster_travel, with_travel_spent
from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import Car, Item
from balancer.errors import InputError
from balancer.files.car_file import CarFile
from balancer.files.checks.readings import no_car
from balancer.files.states import state_of
from balancer.log.entry import Entry
from balancer.log.lookup import readings_of_entry
from balancer.log.reader import effective
from balancer.log.undo import Said, turns_in
from balancer.perches.goal import PerchGoal
from balancer.session.learning import Belief, Sigmas, prior
from balancer.session.session import Session, Step, turned, unsaid, weighed
from balancer.session.turns_made import as_turned, loads_before
from balancer.units import other
from balancer.weighing.weigh import WeighIn, weigh

STALE = timedelta(hours=12)
"""A session left open longer than this is not taken up again, whichever way the clock is off."""

_AT_THE_CAR = ("weigh_in", "plan", "made")
"""Entries that tell of somebody at the car."""


class TakenUp(NamedTuple):
    """A session to go on with.

    Attributes
    ----------
    planned : array (4,) or None
        Turns last planned; None: none, or they were said to be made.
    resumed : bool
        Whether it is an old one that was broken off.
    before : array (4,)
        Turns made since the last weigh-in that there is, but before one that can't be read; what
        is planned, or said to be made, comes on top.
    """

    session: Session
    planned: Floats | None
    resumed: bool
    before: Floats = np.zeros(4)


def fingerprint(car: Car) -> str:
    """Name the rates of a car, so that a belief is used for those it was learned on.

    Returns
    -------
    str

    Examples
    --------
    >>> from balancer.car.model import plain_car
    >>> fingerprint(plain_car()) == fingerprint(plain_car(spring_rate=(71e3, 60e3)))
    False
    """
    rates = [
        car.tracks, car.spring_rate, car.motion_ratio, car.tire_rate, car.perch_lead, car.bar_rate,
        np.array([car.torsional_stiffness]),
    ]  # fmt: skip
    for corner in car.corners:
        rates += [*corner.spring, *corner.ratio, *corner.bump, np.array([corner.bump_at])]
    text = " ".join(f"{value:.6g}" for value in np.concatenate(rates))
    return f"{crc32(text.encode()):08x}"


def begin_data(file: CarFile, goal: PerchGoal) -> dict[str, Any]:
    """Give what the log says when a session begins.

    Returns
    -------
    dict
    """
    return {
        "event": "begin",
        "target_cross_pct": 100 * goal.cross,
        "tolerance_pct": 100 * goal.tolerance,
        "rates": fingerprint(file.car),
        "perch_travel": _stated_travel(file.car),
    }


def _stated_travel(car: Car) -> list[list[float]]:
    """Give the travel of the file; 0 where it says nothing, since JSON knows no infinity."""
    travel = adjuster_travel(car)
    stated: list[list[float]] = np.nan_to_num(travel, posinf=0.0, neginf=0.0).tolist()
    return stated


def weigh_in_data(
    rows: Sequence[dict[str, float]], file: CarFile, words: Sequence[str]
) -> dict[str, Any]:
    """Give what the log says of a weigh-in, under the keys of a readings file.

    Parameters
    ----------
    rows : sequence of dict of str to float
        By corner, in the units of the file.
    words : sequence of str
        What was on board.

    Returns
    -------
    dict
    """
    return {
        "readings": [[row[pad] for pad in CORNERS] for row in rows],
        "units": file.units.name,
        "on_board": list(words),
        "aboard": [_item_data(item, file) for item in state_of(file, words, "on_board").items],
    }


def _item_data(item: Item, file: CarFile) -> dict[str, Any]:
    """Give what was on board so that it can be told when the car file no longer names it."""
    units = file.units
    places = {key: units.from_si(getattr(item, key), "length") for key in ("aft", "left", "up")}
    return {"name": item.name, "mass": units.from_si(item.mass, "mass"), **places}


def turns_data(turns: Floats, assumed: bool) -> dict[str, Any]:
    """Give what the log says of turns made.

    Parameters
    ----------
    turns : array (4,)
    assumed : bool
        Nobody said so but the plan.

    Returns
    -------
    dict
    """
    made = {pad: float(one) for pad, one in zip(CORNERS, turns, strict=True) if one}
    return {"turns": made, "assumed": assumed}


def belief_data(car: Car, belief: Belief) -> dict[str, Any]:
    """Give what the log says of a belief.

    Parameters
    ----------
    car : Car
        As the file has it.
    Returns
    -------
    dict
    """
    return {
        "rates": fingerprint(car),
        "mean": belief.mean.tolist(),
        "covariance": belief.covariance.tolist(),
    }


def plan_data(step: Step) -> dict[str, Any]:
    """Give what the log says of a plan.

    Returns
    -------
    dict
    """
    best = step.plan.best
    turns = {pad: float(one) for pad, one in zip(CORNERS, best.turns, strict=True) if one}
    return {
        "turns": {} if step.stop else turns,
        "status": step.plan.status,
        "stop": step.stop,
        "cross_pct": 100 * step.cross,
        "promised_cross_pct": 100 * best.shares.cross,
    }


def last_belief(entries: Iterable[Entry], car: Car) -> Belief | None:
    """Find what was last believed of a car with these rates.

    Parameters
    ----------
    entries : iterable of Entry
        Effective ones.
    Returns
    -------
    Belief or None
        None where the log has none, or none that can be used.

    Examples
    --------
    >>> from balancer.car.model import plain_car
    >>> last_belief([], plain_car()) is None
    True
    """
    found = last_belief_entry(entries, car)
    return found[1] if found else None


def last_belief_entry(entries: Iterable[Entry], car: Car) -> tuple[Entry, Belief] | None:
    """Find what was last believed of a car with these rates, and where the log says so.

    Parameters
    ----------
    entries : iterable of Entry
        Effective ones.

    Examples
    --------
    >>> from balancer.car.model import plain_car
    >>> last_belief_entry([], plain_car()) is None
    True
    """
    rates = fingerprint(car)
    for entry in reversed(tuple(entries)):
        if entry.kind == "belief" and entry.data.get("rates") == rates:
            try:
                mean = np.array(entry.data["mean"], dtype=float).reshape(3)
                covariance = np.array(entry.data["covariance"], dtype=float).reshape(3, 3)
                sound = np.linalg.eigvalsh(covariance).min() > 0 and np.isfinite(mean).all()
            except (KeyError, TypeError, ValueError, np.linalg.LinAlgError):
                continue
            if sound:
                return entry, Belief(mean, covariance)
    return None


def take_up(
    file: CarFile, entries: Sequence[Entry], goal: PerchGoal, sigmas: Sigmas, now: datetime
) -> TakenUp:
    """Begin a session, or go on with one that was broken off.

    Parameters
    ----------
    entries : sequence of Entry
        Of the log, all of them.
    sigmas : Sigmas
        Uncertainties of the file values, where the log has no belief.
    now : datetime
        With an offset.

    Examples
    --------
    >>> from balancer.car.model import plain_car
    >>> from balancer.units import METRIC
    >>> file = CarFile("a.toml", plain_car(), METRIC, ())
    >>> now = datetime.fromisoformat("2026-06-13T14:30:00+02:00")
    >>> take_up(file, [], PerchGoal.level(0.5), Sigmas(), now).resumed
    False
    """
    kept = effective(entries)
    start = _open_session(kept, file.car, now)
    if start is not None:
        # A car file that has changed too much makes nothing of what was weighed before.
        with suppress(InputError):
            found = _go_on(file, kept, start, goal, sigmas)
            if found.resumed:
                return found
    return _begin_anew(file, kept, goal, sigmas)


def _begin_anew(file: CarFile, before: Sequence[Entry], goal: PerchGoal, sigmas: Sigmas) -> TakenUp:
    belief = last_belief(before, file.car) or prior(file.car, sigmas)
    car = as_made(file, before)
    return TakenUp(Session(car, belief, goal), None, resumed=False)


def _go_on(
    file: CarFile, kept: Sequence[Entry], start: int, goal: PerchGoal, sigmas: Sigmas
) -> TakenUp:
    # Turns before the first weigh-in there is: the one that they followed can't be read.
    first = next((n for n in range(start, len(kept)) if kept[n].kind == "weigh_in"), start)
    belief = last_belief(kept[:start], file.car) or prior(file.car, sigmas)
    session = Session(as_made(file, kept[: first + 1]), belief, goal)
    planned: Floats | None = None
    said = Said()
    for entry in kept[first:]:
        if entry.kind == "weigh_in":
            read = weigh(file.car, readings_of_entry(entry, file))
            session, planned = weighed(session, read, on_top(said.before, planned)), None
        said = said.then(entry)
        if entry.kind == "made" and session.weigh_ins:
            session, planned = turned(session, said.total), None
        elif entry.kind == "plan":
            session = unsaid(session)
            planned = None if entry.data.get("stop") else turns_in(entry)
    return TakenUp(session, planned, bool(session.weigh_ins), said.before)


def on_top(before: Floats, planned: Floats | None) -> Floats | None:
    """Add what was planned to what was turned before; None where that is nothing.

    Parameters
    ----------
    before : array (4,)
    planned : array (4,) or None

    Returns
    -------
    array (4,) or None

    Examples
    --------
    >>> on_top(np.zeros(4), None) is None
    True
    """
    if planned is None:
        return before if before.any() else None
    return before + planned


def _open_session(entries: Sequence[Entry], car: Car, now: datetime) -> int | None:
    """Find where the last session begins, if it has not ended, is not stale and is of this car."""
    for index in range(len(entries) - 1, -1, -1):
        entry = entries[index]
        if entry.kind == "session":
            same = entry.data.get("rates") == fingerprint(car) and entry.data.get(
                "perch_travel"
            ) == _stated_travel(car)
            begun = entry.data.get("event") == "begin"
            return index if begun and same and _fresh(entries[index:], now) else None
    return None


def _fresh(entries: Iterable[Entry], now: datetime) -> bool:
    """Say whether somebody was at the car just now, by any of the entries: a clock may be wrong."""
    times = (datetime.fromisoformat(one.at) for one in entries if one.kind in _AT_THE_CAR)
    return any(abs(now - at) < STALE for at in times)


def as_made(file: CarFile, entries: Sequence[Entry]) -> Car:
    """Give the car as the turns have left it that were made since its file was last brought up.

    Parameters
    ----------
    entries : sequence of Entry
        Effective ones.

    Returns
    -------
    Car
        Those turns are off its travel; where corners are not linear its preloads have gone with
        them, counted from the first weigh-in since that can be used; where there is none, they are
        those of the file. The same one where the log knows of no turns that count.
    """
    stated = _stated_travel(file.car)
    spent, travel, since = np.zeros(4), None, 0
    for index, entry in enumerate(entries):
        if entry.kind == "session" and entry.data.get("event") == "begin":
            if entry.data.get("perch_travel") != travel:
                spent, travel, since = np.zeros(4), entry.data.get("perch_travel"), index
        elif entry.kind == "made":
            spent = spent + turns_in(entry)
    if travel != stated or not spent.any():
        return file.car
    car = with_travel_spent(file.car, spent)
    before = _loads_before(file, entries[since:]) if car.corners else None
    return car if before is None else as_turned(car, before, [spent])


def _loads_before(file: CarFile, entries: Iterable[Entry]) -> Floats | None:
    """Give the loads before any turns, from the first weigh-in that can be used; None: none can.

    Where turns came before it, for the weigh-in before them is lost, they are turned back.
    """
    already = np.zeros(4)
    for entry in entries:
        if entry.kind == "made":
            already = already + turns_in(entry)
        elif entry.kind == "weigh_in":
            with suppress(InputError):
                read = weigh(file.car, readings_of_entry(entry, file))
                return loads_before(file.car, read.loads + read.pad_effect, already)
    return None


def weigh_rows(file: CarFile, rows: Sequence[dict[str, float]], words: Sequence[str]) -> WeighIn:
    """Weigh the car from rows of readings.

    Parameters
    ----------
    rows : sequence of dict of str to float
        By corner, in the units of the file.
    words : sequence of str
        What was on board.

    Raises
    ------
    InputError
        When no car weighs that, or only in the other units.
    """
    label = other(file.units).labels["load"]
    numbers = np.array([[row[pad] for pad in CORNERS] for row in rows])
    if faults := no_car(file, numbers, "readings", f"type {label} behind each: 302{label}"):
        raise InputError(faults)
    entry = Entry(1, "2000-01-01T00:00:00+00:00", "weigh_in", weigh_in_data(rows, file, words))
    return weigh(file.car, readings_of_entry(entry, file))
