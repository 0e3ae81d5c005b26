"""`balancer init`."""

from __future__ import annotations

import click

from balancer.cli.terminal.show import show
from balancer.errors import spelled
from balancer.files.starter import write_starter
from balancer.units import METRIC, US


@click.command("init")
@click.argument("file", default="car.toml")
@click.option("--us", is_flag=True, help="In lb, in and lb/in instead of kg, mm and N/mm.")
def command(file: str, us: bool) -> None:
    """Write a commented car file to start from; never over one that is there.

    \b
    Example:
      balancer init mycar.toml
    """
    path = write_starter(file, US if us else METRIC)
    name = spelled(str(path))
    show(f"{name} written. Change its numbers to your car's, then: balancer check {name}")
