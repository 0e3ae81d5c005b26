"""`balancer prep`."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import click

from balancer.ballast.margin import margin_of
from balancer.cli.options.files import state_named
from balancer.cli.options.inputs import ReadingsCommand, with_readings
from balancer.cli.options.numbers import Band, Names, Number, fraction
from balancer.cli.options.results import Result
from balancer.cli.options.shared import PERCENT, TO, TOLERANCE
from balancer.cli.options.swap import with_swap
from balancer.cli.options.weighed import Weighed
from balancer.cli.terminal.waiting import waiting
from balancer.files.format.numbers import Amount
from balancer.files.states import trims_asked
from balancer.perches.goal import Aim, Asked, aim_of
from balancer.report.words.opening import Aimed
from balancer.weighing.load_states import Trim, carry

if TYPE_CHECKING:
    from balancer.prep.preparation import Preparation


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
        car, loads = weighed.file.car, weighed.weigh_in.loads
        trims = {
            name: carry(car, loads, weighed.was, state.items)
            for name, state in trims_asked(weighed.file, to).items()
        }
        (name, racing), *others = trims.items()
        asked = Asked(cross=fraction(cross), tolerance=fraction(tolerance))
        aim = aim_of(car, racing.held, asked, others=[other.held for _, other in others])
        aimed = Aimed(aim, name, racing.on_board)
        return function(weighed, _prepared(weighed, aim, trims, front, pads), aimed, **options)

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


def _prepared(
    weighed: Weighed,
    aim: Aim,
    trims: Mapping[str, Trim],
    front: tuple[float, float] | None,
    pads: str | None,
) -> Preparation:
    from balancer.ballast.goal import BallastGoal
    from balancer.prep.preparation import prepare_trims

    file, car, weigh_in = weighed.file, weighed.file.car, weighed.weigh_in
    on_pads = weighed.was if pads is None else state_named(file, pads, "--next").items
    with waiting("looking for ballast and turns"):
        return prepare_trims(
            car,
            carry(car, weigh_in.loads, weighed.was, weighed.was),
            list(trims.values()),
            on_pads,
            BallastGoal.of(car, weigh_in.uncertainties.total, front, weigh_in.covariance),
            aim.goal,
            weigh_in.repeatable.cross,
            weighed.learned,
            list(trims) if len(trims) > 1 else (),
        )


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
    from balancer.prep.preparation import as_read
    from balancer.report.prep import prep_json, prep_text

    file, weigh_in = weighed.file, weighed.weigh_in
    heights = weigh_in.readings.pad_heights
    shown = as_read(file.car, ready, heights) if heights.any() else None

    def text() -> str:
        return prep_text(file, ready, margin_of(file.car, weigh_in.uncertainties.total), shown)

    met = ready.status == "met"
    return Result(text, lambda: prep_json(file, ready, shown), met, aimed=aimed)
