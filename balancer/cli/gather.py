"""What most commands take: a car file and four readings, typed or in a file."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, NamedTuple

import click

from balancer.car import CORNERS
from balancer.carfile import CarFile, read_car
from balancer.cli.numbers import Amount, faults_of, parse
from balancer.cli.show import complain
from balancer.errors import Fault, InputError
from balancer.readings import bad_loads, read_readings, readings_of
from balancer.weighing import WeighIn, weigh


class Weighed(NamedTuple):
    """A car file read, the car weighed, and how to show what comes of it."""

    file: CarFile
    weigh_in: WeighIn
    as_json: bool


class ReadingsCommand(click.Command):
    """A command among whose arguments a minus sign is a slip to be named, not an option."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.context_settings = {**self.context_settings, "ignore_unknown_options": True}


def with_readings(function: Callable[..., None]) -> Callable[..., None]:
    """Take CAR, the readings and --json, and pass them on as one `Weighed`."""

    @click.pass_context
    def run(
        ctx: click.Context,
        /,
        car: str,
        loads: tuple[str, ...],
        readings: str | None,
        as_json: bool,
        **options: Any,
    ) -> None:
        function(gather(ctx, car, loads, readings, as_json), **options)

    return car_and_readings(functools.update_wrapper(run, function))


def car_and_readings(function: Callable[..., None]) -> Callable[..., None]:
    """Add the arguments and options that `gather` takes."""
    for add in (
        click.option("--json", "as_json", is_flag=True, help="Print one JSON object."),
        click.option("--readings", metavar="FILE", help="Take the readings from a TOML file."),
        click.argument("loads", nargs=-1, metavar="[LF RF LR RR]"),
        click.argument("car", metavar="CAR"),
    ):
        function = add(function)
    return function


def gather(
    ctx: click.Context, car: str, loads: tuple[str, ...], readings: str | None, as_json: bool
) -> Weighed:
    """Read car and readings; whatever is wrong with either is raised in one go."""
    _unknown_options(ctx, loads)
    faults = faults_of(ctx)
    file: CarFile | None = None
    try:
        file = read_car(car)
    except InputError as error:
        faults.extend(error.faults)
    amounts = _typed(loads, readings, faults)
    if file is None or faults:
        raise InputError(faults)
    if readings:
        taken = read_readings(readings, file)
    else:
        taken = readings_of(file, [one.in_units(file.units, "load") for one in amounts])
    for note in file.notes:
        complain(f"note: {note}")
    return Weighed(file, weigh(file.car, taken), as_json)


def _unknown_options(ctx: click.Context, loads: tuple[str, ...]) -> None:
    """Name a mistyped option, which click has let through among the readings."""
    known = [name for param in ctx.command.params for name in param.opts if name.startswith("--")]
    for text in loads:
        if text.startswith("--") or (text.startswith("-") and text[1:2].isalpha()):
            name = text.partition("=")[0]
            if isinstance(parse(text, "", ()), Fault) and text.lower().lstrip("-") not in (
                "nan",
                "inf",
            ):
                import difflib

                close = difflib.get_close_matches(name, known, n=3, cutoff=0.5)
                raise click.NoSuchOption(name, possibilities=close, ctx=ctx)


def _typed(loads: tuple[str, ...], readings: str | None, faults: list[Fault]) -> list[Amount]:
    if readings and loads:
        faults.append(Fault("--readings", "given beside typed readings", "give one or the other"))
    if readings:
        return []
    if len(loads) != 4:
        way_out = "give four: LF RF LR RR, or --readings FILE"
        if len(loads) == 1 and loads[0].count(",") >= 3:
            way_out = "separate the four with blanks: LF RF LR RR"
        got = f"got {len(loads)} number{'' if len(loads) == 1 else 's'}"
        faults.append(Fault("readings", got, way_out))
    names = CORNERS if len(loads) == 4 else [f"reading {n + 1}" for n in range(len(loads))]
    found = [
        parse(text, name, ("kg", "lb", "lbs")) for text, name in zip(loads, names, strict=True)
    ]
    amounts = [one for one in found if isinstance(one, Amount)]
    faults.extend(one for one in found if isinstance(one, Fault))
    if faults:
        # So that a sign or a zero is told together with the slip in another number.
        values = [one.value if isinstance(one, Amount) else 1.0 for one in found]
        faults.extend(bad_loads(values, names))
    return amounts
