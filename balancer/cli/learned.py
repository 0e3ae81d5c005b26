"""`balancer learned`."""

from __future__ import annotations

import click

from balancer.carfile import read_car
from balancer.chronicle import last_belief
from balancer.cli.show import show, show_json
from balancer.log import effective, log_path, read_log
from balancer.report.learned import learned_json, learned_text


@click.command("learned")
@click.argument("car", metavar="CAR")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(car: str, as_json: bool) -> None:
    """Propose what the sessions have taught for the car file; never writes it.

    \b
    Example:
      balancer learned examples/coupe.toml
    """
    file = read_car(car)
    belief = last_belief(effective(read_log(log_path(file.path)).entries), file.car)
    if as_json:
        show_json(learned_json(file, belief))
    else:
        show(learned_text(file, belief))
