"""`balancer stint`."""

from __future__ import annotations

from math import isfinite

import click

from balancer.cli.gather import ReadingsCommand, Weighed, with_readings
from balancer.cli.numbers import Number
from balancer.cli.show import show, show_json
from balancer.errors import InputError
from balancer.faults import suggestion
from balancer.report.trim import stint_json, stint_text
from balancer.states import race_state, split_names, state_of
from balancer.trim import stint
from balancer.typed import Amount


@click.command("stint", cls=ReadingsCommand)
@with_readings
@click.option("--fluid", default="fuel", help="What is used up.  [fuel]")
@click.option("--from", "start", metavar="NAMES", help="On board at the start.  [race trim, full]")
@click.option("--cross", type=Number(20, 80, ("%",)), help="Cross weight wanted, percent.  [50]")
def command(weighed: Weighed, fluid: str, start: str | None, cross: Amount | None) -> None:
    """Follow a stint from full to reserve, and find the worst cross weight.

    \b
    Example:
      balancer stint examples/coupe.toml 302 288.5 231 244 --weighed-with driver
    """
    file, car = weighed.file, weighed.file.car
    fluids = {item.name: item for item in car.on_board if item.density}
    if fluid not in fluids:
        way_out = suggestion(fluid, list(fluids)) if fluids else "give one in [[on_board]] a volume"
        raise InputError.one("--fluid", f"“{fluid}” is no fluid of this car", way_out)
    state = race_state(file) if start is None else state_of(file, split_names(start), "--from")
    items = state.items
    if start is None or fluid not in [item.name for item in items]:
        tank = fluids[fluid].tank
        full = fluids[fluid]._replace(mass=tank if isfinite(tank) else fluids[fluid].mass)
        items = (*(item for item in items if item.name != fluid), full)
    wanted = cross.value / 100 if cross else 0.5
    found = stint(
        car, weighed.weigh_in.loads, weighed.was, items, fluid, fluids[fluid].reserve, wanted
    )
    if weighed.as_json:
        show_json(stint_json(file, found, fluid))
    else:
        show(stint_text(file, found, fluid, wanted))
