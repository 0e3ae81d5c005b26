"""`balancer weigh`."""

from __future__ import annotations

import click

from balancer.cli.options.inputs import ReadingsCommand, Weighed, with_readings
from balancer.cli.options.picture import with_svg, write_svg
from balancer.cli.terminal.show import show, show_json
from balancer.cli.terminal.waiting import waiting
from balancer.report.weighing.weigh import weigh_json, weigh_text
from balancer.weighing.uncertainty import sampled_uncertainties


@click.command("weigh", cls=ReadingsCommand)
@with_readings
@click.option(
    "--samples", type=click.IntRange(100, 1_000_000), help="Check each ± by so many draws."
)
@with_svg
def command(weighed: Weighed, samples: int | None, svg: str | None) -> None:
    """Say what the car weighs and where, and how sure that is.

    The readings are four numbers, or a file with repeats, tare, pad heights,
    ride heights, a date and a note (see the README).

    \b
    Example:
      balancer weigh examples/coupe.toml 301.5 289.0 231.0 243.5
    """
    file, found = weighed.file, weighed.weigh_in
    drawn = None
    if samples is not None:
        with waiting("drawing samples"):
            drawn = sampled_uncertainties(file.car, found.loads, found.covariance, samples)
    if weighed.as_json:
        show_json({**weigh_json(file, found, drawn), **weighed.source})
    else:
        show(weigh_text(file, found, drawn))
    if svg:
        from balancer.report.pictures.plan import weigh_picture

        write_svg(svg, weigh_picture(file, found), weighed.as_json)
