"""`balancer cars`."""

from collections.abc import Sequence

import click

from balancer.car.errors import refuse, spelled
from balancer.cli.options.files import note
from balancer.cli.options.numbers import Names, faults_of
from balancer.cli.options.results import JSON, SVG, Result
from balancer.cli.terminal.waiting import waiting
from balancer.files.writing import create_table
from balancer.log.dates import moment_of
from balancer.log.garage import Standing, garage_in
from balancer.report.garage import (
    COLUMNS,
    SORTS,
    common_units,
    garage_json,
    garage_rows,
    garage_text,
)


@click.command("cars")
@click.argument("folder", default=".", metavar="[FOLDER]")
@click.option("--state", type=Names(), help="Carry each car there, so that they can be compared.")
@click.option("--sort", type=click.Choice(list(SORTS)), default="name", help="By what.  [name]")
@click.option("--since", metavar="DATE", help="Only cars weighed on that day or later.")
@click.option("--name", "part", metavar="TEXT", help="Only cars with that in their name.")
@click.option("--csv", "sheet", metavar="FILE", help="Write them to a new CSV file.")
@SVG
@JSON
@click.pass_context
def command(
    ctx: click.Context,
    folder: str,
    state: str | None,
    sort: str,
    since: str | None,
    part: str | None,
    sheet: str | None,
    svg: str | None,
    as_json: bool,
) -> int:
    """List every car of a folder as it was last weighed.

    A car is a car file; its weigh-ins are in the log beside it. The change is that
    since the weigh-in before. With --state all are carried to the same things on board.

    \b
    Examples:
      balancer cars examples
      balancer cars examples --state driver --sort cross
    """
    refuse(faults_of(ctx))
    first = None if since is None else moment_of(since, "--since", "one like 2026-06-13")[0]
    with waiting("reading the logs"):
        garage = garage_in(folder, state)
    note(*garage.remarks)
    cars: Sequence[Standing] = sorted(garage.cars, key=SORTS[sort])
    if first is not None:
        cars = [one for one in cars if one.entry.wall.date() >= first.date()]
    if part is not None:
        named = part.lower()
        cars = [one for one in cars if named in one.file.car.name.lower()]
        without = tuple(one for one in garage.unweighed if named in one.car.name.lower())
        garage = garage._replace(unweighed=without)

    def text() -> str:
        told = garage_text(garage, cars, common_units(cars), state)
        return f"{told}\n{_written(sheet, cars)}" if sheet else told

    def picture() -> str:
        from balancer.report.pictures.garage import garage_picture

        return garage_picture(cars, common_units(cars), state)

    return Result(text, lambda: garage_json(garage, cars), svg=picture).show(as_json, svg)


def _written(path: str, cars: Sequence[Standing]) -> str:
    create_table(path, COLUMNS, garage_rows(cars))
    count = "1 car" if len(cars) == 1 else f"{len(cars)} cars, each"
    return f"{spelled(path)} written: {count} in the units of its file."
