"""The pages and their addresses: all that is remembered is in the log and the files."""

import threading
from base64 import b64encode
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from hashlib import sha256
from importlib.resources import files

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.routing import Route

from balancer.car.errors import BalancerError, InputError
from balancer.page import pages, plans
from balancer.page.guard import POLICY, Door, Guard
from balancer.page.visit import Cars, Served, UnknownCarError, Visit, templates
from balancer.report.pictures.svg import PLAN_STYLE

BUSY = 30.0
"""How long somebody waits for others' plans [s]."""

_STATIC = {"page.css": "text/css", "page.js": "text/javascript"}


Page = Callable[[Visit], Response]


class House:
    """The cars that are served, and who is let in to them."""

    def __init__(self, folder: str, door: Door) -> None:
        self.served, self.door = Served(Cars(folder), door, templates()), door
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
            self._route(f"{car}/sheet", lambda visit: _styled(plans.sheet_shown(visit.file))),
            self._route("/enter/{secret}", self._enter, "POST"),
            Route("/static/{file}", _static),
            Route("/favicon.ico", lambda request: Response(status_code=204)),
        ]
        app = Starlette(
            routes=routes, exception_handlers={404: lambda *_: PlainTextResponse("404", 404)}
        )
        app.router.redirect_slashes = False
        return Guard(app, self.door)

    def _route(self, path: str, page: Page, *methods: str) -> Route:
        def answer(request: Request) -> Response:
            visit = Visit(request, self.served)
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
            return _styled(self.served.templates.get_template("enter.html").render())
        cookie = self.door.keys.spend(visit.request.path_params["secret"])
        if cookie is None:
            return PlainTextResponse("403", 403)
        answer = visit.go("/")
        answer.headers.append("set-cookie", self.door.set_cookie(cookie))
        return answer


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
    return Response(text + PLAN_STYLE * (name == "page.css"), media_type=_STATIC[name])
