"""`balancer check`."""

import click

from balancer.car.errors import refuse
from balancer.car.meaning import meaning
from balancer.cli.options.files import note
from balancer.cli.options.inputs import ReadingsCommand, car_and_readings, inputs_of
from balancer.cli.options.numbers import faults_of
from balancer.cli.options.results import SVG, Result
from balancer.files.car_reader import read_car
from balancer.report.check import check_json, check_text


@click.command("check", cls=ReadingsCommand)
@car_and_readings
@SVG
@click.pass_context
def command(
    ctx: click.Context,
    car: str,
    loads: tuple[str, ...],
    readings: str | None,
    weighed_with: str | None,
    as_json: bool,
    svg: str | None,
) -> int:
    """Say what a car file means: rates, frequencies, what one turn does.

    A slip in the file shows here. Without readings the class minimum is taken.

    \b
    Example:
      balancer check examples/coupe.toml
    """
    if loads or readings or weighed_with:
        weighed = inputs_of(ctx, car, loads, readings, weighed_with)
        file, means = weighed.file, meaning(weighed.file.car, weighed.weigh_in.loads)
    else:
        refuse(faults_of(ctx))
        file = read_car(car)
        means = meaning(file.car)
        note(*file.notes)

    def picture() -> str:
        from balancer.report.pictures.turns import turns_picture

        return turns_picture(file, means)

    return Result(
        lambda: check_text(file, means), lambda: check_json(file, means), svg=picture
    ).show(as_json, svg)
