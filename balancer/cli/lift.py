"""`balancer lift`."""

import click

from balancer.cli.options.files import both
from balancer.cli.options.numbers import CAR
from balancer.cli.options.results import JSON, Result
from balancer.files.lifts import faults_in, read_lifts
from balancer.report.weighing.lift import lift_json, lift_text
from balancer.weighing.cg_height import cg_height


@click.command("lift")
@CAR
@click.argument("lifts", metavar="LIFTS")
@JSON
def command(car: str, lifts: str, as_json: bool) -> int:
    """Find the height of the center of gravity from lifting an axle.

    LIFTS is a TOML file with a level reading and, for each lift, the axle, how far
    its wheel centers went up and what the other axle's pads showed (see balancer
    guide pads). Exit status 1 when the lifts are too small to mean anything.

    \b
    Example:
      balancer lift examples/coupe.toml examples/lifts.toml
    """
    file, read = both(car, lifts, read_lifts, faults_in)
    height = cg_height(read.lifts, read.weight, file.car.wheelbase, read.radii, read.aft)
    return Result(
        lambda: lift_text(file, read, height), lambda: lift_json(file, read, height), height.means
    ).show(as_json)
