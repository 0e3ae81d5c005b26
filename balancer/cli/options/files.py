"""The files that a command names: read, with all their faults in one go and their notes."""

import os
import re
import sys
from collections.abc import Callable, Iterable
from typing import TypeVar

from balancer.car.errors import Fault, InputError, gathering
from balancer.cli.terminal.show import print_error
from balancer.files.car_file import CarFile, operating_faults
from balancer.files.car_reader import read_car
from balancer.files.on_board import State, split_names
from balancer.files.readings import faults_in, read_readings
from balancer.files.states import race_state, state_of
from balancer.weighing.weigh import Readings

Read = TypeVar("Read")
Reader = Callable[[str, CarFile], Read]
FaultsIn = Callable[[str, CarFile | None], Iterable[Fault]]
"""Tells what is wrong with a file, with or without the car that it is of."""


def car_of(path: str, faults: list[Fault]) -> CarFile | None:
    """Read a car file; None: there are faults."""
    with gathering(faults):
        return read_car(path)
    return None


_SPRINGS = ("springs", "torsion", "prep", "sheet", "session")
_PERCHES = ("perches",)
"""Commands that need springs alone, and those that need perches to turn as well."""


def missing_for(command: str | None, file: CarFile | None) -> list[Fault]:
    """Find what a car file leaves out that a command can't do without, all in one go."""
    if file is None or command not in (*_SPRINGS, *_PERCHES):
        return []
    turned = command in _PERCHES
    return [*file.missing.springs, *(file.missing.perches if turned else ())]


def beside(
    file: CarFile | None, path: str, read: Reader[Read], faulty: FaultsIn, faults: list[Fault]
) -> Read | None:
    """Read a file of a car; without the car only its faults can be told."""
    if file is None:
        faults += faulty(path, None)
        return None
    with gathering(faults):
        return read(path, file)
    return None


def both(car: str, path: str, read: Reader[Read], faulty: FaultsIn) -> tuple[CarFile, Read]:
    """Read a car file and one that goes with it, and print the notes of the car."""
    faults: list[Fault] = []
    file = car_of(car, faults)
    other = beside(file, path, read, faulty, faults)
    if file is None or other is None:
        raise InputError(faults)
    note(*file.notes)
    return file, other


def readings_beside(file: CarFile | None, path: str, faults: list[Fault]) -> Readings | None:
    """Read a readings file, or a weigh-in of the log; None: there are faults."""
    return beside(file, path, readings_named, faults_in, faults)


def readings_named(readings: str, file: CarFile) -> Readings:
    """Read a readings file or the log; corners that can't stand under them are told as faults."""
    with operating_faults(file):
        if not is_log(readings):
            return read_readings(readings, file)
        from balancer.log.lookup import readings_from

        return readings_from(readings, file)


def state_named(file: CarFile, names: str | None, option: str) -> State:
    """Give the state that an option names, or race trim where it is not given."""
    return race_state(file) if names is None else state_of(file, split_names(names), option)


def is_log(readings: str) -> bool:
    """Say whether readings are to be taken from the log."""
    return re.match(r"log(:|$)", readings) is not None and not os.path.exists(readings)


def note(*notes: object) -> None:
    """Print notes, each once: where somebody looks in lines of the terminal, else a line each."""
    for text in dict.fromkeys(notes):
        said = f"note: {text}"
        if sys.stderr is not None and sys.stderr.isatty():
            import shutil
            from textwrap import fill

            said = fill(said, max(shutil.get_terminal_size().columns, 20), break_long_words=False)
        print_error(said)
