"""Files that go with a car file: read in the units that they name, or in those of the car."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from balancer.errors import Fault, InputError
from balancer.files.car_file import CarFile
from balancer.files.format.bounds import first_of
from balancer.files.format.faults import in_order
from balancer.files.format.toml_text import TomlFile, read_toml
from balancer.files.format.validation import validate
from balancer.units import SYSTEMS, Units


class Beside(NamedTuple):
    """A kind of file that goes with a car file.

    Attributes:
        schema: From `keys`.
        uncertainties: Finds what is wrong in a file whose keys may each be right. Given the
            file, the faults found so far, the car file (None: it could not be read) and the
            units (None: not known).
    """

    schema: dict[str, Any]
    uncertainties: Callable[[TomlFile, list[Fault], CarFile | None, Units | None], Iterable[Fault]]

    def units_in(self, toml: TomlFile, file: CarFile) -> Units:
        """Give the units of a file in which nothing is wrong, else raise all that is."""
        units, faults = self._checked(toml, file)
        if faults or units is None:
            raise InputError(faults)
        return units

    def faults_in(self, path: str | os.PathLike[str], file: CarFile | None) -> list[Fault]:
        """Find the faults of a file, to be told with those of other files.

        >>> from balancer.files.format.keys import LIFTS_SCHEMA
        >>> print(*Beside(LIFTS_SCHEMA, lambda *_: []).faults_in("nowhere.toml", None))
        nowhere.toml: no such file: check the name and the folder
        """
        try:
            return self._checked(read_toml(path), file)[1]
        except InputError as error:
            return list(error.faults)

    def _checked(self, toml: TomlFile, file: CarFile | None) -> tuple[Units | None, list[Fault]]:
        units = SYSTEMS.get(str(toml.data.get("units", file.units.name if file else None)))
        faults = validate(toml, self.schema, units)
        uncertainties = first_of(toml.name, iter(self.uncertainties(toml, faults, file, units)))
        return units, in_order(toml, [*faults, *uncertainties])
