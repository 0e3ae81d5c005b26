"""`balancer compare`."""

from __future__ import annotations

import functools
import os

import click

from balancer.cli.options.inputs import collected, operating_faults, readings_named
from balancer.cli.terminal.show import print_error, show, show_json
from balancer.errors import Fault, InputError
from balancer.files.car_reader import read_car
from balancer.files.format.faults import suggestion
from balancer.files.parts_book import faults_in as parts_faults
from balancer.files.parts_book import read_parts
from balancer.files.readings import faults_in
from balancer.report.weighing.compare import compare_json, compare_text
from balancer.weighing.comparison import compare
from balancer.weighing.parts import variant
from balancer.weighing.weigh import Readings, weigh


@click.command("compare")
@click.argument("car", metavar="CAR")
@click.argument("files", nargs=-1, metavar="READINGS READINGS…")
@click.option("--other-car", metavar="CAR", help="The car of all readings but the first.")
@click.option("--book", metavar="FILE", help="A parts book, to say what the parts predict.")
@click.option("--variant", "named", metavar="NAME", help="What was done, by its name in the book.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object for each comparison.")
def command(
    car: str,
    files: tuple[str, ...],
    other_car: str | None,
    book: str | None,
    named: str | None,
    as_json: bool,
) -> None:
    """Compare weigh-ins: what changed, whether it is real, and where it sits.

    Each is compared with the first: a readings file, or a weigh-in of the log by
    its number or date, as log:12 or log:2026-06-13.

    \b
    Example:
      balancer compare examples/coupe.toml examples/weigh_in.toml \\
          examples/weigh_in_june.toml
    """
    faults: list[Fault] = []
    if len(files) < 2:
        faults.append(Fault("READINGS", f"got {len(files)}", "give two readings files or more"))
    if (book is None) != (named is None):
        faults.append(Fault("--book", "goes with --variant", "give both or none"))
    file = collected(faults, lambda: read_car(car))
    other = collected(faults, lambda: read_car(other_car)) if other_car is not None else file
    read: list[Readings] = []
    for number, path in enumerate(files):
        owner = other if number else file
        if owner is None:
            faults += faults_in(path, None)
        elif taken := collected(faults, functools.partial(readings_named, path, owner)):
            read.append(taken)
    pages = None
    if book is not None and file is not None:
        pages = collected(faults, functools.partial(read_parts, book, file))
    elif book is not None:
        faults += parts_faults(book, None)
    if book is not None and pages and named is not None and named not in pages.variants:
        home = f"the book ({os.path.basename(book)})"
        way_out = suggestion(named, list(pages.variants)) if pages.variants else "it has none"
        faults.append(Fault("--variant", f"“{named}” is not in {home}", way_out))
    if faults or file is None or other is None:
        raise InputError(dict.fromkeys(faults))
    predicted = None
    with operating_faults(file):
        first = weigh(file.car, read[0])
        if pages and named:
            done = variant(file.car, first.loads, named, pages.variants[named])
            predicted = done.each.sum(axis=0)
    remarks = [remark for one in read for remark in one.remarks]
    notes = (*file.notes, *other.notes, *(pages.notes if pages else ()), *remarks)
    for note in dict.fromkeys(notes):
        print_error(f"note: {note}")
    for number, (path, readings) in enumerate(zip(files[1:], read[1:], strict=True)):
        with operating_faults(other):
            second = weigh(other.car, readings)
            found = compare(file.car, first, second, predicted, other.car)
        if as_json:
            show_json(compare_json(file, found, predicted is not None))
        else:
            names = os.path.basename(files[0]), os.path.basename(path)
            text = compare_text(file, (first, second), names, found, predicted)
            show(text if not number else f"\n{text}")
