"""`balancer stint`."""

from collections.abc import Iterator
from math import isfinite
from typing import Any

import click

from balancer.car.errors import Fault
from balancer.car.model import Item
from balancer.cli.options.files import state_named
from balancer.cli.options.inputs import ReadingsCommand, with_readings
from balancer.cli.options.numbers import CROSS, Names, fraction
from balancer.cli.options.results import SVG, Result
from balancer.cli.terminal.waiting import waiting
from balancer.files.car_file import CarFile
from balancer.files.format.faults import suggestion
from balancer.files.format.numbers import Amount
from balancer.files.on_board import look_up, split_names
from balancer.files.units import Units
from balancer.jobs.weighed import Weighed
from balancer.planning.perches.goal import Asked, aim_of
from balancer.report.weighing.trim import stint_json, stint_text
from balancer.report.words.opening import Aimed
from balancer.weighing.load_states import carry, stint


class _Stint(ReadingsCommand):
    def check(self, file: CarFile | None, given: dict[str, Any]) -> Iterator[Fault]:
        yield from super().check(file, given)
        if file is None:
            return
        fluid, start = given["fluid"], given["start"]
        fluids = [item.name for item in file.car.on_board if item.density]
        if fluid not in fluids:
            way_out = suggestion(fluid, fluids) if fluids else "give one in [[on_board]] a volume"
            yield Fault("--fluid", f"“{fluid}” is no fluid of this car", way_out)
        elif (
            start is None
            or not look_up(file.car.on_board, split_names(start), file.units, "--from", "")[1]
        ):
            yield from _nothing_to_use(_start(file, fluid, start), fluid, file.units)


@click.command("stint", cls=_Stint)
@with_readings
@click.option("--fluid", default="fuel", help="What is used up.  [fuel]")
@click.option("--from", "start", type=Names(), help="On board at the start.  [race trim, full]")
@CROSS
@SVG
def command(weighed: Weighed, fluid: str, start: str | None, cross: Amount | None) -> Result:
    """Follow a stint from full to reserve, and find the worst cross weight.

    \b
    Example:
      balancer stint examples/coupe.toml 302 288.5 231 244 --weighed-with driver
    """
    file, loads = weighed.file, weighed.weigh_in.loads
    items = _start(file, fluid, start)
    reserve = next(item.reserve for item in items if item.name == fluid)
    raced = carry(file.car, loads, weighed.was, items).held
    aim = aim_of(file.car, raced, Asked(cross=fraction(cross)))
    wanted = aim.goal.cross
    with waiting("following the stint"):
        burnt = stint(file.car, loads, weighed.was, items, fluid, reserve, wanted)

    def svg() -> str:
        from balancer.report.pictures.stint import stint_picture

        return stint_picture(file, burnt, fluid, aim.goal)

    return Result(
        lambda: stint_text(file, burnt, fluid, wanted),
        lambda: stint_json(file, burnt, fluid),
        svg=svg,
        aimed=Aimed(aim, "the stint, at its start", items),
    )


def _start(file: CarFile, fluid: str, start: str | None) -> tuple[Item, ...]:
    """Find what is on board at the start; the tank is full unless another amount is said."""
    items = state_named(file, start, "--from").items
    if start is None or fluid not in [item.name for item in items]:
        usual = next(item for item in file.car.on_board if item.name == fluid)
        full = usual._replace(mass=usual.tank if isfinite(usual.tank) else usual.mass)
        items = (*(item for item in items if item.name != fluid), full)
    return items


def _nothing_to_use(items: tuple[Item, ...], fluid: str, units: Units) -> Iterator[Fault]:
    item = next(item for item in items if item.name == fluid)
    if item.mass <= item.reserve:
        label = units.labels["volume"]
        start, end = (
            units.from_si(mass / item.density, "volume") for mass in (item.mass, item.reserve)
        )
        what = f"{start:g} {label} is no more than the reserve, {end:g} {label}"
        yield Fault(f"--from {fluid}", what, "start with more, or mend the car file")
