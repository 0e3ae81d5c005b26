"""A command line for any command, drawn from what it declares: a new option is drawn by itself."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import NamedTuple

import click

from balancer.cli import cli
from balancer.cli.commands import COMMANDS
from balancer.report.guide.pages import TOPICS
from tests.fuzz.damage import TEXTS

Words = tuple[str, ...]

ODD = (
    "nan", "inf", "-inf", "-1", "0", "-0", "1e400", "1e-400", "1e308", "", " ", "½", "1½", "1 1/2",
    "1/0", "-3/4", "٣", "--json", "--", "-", "5%", "5mm", "5 in", "5kg", "1,5", "0x10", "1_0", "−3",
    "+5", ".5", "5.", "1e2", "9" * 400, "true", "LF=1", "48:52",
)  # fmt: skip
STRANGE = (
    "--jsn",
    "--crosss=50",
    "-x",
    "--",
    "-",
    "--help",
    "extra",
    "50",
    "--json=1",
    "--verbose",
)
AMOUNTS = ("1", "-2", "0.5", "3mm", "0.1in", "1½", "-0.75", "1/2", "12", "-30")
MADE = ("LF=3 RF=-3 LR=-3 RR=3", "LF=2 RR=2", "LF=0.5", "LF=1 LF=1", "LF=3 RF=x", "LF")
SPRINGS = ("80", "60.5", "8kg/mm", "450 lb/in", "62.", "1e3", "-70")
PIECES = ("ecu=2@1300,-20", "seat=-8@1500,300", "bar=6.5@-200,0", "ecu=2@1300,-20,300",
          "tool box=1/2@2000,0", "ecu=5lb@52in,1", "=2@1,1", "ecu=2", "ecu@1,2")  # fmt: skip
MEASURED = ("2405", "101 1/4", "96.5 in", "8 kg/mm", "70", "0.68", "1.5", "16 tpi", "1450 mm",
            "1,450", "-3", "0", "x")  # fmt: skip
DATES = ("2026-06-13", "2026-06-13 14:30", "0001-01-01", "9999-12-31", "13.6.2026", "yesterday")
PATHS = ("out.svg", "way.svg", "none/out.svg", "out.html", "out.csv", "/dev/full", "/dev/null", ".",
         "", "-", "link.svg", "link.html", "kept.svg", "kept.html", "x" * 300 + ".svg",
         "a\x1b[31m.svg")  # fmt: skip


class Base(NamedTuple):
    """What a case starts from: names of files that go together.

    Attributes
    ----------
    car : str
    loads : tuple of float
        Such as this car has, in its units.
    readings : tuple of str
        Of this car; may be empty.
    names, parts, variants : tuple of str
        What is on board, in the book, and changes in the book.
    trims : tuple of str
        Names of race trims.
    """

    car: str
    loads: tuple[float, ...]
    readings: tuple[str, ...] = ()
    names: Words = ("driver",)
    parts: Words = ("iron engine", "alloy engine", "battery")
    variants: Words = ("alloy", "aft")
    trims: Words = ()


def command_named(name: str) -> click.Command:
    """Load a command."""
    command = cli.get_command(click.Context(cli), name)
    assert command is not None, name
    return command


def draw_bare(rng: Random, base: Base) -> tuple[Words, ...]:
    """Draw a command line that needs no file, or none at all."""
    name = draw_command(rng)
    sort = rng.random()
    if sort < 0.45:
        return draw(
            rng, rng.choice(("weigh", "weigh", "guide", "init", "schema")), base, False, 0.1
        )
    if sort < 0.6:
        return (("help",), (name,), *[(rng.choice((*STRANGE, "log")),)] * (rng.random() < 0.3))
    if sort < 0.75:
        return ((name,), (rng.choice(("--help", "-h", *STRANGE)),))
    if sort < 0.9:
        # A slip in the name, or a word that is no command.
        at = rng.randrange(len(name))
        return ((rng.choice((name[:at] + name[at + 1 :], name.upper(), f"{name}s")),), (base.car,))
    return ((rng.choice((name, "--version", "-h", *STRANGE, *TEXTS)).replace("\0", ""),),)


SERVES = "page"
"""Runs until it is stopped; tests/page draws what it is asked."""


def draw_command(rng: Random, taking: tuple[str, ...] = tuple(COMMANDS)) -> str:
    """Choose a command among those that take what is to be tried."""
    return rng.choice([name for name in taking if name in COMMANDS and name != SERVES])


def draw(rng: Random, name: str, base: Base, from_log: bool, wild: float) -> tuple[Words, ...]:
    """Draw a command line in groups, each of which can be left out, but for the first.

    `wild` is how often a value is odd.
    """
    params = command_named(name).params
    fixed: list[str] = [name]
    for param in params:
        if isinstance(param, click.Argument):
            fixed += _argument(rng, param, base, from_log)
    if name == "weigh" and rng.random() < 0.15:
        fixed = [name, *_loads(rng, base.loads)]
    groups = [tuple(fixed)]
    for param in params:
        if isinstance(param, click.Option) and _drawn(rng, param, fixed):
            groups += _option(rng, param, base, from_log, wild)
    if rng.random() < wild / 3:
        groups.append((rng.choice(STRANGE),))
    return tuple(groups)


def _drawn(rng: Random, param: click.Option, fixed: list[str]) -> bool:
    if param.name == "readings":
        return (len(fixed) == 2 and fixed[0] != "check") or rng.random() < 0.03
    if param.required:
        return rng.random() < 0.95
    if fixed[0] == "log":
        # Most of them one at a time.
        return rng.random() < {"as_json": 0.5, "sure": 0.2}.get(str(param.name), 0.06)
    bare = fixed[0] == "weigh" and (len(fixed) == 1 or fixed[1][:1].isdigit())
    often = {"at": 0.9, "as_json": 0.6, "book": 0.9, "said": 0.9, "named": 0.85, "save": 0.2}
    if bare or fixed[0] == "init":
        often |= {"units": 0.8, "wheelbase": 0.4, "track": 0.4, "save": 0.05, "every": 0.2}
    return rng.random() < often.get(str(param.name), 0.09)


def _argument(rng: Random, param: click.Argument, base: Base, from_log: bool) -> Words:
    if isinstance(param.type, click.Choice):
        return (str(rng.choice(param.type.choices)),)
    if param.name == "loads":
        return () if from_log or (base.readings and rng.random() < 0.4) else _loads(rng, base.loads)
    if param.name == "files":
        return tuple(_readings(rng, base, from_log) for _ in range(rng.choice((1, 2, 2, 2, 3))))
    if param.name in ("folder", "topic", "file"):
        return () if rng.random() < 0.2 else (_optional(rng, param),)
    if param.name == "pads":
        count = rng.choice((1, 1, 2, 3, 4, 5))
        return tuple(rng.choice(("0", "22.5", "79kg", "1½", "95.5", *ODD)) for _ in range(count))
    if param.name in ("book", "name"):
        named = (("parts.toml", "parts.toml", "shelf.toml", base.car),
                 ("gearbox", "iron wheels", *base.parts[:1], *TEXTS))  # fmt: skip
        return (rng.choice(named[param.name == "name"]).replace("\0", ""),)
    known = {"car": base.car, "lifts": "lifts.toml", "weighings": "pads.toml"}
    return (known.get(str(param.name), rng.choice(TEXTS)),)


def _optional(rng: Random, param: click.Argument) -> str:
    if rng.random() < 0.1:
        return rng.choice((*TEXTS, *PATHS)).replace("\0", "")
    known = {"folder": (".", ".", "..", "none"), "topic": (*TOPICS, "sesions"),
             "file": ("new.toml", "new.toml", "coupe.toml", "x/new.toml")}  # fmt: skip
    return rng.choice(known[str(param.name)])


def _loads(rng: Random, loads: tuple[float, ...]) -> Words:
    words = [f"{load * rng.uniform(0.97, 1.03):.1f}" for load in loads]
    if rng.random() < 0.1:
        words[rng.randrange(4)] = rng.choice((*ODD, "29.4", "3000"))
    if rng.random() < 0.05:
        words = words[: rng.randrange(4)] + [rng.choice(ODD)] * rng.randrange(3)
    return tuple(words)


def _readings(rng: Random, base: Base, from_log: bool) -> str:
    if from_log or rng.random() < 0.05:
        return rng.choice(
            ("log", "log:2", "log:5", "log:1", "log:2026-06-13", "log:99", "log:", "log:x")
        )
    return rng.choice(base.readings or ("weigh_in.toml",))


def _option(
    rng: Random, param: click.Option, base: Base, from_log: bool, wild: float
) -> list[Words]:
    name = param.opts[-1]
    if param.is_flag:
        return [(name,)]
    times = rng.choice((1, 1, 2, 4)) if param.multiple else 1
    found = []
    for _ in range(times):
        values = [_value(rng, param, base, from_log, wild) for _ in range(param.nargs)]
        joined = param.nargs == 1 and rng.random() < 0.2
        found.append((f"{name}={values[0]}",) if joined else (name, *values))
    return found


def _value(rng: Random, param: click.Option, base: Base, from_log: bool, wild: float) -> str:
    if rng.random() < wild:
        return rng.choice((*ODD, *TEXTS)).replace("\0", "")
    kind, said = param.type, str(param.metavar or getattr(param.type, "name", ""))
    if isinstance(kind, click.Choice):
        return str(rng.choice(list(kind.choices)))
    low, high = getattr(kind, "low", None), getattr(kind, "high", None)
    if isinstance(kind, click.IntRange):
        return str(rng.choice((kind.min or 0, (kind.min or 0) + rng.randrange(900))))
    if said == "LF RF LR RR" and param.name == "loads":
        return f"{rng.choice(base.loads) * rng.uniform(0.97, 1.03):.1f}"
    if low is not None and high is not None:
        return _number(rng, float(low), float(high))
    drawn: dict[str, Callable[[], str]] = {
        "NAMES": lambda: _names(rng, base),
        "CORNER": lambda: rng.choice(("LF", "RF", "LR", "RR", "rr")),
        "CORNER=NUMBER": lambda: f"{_corner(rng)}={rng.choice(AMOUNTS)}",
        "LF=2": lambda: rng.choice((*MADE, f"{_corner(rng)}={rng.choice(AMOUNTS)}")),
        "PCT[:PCT]": lambda: rng.choice(("50", "48:52", "53.5", "40:45", "60", "52:54.5", "55:50")),
        "PART": lambda: rng.choice((*base.parts * 5, "turbo")),
        "OLD=NEW": lambda: f"{rng.choice(base.parts)}={rng.choice(base.parts)}",
        "NAME": lambda: rng.choice((*base.variants * 8, "other")),
        "DATE": lambda: rng.choice(DATES),
        "DATE|ENTRY": lambda: rng.choice((*DATES, *map(str, range(12)))),
        "N,N…": lambda: rng.choice(("1.5", "0,1.5", "1,2,3,4", "x")),
        "AFT,LEFT[,UP]": lambda: rng.choice(("900,0", "900,0,300", "35in,-5", "9e9,0", "900")),
        "RATE": lambda: rng.choice(SPRINGS),
        "NAME=MASS@AFT,LEFT": lambda: rng.choice(PIECES),
        "TEXT": lambda: rng.choice(("new dampers", "coupe", *TEXTS)).replace("\0", ""),
        "N": lambda: str(rng.randrange(12)),
        "CAR": lambda: rng.choice((base.car, "roadster.toml")),
    }
    if said in drawn:
        return drawn[said]()
    if said.startswith("FILE") or "path" in said.lower():
        return _file(rng, param, base, from_log)
    return rng.choice((*base.names, *MEASURED, "LF=1", "fuel", "2", "0.5"))


def _file(rng: Random, param: click.Option, base: Base, from_log: bool) -> str:
    if param.name == "readings":
        return _readings(rng, base, from_log)
    if param.name == "book":
        return "parts.toml"
    if param.name == "past":
        return rng.choice((*["past.csv"] * 12, "table.csv", "pads.toml", *PATHS))
    usual = {"output": "page.html", "svg": "drawn.svg", "table": "table.csv", "sheet": "cars.csv"}
    return rng.choice((*[usual.get(str(param.name), "new.txt")] * 20, *PATHS))


def _number(rng: Random, low: float, high: float) -> str:
    middle = 50.0 if low <= 50 <= high else (low + high) / 2
    near = middle + rng.uniform(-1, 1) * min(3.0, high - middle)
    drawn = rng.choice(
        (near, near, near, rng.uniform(low, high), low, high, low + (high - low) / 1000)
    )
    return f"{drawn:.4g}"


def _corner(rng: Random) -> str:
    return rng.choice(("LF", "RF", "LR", "RR", "lf", "front", "rear", "all"))


def _names(rng: Random, base: Base) -> str:
    names = rng.sample(base.names, rng.randrange(len(base.names) + 1))
    with_amounts = [
        f"{one}={rng.choice((2, 5, 20, 8.5))}" if one == "fuel" else one for one in names
    ]
    drawn = ",".join(with_amounts) or "none"
    return rng.choice((drawn, drawn, "none", "driver", "race trim", "nobody", *base.trims * 2))
