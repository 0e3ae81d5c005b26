"""`balancer session`."""

import os
import sys
from collections.abc import Iterator
from datetime import datetime
from typing import Any

import click
import numpy as np

from balancer.car.errors import BalancerError, InputError, refuse
from balancer.cli.options.asked import LINKS, asked_of, contradictions, with_asked
from balancer.cli.options.files import missing_for, note, readings_beside, state_named
from balancer.cli.options.numbers import CAR, LENGTH, WEIGHED_WITH, Number, faults_of, four
from balancer.cli.terminal.lines import lines
from balancer.cli.terminal.show import ask, print_error, show, show_json
from balancer.cli.terminal.waiting import waiting
from balancer.files.car_file import CarFile, operating_faults
from balancer.files.car_reader import read_car
from balancer.jobs.at_the_pads import AtThePads
from balancer.log.terms import Terms
from balancer.report.words.prose import wrapped
from balancer.weighing.weigh import Readings

PROMPT = "LF RF LR RR> "


@click.command("session")
@CAR
@with_asked
@click.option("--links/--no-links", default=None, help=LINKS)
@WEIGHED_WITH
@click.option(
    "--as-it-stands/--race-trim",
    "standing",
    default=None,
    help="Plan for the car as it is on the pads.  [race trim]",
)
@four("--pads", Number(0, 100, LENGTH), "Height of each pad above the lowest.")
@four("--stands", Number(0, 2000, LENGTH), "Ride heights as it stands now, for --heights.")
@click.option(
    "--heights-from", metavar="FILE", help="Pad and ride heights from a readings file, or log:12."
)
@click.option("--poorly-known", is_flag=True, help="Rates and ratios in the file are guesses.")
@click.option("--identify", is_flag=True, help="Say what turns made only to learn would bring.")
@click.option("--json", "as_json", is_flag=True, help="Answer each line with one JSON object.")
@click.pass_context
def command(ctx: click.Context, /, car: str, as_json: bool, **options: Any) -> None:
    """Sit with you at the pads: weigh, turn, weigh again, and stop when it is good.

    Type the four readings; it says what to turn, learns from each re-weigh how the
    car really answers, and keeps the log beside the car file. It plans for race
    trim, whoever sits in the car on the pads. Broken off, it goes on where it was,
    with all that it was told. Say help for the words it knows.

    \b
    Example:
      echo 302 288.5 231 244 | balancer session examples/coupe.toml
    """
    from balancer.log.dates import with_offset
    from balancer.log.lookup import lines_lost
    from balancer.log.reader import log_path
    from balancer.log.writer import open_log

    file = read_car(car)
    faults = [*faults_of(ctx), *contradictions(options), *missing_for("session", file)]
    source, measured = options["heights_from"], None
    if source is not None:
        measured = readings_beside(file, source, faults)
    refuse(faults)
    given = terms_given(file, options, measured)
    note(*file.notes)
    # A note from elsewhere is written in no time.
    with open_log(log_path(file.path), wait=1.0) as writer:
        if writer.set_aside:
            note(writer.set_aside)
        if damaged := lines_lost(writer.damaged, os.path.basename(writer.path)):
            print_error(wrapped(f"note: {damaged}"))
        with operating_faults(file), waiting("going through the log"):
            pads = AtThePads(file, given, writer, with_offset(datetime.now()), options["identify"])
        say = show_json if as_json else lambda answer: show(answer["text"])
        with waiting("going through the last session"):
            opening = pads.opening()
        say(opening)
        if opening["note"]:
            print_error(wrapped(f"note: {opening['note']}"))
        for line in _lines(as_json):
            try:
                with operating_faults(file), waiting("working out the turns"):
                    answer = pads.hear(line)
            except InputError as error:
                if as_json:
                    show_json({"error": [str(fault) for fault in error.faults]})
                else:
                    print_error(str(error))
                continue
            except BalancerError as error:
                if as_json:
                    show_json({"error": [str(error)]})
                raise
            if answer:
                say(answer)
            if pads.over:
                return
        if lost := pads.unanswered():
            say(lost)
        pads.end()


def terms_given(file: CarFile, options: dict[str, Any], measured: Readings | None = None) -> Terms:
    """Put together what is said now; what is not said is left to the log or the car file.

    Args:
        measured: Readings whose heights count where none are typed.
    """
    pads, stands = (
        np.array([each.to_si(file.units, "length") for each in typed]) if typed else None
        for typed in (options["pads"], options["stands"])
    )
    if measured is not None:
        pads = measured.pad_heights if pads is None else pads
        stands = measured.ride_heights if stands is None else stands
    names, standing = options["weighed_with"], options["standing"]
    words = None if names is None else state_named(file, names, "--weighed-with").words
    return Terms(
        asked_of(options, file, stands),
        words,
        None if standing is None else not standing,
        options["poorly_known"],
        "assumed" if words is None else "said",
        pads=pads,
        stands=stands,
        links=options["links"],
    )


def _lines(as_json: bool) -> Iterator[str]:
    asking = sys.stdin.isatty() and not as_json
    return lines(sys.stdin, (lambda: ask(PROMPT)) if asking else lambda: None)
