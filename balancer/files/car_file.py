"""A car file that was read: the car and what goes with it."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NamedTuple

from balancer.car.adjusters import adjusters_of
from balancer.car.conventions import Flags
from balancer.car.errors import Fault, InputError, OperatingPointError, StandingError
from balancer.car.model import Car
from balancer.files.counting import TURN, Count, counted
from balancer.files.units import Units


class Missing(NamedTuple):
    """What is left out, a fault for each key; it is one to the commands that need it alone.

    Attributes:
        springs: To all that asks how loads answer to moves and masses.
        perches: To all that plans turns.
    """

    springs: tuple[Fault, ...] = ()
    perches: tuple[Fault, ...] = ()


class CarFile(NamedTuple):
    """A car file read.

    Attributes:
        car: In SI.
        units: Of the file, for whatever is shown.
        notes: What is allowed but looks odd; one line each.
        missing: What it leaves out that some commands can do without.
        perch_counts: What is counted at each perch.
    """

    path: str
    car: Car
    units: Units
    notes: tuple[str, ...]
    missing: Missing = Missing()
    perch_counts: tuple[Count, ...] = (TURN,) * 4

    def counts(self, mounts: Flags | None = None) -> tuple[Count, ...]:
        """Give what is counted at each corner.

        Args:
            mounts: Where the lower mount is turned; left out: where it is the right adjuster.
        """
        at = adjusters_of(self.car).mounts if mounts is None else mounts
        return counted(self.perch_counts, at.tolist(), self.car.solid.tolist())


@contextmanager
def operating_faults(file: CarFile) -> Iterator[None]:
    """Tell of a car that can't stand as its file says the way all its faults are told.

    Raises:
        InputError: With a fault for each corner.
    """
    try:
        yield
    except OperatingPointError as error:
        name, units = os.path.basename(file.path), file.units

        def spell(length: float) -> str:
            return f"{units.from_si(length, 'length'):.3g} {units.labels['length']}"

        raise InputError(reason.fault(name, spell) for reason in error.reasons) from None
    except StandingError as error:
        raise error.named(os.path.basename(file.path)) from None
