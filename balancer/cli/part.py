"""`balancer part`."""

from datetime import date
from typing import Any

import click
import numpy as np

from balancer.car.errors import Fault, InputError, spelled
from balancer.cli.options.files import car_of
from balancer.cli.options.loads import asked_units
from balancer.cli.options.numbers import LENGTH, MASS, Number, System, faults_of
from balancer.cli.options.results import JSON, Result
from balancer.files.car_reader import usual_scales
from balancer.files.format.numbers import Amount, parse, system_of
from balancer.files.parts_kept import Kept, keep_part, open_book
from balancer.files.units import SYSTEMS, Units
from balancer.report.weighing.parts import kept_text
from balancer.weighing.parts import weighed_uncertainty

_LARGEST = 1e6
"""Nothing on pads is heavier, or farther off, in whatever unit; the book knows it closer."""


@click.command("part")
@click.argument("book", metavar="BOOK")
@click.argument("name", metavar="NAME")
@click.argument("pads", nargs=-1, metavar="READING…")
@click.option("--tare", metavar="N,N…", help="What each pad shows without the part.  [0]")
@click.option("--less", type=Number(0, 5000, MASS), help="Stood there too, stays out of the car.")
@click.option("--plus", type=Number(0, 5000, MASS), help="Did not stand there, goes in with it.")
@click.option("--at", metavar="AFT,LEFT[,UP]", help="Where its center is to be.  [required]")
@click.option("--car", metavar="CAR", help="Its [scales] say how sure it is.  [usual ones]")
@click.option("--units", type=System(), metavar="[metric|us]", help="kg, mm or lb, in.  [BOOK's]")
@click.option("--note", help="Anything to remember.")
@JSON
@click.pass_context
def command(
    ctx: click.Context,
    book: str,
    name: str,
    pads: tuple[str, ...],
    tare: str | None,
    less: Amount | None,
    plus: Amount | None,
    at: str | None,
    car: str | None,
    units: Units | None,
    note: str | None,
    as_json: bool,
) -> int:
    """Weigh a part on the pads, and keep it in the parts book.

    On one pad or on several, two parts at once on a pad each: one command a part,
    with the readings of its own pads. It goes into the book by its name, with the
    date and how sure its mass is; the book is made if it is not there.

    \b
    Example:
      balancer part shelf.toml "spare gearbox" 0 22.5 21 0 --tare 0,1.5,1.5,0 \\
          --at 900,0,300 --units metric
    """
    faults = faults_of(ctx)
    faults += [
        Fault(where, "is not UTF-8 text", "type it anew")
        for where, text in (("NAME", name), ("--note", note or ""))
        if text != text.encode("utf-8", "replace").decode()
    ]
    file = None if car is None else car_of(car, faults)
    kept = open_book(book)
    read = _numbers(pads, "reading", MASS, faults)
    bare = _numbers(tare.split(",") if tare else (), "--tare", MASS, faults)
    place = _numbers(at.split(",") if at else (), "--at", LENGTH, faults)
    faults += _slips(len(pads), bare, place, tare)
    system = _units(units, kept, file.units if file else None, [*read, *bare])
    if system is None and kept.text:
        faults.append(Fault("BOOK", "does not say its units", "write them in it, or give --car"))
    elif system is None and not faults:
        faults.append(Fault("--units", "is missing", "say --units metric (kg) or us (lb)"))
    if faults or system is None:
        raise InputError(dict.fromkeys(faults))
    shown, without = (
        np.array([one.to_si(system, "load") for one in ones]) for ones in (read, bare)
    )
    scales = file.car.scales if file else usual_scales(system)
    sure = system.from_si(weighed_uncertainty(scales, shown, without), "mass")
    places = [one.in_units(system, "length") for one in place]
    entry: dict[str, Any] = {
        "name": name,
        "pads": [one.in_units(system, "mass") for one in read],
        "tare": [one.in_units(system, "mass") for one in bare] or None,
        "less": None if less is None else less.in_units(system, "mass"),
        "plus": None if plus is None else plus.in_units(system, "mass"),
        "uncertainty": float(f"{sure:.2g}"),
        **dict(zip(("aft", "left", "up"), places, strict=False)),
        "date": f"{date.today():%Y-%m-%d}",
        "note": note,
    }
    net = sum(entry["pads"]) - sum(entry["tare"] or ())
    mass = net - (entry["less"] or 0) + (entry["plus"] or 0)
    if mass <= 0:
        raise InputError.one("reading", "leaves nothing of the part", "check --tare and --less")
    keep_part(kept, system, entry)
    return Result(
        lambda: kept_text(spelled(book), entry, mass, system, file is not None),
        lambda: {"book": book, **entry, "mass": mass, "units": system.name},
    ).show(as_json)


def _numbers(
    texts: Any, where: str, suffixes: tuple[str, ...], faults: list[Fault]
) -> list[Amount]:
    read = [parse(text, where, suffixes) for text in texts]
    faults += [one for one in read if isinstance(one, Fault)]
    amounts = [one for one in read if isinstance(one, Amount)]
    beyond = [one for one in amounts if abs(one.value) > _LARGEST]
    faults += [Fault(where, f"{one.value:g} is out of reason", "check it") for one in beyond]
    return amounts


def _slips(typed: int, bare: list[Amount], place: list[Amount], tare: str | None) -> list[Fault]:
    faults = []
    if not 1 <= typed <= 4:
        faults.append(Fault("READING", f"got {typed}", "give one for each pad it stood on"))
    if tare and len(bare) != typed:
        what = f"has {len(bare)} numbers for {typed} readings"
        faults.append(Fault("--tare", what, "give one for each reading: --tare 1.5,1.5"))
    if len(place) not in (2, 3):
        way_out = "say how far behind the front axle and left of the middle: --at 900,0"
        what = f"has {len(place)} number{'s' * (len(place) > 1)}" if place else "is missing"
        faults.append(Fault("--at", what, way_out))
    return faults


def _units(said: Units | None, book: Kept, car: Units | None, typed: list[Amount]) -> Units | None:
    """Find the units: those of the book, or of a new one as said, typed, of the car or answered."""
    if book.text:
        return book.units or car
    written = {system.name for one in typed if (system := system_of(one.suffix))}
    named = said or (SYSTEMS[written.pop()] if len(written) == 1 else None)
    return named or car or asked_units()
