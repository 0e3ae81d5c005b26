"""One judge for whatever ran: what is wrong with what came of it."""

from __future__ import annotations

import json
import os
import re
import tomllib
from collections.abc import Iterator
from typing import Any, NamedTuple

from balancer.car.conventions import CORNERS
from balancer.car.errors import spelled
from balancer.report.words.tables import WIDTH, showable
from tests.fuzz.running import KEPT, SECONDS, Ran

STATUSES = {0, 1, 2}
UNMET = ("perches", "ballast", "prep", "sheet", "springs", "back", "lift", "torsion", "pads")
"""Commands with a target, or a question, that can go unmet."""
MET = {"reached", "met", "found", "at_least", "all", "something", "some"}
MOST_SECONDS = float(os.environ.get("FUZZ_SLOW", "4"))
"""Of processor time without a word; twice what is promised, for machines that are busy."""
WITH_A_BAR = ("perches", "ballast", "prep", "sheet", "springs")
"""Commands that show at a terminal that they are at work."""
MOST_MEGABYTES = 500.0
MOST_LINES = 400
"""On standard error; nobody reads more."""

_NOT_FINITE = re.compile(r"(?<![\w.])(nan|inf|infinity)(?![\w]| is not)", re.IGNORECASE)
_TOO_LARGE = re.compile(r"e\+?[34]\d\d|\d{309}", re.IGNORECASE)
_FAULT = re.compile(r"(?s)^(.+?): (.+): (.+)$")
_TRACE_AT = re.compile(r'File ".*?/(balancer/[\w/]+\.py)", line \d+, in (\w+)')
_ARGUMENTS = ("balancer", "reading", "CAR", "LIFTS", "WEIGHINGS", "BEFORE AFTER", "READING",
              "FILE", "TOPIC", "BOOK", "NAME", "output", "line", "log", "--", "-", "on_board",
              "note", "made", '""')  # fmt: skip


class Finding(NamedTuple):
    """Something wrong: of which sort, where in the package or what, and as it was seen."""

    sort: str
    place: str
    seen: str


def judge(ran: Ran) -> list[Finding]:
    """Find all that is wrong with what came of an input."""
    rules = (_crash, _status, _cost, _finite, _json, _controls, _faults, _kept)
    return [finding for rule in rules for finding in rule(ran)]


def _command(ran: Ran) -> str:
    return ran.case.words[0] if ran.case.words else ""


def _crash(ran: Ran) -> Iterator[Finding]:
    if not ran.trace.strip():
        return
    last = ran.trace.strip().splitlines()[-1]
    where = _TRACE_AT.findall(ran.trace)
    place = ":".join(where[-1]) if where else "outside the package"
    sort = "warning" if "Warning" in last.split(":")[0] else "traceback"
    sort = (
        "memory" if last.startswith(("MemoryError", "numpy._core._exceptions._ArrayMem")) else sort
    )
    yield Finding(sort, f"{last.split(':')[0]} in {place}", ran.trace[-3000:])


def _status(ran: Ran) -> Iterator[Finding]:
    plan, command = ran.case.plan, _command(ran)
    allowed = STATUSES | ({141} if plan.stdout == "pipe" else set())
    if ran.status not in allowed and not ran.trace.strip() and ran.status not in (-24, -14, -9):
        yield Finding("status", f"{ran.status} of {command}", _told(ran))
    answered = command in UNMET and (bool(ran.out.strip()) or plan.stdout != "file")
    if ran.status == 1 and not ran.trace.strip() and not answered:
        yield Finding("status", f"1 of {command} without an answer", _told(ran))
    if ran.status == 2 and not ran.err.strip():
        yield Finding("silence", f"2 of {command} without a fault", _told(ran))
    quiet = plan.stdout == "file" and command != "session"
    if ran.status == 0 and not ran.out.strip() and quiet:
        yield Finding("silence", f"0 of {command} without an answer", _told(ran))


def _cost(ran: Ran) -> Iterator[Finding]:
    if ran.status in (-24, -9) or ran.seconds > SECONDS:
        yield Finding("hang", f"{_command(ran)} of {ran.case.plan.kind}", f"{ran.seconds:.1f} s")
    elif ran.status == -14:
        yield Finding("hang", f"{_command(ran)} waits", _told(ran))
    elif ran.seconds > MOST_SECONDS * _answers(ran) and not _says_so(ran):
        yield Finding("slow", f"{_command(ran)} of {ran.case.plan.kind}", f"{ran.seconds:.1f} s")
    # Much work is no fault once it was said; a bomb is, and ends at MEGABYTES.
    if ran.megabytes > MOST_MEGABYTES and b"Ctrl-C" not in ran.err:
        yield Finding(
            "memory", f"{_command(ran)} of {ran.case.plan.kind}", f"{ran.megabytes:.0f} MB"
        )


def _answers(ran: Ran) -> int:
    """Count what is answered one by one: each has its own time."""
    return max(1, len(ran.case.plan.lines)) if _command(ran) == "session" else 1


def _says_so(ran: Ran) -> bool:
    """Whether it said what takes long, or would at a terminal."""
    return _command(ran) in WITH_A_BAR or b"Ctrl-C" in ran.err


def _finite(ran: Ran) -> Iterator[Finding]:
    """Find numbers that are none, unless the user wrote the word."""
    case = ran.case
    given = " ".join((*case.words, case.typed.decode("utf-8", "replace"), ""))
    given += "".join(case.files[edit.file].decode("utf-8", "replace") for edit in case.plan.edits
                     if edit.file in case.files)  # fmt: skip
    echoes = _NOT_FINITE.search(given) or _TOO_LARGE.search(given)
    for name, content in (("text", ran.out), ("fault or note", ran.err)):
        found = _NOT_FINITE.search(content.decode("utf-8", "replace"))
        quotes = name != "text" or case.typed or {"log", "cars"} & set(case.words)
        if found and not (echoes and quotes):
            yield Finding("nan", f"{name} of {_command(ran)}", _around(content, found))


def _around(content: bytes, found: re.Match[str]) -> str:
    text = content.decode("utf-8", "replace")
    return text[max(0, found.start() - 200) : found.end() + 200]


def _json(ran: Ran) -> Iterator[Finding]:
    case = ran.case
    if "--json" not in case.words or ran.status not in (0, 1) or case.plan.stdout != "file":
        return
    if "--help" in case.words or "--version" in case.words:
        return
    for line in ran.out.decode("utf-8", "replace").splitlines():
        try:
            told = json.loads(line, parse_constant=_refused)
        except ValueError as error:
            yield Finding("json", f"{_command(ran)}: {str(error)[:40]}", line[:300])
            return
        yield from _unmet(ran, told)


def _refused(text: str) -> Any:
    raise ValueError(f"{text} is no number")


def _unmet(ran: Ran, told: Any) -> Iterator[Finding]:
    status = told.get("status") if isinstance(told, dict) else None
    if _command(ran) in UNMET and isinstance(status, str) and (status in MET) != (ran.status == 0):
        yield Finding("status", f"{ran.status} of {_command(ran)} that is {status}", _told(ran))


def _controls(ran: Ran) -> Iterator[Finding]:
    """Find what a terminal would obey."""
    for name, content in (("text", ran.out), ("fault or note", ran.err)):
        text = content.decode(ran.case.plan.encoding, "replace")
        raw = sorted({one for one in text if not one.isprintable() and one not in "\n\u00a0\ufffd"})
        if raw:
            yield Finding("control", f"{name} of {_command(ran)}", f"{raw[:5]!r} in {text[:300]!r}")


def _faults(ran: Ran) -> Iterator[Finding]:
    lines = ran.err.decode(ran.case.plan.encoding, "replace").splitlines()
    if len(lines) > MOST_LINES:
        yield Finding("flood", _command(ran), f"{len(lines)} lines")
    if ran.status != 2:
        return
    noted, before = False, ""
    for line in lines:
        noted = line.startswith("note: ") or (noted and _goes_on(before, line))
        before = line
        if noted or line.startswith("  ") or not line:
            continue
        if why := _unplaced(ran, line):
            yield Finding("no place", f"{why} {_shape(line)}", line[:500])


def _goes_on(before: str, line: str) -> bool:
    """Whether a line is the rest of the one before it, which was full."""
    first = line.split(" ")[0]
    return bool(first) and len(before) <= WIDTH < len(before) + 1 + len(first)


def _unplaced(ran: Ran, line: str) -> str:
    """Say why a fault has no place that its reader can go to."""
    found = _FAULT.match(line)
    if not found:
        return "not place, what, way out:"
    where, files = found[1], ran.case.files
    if not where.startswith(_places(ran)):
        return "place not known:"
    if where in files and _names_a_key(files[where], found[2]):
        return "no line:"
    if (
        where.endswith(".jsonl")
        and re.search(r"entry|damaged", line)
        and not re.search(r"\d", line)
    ):
        return "no entry:"
    return ""


def _places(ran: Ran) -> tuple[str, ...]:
    """Give how a place may begin: with a file, a word that was typed, a corner."""
    words = ran.case.words
    given = [*ran.case.files, *words]
    # What has no log yet is told of the log that it would have.
    given += [re.sub(r"\.toml$", ".log.jsonl", name) for name in ran.case.files]
    given += [word.partition("=")[2] for word in words]
    given += [word.rpartition("/")[2] for word in words]
    given += ran.case.typed.decode("utf-8", "replace").split()
    shown = [*given, *map(spelled, given), *(f"“{one}" for one in words)]
    # A terminal that has no halves shows 1½ as 1 1/2.
    shown += [showable(one, ran.case.plan.encoding) for one in shown]
    return (*filter(None, shown), *CORNERS, *_ARGUMENTS)


def _names_a_key(content: bytes, what: str) -> bool:
    """Whether a fault is of a key that has a line in the file."""
    key = re.match(r"[\w.\[\]]+$", what.split(": ")[0])
    if not key or key[0] in CORNERS:
        # A corner that can't stand is not the fault of one key.
        return False
    missing = ": is missing" in what and "." not in key[0]
    return not missing and _holds(content, key[0])


def _holds(content: bytes, key: str) -> bool:
    first = re.escape(re.split(r"[.\[]", key)[0]).encode()
    return bool(re.search(rb"(?m)^\s*(\[\[?\s*)?" + first + rb"\s*[\].=]", content))


def _shape(line: str) -> str:
    """Give a fault without what differs from one input to the next."""
    return re.sub(r"“[^”]*”|\d[\d.]*", "…", line)[:90]


def _kept(ran: Ran) -> Iterator[Finding]:
    """Nothing that was there may be gone; a log may only grow."""
    meant = ("--output", "--svg")
    for name, now in ran.files.items():
        if (
            name in KEPT
            and now
            and (ran.status in (0, 1))
            and any(one in ran.case.words for one in meant)
        ):
            continue
        if name in KEPT and any(
            word == f"{one}={name}" for one in meant for word in ran.case.words
        ):
            continue
        before = ran.case.files.get(name, b"")
        if _command(ran) == "part" and now and ran.status == 0 and _one_more(before, now):
            continue
        if name.endswith(".jsonl") and now is not None and _grown(before, now, ran.new):
            continue
        yield Finding(
            "lost", f"{name} by {_command(ran)}", f"{before[-300:]!r} is now {str(now)[-300:]}"
        )
    for name in ran.new:
        if ".part" in name or name.endswith(".tmp"):
            yield Finding("left behind", f"by {_command(ran)}", name)


def _one_more(before: bytes, now: bytes) -> bool:
    """Whether a parts book is what it was, with one part more at its end."""
    parts = [tomllib.loads(book.decode())["part"] for book in (before, now)]
    return now.startswith(before.rstrip(b"\n")) and parts[1][:-1] == parts[0]


def _grown(before: bytes, now: bytes, new: tuple[str, ...]) -> bool:
    """Whether a log begins as it did, but for a torn last line, which is set aside."""
    if b"@AGO" in before:
        before = re.sub(rb"@AGO:-?\d+@", b"\0", before)
        now_lines, lines = now.split(b"\n"), before.split(b"\n")
        return len(now_lines) >= len(lines) - 1
    torn = any(name.endswith(".torn") for name in new)
    whole = before[: before.rfind(b"\n") + 1] if torn else before
    return now.startswith(whole)


def _told(ran: Ran) -> str:
    told = (ran.out[-1500:] + b"\n" + ran.err[-1500:]).decode("utf-8", "replace")
    return told.strip() or f"nothing, status {ran.status}"
