"""What most commands take: a car file and four readings, typed or in a file."""

import functools
import os
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import click

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import Fault, InputError, gathering
from balancer.cli.options import loads as typed
from balancer.cli.options.files import (
    car_of,
    is_log,
    missing_for,
    note,
    readings_beside,
    state_named,
)
from balancer.cli.options.numbers import CAR, WEIGHED_WITH, Names, astray, faults_of, is_astray
from balancer.cli.options.results import JSON, Result
from balancer.cli.options.swap import swap_faults
from balancer.files.car_file import CarFile, operating_faults
from balancer.files.format.numbers import Amount
from balancer.files.on_board import split_names
from balancer.files.readings import readings_of
from balancer.files.states import state_of, trims_asked
from balancer.jobs.weighed import Weighed, tied_to
from balancer.report.words.opening import Aboard, aboard_in, opening, state_json, target_json
from balancer.weighing.weigh import Readings, WeighIn, weigh

_WITHOUT_RATES = ("weigh", "check")
"""Commands that say nothing wrong where the rates are."""

_ONLY_WEIGH = ("weigh",)
"""Commands to which it does not matter where the corners stand."""


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
                kept = [word for word in args if word != name and not word.startswith(f"{name}=")]
                if kept == args:
                    raise
                error.ctx = ctx
                faults_of(ctx).append(usage_fault(error))
                astray(ctx)
                args = kept

    def check(self, file: CarFile | None, given: dict[str, Any]) -> Iterator[Fault]:
        """Find what is wrong with options in the light of the car; None: it can't be read."""
        if "typed_parts" in given:
            yield from swap_faults(file, given)
        for param in self.params:
            said = given.get(str(param.name))
            if file and isinstance(param.type, Names) and said is not None:
                texts = said if isinstance(said, tuple) else (said,)
                for text in texts:
                    yield from _wrong_state(file, text, param)


def _wrong_state(file: CarFile, text: str, param: click.Parameter) -> Sequence[Fault]:
    """Find what is wrong with a state; only what may be several may be a race trim by name."""
    faults: list[Fault] = []
    with gathering(faults):
        if getattr(param, "multiple", False):
            trims_asked(file, [text])
        else:
            state_of(file, split_names(text), param.opts[0])
    return faults


def with_readings(function: Callable[..., Result]) -> Callable[..., int]:
    """Take CAR, the readings and --json, pass them on as one `Weighed`, and show what comes."""

    @click.pass_context
    def run(
        ctx: click.Context,
        /,
        car: str,
        loads: tuple[str, ...],
        readings: str | None,
        weighed_with: str | None,
        as_json: bool,
        svg: str | None = None,
        **options: Any,
    ) -> int:
        weighed = inputs_of(ctx, car, loads, readings, weighed_with)
        with operating_faults(weighed.file):
            result = function(weighed, **options)
            return _opened(result, weighed).show(as_json, svg)

    return car_and_readings(functools.update_wrapper(run, function))


def _opened(result: Result, weighed: Weighed) -> Result:
    """Say first what the readings are of, and what is aimed at."""
    file, aimed = weighed.file, result.aimed

    def text() -> str:
        told = result.text()
        # A table that stands first stands apart.
        apart = [""] if told.startswith((" ", "Part ")) else []
        return "\n".join([*opening(file, weighed.aboard, aimed), *apart, told])

    def as_json() -> dict[str, Any]:
        state = {"state": state_json(weighed.aboard, file.units)}
        target = {"target": target_json(aimed, weighed.was, file.units)} if aimed else {}
        return {**state, **result.json(), **target, **weighed.source}

    return result._replace(text=text, json=as_json)


def car_and_readings(function: Callable[..., int]) -> Callable[..., int]:
    """Add the arguments and options that `inputs_of` takes."""
    for add in (
        JSON,
        WEIGHED_WITH,
        click.option(
            "--readings", metavar="FILE", help="A TOML file; or log, log:12, log:2026-06-13."
        ),
        click.argument("loads", nargs=-1, metavar="[LF RF LR RR]"),
        CAR,
    ):
        function = add(function)
    return function


def inputs_of(
    ctx: click.Context,
    car: str,
    loads: tuple[str, ...],
    readings: str | None,
    weighed_with: str | None,
) -> Weighed:
    """Read car and readings; whatever is wrong with either is raised in one go."""
    faults, words = faults_of(ctx), typed.without_options(ctx, loads)
    bare = typed.is_number(car)
    # A command that works without a car file takes what such a file would say.
    if bare and "wheelbase" in ctx.params and not any(map(os.path.exists, words)):
        words = [car, *words]
        amounts = _amounts(words, readings, faults, count=not is_astray(ctx))
        file = typed.bare_car(ctx, amounts, faults)
    elif bare:
        faults.append(typed.car_left_out(car, words))
        file, amounts = None, []
    else:
        file = car_of(car, faults)
        if file and readings is None and not words and _has_log(ctx, file):
            readings = "log"
        amounts = _amounts(words, readings, faults, count=not is_astray(ctx))
        faults += missing_for(ctx.command.name, file)
        faults += typed.file_says(ctx)
    taken = _taken(file, amounts, readings, faults)
    if isinstance(ctx.command, ReadingsCommand):
        faults.extend(ctx.command.check(file, ctx.params))
    if file is None or taken is None or faults:
        raise InputError(dict.fromkeys(faults))
    with operating_faults(file):
        weigh_in = weigh(file.car, taken)
    if ctx.command.name not in _WITHOUT_RATES:
        # `weigh` does without.
        from balancer.files.checks.plausible import refuse_bounces

        refuse_bounces(file, weigh_in.loads)
    note(*_notes(ctx, file), *taken.remarks, *typed.odd_pads(taken.repeats.mean(axis=0), file))
    learned = None
    if readings is not None and is_log(readings):
        file, learned = _from_log(file)
    taught = None if ctx.command.name in _WITHOUT_RATES else learned
    file = _tied_unless_needless(ctx, file, weigh_in)
    if weighed_with is None:
        return Weighed(file, weigh_in, aboard_in(file, taken, taught), learned)
    said = state_named(file, weighed_with, "--weighed-with").items
    return Weighed(file, weigh_in, Aboard(said, "said", leans=taught is not None), learned)


def _notes(ctx: click.Context, file: CarFile) -> Sequence[str]:
    """Give the notes of a car file, but not of springs where they don't matter."""
    needless = ctx.command.name in _ONLY_WEIGH and file.missing.springs
    return () if needless else file.notes


def _amounts(
    words: Sequence[str], readings: str | None, faults: list[Fault], count: bool
) -> list[Amount]:
    """Read loads as typed; none where there are faults, or they are to come from elsewhere."""
    if readings is None:
        before = len(faults)
        amounts = typed.typed_loads(words, faults, count)
        return amounts if len(faults) == before else []
    if words and count:
        faults.append(Fault("--readings", "given beside typed readings", "give one or the other"))
    return []


def _taken(
    file: CarFile | None, amounts: Sequence[Amount], readings: str | None, faults: list[Fault]
) -> Readings | None:
    """Take the readings as typed, or from where they are said to be; None: there are faults."""
    if readings is not None:
        return readings_beside(file, readings, faults)
    if file is None or len(amounts) != len(CORNERS):
        return None
    loads = [load.in_units(file.units, "load") for load in amounts]
    with gathering(faults):
        return readings_of(file, loads)
    return None


def _has_log(ctx: click.Context, file: CarFile) -> bool:
    if not getattr(ctx.command, "from_log", False):
        return False
    from balancer.log.reader import log_path

    return os.path.exists(log_path(file.path))


def _from_log(file: CarFile) -> tuple[CarFile, Floats | None]:
    from balancer.log.car_from_log import car_from_log

    logged, remark, learned = car_from_log(file)
    if remark:
        note(remark)
    return logged, learned


def _tied_unless_needless(ctx: click.Context, file: CarFile, weigh_in: WeighIn) -> CarFile:
    try:
        tied, odd = tied_to(file, weigh_in)
    except InputError as error:
        if ctx.command.name not in _ONLY_WEIGH:
            raise
        note(*error.faults)
        return file
    note(*odd)
    return tied
