"""`balancer learned`."""

from __future__ import annotations

import os

import click

from balancer.cli.terminal.show import print_error, show, show_json
from balancer.files.car_reader import read_car
from balancer.log.car_from_log import last_belief
from balancer.log.lookup import lines_lost
from balancer.log.reader import effective, log_path, read_log
from balancer.report.learned import learned_json, learned_text
from balancer.weighing.weigh import Source


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
    path = log_path(file.path)
    log = read_log(path)
    found = last_belief(effective(log.entries), file.car)
    entry, belief = found or (None, None)
    if said := lines_lost(log.damaged, os.path.basename(path)):
        told = f"; learned by entry {entry.number}, {entry.at[:10]}" if entry else ""
        print_error(f"note: {said}{told}")
    if as_json:
        damaged = tuple(one.line for one in log.damaged)
        source = Source(entry.number, entry.at, damaged)._asdict() if entry else None
        show_json({**learned_json(file, belief), "from_log": source})
    else:
        show(learned_text(file, belief))
