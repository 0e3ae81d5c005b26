"""Four pads without a car file: what is said beside the numbers instead of in a file."""

import functools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from math import inf, nan
from typing import Any

import click

from balancer.car.model import plain_car
from balancer.cli.options.numbers import LENGTH, Number, System
from balancer.cli.terminal.show import somebody_there
from balancer.errors import Fault
from balancer.files.car_file import CarFile
from balancer.files.format.numbers import Amount, system_of
from balancer.units import SYSTEMS, Units

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


def can_be_bare(ctx: click.Context) -> bool:
    """Say whether a command works without a car file."""
    return "wheelbase" in ctx.params


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
