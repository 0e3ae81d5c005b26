"""`balancer pads`."""

import click

from balancer.cli.options.files import both
from balancer.cli.options.numbers import CAR
from balancer.cli.options.results import JSON, Result
from balancer.files.car_file import operating_faults
from balancer.files.pads import faults_in, read_pads
from balancer.report.weighing.pads import pads_json, pads_text
from balancer.weighing.pad_errors import pad_errors


@click.command("pads")
@CAR
@click.argument("weighings", metavar="WEIGHINGS")
@JSON
def command(car: str, weighings: str, as_json: bool) -> int:
    """Separate what the four pads add from what the car is.

    WEIGHINGS is a TOML file with several weighings of the same car, the pads moved
    around between them or the car turned round (see balancer guide pads). It says
    which reads high, what the car weighs without that, and which weighing would
    tell more. Exit status 1 when these weighings tell nothing of the pads.

    \b
    Example:
      balancer pads examples/coupe.toml examples/pads.toml
    """
    file, read = both(car, weighings, read_pads, faults_in)
    with operating_faults(file):
        errors = pad_errors(file.car, read.weighings, read.thickness)
    return Result(
        lambda: pads_text(file, read, errors),
        lambda: pads_json(file, read, errors),
        errors.status != "nothing",
    ).show(as_json)
