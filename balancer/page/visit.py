"""One request for a page: the car it asks for, what was sent with it, and how it is answered."""

import os
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from balancer.car.errors import InputError, spelled
from balancer.files.car_file import CarFile
from balancer.files.car_reader import read_car
from balancer.log.garage import BOOK_MARK, CAR_MARK, files_with
from balancer.page.forms import Form
from balancer.page.guard import Door


class UnknownCarError(Exception):
    """No car of that name is there."""


class Cars(NamedTuple):
    """The cars of a folder."""

    folder: str

    def paths(self) -> dict[str, str]:
        """Give the path of each car file by the name of the car in addresses."""
        return _named(files_with(self.folder, CAR_MARK))

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
        return _named(files_with(self.folder, BOOK_MARK))

    def unnamed(self) -> list[str]:
        """Tell the cars whose files have names that no address can have."""
        named = self.paths().values()
        return [
            f"{spelled(os.path.basename(path))}: left out, its name is not UTF-8"
            for path in files_with(self.folder, CAR_MARK)
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


def templates() -> Environment:
    """Read the templates that ship with the package; in them every name stays text."""
    return Environment(
        loader=PackageLoader("balancer.page", "html"), undefined=StrictUndefined,
        autoescape=True, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip


@dataclass(frozen=True)
class Served:
    """What is served, and to whom."""

    cars: Cars
    door: Door
    templates: Environment


class Visit:
    """One request for a page, and what it is about."""

    def __init__(self, request: Request, served: Served) -> None:
        self.request, self.served = request, served
        self.form = Form.of(request.scope["balancer.form"])
        self.query = Form.of(request.query_params.multi_items())
        self.posted = request.method == "POST"

    @property
    def name(self) -> str:
        """The car that is asked for, as addresses have it; empty for none."""
        return str(self.request.path_params.get("name", ""))

    @cached_property
    def path(self) -> str:
        """The path of its car file."""
        return self.served.cars.path(self.name)

    @cached_property
    def file(self) -> CarFile:
        """Its car file, read."""
        return read_car(self.path)

    def at(self, *parts: str) -> str:
        """Give the address of something of this car."""
        return "/".join(["/car", *(quote(part, safe="") for part in (self.name, *parts))])

    def shown(self, template: str, status: int = 200, **words: Any) -> Response:
        """Show a page."""
        known = {
            "at": self.at if self.name else "",
            "name": self.name,
            "token": self.served.door.keys.token(self.request.scope["balancer.visitor"]),
            "status": status,
        }
        page = self.served.templates.get_template(template)
        return HTMLResponse(page.render({**known, **words}), status)

    def go(self, address: str) -> Response:
        """Send a browser on after a form was taken, so that a reload sends nothing again."""
        return RedirectResponse(address, 303)
