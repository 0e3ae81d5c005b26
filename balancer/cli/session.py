"""`balancer session`."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

import click

from balancer.cli.dialog.at_the_pads import AtThePads
from balancer.cli.options.files import note, operating_faults, state_named
from balancer.cli.options.numbers import faults_of
from balancer.cli.options.shared import CAR, CROSS, TOLERANCE, WEIGHED_WITH
from balancer.cli.terminal.lines import lines
from balancer.cli.terminal.show import ask, print_error, show, show_json
from balancer.cli.terminal.waiting import waiting
from balancer.errors import BalancerError, InputError
from balancer.files.car_reader import read_car
from balancer.files.format.numbers import Amount
from balancer.perches.goal import PerchGoal
from balancer.report.words.prose import wrapped
from balancer.session.belief import Sigmas

PROMPT = "LF RF LR RR> "


@click.command("session")
@CAR
@CROSS
@TOLERANCE
@WEIGHED_WITH
@click.option("--poorly-known", is_flag=True, help="Rates and ratios in the file are guesses.")
@click.option("--json", "as_json", is_flag=True, help="Answer each line with one JSON object.")
@click.pass_context
def command(
    ctx: click.Context,
    car: str,
    cross: Amount | None,
    tolerance: Amount | None,
    weighed_with: str | None,
    poorly_known: bool,
    as_json: bool,
) -> None:
    """Sit with you at the pads: weigh, turn, weigh again, and stop when it is good.

    Type the four readings; it says what to turn, learns from each re-weigh how the
    car really answers, and keeps the log beside the car file. Broken off, it goes on
    where it was. Say help for the words it knows.

    \b
    Example:
      echo 302 288.5 231 244 | balancer session examples/coupe.toml
    """
    from balancer.log.reader import log_path
    from balancer.log.writer import open_log, with_offset

    file = read_car(car)
    if faults_of(ctx):
        raise InputError(faults_of(ctx))
    words = state_named(file, weighed_with, "--weighed-with").words
    goal = PerchGoal.level(cross.value / 100 if cross else 0.5)
    if tolerance:
        goal = replace(goal, tolerance=tolerance.value / 100)
    sigmas = Sigmas(0.15, 0.12, 0.20) if poorly_known else Sigmas()
    # A note from elsewhere is written in no time.
    with open_log(log_path(file.path), wait=1.0) as writer:
        if writer.set_aside:
            note(writer.set_aside)
        if count := len(writer.damaged):
            left_out = "1 line is" if count == 1 else f"{count} lines are"
            name = os.path.basename(writer.path)
            print_error(
                wrapped(f"note: {name}: {left_out} damaged and left out, see balancer log {car}")
            )
        with operating_faults(file), waiting("going through the log"):
            pads = AtThePads(file, goal, sigmas, words, writer, with_offset(datetime.now()))
        say = show_json if as_json else lambda answer: show(answer["text"])
        with waiting("going through the last session"):
            opening = pads.opening()
        if opening:
            print_error(wrapped(f"note: {opening}"))
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


def _lines(as_json: bool) -> Iterator[str]:
    """Read lines, with a prompt where somebody sits at a terminal."""
    asking = sys.stdin.isatty() and not as_json
    return lines(sys.stdin, (lambda: ask(PROMPT)) if asking else lambda: None)
