"""`balancer lift`."""

from __future__ import annotations

import functools
import sys

import click

from balancer.cli.options.inputs import collected
from balancer.cli.terminal.show import print_error, show, show_json
from balancer.errors import Fault, InputError
from balancer.files.car_reader import read_car
from balancer.files.lifts import faults_in, read_lifts
from balancer.report.weighing.lift import lift_json, lift_text
from balancer.weighing.cg_height import cg_height


@click.command("lift")
@click.argument("car", metavar="CAR")
@click.argument("lifts", metavar="LIFTS")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(car: str, lifts: str, as_json: bool) -> None:
    """Find the height of the center of gravity from lifting an axle.

    LIFTS is a TOML file with a level reading and, for each lift, the axle, how far
    its wheel centers went up and what the other axle's pads showed (see the
    README). Exit status 1 when the lifts are too small to mean anything.

    \b
    Example:
      balancer lift examples/coupe.toml examples/lifts.toml
    """
    faults: list[Fault] = []
    file = collected(faults, lambda: read_car(car))
    read = None
    if file is None:
        faults += faults_in(lifts, None)
    else:
        read = collected(faults, functools.partial(read_lifts, lifts, file))
    if file is None or read is None:
        raise InputError(faults)
    for note in file.notes:
        print_error(f"note: {note}")
    found = cg_height(read.lifts, read.weight, file.car.wheelbase, read.radii, read.aft)
    if as_json:
        show_json(lift_json(file, found))
    else:
        show(lift_text(file, read, found))
    sys.exit(0 if found.means else 1)
