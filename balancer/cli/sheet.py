"""`balancer sheet`."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import click

from balancer.car.errors import InputError, spelled
from balancer.cli.options.inputs import with_readings
from balancer.cli.options.results import Result
from balancer.cli.prep import PrepCommand, with_preparation
from balancer.cli.terminal.show import show, somebody_there
from balancer.cli.terminal.waiting import waiting
from balancer.files.writing import PAGE, replace_file, written_here
from balancer.jobs.weighed import Weighed
from balancer.report.words.opening import Aimed, opening_words

if TYPE_CHECKING:
    from balancer.planning.prep.preparation import Preparation


@click.command("sheet", cls=PrepCommand)
@with_readings
@with_preparation
@click.option(
    "--output", metavar="FILE.html", help="Where the page goes; - prints it.  [CAR_sheet.html]"
)
@click.pass_context
def command(
    ctx: click.Context, /, weighed: Weighed, ready: Preparation, aimed: Aimed, output: str | None
) -> Result:
    """Write the page that hangs on the garage wall: one file, for phone and paper.

    The car from above, turns to read from afar, before and after, ballast, rules,
    boxes for notes. Where no readings are given it tells the last session of the
    log: before, what was turned, after, and what is still to turn.

    \b
    Example:
      balancer sheet examples/coupe.toml 284 258.5 212.5 225 \\
          --weighed-with none --output coupe.html
    """
    from balancer.jobs.preparing import after_session, aimed_by
    from balancer.report.sheet.sheet import sheet_html

    output = output or f"{os.path.splitext(weighed.file.path)[0]}_sheet.html"
    if output != "-" and not output.lower().endswith((".html", ".htm")):
        raise InputError.one("--output", f"{output} is no page", "let it end in .html")
    if output == "-" and ctx.params["as_json"]:
        way_out = "leave it out, or name a file for the page"
        raise InputError.one("--json", "given beside --output -, where the page goes", way_out)
    session = None
    if not ctx.params["readings"] and not ctx.params["loads"]:
        with waiting("going through the last session"):
            asked = ctx.params["cross"] is not None
            session, ready = after_session(weighed, ready, asked)
        aimed = aimed if asked else aimed_by(session, ready, aimed)
    with waiting("drawing the page"):
        words = opening_words(weighed.file, weighed.aboard, aimed)
        page = sheet_html(weighed.file, weighed.weigh_in, ready, session, words)
    status = ready.status
    if output == "-":
        show(page.rstrip("\n"))
        ctx.exit(0 if status == "met" else 1)
    _refuse_unless_ours(output)
    replace_file(output, page, PAGE)
    unmet = "" if status == "met" else "\nNot all can be met: the page says what stands in the way."
    return Result(
        lambda: f"{spelled(output)} written.{unmet}",
        lambda: {"car": weighed.file.car.name, "sheet": output, "status": status},
        status == "met",
        aimed=aimed,
    )


def _refuse_unless_ours(path: str) -> None:
    """Ask before a page is lost that somebody else has written."""
    if written_here(path):
        return
    if not (
        somebody_there()
        and click.confirm(f"{spelled(path)} was not written by balancer. Replace it?")
    ):
        way_out = "give another name, nothing was written"
        raise InputError.one(spelled(path), "is a page of somebody else's", way_out)
