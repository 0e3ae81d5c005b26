"""What perches are to reach, as options say it: a cross weight in one of four ways, and heights."""

from collections.abc import Callable, Iterator
from typing import Any, TypeVar

import click
import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import Fault, InputError, refuse
from balancer.cli.options.numbers import (
    CROSS,
    LENGTH,
    MASS,
    TOLERANCE,
    ByCorner,
    Corner,
    Number,
    four,
    fraction,
)
from balancer.files.car_file import CarFile
from balancer.planning.perches.goal import Asked
from balancer.report.words.numbers import amount, percent
from balancer.weighing.uncertainty import Shares, shares

_MOST_RISE = 0.1
"""More than any perch gives, and less than a height in the wrong units would ask for [m]."""
_NOW_UNKNOWN = "the heights now are not known", "put ride_heights in a readings file"
_NOT_SAID = "the heights now are not known", "say them with --stands, or --heights-from FILE"
_GROUPS = {"all": CORNERS, "front": CORNERS[:2], "rear": CORNERS[2:]}
_TARGETS = {
    "cross": "--cross",
    "equal_fronts": "--equal-fronts",
    "equal_rears": "--equal-rears",
    "wanted": "--loads",
}

_OPTIONS = (
    CROSS,
    click.option("--equal-fronts", is_flag=True, help="Want LF and RF to carry the same."),
    click.option("--equal-rears", is_flag=True, help="Want LR and RR to carry the same."),
    four(
        "--loads",
        Number(1, 5000, MASS),
        "Want loads as close to these four as perches can bring them.",
        "wanted",
    ),
    TOLERANCE,
    click.option(
        "--height-tolerance", type=Number(0.001, 100, LENGTH), help="At each wheel.  [target]"
    ),
    click.option(
        "--raise",
        "rises",
        multiple=True,
        type=ByCorner(),
        help="Change a ride height; may be repeated.",
    ),
    four(
        "--heights",
        Number(0, 2000, LENGTH),
        "Ride heights wanted, where the readings file has those now.",
    ),
    click.option(
        "--keep", multiple=True, type=Corner(), help="A corner not to be touched; may be repeated."
    ),
)

LINKS = "Drop links of connected bars may be used too (link_lead)."

Function = TypeVar("Function", bound=Callable[..., Any])


def with_asked(function: Function) -> Function:
    """Take the options that `asked_of` puts together."""
    for add in reversed(_OPTIONS):
        function = add(function)
    return function


def asked_of(options: dict[str, Any], file: CarFile, heights: Floats | None) -> Asked:
    """Put together what the options of a command ask for, in a car that stands at these heights."""
    units, height = file.units, options["height_tolerance"]
    loads = [load.to_si(units, "load") for load in options["wanted"] or ()]
    return Asked(
        cross=fraction(options["cross"]),
        equal="front" if options["equal_fronts"] else "rear" if options["equal_rears"] else None,
        loads=np.array(loads) if loads else None,
        where=next((_TARGETS[name] for name in _TARGETS if options[name]), "target"),
        called=f"loads near {', '.join(amount(load, 'load', units) for load in loads)}",
        tolerance=fraction(options["tolerance"]),
        height_tolerance=height.to_si(units, "length") if height else None,
        rise=_rise(options, file, heights),
        keep=frozenset(options["keep"]),
    )


def remarks(asked: Asked, file: CarFile, has: Shares) -> Iterator[str]:
    """Remark on loads that are those of another car: no perch brings them."""
    if asked.loads is None:
        return
    wants = shares(file.car, asked.loads)
    for name, wanted, now in (("front", wants.front, has.front), ("left", wants.left, has.left)):
        if abs(wanted - now) > 0.005:
            own = f"{percent(wanted)} {name}, and the car has {percent(now)}"
            yield f"--loads ask for {own}: only mass moves that"
    more = wants.total - has.total
    if abs(more) > 0.02 * has.total:
        off = amount(abs(more), "load", file.units, unit=True)
        way = "more" if more > 0 else "less"
        yield f"--loads add up to {off} {way} than the car: only their pattern counts"


def _rise(options: dict[str, Any], file: CarFile, now: Floats | None) -> Floats:
    """Work out the wanted change of ride height at each wheel station [m]."""
    units, rise, option = file.units, np.zeros(4), "--raise"
    if options["heights"]:
        if now is None:
            raise InputError.one("--heights", *_NOW_UNKNOWN)
        option = "--heights"
        rise = np.array([height.to_si(units, "length") for height in options["heights"]]) - now
    for name, change in options["rises"]:
        for corner in _GROUPS.get(name, (name,)):
            rise[CORNERS.index(corner)] += change.to_si(units, "length")
    most = amount(_MOST_RISE, "length", units, unit=True)
    faults = [
        Fault(
            f"{option} {corner}",
            f"a change of {amount(change, 'length', units, sign=True, unit=True)}",
            f"at most {most}, check the units",
        )
        for corner, change in zip(CORNERS, rise, strict=True)
        if abs(change) > _MOST_RISE
    ]
    refuse(faults)
    return rise


def contradictions(given: dict[str, Any]) -> Iterator[Fault]:
    """Find options that don't go together."""
    asked = [option for name, option in _TARGETS.items() if given[name] not in (None, False)]
    if len(asked) > 1:
        yield Fault(" and ".join(asked), "more than one target", "give one")
    measured = any(given.get(name) for name in ("readings", "stands", "heights_from"))
    if given["heights"] and not measured:
        yield Fault("--heights", *(_NOT_SAID if "stands" in given else _NOW_UNKNOWN))
