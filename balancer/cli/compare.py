"""`balancer compare`."""

from __future__ import annotations

import os

import click

from balancer.carfile import read_car
from balancer.cli.show import complain, show, show_json
from balancer.comparing import compare
from balancer.errors import InputError
from balancer.faults import suggestion
from balancer.parts import variant
from balancer.partsbook import read_parts
from balancer.readings import read_readings
from balancer.report.compare import compare_json, compare_text
from balancer.weighing import weigh


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

    Each readings file is compared with the first.

    \b
    Example:
      balancer compare examples/coupe.toml examples/weigh_in.toml \\
          examples/weigh_in_june.toml
    """
    if len(files) < 2:
        raise InputError.one("READINGS", f"got {len(files)}", "give two readings files or more")
    if (book is None) != (named is None):
        raise InputError.one("--book", "goes with --variant", "give both or none")
    file = read_car(car)
    other = read_car(other_car) if other_car else file
    first = weigh(file.car, read_readings(files[0], file))
    predicted = None
    if book and named:
        pages = read_parts(book, file)
        if named not in pages.variants:
            way_out = suggestion(named, list(pages.variants))
            raise InputError.one("--variant", f"“{named}” is not in the book", way_out)
        done = variant(file.car, first.loads, named, pages.variants[named])
        predicted = done.each.sum(axis=0)
    for note in (*file.notes, *(other.notes if other_car else ())):
        complain(f"note: {note}")
    for number, path in enumerate(files[1:]):
        second = weigh(other.car, read_readings(path, other))
        found = compare(file.car, first, second, predicted, other.car)
        if as_json:
            show_json(compare_json(file, found, predicted is not None))
        else:
            names = os.path.basename(files[0]), os.path.basename(path)
            text = compare_text(file, (first, second), names, found, predicted)
            show(text if not number else f"\n{text}")
