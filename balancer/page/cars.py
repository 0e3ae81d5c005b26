"""The cars of the folder that is served, by name: nothing else there can be asked for."""

from __future__ import annotations

import os
from typing import NamedTuple

from balancer.errors import InputError
from balancer.files.car_file import CarFile
from balancer.files.car_reader import read_car
from balancer.log.garage import car_files, files_with


class UnknownCarError(Exception):
    """No car of that name is there."""


class Cars(NamedTuple):
    """The cars of a folder."""

    folder: str

    def paths(self) -> dict[str, str]:
        """Give the path of each car file by the name of the car in addresses."""
        return {_name(path): path for path in car_files(self.folder)}

    def path(self, name: str) -> str:
        """Give the path of a car file.

        Raises:
            UnknownCarError: When it is not in the list.
        """
        try:
            return self.paths()[name]
        except (KeyError, InputError):
            raise UnknownCarError(name) from None

    def file(self, name: str) -> CarFile:
        """Read a car file of the list."""
        return read_car(self.path(name))

    def books(self) -> dict[str, str]:
        """Give the path of each parts book by its name."""
        return {_name(path): path for path in files_with(self.folder, b"[[part]]")}


def _name(path: str) -> str:
    return os.path.basename(path).removesuffix(".toml")
