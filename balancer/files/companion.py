"""Files that go with a car file: read in the units that they name, or in those of the car."""

import os
import tomllib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Generic, NamedTuple, TypeVar

from balancer.car.errors import Fault, InputError, refuse
from balancer.files.car_file import CarFile
from balancer.files.checks.sound import Sound
from balancer.files.format.bounds import first_of
from balancer.files.format.faults import in_order
from balancer.files.format.quoted import in_numbers
from balancer.files.format.toml_text import TomlFile, read_toml
from balancer.files.format.validation import validate
from balancer.files.format.value_types import Schema
from balancer.files.on_board import look_up
from balancer.files.units import SYSTEMS, Units

Content = TypeVar("Content")


class Opened(NamedTuple):
    """A companion file held against its schema.

    Attributes:
        file: The car file; None: it could not be read.
        units: Those of this file; None: they are not known.
        si: What it holds, in SI; empty where there is a fault.
    """

    toml: TomlFile
    file: CarFile | None
    units: Units | None
    sound: Sound
    si: dict[str, Any]

    @property
    def wrong_state(self) -> list[Fault]:
        """What is wrong with what it says was on board."""
        if self.file is None:
            return []
        where, words = self.toml.place(("on_board",)), self.sound.get("on_board") or []
        return look_up(self.file.car.on_board, words, self.file.units, where, "the car file")[1]


@dataclass(frozen=True)
class Companion(Generic[Content]):
    """A kind of file that goes with a car file.

    Attributes:
        schema: From `keys`.
        check: Finds what is wrong in a file whose keys may each be right.
        make: Makes of a sound file what it is read for.
    """

    schema: Schema
    check: Callable[[Opened], Iterable[Fault]]
    make: Callable[[Opened, CarFile], Content]

    def read(self, path: str | os.PathLike[str], file: CarFile) -> Content:
        """Read a file that goes with a car file.

        Args:
            file: Gives the units where the other does not.

        Raises:
            InputError: With every fault of the file.

        References:
            The file formats are documented in the guide and by `balancer schema`.
        """
        return self.taken(read_toml(path), file)

    def taken(self, toml: TomlFile, file: CarFile) -> Content:
        """Take what a file holds that is open; raise all that is wrong with it."""
        opened, faults = self._checked(toml, file)
        refuse(faults)
        return self.make(opened, file)

    def faults_in(self, path: str | os.PathLike[str], file: CarFile | None) -> list[Fault]:
        """Find the faults of a file, to be told with those of other files."""
        try:
            return self._checked(read_toml(path), file)[1]
        except InputError as error:
            return list(error.faults)

    def faults_of(self, path: str, text: str) -> list[Fault]:
        """Find the faults of what a file would hold; it is TOML, and says its units."""
        return self._checked(TomlFile(path, tomllib.loads(text), text), None)[1]

    def _checked(self, toml: TomlFile, file: CarFile | None) -> tuple[Opened, list[Fault]]:
        units = SYSTEMS.get(str(toml.data.get("units", file.units.name if file else None)))
        toml = in_numbers(toml, units)
        si, faults = validate(toml, self.schema, units)
        opened = Opened(toml, file, units, Sound(toml, faults), si)
        across = first_of(toml.name, iter(self.check(opened)))
        return opened, in_order(toml, [*faults, *across])
