"""`balancer schema`."""

import json
from typing import Literal, get_args

import click

from balancer.cli.terminal.show import show

Which = Literal["car", "readings", "parts", "lifts", "pads"]
FILES: tuple[Which, ...] = get_args(Which)


# The metavar as click of today makes it: before 8.4 it had two pairs of brackets.
@click.command("schema")
@click.argument("which", type=click.Choice(FILES), default="car", metavar=f"[{'|'.join(FILES)}]")
def command(which: Which) -> None:
    """Write the JSON Schema of a file, for your editor.

    \b
    Example:
      balancer schema > car.schema.json
    """
    from balancer.files.json_schema import json_schema

    show(json.dumps(json_schema(which), indent=2))
