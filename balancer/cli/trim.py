"""`balancer trim`."""

from __future__ import annotations

import click

from balancer.cli.options.inputs import ReadingsCommand, Weighed, with_readings
from balancer.cli.options.numbers import Names
from balancer.cli.terminal.show import show, show_json
from balancer.files.states import race_state, split_names, state_of
from balancer.report.weighing.states import trim_json
from balancer.report.weighing.trim import trim_text
from balancer.weighing.load_states import carry


@click.command("trim", cls=ReadingsCommand)
@with_readings
@click.option("--to", type=Names(), help="What is to be on board; none: nothing.  [race trim]")
def command(weighed: Weighed, to: str | None) -> None:
    """Carry a weigh-in to another state: driver in, fuel out, spares off.

    NAMES are those of [[on_board]] in the car file, with commas between them; an
    amount may follow, as in driver,fuel=20 (liters or gallons for a fluid, kg or
    lb for anything else).

    \b
    Example:
      balancer trim examples/coupe.toml 302 288.5 231 244 \\
          --weighed-with driver --to driver,fuel=12
    """
    file, car = weighed.file, weighed.file.car
    state = race_state(file) if to is None else state_of(file, split_names(to), "--to")
    was = carry(car, weighed.weigh_in.loads, weighed.was, weighed.was)
    now = carry(car, weighed.weigh_in.loads, weighed.was, state.items)
    if weighed.as_json:
        start = {"car": car.name, "units": file.units.name, **weighed.source}
        show_json({**start, **trim_json(now, file.units), "was": trim_json(was, file.units)})
    else:
        show(trim_text(file, was, now))
