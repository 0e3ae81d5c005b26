"""One input, made from a seed and a number: a command line, the files around it, what is typed."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from random import Random
from typing import Any, NamedTuple

from balancer.files.json_schema import json_schema
from tests.conftest import ROOT
from tests.fuzz.damage import add_key, damage_bytes, damage_table, damage_text, damage_tree
from tests.fuzz.logs import damage_log
from tests.fuzz.sitting import a_line
from tests.fuzz.toml_text import toml_text
from tests.fuzz.words import Base, Words, draw, draw_bare, draw_command

COUPE = Base(
    "coupe.toml", (302, 288.5, 231, 244),
    ("weigh_in.toml", "june.toml", "turned.toml", "shares.toml"), ("driver", "fuel", "spare wheel"),
)  # fmt: skip
BASES = (
    COUPE, COUPE, COUPE,
    Base("fueled.toml", COUPE.loads, ("weigh_in.toml",), COUPE.names),
    Base("roadster.toml", (520, 498, 455, 462)),
    Base("formula.toml", (254.5, 246, 305, 297.5), (), ("driver", "fuel")),
    Base("kart.toml", (40.1, 36.8, 45.2, 47.6), (), ()),
    Base("hillclimb.toml", (268, 251, 236, 249)),
    Base("real.toml", (303, 297.5, 236, 229), (), ("driver", "fuel")),
    Base("trims.toml", COUPE.loads, (), COUPE.names, trims=("wet", "driver two, dry", "spare")),
)  # fmt: skip
TRIMS = b"""
[[on_board]]
name = "driver two"
mass = 61
aft = 1420
left = 340

[[race_trim]]
name = "wet"
on_board = ["driver", "fuel"]

[[race_trim]]
name = "driver two, dry"
on_board = ["driver two"]

[[race_trim]]
name = "spare"
on_board = ["driver", "fuel", "spare wheel"]
"""
PAST = """\
date,time,LF,RF,LR,RR,on board,note,weather
2025-04-12,09:30,{0[0]},{0[1]},{0[2]},{0[3]},{1},first,dry
2025-04-12,11:05,{0[0]},{0[1]},{0[2]},{0[3]},{1},after two turns,dry
2025-05-03,,{0[0]},{0[1]},{0[2]},{0[3]},none,"=1+1",wet
"""
FOLDERS = ("examples", "tests/cli/garage")
NAMES = {"weigh_in_turned.toml": "turned.toml", "weigh_in_june.toml": "june_too.toml"}
SCHEMAS = {"weigh_in.toml": "readings", "june.toml": "readings", "turned.toml": "readings",
           "shares.toml": "readings", "parts.toml": "parts", "lifts.toml": "lifts",
           "pads.toml": "pads"}  # fmt: skip

_READING = ("weigh", "perches", "ballast", "trim", "stint", "parts", "prep", "sheet", "springs",
            "check", "compare")  # fmt: skip
_WITH_READINGS = _READING[:9]
_LOGGED = ("log", "log", "log", "log", "prep", "perches", "learned", "sheet", "weigh", "weigh",
           "session", "session", "torsion", "compare", "back", "back", "cars",
           "springs")  # fmt: skip
_BOOKED = ("parts", "parts", "parts", "part", "compare")
_ON_CARS = (*_READING, *_READING, *_READING, "session", "torsion", "lift", "pads", "learned", "log",
            "cars")  # fmt: skip

KINDS: Mapping[str, int] = {
    "car": 26, "readings": 7, "parts": 7, "lifts": 4, "pads": 4, "log": 14, "past": 4, "garage": 4,
    "session": 8, "options": 13, "bare": 3, "bytes": 4, "terminal": 2,
}  # fmt: skip
"""Kinds of input, and how many of a hundred there are of each."""


class Edit(NamedTuple):
    """One thing done to one file, with random numbers of its own."""

    file: str
    how: str
    seed: str


class Plan(NamedTuple):
    """All that an input is made of; any edit, group of words or line can be left out of it."""

    kind: str
    base: Base
    words: tuple[Words, ...]
    edits: tuple[Edit, ...] = ()
    lines: tuple[str, ...] = ()
    logged: str = ""
    encoding: str = "utf-8"
    zone: str = "UTC"
    stdin: str = "lines"
    stdout: str = "file"


LOGS = ("", "open", "ended")
"""Which log a car has: none; of a session that goes on; of one that ended, and what followed."""


class Case(NamedTuple):
    """What is run: words after `balancer`, files by name, and what its process is given."""

    plan: Plan
    words: Words
    files: dict[str, bytes]
    typed: bytes


def planned(seed: int, number: int) -> Plan:
    """Plan an input. The same seed and number make the same plan."""
    rng = Random(f"{seed}:{number}")
    kind = rng.choices(list(KINDS), list(KINDS.values()))[0]
    plan = _PLANNERS[kind](rng, _base(rng, kind))
    encoding = rng.choices(("utf-8", "ascii", "latin-1", "cp1252"), (85, 6, 6, 3))[0]
    zone = rng.choices(("UTC", "Asia/Kathmandu", "XXX-99", "Pacific/Kiritimati"), (90, 4, 3, 3))[0]
    return plan._replace(kind=kind, encoding=encoding, zone=zone)


def _base(rng: Random, kind: str) -> Base:
    return COUPE if kind in ("readings", "parts", "lifts", "pads") else rng.choice(BASES)


def _seeds(rng: Random, file: str, hows: tuple[str, ...]) -> tuple[Edit, ...]:
    count = rng.choice((1, 1, 1, 1, 1, 2, 2, 4))
    return tuple(Edit(file, rng.choice(hows), f"{rng.getrandbits(64)}") for _ in range(count))


_HOWS = ("tree", "tree", "tree", "key", "key", "gentle", "gentle", "gentle", "gentle", "text")


def _car(rng: Random, base: Base) -> Plan:
    name = draw_command(rng, _ON_CARS)
    edits = _seeds(rng, base.car, _HOWS)
    plan = Plan("", base, draw(rng, name, base, False, 0.01), edits)
    return plan._replace(lines=_lines(rng, base, 3)) if name == "session" else plan


def _readings(rng: Random, base: Base) -> Plan:
    file = rng.choice(base.readings)
    base = base._replace(readings=(file, file, file, "weigh_in.toml"))
    words = draw(rng, draw_command(rng, (*_WITH_READINGS, "compare", "torsion")), base, False, 0.01)
    if words[0][0] not in ("compare", "torsion"):
        words = ((*words[0][:2],), ("--readings", file), *words[1:])
    return Plan("", base, words, _seeds(rng, file, _HOWS))


def _parts(rng: Random, base: Base) -> Plan:
    words = draw(rng, draw_command(rng, _BOOKED), base, False, 0.01)
    if rng.random() < 0.5 and words[0][0] != "part":
        words = (*words, ("--book", "parts.toml"))
    return Plan("", base, words, _seeds(rng, "parts.toml", _HOWS))


def _one_file(name: str) -> Callable[[Random, Base], Plan]:
    def plan(rng: Random, base: Base) -> Plan:
        command = name.removesuffix(".toml").removesuffix("s") if name == "lifts.toml" else "pads"
        words = draw(rng, draw_command(rng, (command,)), base, False, 0.01)
        return Plan("", base, words, _seeds(rng, name, _HOWS))

    return plan


def _log(rng: Random, base: Base) -> Plan:
    name = draw_command(rng, _LOGGED)
    words = draw(rng, name, base, True, 0.02)
    if rng.random() < 0.3 and "--readings" not in [word for group in words for word in group]:
        words = (*words, ("--readings", "log")) if name in _WITH_READINGS else words
    edits = _seeds(rng, log_of(base), ("log",) * 8 + ("bytes",))
    lines = _lines(rng, base, 2) if name == "session" else ()
    return Plan("", base, words, edits, lines, logged=rng.choice(LOGS[1:]))


def _past(rng: Random, base: Base) -> Plan:
    """Bring in weigh-ins of before."""
    words: tuple[Words, ...] = (("log", base.car), ("--import", "past.csv"))
    words += tuple((one,) for one in ("--yes", "--json") if rng.random() < 0.6)
    hows = ("cells", "cells", "cells", "text", "bytes")
    edits = _seeds(rng, "past.csv", hows) if rng.random() < 0.9 else ()
    return Plan("", base, words, edits, logged=rng.choice(LOGS))


def _garage(rng: Random, base: Base) -> Plan:
    """Look at all the cars of a folder, of which one or two are not what they were."""
    words = draw(rng, "cars", base, True, 0.03)
    if rng.random() < 0.7:
        words = (("cars", *rng.choice(((), (".",)))), *words[1:])
    edits: tuple[Edit, ...] = ()
    for one in rng.sample(BASES, rng.randrange(3)):
        file, hows = rng.choice(((one.car, _HOWS), (log_of(one), ("log", "bytes"))))
        edits += _seeds(rng, file, hows)
    return Plan("", base, words, edits, logged=rng.choice(LOGS[1:]))


def _session(rng: Random, base: Base) -> Plan:
    words = draw(rng, "session", base, False, 0.02)
    lines = _lines(rng, base, 10 if base.car not in ("real.toml", "hillclimb.toml") else 4)
    return Plan("", base, words, (), lines, logged=rng.choice(("", "", "", *LOGS)))


def _options(rng: Random, base: Base) -> Plan:
    name = draw_command(rng)
    words = draw(rng, name, base, False, rng.choice((0.0, 0.05, 0.3)))
    lines = _lines(rng, base, 2) if name == "session" else ()
    return Plan("", base, words, (), lines, logged=rng.choice(("", "", "", *LOGS)))


def _bare(rng: Random, base: Base) -> Plan:
    return Plan("", base, draw_bare(rng, base))


def _bytes(rng: Random, base: Base) -> Plan:
    """Damage bytes of whatever file the command reads."""
    plan = rng.choice((_car, _one_file("pads.toml"), _log))(rng, base)
    if base.readings and rng.random() < 0.4:
        plan = rng.choice((_readings, _parts))(rng, base)
    damaged = tuple(Edit(edit.file, "bytes", edit.seed) for edit in plan.edits[:2])
    return plan._replace(edits=damaged)


def _terminal(rng: Random, base: Base) -> Plan:
    plan = rng.choice((_options, _session, _log, _car))(rng, base)
    streams = ("closed", "full", "pipe", "file")
    return plan._replace(stdin=rng.choice(("closed", "lines")), stdout=rng.choice(streams))


_PLANNERS: dict[str, Callable[[Random, Base], Plan]] = {
    "car": _car, "readings": _readings, "parts": _parts, "lifts": _one_file("lifts.toml"),
    "pads": _one_file("pads.toml"), "log": _log, "past": _past, "garage": _garage,
    "session": _session, "options": _options, "bare": _bare, "bytes": _bytes,
    "terminal": _terminal,
}  # fmt: skip


def _lines(rng: Random, base: Base, most: int) -> tuple[str, ...]:
    return tuple(a_line(rng, base.loads) for _ in range(rng.randrange(1, most + 1)))


def log_of(base: Base) -> str:
    """Name the log of a base."""
    return base.car.replace(".toml", ".log.jsonl")


def _past_of(base: Base) -> bytes:
    return PAST.format(base.loads, (*base.names, "none")[0]).encode()


def log_name(base: Base, logged: str) -> str:
    """Name one of the logs that there are of a base."""
    return f"{logged} {log_of(base)}"


@cache
def sound_files() -> dict[str, bytes]:
    """Give the files that all inputs start from."""
    paths = [path for folder in FOLDERS for path in sorted((ROOT / folder).glob("*.toml"))]
    found: dict[str, bytes] = {}
    for path in paths:
        found.setdefault(NAMES.get(path.name, path.name), path.read_bytes())
    return {**found, "trims.toml": found["coupe.toml"] + TRIMS}


def made(plan: Plan, logs: Mapping[str, bytes]) -> Case:
    """Make an input of its plan; `logs` are sound ones, by `log_name`."""
    files = {**sound_files(), "past.csv": _past_of(plan.base)}
    for base in BASES if plan.kind == "garage" else (plan.base,):
        name = log_name(base, plan.logged)
        if plan.logged and name in logs:
            files[log_of(base)] = logs[name]
    for edit in plan.edits:
        if edit.file in files:
            files[edit.file] = _edited(edit, files[edit.file], plan.base)
    typed = "".join(f"{line}\n" for line in plan.lines).encode("utf-8", "surrogatepass")
    return Case(plan, tuple(word for group in plan.words for word in group), files, typed)


def _edited(edit: Edit, content: bytes, base: Base) -> bytes:
    rng = Random(edit.seed)
    if edit.how == "bytes":
        return damage_bytes(rng, content)
    if edit.how == "log":
        return damage_log(rng, content)
    text = content.decode("utf-8", "replace")
    if edit.how == "cells":
        return damage_table(rng, text).encode("utf-8", "replace")
    if edit.how == "text":
        return damage_text(rng, text).encode("utf-8", "replace")
    try:
        tree = tomllib.loads(text)
    except (ValueError, RecursionError):
        # An edit before this one has left no TOML.
        return damage_text(rng, text).encode("utf-8", "replace")
    _in_tree(rng, edit, tree)
    try:
        return toml_text(tree).encode("utf-8", "replace")
    except RecursionError:
        # Nested deeper than we can write.
        return damage_text(rng, text).encode("utf-8", "replace")


def _in_tree(rng: Random, edit: Edit, tree: dict[str, Any]) -> None:
    if edit.how == "key":
        add_key(rng, tree, _schema(SCHEMAS.get(edit.file, "car")))
    else:
        damage_tree(rng, tree, gentle=edit.how == "gentle")


@cache
def _schema(which: Any) -> dict[str, Any]:
    return _resolved(json_schema(which))


def _resolved(schema: dict[str, Any]) -> dict[str, Any]:
    """Put definitions where they are referred to."""
    defs = schema.get("$defs", {})

    def inner(value: Any) -> Any:
        if isinstance(value, dict):
            if "$ref" in value:
                return inner(defs[value["$ref"].rpartition("/")[2]])
            return {key: inner(one) for key, one in value.items() if key != "$defs"}
        return [inner(one) for one in value] if isinstance(value, list) else value

    found = inner(schema)
    assert isinstance(found, dict)
    return found
