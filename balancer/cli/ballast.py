"""`balancer ballast`."""

import os
from collections.abc import Iterator
from dataclasses import replace
from math import isnan
from typing import Any

import click

from balancer.car.conventions import GRAVITY
from balancer.car.errors import Fault
from balancer.cli.options.files import note
from balancer.cli.options.inputs import ReadingsCommand, with_readings
from balancer.cli.options.numbers import MASS, PERCENT, TO, Band, Number
from balancer.cli.options.results import SVG, Result
from balancer.cli.options.swap import with_swap
from balancer.cli.terminal.waiting import waiting
from balancer.files.car_file import CarFile
from balancer.files.format.numbers import Amount
from balancer.files.states import trims_asked
from balancer.files.units import Units, other
from balancer.jobs.weighed import Weighed


class _Ballast(ReadingsCommand):
    def check(self, file: CarFile | None, given: dict[str, Any]) -> Iterator[Fault]:
        yield from super().check(file, given)
        if file is None:
            return
        if not file.car.places:
            where = os.path.basename(file.path)
            way_out = "say where ballast may go: name, aft, left, up"
            yield Fault(where, "has no [[place]]", way_out)
        single, tolerance = given["front"] or file.car.rules.front, given["tolerance"]
        # A number with a fault in it is not one; that is told already.
        near = tolerance is not None and not isnan(tolerance.value)
        if near and (single is None or single[0] < single[1]):
            what = "no single front share to be near"
            yield Fault("--tolerance", what, "give one: --front PCT")


@click.command("ballast", cls=_Ballast)
@with_readings
@with_swap
@click.option("--front", type=Band(), help="Front share wanted, one number or a band.  [class]")
@click.option(
    "--cross", type=Band(), help="Cross weight it is to bring, the same.  [left to turns]"
)
@click.option("--left", type=Number(20, 80, PERCENT), help="Left share to come close to.  [50]")
@click.option(
    "--minimum", type=Number(0, 10000, MASS), help="Minimum weight, margin included.  [class]"
)
@click.option("--most", type=Number(0, 10000, MASS), help="Most ballast in all.  [class]")
@click.option(
    "--tolerance", type=Number(0, 10), help="Points around a single --front.  [0; 0.2 with pieces]"
)
@TO
@SVG
def command(
    weighed: Weighed,
    front: tuple[float, float] | None,
    cross: tuple[float, float] | None,
    left: Amount | None,
    minimum: Amount | None,
    most: Amount | None,
    tolerance: Amount | None,
    to: tuple[str, ...],
) -> Result:
    """Find the least ballast, and where, that meets rules and axle split.

    The car is carried to race trim first, where it was weighed with anything else
    on board; where there are several, one ballast is found that is legal in each.
    Places, pieces and the class rules come from the car file. Exit status 1 when
    not every rule can be met.

    \b
    Example:
      balancer ballast examples/coupe.toml 301.5 289.0 231.0 243.5 --front 51
    """
    from balancer.jobs.preparing import ballasted, goal_of, trims_of
    from balancer.report.ballast import ballast_json, ballast_text

    file, units = weighed.file, weighed.file.units
    single = front or file.car.rules.front
    if single and tolerance:
        front = (single[0] - tolerance.value / 100, single[1] + tolerance.value / 100)
    goal = goal_of(weighed, front, cross)
    goal = replace(
        goal,
        left=left.value / 100 if left else goal.left,
        minimum=minimum.to_si(units, "mass") if minimum else goal.minimum,
        floor=None if minimum else goal.floor,
        most=most.to_si(units, "mass") if most else goal.most,
    )
    trims = trims_of(weighed, trims_asked(file, to))
    racing = next(iter(trims.values()))
    _odd_minimum(minimum, racing.shares.total / GRAVITY, units)
    with waiting("looking for the best ballast"):
        plan = ballasted(weighed, goal, trims)

    def svg() -> str:
        from balancer.report.pictures.ballast import ballast_picture

        return ballast_picture(file, racing, plan)

    return Result(
        lambda: ballast_text(file, racing, plan, trims),
        lambda: ballast_json(file, plan, trims),
        plan.status == "met" and not plan.left_to_turns,
        svg,
    )


def _odd_minimum(minimum: Amount | None, mass: float, units: Units) -> None:
    """Remark on a minimum that is far from what the car weighs, but near in the other units."""
    if minimum is None or minimum.suffix:
        return
    foreign = other(units)
    ratio = minimum.to_si(units, "mass") / mass
    meant = ratio * foreign.factors["mass"] / units.factors["mass"]
    if not 0.62 < ratio < 1.6 and 0.8 < meant < 1.25:
        label, typed = foreign.labels["mass"], f"{minimum.value:g}"
        note(
            f"--minimum: {typed} {units.labels['mass']} is {ratio:.2g} times what the car"
            f" weighs: if it is {label}, write {typed}{label}"
        )
