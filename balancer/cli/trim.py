"""`balancer trim`."""

from __future__ import annotations

from typing import Any

import click

from balancer.cli.options.files import state_named
from balancer.cli.options.inputs import ReadingsCommand, Weighed, with_readings
from balancer.cli.options.numbers import Names
from balancer.cli.options.results import Result
from balancer.report.weighing.states import trim_json
from balancer.report.weighing.trim import trim_text
from balancer.weighing.load_states import carry


@click.command("trim", cls=ReadingsCommand)
@with_readings
@click.option("--to", type=Names(), help="What is to be on board; none: nothing.  [race trim]")
def command(weighed: Weighed, to: str | None) -> Result:
    """Carry a weigh-in to another state: driver in, fuel out, spares off.

    NAMES are those of [[on_board]] in the car file, with commas between them; an
    amount may follow, as in driver,fuel=20 (liters or gallons for a fluid, kg or
    lb for anything else).

    \b
    Example:
      balancer trim examples/coupe.toml 302 288.5 231 244 \\
          --weighed-with driver --to driver,fuel=12
    """
    file, loads = weighed.file, weighed.weigh_in.loads
    state = state_named(file, to, "--to")
    was = carry(file.car, loads, weighed.was, weighed.was)
    now = carry(file.car, loads, weighed.was, state.items)

    def as_json() -> dict[str, Any]:
        heading = {"car": file.car.name, "units": file.units.name}
        return {**heading, **trim_json(now, file.units), "was": trim_json(was, file.units)}

    return Result(lambda: trim_text(file, was, now), as_json)
