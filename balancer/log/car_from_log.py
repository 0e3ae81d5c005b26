"""The car as its log knows it: rates as learned, and travel less the turns that were made."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from balancer.car.adjusters import all_turns, with_travel_spent
from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.car.statics import statics_of
from balancer.files.car_file import CarFile
from balancer.log.entry import Entry
from balancer.log.entry_readings import weigh_in_of
from balancer.log.reader import effective, log_path, read_log
from balancer.log.replay import turns_made
from balancer.log.session_lines import fingerprint, stated_links, stated_travel
from balancer.planning.session.belief import Belief, Sigmas, believed, prior
from balancer.planning.session.scatter import USUAL


class CarFromLog(NamedTuple):
    """A car file with what the log adds to it.

    Attributes:
        note: A line to say so; empty where the log adds nothing.
        covariance: (6, 6), of the belief in its rates; None where none is learned.
    """

    file: CarFile
    note: str
    covariance: Floats | None = None


def car_from_log(file: CarFile) -> CarFromLog:
    """Put into a car what its log knows, for a plan that starts from a weigh-in of the log."""
    entries = _kept(file)
    car, other_preload = _left_by_turns(file, entries)
    said = [] if car is file.car else ["turns made are off the travel"]
    if other_preload:
        said[0] += ", preload and stops are as those turns left them"
    covariance = None
    if learned := last_belief(entries, file.car):
        car, covariance = believed(car, learned[1]), learned[1].covariance
        said.insert(0, "rates are taken as learned")
    note = f"from the log, {' and '.join(said)}" if said else ""
    return CarFromLog(file._replace(car=car), note, covariance)


def leaning_as_learned(file: CarFile) -> tuple[Car, Floats | None]:
    """Give the car on which masses bear as its log has learned, and the covariance of that."""
    if learned := last_belief(_kept(file), file.car):
        return believed(file.car, learned[1]), learned[1].covariance
    return file.car, None


def _kept(file: CarFile) -> tuple[Entry, ...]:
    return effective(read_log(log_path(file.path)).entries)


def last_belief(entries: Sequence[Entry], car: Car) -> tuple[Entry, Belief] | None:
    """Find what was last believed of a car with these rates, and where the log says so."""
    rates = fingerprint(car)
    for entry in reversed(entries):
        of_this_car = entry.kind == "belief" and entry.data.get("rates") == rates
        if of_this_car and (belief := _belief_in(entry, car)):
            return entry, belief
    return None


def _belief_in(entry: Entry, car: Car) -> Belief | None:
    try:
        belief = _whole(entry) if "bearing" in entry.data else _of_before(entry, car)
        sound = np.linalg.eigvalsh(belief.covariance).min() > 0 and np.isfinite(belief.mean).all()
    except (KeyError, TypeError, ValueError, np.linalg.LinAlgError):
        return None
    return belief._replace(settling=_settling_in(entry)) if sound else None


def _settling_in(entry: Entry) -> Floats:
    """Read how a car comes to rest, half forgotten: what binds may have been seen to since."""
    try:
        told = _numbers(entry.data.get("settling"), *USUAL.shape)
    except (TypeError, ValueError):
        return USUAL
    sound = np.isfinite(told).all() and (told >= 0).all() and 0.99 < told.sum() < 1.01
    return (told / told.sum() + USUAL) / 2 if sound else USUAL


def _whole(entry: Entry) -> Belief:
    bearing, file = entry.data["bearing"], entry.data["file"]
    mean = [*_numbers(entry.data["mean"], 3), *_numbers(bearing["mean"], 3)]
    rows = _numbers(bearing["covariance"], 3, 6)
    covariance = np.empty((6, 6))
    covariance[3:], covariance[:3, 3:] = rows, rows[:, :3].T
    covariance[:3, :3] = _numbers(entry.data["covariance"], 3, 3)
    usual, wrong = _numbers(file["covariance"], 6, 6), float(_numbers(file["wrong"]))
    if not (wrong >= 1 and np.linalg.eigvalsh(usual).min() > 0):
        raise ValueError("no file is like that")
    return Belief(np.array(mean), covariance, usual, wrong)


def _of_before(entry: Entry, car: Car) -> Belief:
    """Read a belief of when nothing was learned of how masses bear."""
    usual = prior(car, Sigmas())
    mean = np.append(_numbers(entry.data["mean"], 3), np.zeros(3))
    covariance = usual.covariance.copy()
    covariance[:3, 3:] = covariance[3:, :3] = 0.0
    covariance[:3, :3] = _numbers(entry.data["covariance"], 3, 3)
    return Belief(mean, covariance)


def _numbers(value: object, *shape: int) -> Floats:
    return np.array(value, dtype=float).reshape(shape)


def with_turns_made(file: CarFile, entries: Sequence[Entry]) -> Car:
    """Give the car as the turns have left it that were made since its file was last brought up.

    Args:
        entries: Effective ones.

    Returns:
        Those turns are off its travel; where corners are not linear its preloads have gone with
        them, counted from the first weigh-in since that can be used; where there is none, they
        are those of the file. The same one where the log knows of no turns that count.
    """
    return _left_by_turns(file, entries)[0]


def _left_by_turns(file: CarFile, entries: Sequence[Entry]) -> tuple[Car, bool]:
    """Give the car, and whether turns have left more than its travel otherwise."""
    since = entries[_stated_since(entries, "perch_travel", stated_travel(file.car)) :]
    spent = turns_made(since)
    if len(spent) > 4:
        # What the file says of links is brought up apart from what it says of perches.
        of_links = entries[_stated_since(entries, "drop_links", stated_links(file.car)) :]
        spent[4:] = all_turns([np.zeros(6), turns_made(of_links)])[4:]
    if not spent.any():
        return file.car, False
    car, before = with_travel_spent(file.car, spent), _loads_before(file, since)
    left = car if before is None else statics_of(car, before).after(spent)
    return left, left is not car


def _stated_since(entries: Sequence[Entry], key: str, stated: list[list[float]]) -> int:
    """Find from where on each session began with what the file states now."""
    start = len(entries)
    for index in range(len(entries) - 1, -1, -1):
        if entries[index].begins:
            if entries[index].data.get(key) != stated:
                break
            start = index
    return start


def _loads_before(file: CarFile, entries: Sequence[Entry]) -> Floats | None:
    """Give the loads before any turns, from the first weigh-in that can be used; None: none can.

    Where turns came before it, for the weigh-in before them is lost, they are turned back.
    """
    for index, entry in enumerate(entries):
        if entry.kind == "weigh_in" and (read := weigh_in_of(entry, file)):
            loads = read.loads + read.pad_effect
            return statics_of(file.car, loads).loads_before(turns_made(entries[:index]))
    return None
