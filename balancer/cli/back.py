"""`balancer back`."""

import click

from balancer.cli.options.files import note
from balancer.cli.options.numbers import CAR
from balancer.cli.options.results import JSON, Result
from balancer.files.car_reader import read_car
from balancer.log.back import way_back
from balancer.log.reader import log_path, read_log
from balancer.report.back import back_json, back_text


@click.command("back")
@CAR
@click.option(
    "--at",
    "which",
    metavar="DATE|ENTRY",
    required=True,
    help="A date, a date and time, or an entry of the log by its number.",
)
@JSON
def command(car: str, which: str, as_json: bool) -> int:
    """Find the turns that bring the perches back to where they stood.

    All that were made since then by the log, taken back; those undone in the log
    never were. Exit status 1 where less travel is left than that takes.

    \b
    Example:
      balancer back examples/roadster_us.toml --at 2026-04-18
    """
    file = read_car(car)
    back = way_back(file, read_log(log_path(file.path)), which)
    note(*file.notes, *back.remarks)
    return Result(
        lambda: back_text(file, back), lambda: back_json(file, back), not back.beyond
    ).show(as_json)
