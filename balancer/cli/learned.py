"""`balancer learned`."""

import os
from typing import Any

import click

from balancer.cli.options.files import note
from balancer.cli.options.numbers import CAR
from balancer.cli.options.results import JSON, Result
from balancer.files.car_reader import read_car
from balancer.log.car_from_log import last_belief
from balancer.log.lookup import lines_lost
from balancer.log.reader import effective, log_path, read_log
from balancer.report.learned import learned_json, learned_text
from balancer.weighing.weigh import Source


@click.command("learned")
@CAR
@JSON
def command(car: str, as_json: bool) -> int:
    """Propose what the sessions have taught for the car file; never writes it.

    \b
    Example:
      balancer learned examples/coupe.toml
    """
    file = read_car(car)
    path = log_path(file.path)
    log = read_log(path)
    entry, belief = last_belief(effective(log.entries), file.car) or (None, None)
    if lost := lines_lost(log.damaged, os.path.basename(path)):
        note(lost + (f"; learned by entry {entry.number}, {entry.at[:10]}" if entry else ""))

    def with_source() -> dict[str, Any]:
        damaged = tuple(line.line for line in log.damaged)
        source = Source(entry.number, entry.at, damaged)._asdict() if entry else None
        return {**learned_json(file, belief), "from_log": source}

    return Result(lambda: learned_text(file, belief), with_source).show(as_json)
