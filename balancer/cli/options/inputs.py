"""What most commands take: a car file and four readings, typed or in a file."""

from __future__ import annotations

import functools
import os
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, NamedTuple, TypeVar

import click

from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import Item
from balancer.car.statics import statics_of
from balancer.cli.options.numbers import Names, astray, faults_of, is_astray
from balancer.cli.terminal.show import print_error
from balancer.errors import Fault, InputError, OperatingPointError
from balancer.files.car_file import CarFile
from balancer.files.car_reader import read_car
from balancer.files.checks.readings import bad_loads
from balancer.files.format.numbers import Amount, parse
from balancer.files.readings import faults_in, read_readings, readings_of
from balancer.files.states import race_state, split_names, state_of
from balancer.weighing.weigh import Readings, WeighIn, weigh

_MASS = ("kg", "lb", "lbs")
_ONLY_WEIGH = ("weigh",)
"""Commands to which it does not matter where the corners stand."""

Read = TypeVar("Read")


class Weighed(NamedTuple):
    """A car file read, the car weighed, and how to show what comes of it."""

    file: CarFile
    weigh_in: WeighIn
    was: tuple[Item, ...]
    as_json: bool

    @property
    def source(self) -> dict[str, Any]:
        """What JSON says of where the readings are from, if from the log."""
        found = self.weigh_in.readings.source
        return {"from_log": found._asdict()} if found else {}


class ReadingsCommand(click.Command):
    """A command among whose arguments a minus sign is a slip to be named, not an option."""

    from_log = False
    """Whether it takes the last weigh-in of the log when no readings are given."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.context_settings = {**self.context_settings, "ignore_unknown_options": True}

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the command line; an option misused is put aside, to be told with the rest."""
        while True:
            try:
                return super().parse_args(ctx, list(args))
            except click.BadOptionUsage as error:
                from balancer.cli.options.usage import usage_fault

                name = error.option_name
                kept = [one for one in args if one != name and not one.startswith(f"{name}=")]
                if kept == args:
                    raise
                error.ctx = ctx
                faults_of(ctx).append(usage_fault(error))
                astray(ctx)
                args = kept

    def check(self, file: CarFile | None, given: dict[str, Any]) -> Iterator[Fault]:
        """Find what is wrong with options in the light of the car; None: it can't be read."""
        for param in self.params:
            text = given.get(str(param.name))
            if file and isinstance(param.type, Names) and text is not None:
                try:
                    state_of(file, split_names(text), param.opts[0])
                except InputError as error:
                    yield from error.faults


def with_readings(function: Callable[..., None]) -> Callable[..., None]:
    """Take CAR, the readings and --json, and pass them on as one `Weighed`."""

    @click.pass_context
    def run(
        ctx: click.Context,
        /,
        car: str,
        loads: tuple[str, ...],
        readings: str | None,
        weighed_with: str | None,
        as_json: bool,
        **options: Any,
    ) -> None:
        weighed = inputs_of(ctx, car, loads, readings, weighed_with, as_json)
        with operating_faults(weighed.file):
            function(weighed, **options)

    return car_and_readings(functools.update_wrapper(run, function))


def car_and_readings(function: Callable[..., None]) -> Callable[..., None]:
    """Add the arguments and options that `gather` takes."""
    for add in (
        click.option("--json", "as_json", is_flag=True, help="Print one JSON object."),
        click.option("--weighed-with", type=Names(), help="On board when weighed.  [race trim]"),
        click.option(
            "--readings", metavar="FILE", help="A TOML file; or log, log:12, log:2026-06-13."
        ),
        click.argument("loads", nargs=-1, metavar="[LF RF LR RR]"),
        click.argument("car", metavar="CAR"),
    ):
        function = add(function)
    return function


def inputs_of(
    ctx: click.Context,
    car: str,
    loads: tuple[str, ...],
    readings: str | None,
    weighed_with: str | None,
    as_json: bool,
) -> Weighed:
    """Read car and readings; whatever is wrong with either is raised in one go."""
    faults = faults_of(ctx)
    typed = _without_options(ctx, loads)
    if _is_number(car):
        faults.append(_car_left_out(car, typed))
        file, taken = None, _taken(None, [], readings, faults)
    else:
        file = collected(faults, lambda: read_car(car))
        if file and readings is None and not typed and _has_log(ctx, file):
            readings = "log"
        before = len(faults)
        amounts = _typed(typed, readings, faults, count=not is_astray(ctx))
        taken = _taken(file, amounts if len(faults) == before else [], readings, faults)
    if isinstance(ctx.command, ReadingsCommand):
        faults.extend(ctx.command.check(file, ctx.params))
    if file is None or taken is None or faults:
        raise InputError(dict.fromkeys(faults))
    with operating_faults(file):
        weigh_in = weigh(file.car, taken)
    _note(*file.notes, *taken.remarks, *_odd_pads(taken.repeats.mean(axis=0), file))
    if readings is not None and _is_log(readings):
        file = _from_log(file)
    file = _tied_unless_needless(ctx, file, weigh_in)
    return Weighed(file, weigh_in, _was(file, taken, weighed_with), as_json)


def _is_number(car: str) -> bool:
    return isinstance(parse(car, "CAR", _MASS), Amount) and not os.path.exists(car)


def _car_left_out(car: str, typed: Sequence[str]) -> Fault:
    named = next((text for text in typed if os.path.exists(text)), "CAR")
    return Fault("CAR", f"{car} is a number", f"the car file comes first: {named} LF RF LR RR")


def _taken(
    file: CarFile | None, amounts: Sequence[Amount], readings: str | None, faults: list[Fault]
) -> Readings | None:
    """Take the readings as typed, or from where they are said to be; None: there are faults."""
    try:
        if readings is not None:
            return _read(readings, file)
        if file and len(amounts) == len(CORNERS):
            return readings_of(file, [load.in_units(file.units, "load") for load in amounts])
    except InputError as error:
        faults.extend(error.faults)
    return None


def _note(*notes: object) -> None:
    for note in notes:
        print_error(f"note: {note}")


def _from_log(file: CarFile) -> CarFile:
    from balancer.log.car_from_log import car_from_log

    logged, note = car_from_log(file)
    if note:
        _note(note)
    return logged


def _tied_unless_needless(ctx: click.Context, file: CarFile, weigh_in: WeighIn) -> CarFile:
    try:
        return _tied(file, weigh_in)
    except InputError as error:
        if ctx.command.name not in _ONLY_WEIGH:
            raise
        _note(*error.faults)
        return file


def _tied(file: CarFile, weigh_in: WeighIn) -> CarFile:
    """Tie a car to where its corners stood on the pads."""
    statics = statics_of(file.car, weigh_in.loads + weigh_in.pad_effect)
    with operating_faults(file):
        tied, odd = file._replace(car=statics.anchored()), statics.odd_travel()
    if odd:
        from balancer.report.perches.corners import oddities

        _note(*(f"{os.path.basename(file.path)}: {note}" for note in oddities(odd, file.units)))
    return tied


@contextmanager
def operating_faults(file: CarFile) -> Iterator[None]:
    """Tell of corners that can't stand as a car file says the way all its faults are told."""
    try:
        yield
    except OperatingPointError as error:
        name, units = os.path.basename(file.path), file.units

        def spell(length: float) -> str:
            return f"{units.from_si(length, 'length'):.3g} {units.labels['length']}"

        raise InputError(one.fault(name, spell) for one in error.reasons) from None


def collected(faults: list[Fault], read: Callable[[], Read]) -> Read | None:
    """Read a file, or put its faults with the others and give None."""
    try:
        return read()
    except InputError as error:
        faults.extend(error.faults)
        return None


def _read(readings: str, file: CarFile | None) -> Readings | None:
    """Read a readings file or the log; without the car only its faults can be told."""
    if file is not None and _is_log(readings):
        return readings_named(readings, file)
    if file is not None:
        with operating_faults(file):
            return read_readings(readings, file)
    if faults := faults_in(readings, None):
        raise InputError(faults)
    return None


def readings_named(readings: str, file: CarFile) -> Readings:
    """Read a readings file or the log; corners that can't stand under them are told as faults."""
    from balancer.log.lookup import readings_from

    with operating_faults(file):
        return readings_from(readings, file)


def _is_log(readings: str) -> bool:
    return re.match(r"log(:|$)", readings) is not None and not os.path.exists(readings)


def _has_log(ctx: click.Context, file: CarFile) -> bool:
    if not getattr(ctx.command, "from_log", False):
        return False
    from balancer.log.reader import log_path

    return os.path.exists(log_path(file.path))


def _was(file: CarFile, taken: Readings, weighed_with: str | None) -> tuple[Item, ...]:
    """Find what was on board: as said, else as the readings file says, else as in race trim."""
    if weighed_with is not None:
        return state_of(file, split_names(weighed_with), "--weighed-with").items
    if taken.on_board is not None:
        return (*state_of(file, taken.on_board, "on_board").items, *taken.aboard)
    return race_state(file).items


def _without_options(ctx: click.Context, loads: Sequence[str]) -> list[str]:
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


def _typed(
    loads: Sequence[str], readings: str | None, faults: list[Fault], count: bool
) -> list[Amount]:
    if readings is not None and loads and count:
        faults.append(Fault("--readings", "given beside typed readings", "give one or the other"))
    if readings is not None:
        return []
    if len(loads) == 1 and len(re.split(r"[,;\s]+", loads[0].strip())) >= 4:
        way_out = "write four apart, without commas or quotes: LF RF LR RR"
        faults.append(Fault("readings", f"“{loads[0][:40]}” is one word", way_out))
        return []
    if len(loads) != 4 and count:
        way_out = "give four: LF RF LR RR, or --readings FILE"
        got = f"got {len(loads)} number{'' if len(loads) == 1 else 's'}"
        faults.append(Fault("readings", got, way_out))
    names = CORNERS if len(loads) == 4 else [f"reading {n + 1}" for n in range(len(loads))]
    found = [parse(text, name, _MASS) for text, name in zip(loads, names, strict=True)]
    amounts = [one for one in found if isinstance(one, Amount)]
    faults.extend(one for one in found if isinstance(one, Fault))
    if faults:
        # So that a sign or a zero is told together with the slip in another number.
        values = [one.value if isinstance(one, Amount) else 1.0 for one in found]
        faults.extend(bad_loads(values, names))
    return amounts


def _odd_pads(loads: Floats, file: CarFile) -> list[str]:
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
