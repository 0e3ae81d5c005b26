"""What each page shows, and what its form does."""

import os
from collections.abc import Callable
from typing import Any

from starlette.responses import JSONResponse, Response

from balancer.car.errors import BalancerError, Fault, InputError, gathering, refuse, spelled
from balancer.jobs.answers import Answer
from balancer.jobs.weighed import last_weighed
from balancer.log.entry import KINDS, Entry
from balancer.log.garage import garage_in
from balancer.log.lookup import numbered
from balancer.log.reader import log_path, read_log
from balancer.log.terms import Terms
from balancer.page import editing, plans
from balancer.page.acts import Act, BehindError, Wish, done, news_since
from balancer.page.editing import tick, ticked, untick_all
from balancer.page.forms import Form, aboard_of, readings_line, terms_of, turns_line
from balancer.page.sitting import board_of, news_told, shown_sitting, sitting_of
from balancer.page.told import told
from balancer.page.visit import Visit
from balancer.report.log import Book, entry_text, kind_name, summary
from balancer.report.pictures.plan_view import plan_view
from balancer.report.words.numbers import amount, percent

_SHOWN = 60
"""Entries of a log on its page."""


def cars(visit: Visit) -> Response:
    """List the cars of the folder, each as it was last weighed."""
    folder = visit.served.cars
    garage = garage_in(folder.folder)
    weighed = {one.file.path: one for one in garage.cars}
    whole = {one.path: one for one in (*garage.unweighed, *(one.file for one in garage.cars))}
    rows = []
    for name, path in folder.paths().items():
        one, file = weighed.get(path), whole.get(path)
        row: dict[str, Any] = {
            "name": name,
            "day": "",
            "called": file.car.name if file else name,
            "whole": file is not None,
        }
        if one:
            row |= {
                "day": one.day,
                "cross": percent(one.shares.cross, 2),
                "total": amount(one.shares.total, "load", one.file.units, unit=True),
                "on_board": one.on_board,
            }
        rows.append(row)
    return visit.shown(
        "cars.html",
        cars=rows,
        remarks=[*garage.remarks, *folder.unnamed()],
        folder=spelled(os.path.basename(os.path.abspath(folder.folder)) or folder.folder),
    )


def car(visit: Visit) -> Response:
    """Show a car as it was last weighed, and the way to all else."""
    file = visit.file
    words: dict[str, Any] = {"remarks": [], "opening": [], "blocks": [], "view": ""}
    faults: list[str] = []
    if any(one.kind == "weigh_in" for one in _log(visit)):
        try:
            words = plans.weigh_shown(file)
        except BalancerError as error:
            faults = str(error).splitlines()
    words["remarks"] = [*file.notes, *words["remarks"]]
    return visit.shown(
        "car.html", car=file.car.name, faults=faults, books=list(visit.served.cars.books()), **words
    )


def _log(visit: Visit) -> tuple[Entry, ...]:
    return read_log(log_path(visit.path)).entries


def session(visit: Visit) -> Response:
    """Show a session, or do in it what a form asks for."""
    return _acted(visit) if visit.posted else _session(visit)


def _session(
    visit: Visit,
    status: int = 200,
    form: Form | None = None,
    asked: Answer | None = None,
    sure: str = "",
    template: str = "session.html",
    **words: Any,
) -> Response:
    sitting = sitting_of(visit.file)
    view = ""
    if sitting.step is not None:
        last = sitting.session.last_read
        view = plan_view(visit.file.car, visit.file.units, last.loads, last.shares)
    said = {"faults": [], "news": [], "notice": "", "bad": set(), **words}
    said["remarks"] = () if sitting.session.weigh_ins else visit.file.notes
    if visit.query.ticked("before"):
        said["notice"] = "That was taken already: nothing was entered twice."
    shown = shown_sitting(sitting, form, asked, sure)
    return visit.shown(template, status, car=visit.file.car.name, view=view, **shown, **said)


def turned(visit: Visit) -> Response:
    """Ask what was turned, where it was not the plan."""
    if visit.posted:
        return _acted(visit, "turned.html")
    return _session(visit, template="turned.html")


def _acted(visit: Visit, template: str = "session.html") -> Response:
    """Do what a form asks for; whatever is in its way is said beside what was typed."""
    form, file = visit.form, visit.file
    act = Act(form.act, form.seen)
    try:
        wish = _wish(visit)
        came = done(file, act, wish)
    except BehindError as error:
        news = news_told(file, error.news)
        return _session(visit, 409, form, template="session.html", news=news)
    except InputError as error:
        bad = {one.where.split()[-1] for one in error.faults}
        told_ = [str(one) for one in error.faults]
        return _session(visit, 422, form, template=template, faults=told_, bad=bad)
    except BalancerError as error:
        return _session(visit, 422, form, template=template, faults=str(error).splitlines())
    if came.asked:
        return _session(visit, form=form, asked=came.asked, sure=wish.line)
    return visit.go(f"{visit.at('session')}{'?before=1' if came.before else ''}")


def _wish(visit: Visit) -> Wish:
    form = visit.form
    wishes: dict[str, Callable[[Visit], Wish]] = {
        "weigh": _weigh,
        "done": lambda visit: Wish("made", as_planned=True),
        "made": lambda visit: Wish("made", turns_line(visit.form, visit.file)),
        "undo": lambda visit: Wish("undo", "undo"),
        "end": lambda visit: Wish("session", "done"),
        "note": _note,
        "settings": _settings,
    }
    do = form.get("do")
    if do not in wishes:
        raise InputError.one("form", "asks for nothing known", "open the page again")
    return wishes[do](visit)


def _weigh(visit: Visit) -> Wish:
    form, file = visit.form, visit.file
    faults: list[Fault] = []
    line, state, made = "", None, ""
    with gathering(faults):
        line = readings_line(form)
    with gathering(faults):
        state = aboard_of(form, file) if form.ticked("board") else None
    with gathering(faults):
        made = turns_line(form, file) if form.ticked("turned") else ""
    refuse(faults)
    given = terms_of(form, file, sitting_of(file).taken.terms)
    sure = form.ticked("keep") and form.get("sure") == line
    return Wish("weigh_in", line, given=given, aboard=state, sure=sure, made=made)


def _note(visit: Visit) -> Wish:
    text = " ".join(visit.form.get("text").split())
    if not text:
        raise InputError.one("Note", "is empty", "type what to remember")
    return Wish("note", f"note {text}")


def _settings(visit: Visit) -> Wish:
    form, file = visit.form, visit.file
    given = terms_of(form, file, sitting_of(file).taken.terms)
    if not given.says:
        raise InputError.one("Aim", "is what it was", "change a number, or leave it")
    return Wish("session", given=given)


def log(visit: Visit) -> Response:
    """List the log, the last entries first."""
    kept = read_log(log_path(visit.path))
    book = Book(visit.file, kept.entries)
    everything = visit.query.ticked("all")
    kinds = KINDS if everything else ("weigh_in", "made", "note")
    entries = [one for one in reversed(book.entries) if one.kind in kinds]
    listed = entries[: _SHOWN * (10 if everything else 1)]
    rows = [(one.number, *summary(book, one), kind_name(one)) for one in listed]
    lost = [f"line {one.line} {one.text}: left out" for one in kept.damaged]
    return visit.shown(
        "log.html", car=visit.file.car.name, rows=rows, lost=lost, everything=everything,
        left=max(len(entries) - len(rows), 0),
    )  # fmt: skip


def entry(visit: Visit) -> Response:
    """Show an entry of the log."""
    number = visit.request.path_params["number"]
    book = Book(visit.file, _log(visit))
    one = numbered(book.entries, str(number), "log")
    return visit.shown(
        "told.html", car=visit.file.car.name, title=f"Entry {number}", opening=[], remarks=[],
        blocks=told(lambda: entry_text(book, one)), view="",
    )  # fmt: skip


def trim(visit: Visit) -> Response:
    """Show the car in another state."""
    file, query = visit.file, visit.query
    asked = aboard_of(query, file) if query.ticked("go") else None
    weighed, remarks = last_weighed(file)
    board = board_of(file, Terms(words=weighed.words), query if query.ticked("go") else None)
    shown = plans.trim_shown(weighed, remarks, asked)
    return visit.shown("trim.html", car=file.car.name, title="Race trim", board=board, **shown)


def ballast(visit: Visit) -> Response:
    """Show the least ballast that meets the rules."""
    return visit.shown(
        "told.html", car=visit.file.car.name, title="Ballast", **plans.ballast_shown(visit.file)
    )


def prep(visit: Visit) -> Response:
    """Show the check before an event, or tick a box of it."""
    if visit.posted:
        if visit.form.get("do") == "untick":
            untick_all(visit.path)
        elif box := visit.form.get("box"):
            tick(visit.path, box, visit.form.ticked("on"))
        return visit.go(f"{visit.at('prep')}#boxes")
    return visit.shown(
        "prep.html",
        car=visit.file.car.name,
        ticked=ticked(visit.path),
        **plans.prep_shown(visit.file),
    )


def parts(visit: Visit) -> Response:
    """Show a parts book and what its variants do."""
    books = visit.served.cars.books()
    asked = visit.query.get("book") or next(iter(books), "")
    if asked not in books:
        raise InputError.one("parts", "there is no parts book here", "see balancer guide parts")
    named = [value for name, value in sorted(visit.query.boxes) if name == "variant"]
    words = plans.parts_shown(visit.file, books[asked], named)
    words |= {"books": list(books), "book": asked}
    return visit.shown("parts.html", car=visit.file.car.name, **words)


def car_file(visit: Visit) -> Response:
    """Show the car file as text, or save it when it is whole."""
    path, form = visit.path, visit.form
    now = editing.text_of(path)
    if not visit.posted:
        return _editor(visit, now, editing.mark_of(now), editing.slips_in(now, path))
    text = form.fields.get("text", "").replace("\r\n", "\n")
    slips = editing.slips_in(text, path)
    if slips or form.get("do") == "check":
        return _editor(visit, text, form.get("mark"), slips, 422 if slips else 200, checked=True)
    try:
        editing.saved(path, text, form.get("mark"))
    except editing.ChangedError:
        changed = "The file was changed elsewhere since: look below, and save again to replace it."
        return _editor(visit, text, editing.mark_of(now), [], 409, changed=changed, other=now)
    return visit.go(visit.at("file") + "?saved=1")


def _editor(
    visit: Visit, text: str, mark: str, slips: list[editing.Slip], status: int = 200, **more: Any
) -> Response:
    words = {"changed": "", "other": "", "checked": False, "saved": visit.query.ticked("saved")}
    lines = text.split("\n")
    shown = [(one, lines[one.line - 1] if 0 < one.line <= len(lines) else "") for one in slips]
    return visit.shown("file.html", status, text=text, mark=mark, slips=shown, **{**words, **more})


def seen(visit: Visit) -> Response:
    """Say how far the log has come, for a page that looks whether it is behind."""
    entries = _log(visit)
    said = visit.query.get("after")
    after = int(said) if said.isascii() and said.isdigit() and len(said) < 13 else 0
    return JSONResponse({"behind": bool(news_since(entries, Act("", after)))})
