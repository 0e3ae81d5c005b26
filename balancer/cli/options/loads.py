"""Readings typed on the command line: four numbers, and what people type instead."""

import os
import re
from collections.abc import Sequence

import click

from balancer.car.conventions import CORNERS, Floats
from balancer.cli.options.numbers import MASS, astray, faults_of
from balancer.errors import Fault
from balancer.files.car_file import CarFile
from balancer.files.checks.readings import bad_loads
from balancer.files.format.numbers import Amount, parse


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
