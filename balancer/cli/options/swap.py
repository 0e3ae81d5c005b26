"""A car as it will be: parts that come and go before the plan is carried out."""

from __future__ import annotations

import functools
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from balancer.car.errors import Fault
from balancer.car.model import Item
from balancer.cli.options.files import note
from balancer.cli.options.numbers import LENGTH, MASS, Text
from balancer.cli.options.results import Result
from balancer.files.car_file import CarFile
from balancer.files.format.faults import suggestion
from balancer.files.format.numbers import Amount, parse

if TYPE_CHECKING:
    from balancer.files.parts_book import PartsBook
    from balancer.jobs.weighed import Weighed
    from balancer.weighing.parts import Change

_FORM = "write NAME=MASS@AFT,LEFT, as in “jack=4.5@2300,-200”"
_HEAVIEST = 3000.0
"""Of a part, as in a parts book [kg]."""


def with_swap(function: Callable[..., Result]) -> Callable[..., Result]:
    """Take parts that will come and go, and pass `Weighed` on as if they had."""

    def run(
        weighed: Weighed,
        book: str | None,
        named: tuple[str, ...],
        typed_parts: tuple[str, ...],
        **options: Any,
    ) -> Result:
        changes = _changes(weighed.file, book, named, typed_parts)
        if not changes:
            return function(weighed, **options)
        return _told(function(_swapped(weighed, changes), **options), weighed, changes)

    function_with = functools.update_wrapper(run, function)
    for add in (
        click.option(
            "--part",
            "typed_parts",
            type=Text("NAME=MASS@AFT,LEFT", _FORM, "part=1@0,0"),
            multiple=True,
            help="Plan with it on board; a minus before the mass: off.",
        ),
        click.option(
            "--variant", "named", multiple=True, metavar="NAME", help="Plan for that of the book."
        ),
        click.option("--book", metavar="FILE", help="A parts book, for --variant."),
    ):
        function_with = add(function_with)
    return function_with


def _swapped(weighed: Weighed, changes: Sequence[Change]) -> Weighed:
    from balancer.weighing.parts import fitted

    file = weighed.file
    # Pictures show no more of it than the name.
    will_be = replace(file.car, name=f"{file.car.name} as it will be")
    weigh_in = fitted(file.car, weighed.weigh_in, changes)
    return weighed._replace(file=file._replace(car=will_be), weigh_in=weigh_in)


def _told(result: Result, weighed: Weighed, changes: Sequence[Change]) -> Result:
    """Say first that it is not for the car as weighed."""
    from balancer.report.weighing.parts import what_if_line

    name = weighed.file.car.name
    return result._replace(
        text=lambda: f"{what_if_line(changes)}\n{result.text()}",
        json=lambda: {**result.json(), "car": name, "what_if": [one.label for one in changes]},
    )


def _changes(
    file: CarFile, path: str | None, named: Sequence[str], typed: Sequence[str]
) -> list[Change]:
    changes: list[Change] = []
    if path is not None:
        from balancer.files.parts_book import read_parts

        book = read_parts(path, file)
        note(*book.notes)
        changes += [change for name in named for change in book.variants[name]]
    parts = [part_in(text, file) for text in typed]
    return [*changes, *(_change(part) for part in parts if isinstance(part, Item))]


def _change(part: Item) -> Change:
    from balancer.weighing.parts import Change

    if part.mass > 0:
        return Change(f"{part.name} on", None, part)
    return Change(f"{part.name} off", part._replace(mass=-part.mass), None)


def swap_faults(file: CarFile | None, given: dict[str, Any]) -> Iterator[Fault]:
    """Find what is wrong with parts that will come and go; None: the car can't be read."""
    path, named = given["book"], given["named"]
    if path is None and named:
        yield Fault("--variant", "there is no book to look in", "give --book FILE")
    if path is not None and not named:
        yield Fault("--book", "nothing of it is asked for", "name a --variant")
    if path is not None:
        from balancer.files.parts_book import faults_in, read_parts

        faults = list(faults_in(path, file))
        yield from faults
        if file and not faults:
            yield from variant_faults(read_parts(path, file), path, named)
    wrong = [part_in(text, file) for text in given["typed_parts"]] if file else []
    for found in wrong:
        yield from [] if isinstance(found, Item) else found


def variant_faults(book: PartsBook, path: str, named: Sequence[str]) -> Iterator[Fault]:
    """Find variants that are not in the book, and parts that several of them take or bring."""
    yield from unknown_variants(book, path, named)
    labels = [change.label for name in named for change in book.variants.get(name, ())]
    for label in dict.fromkeys(labels):
        if labels.count(label) > 1:
            yield Fault("--variant", f"“{label}” more than once", "name one of them")


def unknown_variants(book: PartsBook, path: str, named: Sequence[str]) -> Iterator[Fault]:
    """Find variants that are not in the book."""
    for name in named:
        if name not in book.variants:
            way_out = suggestion(name, list(book.variants)) if book.variants else "it has none"
            what = f"“{name}” is not in the book ({os.path.basename(path)})"
            yield Fault("--variant", what, way_out)


def part_in(text: str, file: CarFile) -> Item | list[Fault]:
    """Read a part as typed, in SI; its mass is negative where it comes off."""
    name, sign, said = text.rpartition("=")
    mass_said, at, place = said.partition("@")
    places = place.split(",")
    where = f"--part {name.strip()}".strip()
    if not (sign and name.strip() and at) or len(places) not in (2, 3):
        return [Fault(where, f"“{text}” is no part and its place", _FORM)]
    read = [
        parse(mass_said, where, MASS, "a mass like 4.5"),
        *(parse(each, where, LENGTH, "a place like 2300,-200") for each in places),
    ]
    amounts = [one for one in read if isinstance(one, Amount)]
    if len(amounts) < len(read):
        return [one for one in read if isinstance(one, Fault)]
    mass = amounts[0].to_si(file.units, "mass")
    aft, left, *up = (one.to_si(file.units, "length") for one in amounts[1:])
    part = Item(name.strip(), mass, aft, left, *(up or [0.0]))
    return list(_wrong(part, file, where)) or part


def _wrong(part: Item, file: CarFile, where: str) -> Iterator[Fault]:
    units, reach, half = file.units, file.car.wheelbase, float(file.car.tracks.max())
    if part.name in [item.name for item in file.car.on_board]:
        way_out = "say it with --weighed-with and --to"
        yield Fault(where, f"“{part.name}” is in [[on_board]]", way_out)
    if not 0 < abs(part.mass) <= _HEAVIEST:
        most = f"{units.from_si(_HEAVIEST, 'mass'):.0f} {units.labels['mass']}"
        yield Fault(where, "has no mass that a part could have", f"expected {most} at most")
    bounds = {"aft": (-reach, 2 * reach), "left": (-half, half), "up": (0.0, 2.5)}
    for key, (low, high) in bounds.items():
        if not low <= getattr(part, key) <= high:
            least, most = (f"{units.from_si(bound, 'length'):.0f}" for bound in (low, high))
            expected = f"expected {least} to {most} {units.labels['length']} {key}"
            yield Fault(where, "is nowhere near the car", expected)
