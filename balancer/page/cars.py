"""The cars of the folder that is served, by name: nothing else there can be asked for."""

import os
from collections.abc import Iterable
from typing import NamedTuple

from balancer.errors import InputError, spelled
from balancer.log.garage import car_files, files_with


class UnknownCarError(Exception):
    """No car of that name is there."""


class Cars(NamedTuple):
    """The cars of a folder."""

    folder: str

    def paths(self) -> dict[str, str]:
        """Give the path of each car file by the name of the car in addresses."""
        return _named(car_files(self.folder))

    def path(self, name: str) -> str:
        """Give the path of a car file.

        Raises:
            UnknownCarError: When it is not in the list.
        """
        try:
            return self.paths()[name]
        except (KeyError, InputError):
            raise UnknownCarError(name) from None

    def books(self) -> dict[str, str]:
        """Give the path of each parts book by its name."""
        return _named(files_with(self.folder, b"[[part]]"))

    def unnamed(self) -> list[str]:
        """Tell the cars whose files have names that no address can have."""
        named = self.paths().values()
        return [
            f"{spelled(os.path.basename(path))}: left out, its name is not UTF-8"
            for path in car_files(self.folder)
            if path not in named
        ]


def _named(paths: Iterable[str]) -> dict[str, str]:
    names = {os.path.basename(path).removesuffix(".toml"): path for path in paths}
    return {name: path for name, path in names.items() if _is_text(name)}


def _is_text(name: str) -> bool:
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True
