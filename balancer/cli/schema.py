"""`balancer schema`."""

from __future__ import annotations

import json
from typing import Literal

import click

from balancer.cli.show import show


@click.command("schema")
@click.argument(
    "which", type=click.Choice(["car", "readings", "parts", "lifts", "pads"]), default="car"
)
def command(which: Literal["car", "readings", "parts", "lifts", "pads"]) -> None:
    """Write the JSON Schema of a file, for your editor.

    \b
    Example:
      balancer schema > car.schema.json
    """
    from balancer.schema import json_schema

    show(json.dumps(json_schema(which), indent=2))
