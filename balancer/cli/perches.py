"""`balancer perches`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from balancer.car.conventions import Floats
from balancer.car.errors import Fault
from balancer.cli.options.asked import LINKS, asked_of, contradictions, remarks, with_asked
from balancer.cli.options.files import note
from balancer.cli.options.inputs import ReadingsCommand, with_readings
from balancer.cli.options.numbers import TO, faults_of
from balancer.cli.options.results import SVG, Result
from balancer.cli.options.swap import with_swap
from balancer.cli.terminal.waiting import waiting
from balancer.files.on_board import State, in_words
from balancer.files.states import race_state, trims_asked
from balancer.jobs.weighed import Weighed
from balancer.planning.perches.goal import aim_of
from balancer.planning.perches.plan import PerchPlan
from balancer.planning.session.plan import believed_plan
from balancer.report.perches.plan import perches_text
from balancer.report.perches.plan_json import perches_json
from balancer.report.perches.trims import trims_json, trims_text
from balancer.report.words.opening import Aimed, trims_named
from balancer.weighing.comparison import standing

if TYPE_CHECKING:
    from balancer.planning.perches.bar_links import BarFit


class _Perches(ReadingsCommand):
    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        rest = super().parse_args(ctx, args)
        faults_of(ctx).extend([*_shares(ctx.params), *contradictions(ctx.params)])
        return rest


@click.command("perches", cls=_Perches)
@with_readings
@with_swap
@with_asked
@click.option("--links", is_flag=True, help=LINKS)
@TO
@click.option("--front", hidden=True)
@click.option("--left", hidden=True)
@SVG
def command(weighed: Weighed, links: bool, to: tuple[str, ...], **options: Any) -> Result:
    """Find the perch turns that reach a cross weight and keep the heights.

    Of all whole steps within the travel left, those on the fewest corners that land
    surely near the middle of both tolerances; beside them the fewest turns within
    the tolerances, the best for other numbers of corners, and what one turn does.
    Exit status 1 when the target can't be met.

    With --to the turns are for the car with that on board; with several, for two
    drivers say, within tolerance in each, or with the smallest worst miss.

    \b
    Examples:
      balancer perches examples/coupe.toml 301.5 289.0 231.0 243.5 --cross 50
      balancer perches examples/coupe.toml 301.5 289.0 231.0 243.5 \\
          --equal-fronts --keep RR --raise front=3
    """
    file, was = weighed.file, weighed.was
    trims = trims_asked(file, to) if to else {}
    weighed, others = _carried(weighed, trims)
    weigh_in = weighed.weigh_in
    asked = asked_of(options, file, weigh_in.readings.ride_heights)
    aim = aim_of(file.car, weigh_in.loads, asked, others)
    if links and not any(link.usable for link in file.car.links):
        note("--links changes nothing: no bar is connected by a link with link_lead")
    note(*remarks(asked, file, weigh_in.shares))
    with waiting("looking for the best turns"):
        plan = believed_plan(
            file.car, weigh_in.loads, aim.goal, weigh_in.repeatable.cross, weighed.learned, links
        )
    bars = _bars(weighed, plan, bool(trims))
    name = trims_named(["the state asked for", *list(trims)[1:]]) if trims else ""
    shown = standing(file.car, weigh_in)

    def svg() -> str:
        from balancer.report.pictures.plan import perches_picture

        return perches_picture(file, shown, plan)

    def told() -> str:
        return trims_text(trims, plan, shown.shares.cross, in_words(was, file.units), file.units)

    return Result(
        lambda: perches_text(file, shown, plan, bars, told()),
        lambda: {
            **perches_json(file, shown, plan, bars),
            **trims_json(trims, plan, shown.shares.cross, file.units),
        },
        plan.status == "reached",
        svg,
        Aimed(aim, name, weighed.was if trims else ()),
    )


def _carried(weighed: Weighed, trims: dict[str, State]) -> tuple[Weighed, list[Floats]]:
    """Carry a weigh-in to the first race trim asked for, if any, and its loads to the others."""
    if not trims:
        return weighed, []
    from balancer.planning.session.carrying import carried_to

    car, weigh_in = weighed.file.car, weighed.weigh_in
    first, *others = (
        carried_to(car, weigh_in, weighed.was, state.items, weighed.learned)
        for state in trims.values()
    )
    items = next(iter(trims.values())).items
    there = weighed._replace(weigh_in=first, aboard=weighed.aboard._replace(items=items))
    return there, [other.loads for other in others]


def _bars(weighed: Weighed, plan: PerchPlan, carried: bool) -> Sequence[BarFit]:
    """Find how the anti-roll bars go on in race trim, or that which was asked for, after them."""
    if not weighed.file.car.links:
        return ()
    from balancer.planning.perches.bar_links import bar_fits

    race = weighed.was if carried else race_state(weighed.file).items
    return bar_fits(weighed.file.car, weighed.weigh_in.loads, plan.best, race, weighed.was)


def _shares(given: dict[str, Any]) -> Iterator[Fault]:
    for share in ("front", "left"):
        if given[share] is not None:
            what = f"perches can't move the {share} share"
            yield Fault(f"--{share}", what, "only mass does: see balancer ballast")
