"""One request for a page: what it asks for, what was sent with it, and how it is answered."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from balancer.files.car_file import CarFile
from balancer.files.car_reader import read_car
from balancer.page.cars import Cars
from balancer.page.forms import Form
from balancer.page.guard import Door


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
