"""`balancer trim`."""

import click

from balancer.cli.options.inputs import ReadingsCommand, with_readings
from balancer.cli.options.numbers import TO
from balancer.cli.options.results import Result
from balancer.cli.options.swap import with_swap
from balancer.files.states import trims_asked
from balancer.jobs.weighed import Weighed
from balancer.report.weighing.trim import trim_text, trim_told
from balancer.weighing.load_states import carry


@click.command("trim", cls=ReadingsCommand)
@with_readings
@with_swap
@TO
def command(weighed: Weighed, to: tuple[str, ...]) -> Result:
    """Carry a weigh-in to another state: driver in, fuel out, spares off.

    NAMES are those of [[on_board]] in the car file, with commas between them; an
    amount may follow, as in driver,fuel=20 (liters or gallons for a fluid, kg or
    lb for anything else). Several states, for two drivers say, are set side by side.

    \b
    Example:
      balancer trim examples/coupe.toml 302 288.5 231 244 \\
          --weighed-with driver --to driver,fuel=12 --to fuel=12
    """
    file, loads = weighed.file, weighed.weigh_in.loads
    was = carry(file.car, loads, weighed.was, weighed.was)
    now = {
        name: carry(file.car, loads, weighed.was, state.items)
        for name, state in trims_asked(file, to).items()
    }
    source = weighed.aboard.source
    return Result(lambda: trim_text(file, was, now), lambda: trim_told(file, was, now, source))
