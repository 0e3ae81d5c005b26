"""The car as its log knows it: rates as learned, and travel less the turns that were made."""

from __future__ import annotations

from typing import NamedTuple

from balancer.files.car_file import CarFile
from balancer.log.reader import effective, log_path, read_log
from balancer.log.sessions import as_made, last_belief
from balancer.session.learning import believed


class AsLogged(NamedTuple):
    """A car file with what the log adds to it, and a line to say so."""

    file: CarFile
    note: str


def as_logged(file: CarFile) -> AsLogged:
    """Put into a car what its log knows, for a plan that starts from a weigh-in of the log.

    Returns
    -------
    AsLogged
        The note is empty where the log adds nothing.

    Examples
    --------
    >>> from balancer.files.car_reader import read_car
    >>> as_logged(read_car("examples/coupe.toml")).note
    ''
    """
    entries = effective(read_log(log_path(file.path)).entries)
    car = as_made(file, entries)
    said = [] if car is file.car else ["turns made are off the travel"]
    if said and car.corners:
        said[0] += ", preload and stops are as those turns left them"
    if belief := last_belief(entries, file.car):
        car = believed(car, belief)
        said.insert(0, "rates are taken as learned")
    note = f"from the log, {' and '.join(said)}" if said else ""
    return AsLogged(file._replace(car=car), note)
