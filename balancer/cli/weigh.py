"""`balancer weigh`."""

import os

import click

from balancer.car.errors import InputError
from balancer.cli.options.inputs import ReadingsCommand, with_readings
from balancer.cli.options.loads import with_bare
from balancer.cli.options.results import SVG, Result
from balancer.cli.terminal.waiting import waiting
from balancer.jobs.weighed import Weighed
from balancer.report.weighing.weigh import weigh_json, weigh_text
from balancer.weighing.uncertainty import sampled_uncertainties


@click.command("weigh", cls=ReadingsCommand)
@with_readings
@with_bare
@click.option(
    "--samples", type=click.IntRange(100, 1_000_000), help="Check each ± by so many draws."
)
@click.option("--save", is_flag=True, help="Keep it in the log of the car.")
@click.option("--note", default="", metavar="TEXT", help="With --save: what there is to remember.")
@SVG
def command(weighed: Weighed, samples: int | None, save: bool, note: str) -> Result:
    """Say what the car weighs and where, and how sure that is.

    The readings are four numbers, or a file with repeats, tare, pad heights,
    ride heights, a date and a note (see balancer guide weighing).

    Without CAR the four numbers do: say --units, and --wheelbase and --track for
    the center of gravity.

    \b
    Examples:
      balancer weigh 652 604 473 492 --units us
      balancer weigh examples/coupe.toml 301.5 289.0 231.0 243.5
    """
    file, weigh_in, drawn = weighed.file, weighed.weigh_in, None
    if note and not save:
        raise InputError.one("--note", "goes with --save", "give both or none")
    if samples is not None:
        with waiting("drawing samples"):
            drawn = sampled_uncertainties(file.car, weigh_in.loads, weigh_in.covariance, samples)

    def svg() -> str:
        from balancer.report.pictures.plan import weigh_picture

        return weigh_picture(file, weigh_in)

    entry, saved = _kept(weighed, note) if save else (0, "")
    return Result(
        lambda: weigh_text(file, weigh_in, drawn) + saved,
        lambda: {**weigh_json(file, weigh_in, drawn), **({"entry": entry} if entry else {})},
        svg=svg,
    )


def _kept(weighed: Weighed, note: str) -> tuple[int, str]:
    # Most weigh-ins are only looked at.
    from balancer.cli.options.past import kept
    from balancer.log.reader import log_path

    number = kept(weighed, note).number
    return number, f"\n\nEntry {number} of {os.path.basename(log_path(weighed.file.path))}."
