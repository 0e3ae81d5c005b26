"""`balancer springs`."""

from collections.abc import Callable, Iterator
from math import isnan, nan
from typing import Any

import click
import numpy as np

from balancer.car.answers import Springs
from balancer.car.conventions import CORNERS
from balancer.car.errors import Fault
from balancer.cli.options.asked import asked_of, contradictions, remarks, with_asked
from balancer.cli.options.files import note
from balancer.cli.options.inputs import ReadingsCommand, with_readings
from balancer.cli.options.numbers import LENGTH, Number, Text, faults_of
from balancer.cli.options.results import Result
from balancer.cli.terminal.waiting import waiting
from balancer.files.car_file import CarFile
from balancer.files.format.numbers import Amount, parse
from balancer.files.units import Units, other
from balancer.jobs.weighed import Weighed
from balancer.report.words.numbers import amount
from balancer.report.words.opening import Aimed

_PLACES = {"front": CORNERS[:2], "rear": CORNERS[2:], **{name: (name,) for name in CORNERS}}
"""What an option may name, and the corners that it is of; the later ones win."""

_LOW, _HIGH = 1e3, 2e6
"""Rates of springs, as in a car file [N/m]."""
_LONGER = 0.3
"""No spring of a car is longer or shorter by more than another [m]."""

_RATE = Text("RATE", "give the new rate", "70")


class _Springs(ReadingsCommand):
    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        rest = super().parse_args(ctx, args)
        faults_of(ctx).extend(contradictions(ctx.params))
        return rest

    def check(self, file: CarFile | None, given: dict[str, Any]) -> Iterator[Fault]:
        yield from super().check(file, given)
        asked = [key for place in _PLACES for key in (_rate(place), _length(place))]
        if all(given[key] is None for key in asked):
            way_out = "give the new rate: --front 80, --rear 70 or --LF 85"
            yield Fault("springs", "none is exchanged", way_out)
        for place, corners in _PLACES.items():
            rate, length = given[_rate(place)], given[_length(place)]
            if file and rate is not None:
                read = _rate_in(rate, f"--{place}", file.units)
                yield from [read] if isinstance(read, Fault) else []
            if file and length and abs(length.to_si(file.units, "length")) > _LONGER + 1e-9:
                most = amount(_LONGER, "length", file.units, unit=True)
                off = amount(
                    length.to_si(file.units, "length"), "length", file.units, sign=True, unit=True
                )
                way_out = f"at most {most}, check the units"
                yield Fault(f"--{place}-length", f"{off} off the old spring", way_out)
            if file and not (rate is None and length is None):
                solid = [corner for corner in corners if file.car.solid[CORNERS.index(corner)]]
                if solid:
                    has = "has no spring" if len(solid) == 1 else "have no springs"
                    yield Fault(f"--{place}", f"{' and '.join(solid)} {has}", "leave it out")


def _rate(place: str) -> str:
    return f"rate_{place.lower()}"


def _length(place: str) -> str:
    return f"length_{place.lower()}"


def _with_springs(function: Callable[..., Result]) -> Callable[..., Result]:
    lengths = Number(-300, 300, LENGTH)
    for place in reversed(_PLACES):
        of = f"{place} springs" if len(place) > 2 else f"spring at {place}"
        add = click.option(
            f"--{place}-length",
            _length(place),
            type=lengths,
            help=f"Free length less the old: {of}.",
        )
        function = add(function)
    for place in reversed(_PLACES):
        of = f"{place} springs" if len(place) > 2 else f"spring at {place}"
        function = click.option(f"--{place}", _rate(place), type=_RATE, help=f"New {of}.")(function)
    return function


@click.command("springs", cls=_Springs)
@with_readings
@_with_springs
@with_asked
def command(weighed: Weighed, **options: Any) -> Result:
    """Say what other springs do, and the turns that make it good.

    Perches are first left where they are; then the turns that bring the heights back
    and the cross weight to its target. A length is how much longer the new spring
    is when nothing presses it (−5: shorter); left out, it is as long as the old one.
    Exit status 1 when the turns can't do it.

    \b
    Example:
      balancer springs examples/coupe.toml 302 288.5 231 244 \\
          --front 80 --rear 70 --front-length -10
    """
    from balancer.planning.springs import plan_springs
    from balancer.report.perches.springs import springs_json, springs_text

    file, weigh_in = weighed.file, weighed.weigh_in
    asked = asked_of(options, file, weigh_in.readings.ride_heights)
    note(*remarks(asked, file, weigh_in.shares), *_odd_rates(options, file))
    with waiting("putting springs in"):
        found = plan_springs(
            file.car,
            weigh_in.loads,
            _springs_in(options, file.units),
            asked,
            weigh_in.repeatable.cross,
            weighed.learned,
        )
    return Result(
        lambda: springs_text(file, found),
        lambda: springs_json(file, found),
        found.plan.status == "reached",
        aimed=Aimed(found.aim),
    )


def _springs_in(options: dict[str, Any], units: Units) -> Springs:
    rate, longer = np.full(4, np.nan), np.zeros(4)
    for place, corners in _PLACES.items():
        at = [CORNERS.index(corner) for corner in corners]
        if options[_rate(place)] is not None:
            read = _rate_in(options[_rate(place)], f"--{place}", units)
            assert isinstance(read, float)
            rate[at] = read
        if options[_length(place)] is not None:
            longer[at] = options[_length(place)].to_si(units, "length")
    return Springs(rate, longer)


def _odd_rates(options: dict[str, Any], file: CarFile) -> Iterator[str]:
    """Remark on rates far from those of the old springs, but near in other units."""
    for place, corners in _PLACES.items():
        text = options[_rate(place)]
        rate = _rate_in(text, place, file.units) if text is not None else nan
        old = float(file.car.spring_rate[CORNERS.index(corners[0])])
        if not isinstance(rate, float) or isnan(rate) or old / 3 < rate < 3 * old:
            continue
        label = file.units.labels["rate"]
        for unit in (other(file.units).labels["rate"], "kg/mm"):
            meant = _rate_in(f"{text}{unit}", place, file.units)
            if isinstance(meant, float) and old / 2 < meant < 2 * old:
                yield (
                    f"--{place}: {text} {label} is {rate / old:.2g} times the old rate:"
                    f" if it is {unit}, write {text}{unit}"
                )


def _rate_in(text: str, where: str, units: Units) -> float | Fault:
    """Read a rate [N/m], typed with or without a unit."""
    label, foreign = units.labels["rate"], other(units)
    number = parse(text, where, (), f"a rate like {units.from_si(70e3, 'rate'):.0f}")
    if isinstance(number, Fault):
        from balancer.files.format.measured import measured

        worth = None if "," in text else measured(text, "rate", units)
        if worth is None:
            return number
        number = Amount(float(worth), "")
    rate = units.to_si(number.value, "rate")
    if _LOW <= rate <= _HIGH:
        return rate
    least, most = (f"{units.from_si(bound, 'rate'):.0f}" for bound in (_LOW, _HIGH))
    what, way_out = f"{number.value:g} {label} is out of reason", f"expected {least} to {most}"
    meant = foreign.to_si(number.value, "rate")
    if _LOW <= meant <= _HIGH:
        way_out = f"write {units.from_si(meant, 'rate'):.4g} if it is {foreign.labels['rate']}"
    return Fault(where, what, way_out)
