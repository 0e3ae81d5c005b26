"""Readings typed on the command line, with a car file or without, and what people type instead."""

import functools
import os
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from math import inf, nan
from typing import Any

import click

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import Fault
from balancer.car.model import plain_car
from balancer.cli.options.numbers import LENGTH, MASS, Number, System, astray, faults_of
from balancer.cli.terminal.show import somebody_there
from balancer.files.car_file import CarFile
from balancer.files.checks.readings import bad_loads
from balancer.files.format.numbers import Amount, parse, system_of
from balancer.files.units import SYSTEMS, Units


def is_number(car: str) -> bool:
    """Say whether a number stands where the car file is named."""
    return not os.path.exists(car) and isinstance(parse(car, "CAR", MASS), Amount)


def car_left_out(car: str, typed: Sequence[str]) -> Fault:
    """Tell where the car file is to stand."""
    named = next((text for text in typed if os.path.exists(text)), "CAR")
    return Fault("CAR", f"{car} is a number", f"the car file comes first: {named} LF RF LR RR")


def without_options(ctx: click.Context, loads: Sequence[str]) -> list[str]:
    """Take out mistyped options, which click has let through among the readings."""
    typed = []
    for text in loads:
        name = text.partition("=")[0]
        bare = name.lstrip("-–—")
        if bare != name and bare[:1].isalpha() and bare.lower() not in ("nan", "inf", "infinity"):
            from balancer.cli.options.usage import strange_option

            faults_of(ctx).append(strange_option(name, ctx.command))
            astray(ctx)
        else:
            typed.append(text)
    return typed


def typed_loads(loads: Sequence[str], faults: list[Fault], count: bool) -> list[Amount]:
    """Read loads as typed.

    Args:
        count: Whether to mind how many there are.
    """
    if len(loads) == 1 and len(re.split(r"[,;\s]+", loads[0].strip())) >= 4:
        way_out = "write four apart, without commas or quotes: LF RF LR RR"
        faults.append(Fault("readings", f"“{loads[0][:40]}” is one word", way_out))
        return []
    if len(loads) != 4 and count:
        way_out = "give four: LF RF LR RR, or --readings FILE"
        got = f"got {len(loads)} number{'' if len(loads) == 1 else 's'}"
        faults.append(Fault("readings", got, way_out))
    names = CORNERS if len(loads) == 4 else [f"reading {n + 1}" for n in range(len(loads))]
    read = [parse(text, name, MASS) for text, name in zip(loads, names, strict=True)]
    faults.extend(number for number in read if isinstance(number, Fault))
    if faults:
        # So that a sign or a zero is told together with the slip in another number.
        values = [number.value if isinstance(number, Amount) else 1.0 for number in read]
        faults.extend(bad_loads(values, names))
    return [number for number in read if isinstance(number, Amount)]


def odd_pads(loads: Floats, file: CarFile) -> list[str]:
    """Find pads that show far less or more than the others: often a digit too few or too many."""
    shown = loads / file.units.factors["load"]
    middle = sum(sorted(shown)[1:3]) / 2
    label = file.units.labels["load"]
    return [
        f"{corner} reads {round(value, 1):g} {label}, the middle of all is {middle:.0f}:"
        " is a digit wrong?"
        for corner, value in zip(CORNERS, shown, strict=True)
        if not middle / 3 < value < 3 * middle
    ]


_OPTIONS = ("units", "wheelbase", "track")


def with_bare(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that stand for a car file where there is none; the command needs none."""

    def run(*args: Any, units: object, wheelbase: object, track: object, **given: Any) -> Any:
        return function(*args, **given)

    functools.update_wrapper(run, function)
    for option in (
        click.option(
            "--track",
            type=Number(19, 2600, LENGTH),
            multiple=True,
            help="Without CAR: for the center left or right; twice: front, rear.",
        ),
        click.option(
            "--wheelbase",
            type=Number(39, 5000, LENGTH),
            help="Without CAR: for the center of gravity fore and aft.",
        ),
        click.option(
            "--units", type=System(), metavar="[metric|us]", help="Without CAR: kg, mm or lb, in."
        ),
    ):
        run = option(run)
    return run


def file_says(ctx: click.Context) -> Iterator[Fault]:
    """Find what is said although a car file says it."""
    for name in _OPTIONS:
        if ctx.params.get(name):
            yield Fault(f"--{name}", "given beside a car file", "leave it out: the file says it")


def bare_car(ctx: click.Context, loads: Sequence[Amount], faults: list[Fault]) -> CarFile | None:
    """Make what stands for a car file of what is said instead; None: there are faults."""
    said: list[Amount] = [ctx.params["wheelbase"] or Amount(nan, ""), *ctx.params["track"]]
    units = _units(ctx.params["units"], [*loads, *said], faults)
    if len(said) > 3:
        faults.append(Fault("--track", f"given {len(said) - 1} times", "give it once or twice"))
    if units is None:
        if not faults:
            faults.append(Fault("--units", "is missing", "say --units metric (kg) or us (lb)"))
        return None
    wheelbase, *tracks = (amount.to_si(units, "length") for amount in said)
    front, *rear = tracks or [nan]
    # Enough to weigh, and no more; where its center of gravity is, is not known where this is not.
    car = plain_car(wheelbase, (front, rear[0] if rear else front), (inf, inf), (1.0, 1.0))
    return CarFile("", replace(car, name="A car without a file"), units, ())


def _units(named: Units | None, typed: Sequence[Amount], faults: list[Fault]) -> Units | None:
    """Find the units: as named, as typed behind the numbers, or as somebody answers."""
    if named is not None:
        return named
    written = {system.name for amount in typed if (system := system_of(amount.suffix))}
    if len(written) == 1:
        return SYSTEMS[written.pop()]
    if written:
        faults.append(Fault("units", "are kg and lb, mm and in mixed", "say which, with --units"))
    return None if written else asked_units()


def asked_units() -> Units | None:
    """Ask for the units; None: nobody is there."""
    if not somebody_there():
        return None
    answer: str = click.prompt("kg or lb", type=click.Choice(["kg", "lb"]), show_choices=False)
    return system_of(answer)
