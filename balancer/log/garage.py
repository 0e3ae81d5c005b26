"""Every car of a folder: its last weigh-ins, out of its log."""

import os
from collections.abc import Callable, Iterator
from typing import NamedTuple

from balancer.car.errors import InputError, StandingError
from balancer.car.statics import taken_for_linear
from balancer.files.car_file import CarFile
from balancer.files.car_reader import read_car
from balancer.files.on_board import in_words, split_names
from balancer.files.states import aboard, state_of
from balancer.log.entry import Entry
from balancer.log.entry_readings import readings_of_entry
from balancer.log.lookup import lines_lost
from balancer.log.reader import effective, log_path, read_log
from balancer.weighing.load_states import carry
from balancer.weighing.uncertainty import Shares
from balancer.weighing.weigh import weigh

CAR_MARK, BOOK_MARK = b"wheelbase", b"[[part]]"
"""Begin a line of a car file, and of a parts book, and of no other file."""
_HEAD = 65_536
"""A car file names its wheelbase within so many bytes."""


class Standing(NamedTuple):
    """A car as it was last weighed, or as it would be in the state asked for.

    Attributes:
        entry: Of its log.
        on_board: In words; `not said` where the entry does not say it.
        shares: Of the loads, carried where a state was asked for.
        before: Of the weigh-in before it, carried to the same state; None: there was none.
    """

    file: CarFile
    entry: Entry
    on_board: str
    shares: Shares
    before: Shares | None

    @property
    def day(self) -> str:
        """When it was weighed."""
        return f"{self.entry.wall:%Y-%m-%d}"


class Garage(NamedTuple):
    """The cars of a folder.

    Attributes:
        unweighed: Those whose log has no weigh-in that can be used.
        remarks: What could not be read or carried, and why.
    """

    cars: tuple[Standing, ...]
    unweighed: tuple[CarFile, ...]
    remarks: tuple[str, ...]


def garage_in(folder: str, state: str | None = None) -> Garage:
    """Look up the last weigh-in of every car of a folder.

    Args:
        state: What is to be on board, in words, for all to be carried there; None: each as it was.

    Raises:
        InputError: When the folder can't be read.

    Examples:
        >>> [car.day for car in garage_in("examples").cars]
        ['2026-06-06']
    """
    cars: list[Standing] = []
    unweighed: list[CarFile] = []
    remarks: list[str] = []
    for path in files_with(folder, CAR_MARK):
        try:
            file = read_car(path)
            standing = _standing(file, state, remarks.append)
        except InputError as error:
            remarks += [f"{fault}: left out" for fault in error.faults[:1]]
            continue
        if standing:
            cars.append(standing)
        else:
            unweighed.append(file)
    return Garage(tuple(cars), tuple(unweighed), tuple(remarks))


def files_with(folder: str, mark: bytes) -> Iterator[str]:
    """Find the TOML files of a folder that have a line which begins so, by name.

    Raises:
        InputError: When the folder can't be read.
    """
    try:
        names = sorted(name for name in os.listdir(folder) if name.endswith(".toml"))
    except OSError as error:
        what = f"can't be read ({error.strerror})"
        raise InputError.one(folder or '""', what, "name a folder of car files") from None
    for name in names:
        path = os.path.join(folder, name)
        try:
            with open(path, "rb") as file:
                head = file.read(_HEAD)
        except OSError:
            continue
        if any(line.lstrip().startswith(mark) for line in head.splitlines()):
            yield path


def _standing(file: CarFile, state: str | None, remark: Callable[[str], object]) -> Standing | None:
    """Weigh a car by its last weigh-in that can be used, and by the one before."""
    path, name = log_path(file.path), os.path.basename(file.path)
    log = read_log(path)
    if lost := lines_lost(log.damaged, os.path.basename(path)):
        remark(lost)
    there = state_of(file, split_names(state), name).items if state is not None else None
    weigh_ins = (one for one in reversed(effective(log.entries)) if one.kind == "weigh_in")
    read: list[tuple[Entry, str, Shares]] = []
    for entry in weigh_ins:
        try:
            readings = readings_of_entry(entry, file)
            was = aboard(file, readings)
            there = was if there is None else there
            said = "not said" if readings.on_board is None else in_words(was, file.units)
            told = said if state is None else in_words(there, file.units)
            weighed = weigh(file.car, readings)
            shares = weighed.shares
            if was != there:
                car = taken_for_linear(file.car)
                shares = carry(car, weighed.loads, was, there).shares
            read.append((entry, told, shares))
        except StandingError as error:
            remark(f"{error.named(name)}: entry {entry.number} is left out")
        except InputError as error:
            remark(f"{error.faults[0]}: left out")
        if len(read) == 2:
            break
    if not read:
        return None
    (entry, on_board, shares), *others = read
    return Standing(file, entry, on_board, shares, others[0][2] if others else None)
