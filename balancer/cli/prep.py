"""`balancer prep`."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from balancer.ballast.margin import margin_of
from balancer.cli.options.inputs import ReadingsCommand, Weighed, with_readings
from balancer.cli.options.numbers import Band, Names, Number
from balancer.cli.terminal.show import show, show_json
from balancer.cli.terminal.waiting import waiting
from balancer.files.format.numbers import Amount
from balancer.files.states import race_state, split_names, state_of
from balancer.perches.goal import Asked, aim_of
from balancer.weighing.load_states import carry

if TYPE_CHECKING:
    from balancer.prep import Preparation


class PrepCommand(ReadingsCommand):
    """Takes the last weigh-in of the log when no readings are given."""

    from_log = True


def with_preparation(function: Callable[..., None]) -> Callable[..., None]:
    """Take readings and what is wanted at the event; pass `Weighed` and `Preparation` on."""

    def run(
        weighed: Weighed,
        cross: Amount | None,
        tolerance: Amount | None,
        front: tuple[float, float] | None,
        pads: str | None,
        **options: Any,
    ) -> None:
        function(weighed, _prepared(weighed, cross, tolerance, front, pads), **options)

    for add in (
        click.option("--next", "pads", type=Names(), help="On board when next on the pads.  [now]"),
        click.option("--front", type=Band(), help="Front share wanted, number or band.  [class]"),
        click.option("--tolerance", type=Number(0.01, 10), help="Points of it.  [target]"),
        click.option("--cross", type=Number(20, 80, ("%",)), help="Cross weight, %.  [target]"),
    ):
        function_with = add(functools.update_wrapper(run, function))
    return with_readings(function_with)


def _prepared(
    weighed: Weighed,
    cross: Amount | None,
    tolerance: Amount | None,
    front: tuple[float, float] | None,
    pads: str | None,
) -> Preparation:
    from balancer.ballast.goal import BallastGoal
    from balancer.prep import prepare

    file, car, weigh_in = weighed.file, weighed.file.car, weighed.weigh_in
    race = race_state(file).items
    words = None if pads is None else split_names(pads)
    operating_point = weighed.was if words is None else state_of(file, words, "--next").items
    goal = BallastGoal.of(car, weigh_in.uncertainties.total, front)
    asked = Asked(
        cross=cross.value / 100 if cross else None,
        tolerance=tolerance.value / 100 if tolerance else None,
    )
    raced = carry(car, weigh_in.loads, weighed.was, race).loads
    turned = aim_of(car, raced, asked).goal
    with waiting("looking for ballast and turns"):
        return prepare(
            car,
            weigh_in.loads,
            weighed.was,
            race,
            operating_point,
            goal,
            turned,
            weigh_in.uncertainties.cross,
        )


@click.command("prep", cls=PrepCommand)
@with_preparation
def command(weighed: Weighed, ready: Preparation) -> None:
    """Check before an event: race trim, rules, ballast, perches, in one go.

    Takes the last weigh-in of the log where no readings are given. Carries it to
    race trim, finds the least ballast that makes the car legal and meets the split,
    the perch turns with that ballast on board, and says what the pads will show.
    Exit status 1 when not all can be met.

    \b
    Example:
      balancer prep examples/coupe.toml 290 263 215 217 \\
          --weighed-with none --cross 50
    """
    from balancer.prep import as_read
    from balancer.report.prep import prep_json, prep_text

    heights = weighed.weigh_in.readings.pad_heights
    shown = as_read(weighed.file.car, ready, heights) if heights.any() else None
    if weighed.as_json:
        show_json({**prep_json(weighed.file, ready, shown), **weighed.source})
    else:
        margin = margin_of(weighed.file.car, weighed.weigh_in.uncertainties.total)
        show(prep_text(weighed.file, ready, margin, shown))
    sys.exit(0 if ready.status == "met" else 1)
