"""`balancer sheet`."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import click

from balancer.cli.gather import Weighed
from balancer.cli.prep import PrepCommand, with_preparation
from balancer.cli.show import show, show_json
from balancer.errors import InputError

if TYPE_CHECKING:
    from balancer.prep import Preparation


@click.command("sheet", cls=PrepCommand)
@with_preparation
@click.option("--output", required=True, metavar="FILE.html", help="Where the page goes.")
def command(weighed: Weighed, ready: Preparation, output: str) -> None:
    """Write the page that hangs on the garage wall: one file, for phone and paper.

    The car from above, turns to read from afar, before and after, ballast, rules,
    boxes for notes. Takes the last weigh-in of the log where no readings are given.

    \b
    Example:
      balancer sheet examples/coupe.toml 284 258.5 212.5 225 \\
          --weighed-with none --output coupe.html
    """
    from balancer.report.sheet import sheet_html

    if not output.lower().endswith((".html", ".htm")):
        raise InputError.one("--output", f"{output} is no page", "let it end in .html")
    page = sheet_html(weighed.file, weighed.weigh_in, ready)
    try:
        with open(output, "w", encoding="utf-8") as file:
            file.write(page)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        name = os.path.basename(output)
        raise InputError.one(name, f"can't be written ({reason})", "check the folder") from None
    if weighed.as_json:
        show_json({"car": weighed.file.car.name, "sheet": output, "status": ready.status})
    else:
        show(f"{output} written.")
    sys.exit(0 if ready.status == "met" else 1)
