"""`balancer perches`."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.cli.options.inputs import ReadingsCommand, Weighed, with_readings
from balancer.cli.options.numbers import ByCorner, Corner, Number, faults_of
from balancer.cli.options.picture import with_svg, write_svg
from balancer.cli.terminal.show import print_error, show, show_json
from balancer.cli.terminal.waiting import waiting
from balancer.errors import Fault, InputError
from balancer.files.format.numbers import Amount
from balancer.files.states import in_words, race_state
from balancer.perches.goal import Asked, aim_of
from balancer.perches.plan import PerchPlan, plan_perches
from balancer.report.perches.plan import perches_text
from balancer.report.perches.plan_json import perches_json
from balancer.report.words.numbers import amount

if TYPE_CHECKING:
    from balancer.perches.bar_links import BarFit

_LENGTH = ("mm", "in")
_MOST_RISE = 0.1
"""More than any perch gives, and less than a height in the wrong units would ask for [m]."""
_NOW = "put ride_heights in a readings file"
_GROUPS = {"all": CORNERS, "front": CORNERS[:2], "rear": CORNERS[2:]}


class _Perches(ReadingsCommand):
    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        rest = super().parse_args(ctx, args)
        faults_of(ctx).extend(_contradictions(ctx.params))
        return rest


@click.command("perches", cls=_Perches)
@with_readings
@click.option("--cross", type=Number(20, 80, ("%",)), help="Cross weight wanted, %.  [target]")
@click.option("--equal-fronts", is_flag=True, help="Want LF and RF to carry the same.")
@click.option("--equal-rears", is_flag=True, help="Want LR and RR to carry the same.")
@click.option(
    "--loads",
    "wanted",
    nargs=4,
    type=Number(1, 5000, ("kg", "lb", "lbs")),
    metavar="LF RF LR RR",
    help="Want loads as close to these four as perches can bring them.",
)
@click.option("--tolerance", type=Number(0.01, 10), help="Points of it.  [target]")
@click.option(
    "--height-tolerance", type=Number(0.001, 100, _LENGTH), help="At each wheel.  [target]"
)
@click.option(
    "--raise",
    "rises",
    multiple=True,
    type=ByCorner(),
    help="Change a ride height; may be repeated.",
)
@click.option(
    "--heights",
    nargs=4,
    type=Number(0, 2000, _LENGTH),
    metavar="LF RF LR RR",
    help="Ride heights wanted, where the readings file has those now.",
)
@click.option(
    "--keep", multiple=True, type=Corner(), help="A corner not to be touched; may be repeated."
)
@click.option(
    "--links", is_flag=True, help="Drop links of connected bars may be used too (link_lead)."
)
@click.option("--front", hidden=True)
@click.option("--left", hidden=True)
@with_svg
def command(
    weighed: Weighed,
    cross: Amount | None,
    equal_fronts: bool,
    equal_rears: bool,
    wanted: tuple[Amount, ...] | None,
    tolerance: Amount | None,
    height_tolerance: Amount | None,
    rises: tuple[tuple[str, Amount], ...],
    heights: tuple[Amount, ...] | None,
    keep: tuple[str, ...],
    links: bool,
    front: str | None,
    left: str | None,
    svg: str | None,
) -> None:
    """Find the perch turns that reach a cross weight and keep the heights.

    Of all whole steps within the travel left, the fewest corners and turns that
    bring cross weight and ride heights within tolerance; beside it the best for
    every other number of corners, and what one turn does. Exit status 1 when
    the target can't be met.

    \b
    Examples:
      balancer perches examples/coupe.toml 301.5 289.0 231.0 243.5 --cross 50
      balancer perches examples/coupe.toml 301.5 289.0 231.0 243.5 \\
          --equal-fronts --keep RR --raise front=3
    """
    units, car, loads = weighed.file.units, weighed.file.car, weighed.weigh_in.loads
    four = [load.to_si(units, "load") for load in wanted or ()]
    asked = Asked(
        cross=cross.value / 100 if cross else None,
        equal="front" if equal_fronts else "rear" if equal_rears else None,
        loads=np.array(four) if four else None,
        called=f"loads near {', '.join(amount(load, 'load', units) for load in four)}",
        tolerance=tolerance.value / 100 if tolerance else None,
        height_tolerance=height_tolerance.to_si(units, "length") if height_tolerance else None,
        rise=_rise(weighed, rises, heights),
        keep=frozenset(keep),
    )
    aim = aim_of(car, loads, asked, "--loads" if wanted else f"--equal-{asked.equal}s")
    for note in _of_no_use(weighed, links, wanted):
        print_error(f"note: {note}")
    with waiting("looking for the best turns"):
        plan = plan_perches(car, loads, aim.goal, weighed.weigh_in.uncertainties.cross, links)
    bars = _bars(weighed, plan)
    if set(weighed.was) != set(race_state(weighed.file).items):
        state = in_words(weighed.was, units)
        print_error(f"note: planned for the car as weighed, with {state}; for race trim: prep")
    if weighed.as_json:
        found = perches_json(weighed.file, weighed.weigh_in, plan, bars)
        show_json({**found, **weighed.source})
    else:
        show(perches_text(weighed.file, weighed.weigh_in, plan, aim.words, bars))
    if svg:
        from balancer.report.pictures.plan import perches_picture

        write_svg(svg, perches_picture(weighed.file, weighed.weigh_in, plan), weighed.as_json)
    sys.exit(0 if plan.status == "reached" else 1)


def _bars(weighed: Weighed, plan: PerchPlan) -> Sequence[BarFit]:
    """Find how the anti-roll bars go on in race trim after the turns."""
    if not weighed.file.car.links:
        return ()
    from balancer.perches.bar_links import bar_fits

    race = race_state(weighed.file).items
    return bar_fits(weighed.file.car, weighed.weigh_in.loads, plan.best, race, weighed.was)


def _of_no_use(weighed: Weighed, links: bool, wanted: tuple[Amount, ...] | None) -> Iterator[str]:
    """Name options that can't do what they seem to ask for."""
    units, total = weighed.file.units, weighed.weigh_in.shares.total
    usable = (
        link.connected and link.rate and np.isfinite(link.lead) for link in weighed.file.car.links
    )
    if links and not any(usable):
        yield "--links changes nothing: no bar is connected by a link with link_lead"
    if wanted:
        more = sum(one.to_si(units, "load") for one in wanted) - total
        if abs(more) > 0.02 * total:
            off = amount(abs(more), "load", units, unit=True)
            way = "more" if more > 0 else "less"
            yield f"--loads add up to {off} {way} than the car: only their pattern counts"


def _contradictions(given: dict[str, Any]) -> Iterator[Fault]:
    """Find options that don't go together, and what no perch can do."""
    for share in ("front", "left"):
        if given[share] is not None:
            what = f"perches can't move the {share} share"
            yield Fault(f"--{share}", what, "only mass does: see balancer ballast")
    targets = ("cross", "equal_fronts", "equal_rears", "wanted")
    asked = [name for name in targets if given[name] not in (None, False)]
    if len(asked) > 1:
        options = [f"--{name.replace('_', '-').replace('wanted', 'loads')}" for name in asked]
        yield Fault(" and ".join(options), "more than one target", "give one")
    if given["heights"] and given["readings"] is None:
        yield Fault("--heights", "the heights now are not known", _NOW)


def _rise(
    weighed: Weighed,
    rises: tuple[tuple[str, Amount], ...],
    heights: tuple[Amount, ...] | None,
) -> Floats:
    """Work out the wanted change of ride height at each wheel station [m]."""
    units, now = weighed.file.units, weighed.weigh_in.readings.ride_heights
    rise = np.zeros(4)
    if heights:
        if now is None:
            raise InputError.one("--heights", "the heights now are not known", _NOW)
        rise = np.array([one.to_si(units, "length") for one in heights]) - now
    for name, change in rises:
        for corner in _GROUPS.get(name, (name,)):
            rise[CORNERS.index(corner)] += change.to_si(units, "length")
    most = amount(_MOST_RISE, "length", units, unit=True)
    faults = [
        Fault(
            f"{'--heights' if heights else '--raise'} {corner}",
            f"a change of {amount(change, 'length', units, sign=True, unit=True)}",
            f"at most {most}, check the units",
        )
        for corner, change in zip(CORNERS, rise, strict=True)
        if abs(change) > _MOST_RISE
    ]
    if faults:
        raise InputError(faults)
    return rise
