"""`balancer pads`."""

from __future__ import annotations

import functools
import sys

import click

from balancer.cli.options.inputs import collected, operating_faults
from balancer.cli.terminal.show import print_error, show, show_json
from balancer.errors import Fault, InputError
from balancer.files.car_reader import read_car
from balancer.files.pads import faults_in, read_pads
from balancer.report.weighing.pads import pads_json, pads_text
from balancer.weighing.pad_errors import pad_errors


@click.command("pads")
@click.argument("car", metavar="CAR")
@click.argument("weighings", metavar="WEIGHINGS")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(car: str, weighings: str, as_json: bool) -> None:
    """Separate what the four pads add from what the car is.

    WEIGHINGS is a TOML file with several weighings of the same car, the pads moved
    around between them or the car turned round (see the README). It says which pad
    reads high, what the car weighs without that, and which weighing would tell
    more. Exit status 1 when these weighings tell nothing of the pads.

    \b
    Example:
      balancer pads examples/coupe.toml examples/pads.toml
    """
    faults: list[Fault] = []
    file = collected(faults, lambda: read_car(car))
    read = None
    if file is None:
        faults += faults_in(weighings, None)
    else:
        read = collected(faults, functools.partial(read_pads, weighings, file))
    if file is None or read is None:
        raise InputError(faults)
    for note in file.notes:
        print_error(f"note: {note}")
    with operating_faults(file):
        found = pad_errors(file.car, read.weighings, read.thickness)
    if as_json:
        show_json(pads_json(file, read, found))
    else:
        show(pads_text(file, read, found))
    sys.exit(1 if found.status == "nothing" else 0)
