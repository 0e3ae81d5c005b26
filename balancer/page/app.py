"""The pages and their addresses: all that is remembered is in the log and the files."""

from __future__ import annotations

import threading
from base64 import b64encode
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cached_property
from hashlib import sha256
from importlib.resources import files
from typing import Any
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from balancer.errors import BalancerError, InputError
from balancer.files.car_file import CarFile
from balancer.page import pages, plans
from balancer.page.cars import Cars, UnknownCarError
from balancer.page.forms import Form
from balancer.page.guard import POLICY, Door, Guard
from balancer.page.templates import Templates

BUSY = 30.0
"""How long somebody waits for others' plans [s]."""

_STATIC = {"page.css": "text/css", "page.js": "text/javascript"}


class Visit:
    """One request for a page, and what it is about."""

    def __init__(self, request: Request, house: House) -> None:
        self.request, self.house = request, house
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
        return self.house.cars.path(self.name)

    @cached_property
    def file(self) -> CarFile:
        """Its car file, read."""
        return self.house.cars.file(self.name)

    def at(self, *parts: str) -> str:
        """Give the address of something of this car."""
        return "/".join(["/car", *(quote(part, safe="") for part in (self.name, *parts))])

    def shown(self, template: str, status: int = 200, **words: Any) -> Response:
        """Show a page."""
        visitor = self.request.scope["balancer.visitor"]
        known = {
            "at": self.at if self.name else "",
            "name": self.name,
            "token": self.house.door.keys.token(visitor) if visitor else "",
            "status": status,
        }
        return HTMLResponse(self.house.templates.render(template, {**known, **words}), status)

    def go(self, address: str) -> Response:
        """Send a browser on after a form was taken, so that a reload sends nothing again."""
        return RedirectResponse(address, 303)


Page = Callable[[Visit], Response]


class House:
    """The cars that are served, and who is let in to them."""

    def __init__(self, folder: str, door: Door) -> None:
        self.cars, self.door, self.templates = Cars(folder), door, Templates()
        self._one = threading.Lock()

    def app(self) -> Guard:
        """Give all of it as an ASGI application."""
        car = "/car/{name}"
        routes = [
            self._route("/", pages.cars),
            self._route(car, pages.car),
            self._route(f"{car}/session", pages.session, "POST"),
            self._route(f"{car}/turned", pages.turned, "POST"),
            self._route(f"{car}/log", pages.log),
            self._route(f"{car}/log/{{number:int}}", pages.entry),
            self._route(f"{car}/trim", pages.trim),
            self._route(f"{car}/ballast", pages.ballast),
            self._route(f"{car}/prep", pages.prep, "POST"),
            self._route(f"{car}/parts", pages.parts),
            self._route(f"{car}/file", pages.car_file, "POST"),
            self._route(f"{car}/seen", pages.seen),
            self._route(f"{car}/sheet", _sheet),
            self._route("/enter/{secret}", self._enter, "POST"),
            Route("/static/{file}", _static),
            Route("/favicon.ico", lambda request: Response(status_code=204)),
        ]
        app = Starlette(routes=routes, exception_handlers={404: _nowhere})
        app.router.redirect_slashes = False
        return Guard(app, self.door)

    def _route(self, path: str, page: Page, *methods: str) -> Route:
        def answer(request: Request) -> Response:
            visit = Visit(request, self)
            try:
                with self._alone():
                    return page(visit)
            except UnknownCarError:
                return visit.shown("fault.html", 404, faults=["There is no car of that name here."])
            except InputError as error:
                return visit.shown("fault.html", 422, faults=[str(one) for one in error.faults])
            except BalancerError as error:
                return visit.shown("fault.html", 422, faults=[str(error)])

        return Route(path, answer, methods=["GET", *methods])

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """Plan for one at a time: the solver takes all there is anyway."""
        if not self._one.acquire(timeout=BUSY):
            raise InputError.one("page", "is busy with a long plan", "load it again in a minute")
        try:
            yield
        finally:
            self._one.release()

    def _enter(self, visit: Visit) -> Response:
        """Let somebody in who has the address; a look alone, as of a scanner, does not spend it."""
        if not visit.posted:
            return _styled(self.templates.render("enter.html", {}))
        cookie = self.door.keys.spend(visit.request.path_params["secret"])
        if cookie is None:
            return PlainTextResponse("403", 403)
        answer = visit.go("/")
        answer.headers.append("set-cookie", self.door.set_cookie(cookie))
        return answer


def _sheet(visit: Visit) -> Response:
    """Show the sheet, as it is written into a file: its style is in it."""
    return _styled(plans.sheet_shown(visit.file))


def _styled(page: str) -> Response:
    """Show a page that has its style in itself: that alone is let in, by its hash."""
    style = page.partition("<style>")[2].partition("</style>")[0]
    allowed = b64encode(sha256(style.encode()).digest()).decode()
    policy = POLICY.replace("style-src 'self'", f"style-src 'sha256-{allowed}'")
    return HTMLResponse(page, headers={"content-security-policy": policy})


def _static(request: Request) -> Response:
    name = request.path_params["file"]
    if name not in _STATIC:
        return PlainTextResponse("404", 404)
    text = files("balancer.page").joinpath("static", name).read_text(encoding="utf-8")
    return Response(text, media_type=_STATIC[name])


def _nowhere(request: Request, error: Exception) -> Response:
    return PlainTextResponse("404", 404)
