"""`balancer prep`."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from balancer.cli.options.files import state_named
from balancer.cli.options.inputs import ReadingsCommand, with_readings
from balancer.cli.options.numbers import PERCENT, TO, TOLERANCE, Band, Names, Number, fraction
from balancer.cli.options.results import Result
from balancer.cli.options.swap import with_swap
from balancer.cli.terminal.waiting import waiting
from balancer.files.format.numbers import Amount
from balancer.files.states import trims_asked
from balancer.jobs.weighed import Weighed
from balancer.planning.ballast.margin import margin_of
from balancer.planning.perches.goal import Asked
from balancer.report.words.opening import Aimed

if TYPE_CHECKING:
    from balancer.planning.prep.preparation import Preparation


class PrepCommand(ReadingsCommand):
    """Takes the last weigh-in of the log when no readings are given."""

    from_log = True


def with_preparation(function: Callable[..., Result]) -> Callable[..., Result]:
    """Take what is wanted at the event; pass it on with what it comes to."""

    def run(
        weighed: Weighed,
        cross: Amount | None,
        tolerance: Amount | None,
        front: tuple[float, float] | None,
        pads: str | None,
        to: tuple[str, ...],
        **options: Any,
    ) -> Result:
        from balancer.jobs.preparing import prepared, trims_of

        file = weighed.file
        trims = trims_of(weighed, trims_asked(file, to))
        on_pads = None if pads is None else state_named(file, pads, "--next").items
        asked = Asked(cross=fraction(cross), tolerance=fraction(tolerance))
        with waiting("looking for ballast and turns"):
            ready, aimed = prepared(weighed, trims, asked, front, on_pads)
        return function(weighed, ready, aimed, **options)

    function_with = functools.update_wrapper(run, function)
    for add in (
        TO,
        click.option("--next", "pads", type=Names(), help="On board when next on the pads.  [now]"),
        click.option("--front", type=Band(), help="Front share wanted, number or band.  [class]"),
        TOLERANCE,
        click.option("--cross", type=Number(20, 80, PERCENT), help="Cross weight, %.  [target]"),
    ):
        function_with = add(function_with)
    return function_with


@click.command("prep", cls=PrepCommand)
@with_readings
@with_swap
@with_preparation
def command(weighed: Weighed, ready: Preparation, aimed: Aimed) -> Result:
    """Check before an event: race trim, rules, ballast, perches, in one go.

    Takes the last weigh-in of the log where no readings are given. Carries it to
    race trim, finds the least ballast that makes the car legal and meets the split,
    the perch turns with that ballast on board, and says what the pads will show.
    Where there are several race trims all of that holds in each of them. Exit
    status 1 when not all can be met.

    \b
    Example:
      balancer prep examples/coupe.toml 290 263 215 217 \\
          --weighed-with none --cross 50
    """
    from balancer.planning.prep.preparation import as_read
    from balancer.report.prep import prep_json, prep_text

    file, weigh_in = weighed.file, weighed.weigh_in
    heights = weigh_in.readings.pad_heights
    shown = as_read(file.car, ready, heights) if heights.any() else None

    def text() -> str:
        return prep_text(file, ready, margin_of(file.car, weigh_in.uncertainties.total), shown)

    met = ready.status == "met"
    return Result(text, lambda: prep_json(file, ready, shown), met, aimed=aimed)
