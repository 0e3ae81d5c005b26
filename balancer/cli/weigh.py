"""`balancer weigh`."""

from __future__ import annotations

import click

from balancer.cli.gather import ReadingsCommand, Weighed, with_readings
from balancer.cli.show import show, show_json
from balancer.report.weigh import weigh_json, weigh_text


@click.command("weigh", cls=ReadingsCommand)
@with_readings
def command(weighed: Weighed) -> None:
    """Say what the car weighs and where, and how sure that is.

    The readings are four numbers, or a file with repeats, tare, pad heights,
    ride heights, a date and a note (see the README).

    \b
    Example:
      balancer weigh examples/coupe.toml 301.5 289.0 231.0 243.5
    """
    if weighed.as_json:
        show_json(weigh_json(weighed.file, weighed.weigh_in))
    else:
        show(weigh_text(weighed.file, weighed.weigh_in))
