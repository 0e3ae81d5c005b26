"""`balancer init`."""

import os
from functools import partial
from typing import Any

import click

from balancer.car.errors import Fault, InputError, refuse, spelled
from balancer.cli.terminal.show import show, somebody_there
from balancer.files.first_file import ASKED, Asked, first_file, out_of_reason, usual
from balancer.files.format.measured import measured
from balancer.files.format.numbers import parse
from balancer.files.starter import new_car_file, write_starter
from balancer.files.units import METRIC, US, Units
from balancer.report.words.prose import wrapped


def _option(asked: Asked) -> str:
    """Give the option that says a number: --front-spring-rate."""
    return f"--{_bare(asked).replace('_', '-')}"


def _bare(asked: Asked) -> str:
    return asked.key.replace(".", "_")


def _with_numbers(function: Any) -> Any:
    for asked in reversed(ASKED):
        function = click.option(_option(asked), help=f"{asked.where.capitalize()}.")(function)
    return function


@click.command("init")
@click.argument("file", default="car.toml")
@click.option("--us", is_flag=True, help="In lb, in and lb/in instead of kg, mm and N/mm.")
@click.option("--all", "every", is_flag=True, help="Write every key there is, with a comment.")
@click.option("--name", help="What the car is called.")
@_with_numbers
def command(file: str, us: bool, every: bool, **given: str | None) -> None:
    """Write a car file to start from; never over one that is there.

    It has the nine numbers that a plan of turns needs, each with where to find it.
    At a terminal it asks for those that are not given; elsewhere they are those of
    a small track car, marked to be changed. What may wait is named at its end.

    \b
    Examples:
      balancer init mycar.toml
      balancer init blue.toml --wheelbase 2405 --front-spring-rate "8 kg/mm"
    """
    units = US if us else METRIC
    keys = {"name": "name", **{_bare(asked): asked.key for asked in ASKED}}
    said = {keys[bare]: text for bare, text in given.items() if text is not None}
    if every:
        if said:
            raise InputError.one("--all", "given beside numbers", "leave one out")
        path, left = write_starter(file, units), True
    else:
        refuse(fault for one in ASKED if (fault := _fault(one, said, units)))
        if somebody_there() and not os.path.lexists(file):
            said = _asked(said, units)
        path = new_car_file(file, partial(first_file, units, said))
        left = any(asked.key not in said for asked in ASKED)
    name = spelled(str(path))
    change = "Put in your car's numbers, then: " if left else "See what it means: "
    show(f"{name} written. {change}balancer check {name}")


def _fault(asked: Asked, said: dict[str, str], units: Units) -> Fault | None:
    """Say what is wrong with a number as it was given."""
    text, option, label = said.get(asked.key), _option(asked), units.labels[asked.dimension]
    if text is None:
        return None
    comma = parse(text, option, (label.lower(),))
    if isinstance(comma, Fault) and " comma" in comma.what:
        return comma
    if "," in text or measured(text, asked.dimension, units) is None:
        way_out = f"write it like {usual(asked, units):g}" + (f" ({label})" if label else "")
        return Fault(option, f"“{text[:40]}” is not a number", way_out)
    odd = out_of_reason(asked, text, units)
    return odd and odd._replace(where=option)


def _asked(said: dict[str, str], units: Units) -> dict[str, str]:
    """Ask for what was not given; an empty answer leaves it for later."""
    show("A name and nine numbers for a plan; an empty answer leaves one for later.")
    answers = dict(said)
    if "name" not in answers and (name := _answer("name of the car")):
        answers["name"] = name
    for asked in ASKED:
        label = units.labels[asked.dimension]
        while asked.key not in answers:
            text = _answer(f"{asked.label}{f', {label}' if label else ''} ({asked.where})")
            if not text:
                break
            if fault := _fault(asked, {asked.key: text}, units):
                show(wrapped(f"{fault.what}: {fault.way_out}"))
                continue
            answers[asked.key] = text
    return answers


def _answer(question: str) -> str:
    answer: str = click.prompt(wrapped(question), default="", show_default=False)
    return answer.strip()
