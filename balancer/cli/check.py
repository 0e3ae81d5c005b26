"""`balancer check`."""

from __future__ import annotations

import click

from balancer.checking import meaning
from balancer.cli.options.inputs import ReadingsCommand, car_and_readings, inputs_of
from balancer.cli.options.numbers import faults_of
from balancer.cli.options.picture import with_svg, write_svg
from balancer.cli.terminal.show import print_error, show, show_json
from balancer.errors import InputError
from balancer.files.car_reader import read_car
from balancer.report.check import check_json, check_text


@click.command("check", cls=ReadingsCommand)
@car_and_readings
@with_svg
@click.pass_context
def command(
    ctx: click.Context,
    car: str,
    loads: tuple[str, ...],
    readings: str | None,
    weighed_with: str | None,
    as_json: bool,
    svg: str | None,
) -> None:
    """Say what a car file means: rates, frequencies, what one turn does.

    A slip in the file shows here. Without readings the class minimum is taken.

    \b
    Example:
      balancer check examples/coupe.toml
    """
    if loads or readings or weighed_with:
        weighed = inputs_of(ctx, car, loads, readings, weighed_with, as_json)
        file, found = weighed.file, meaning(weighed.file.car, weighed.weigh_in.loads)
    else:
        if faults_of(ctx):
            raise InputError(faults_of(ctx))
        file = read_car(car)
        found = meaning(file.car)
        for note in file.notes:
            print_error(f"note: {note}")
    if as_json:
        show_json(check_json(file, found))
    else:
        show(check_text(file, found))
    if svg:
        from balancer.report.pictures.turns import turns_picture

        write_svg(svg, turns_picture(file, found), as_json)
