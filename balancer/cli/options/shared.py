"""Options that several commands take."""

import click

from balancer.cli.options.numbers import Names, Number

MASS, LENGTH, PERCENT = ("kg", "lb", "lbs"), ("mm", "in"), ("%",)
"""Units that may follow a number."""

CAR = click.argument("car", metavar="CAR")
CROSS = click.option(
    "--cross", type=Number(20, 80, PERCENT), help="Cross weight wanted, %.  [target]"
)
TOLERANCE = click.option("--tolerance", type=Number(0.01, 10), help="Points of it.  [target]")
WEIGHED_WITH = click.option(
    "--weighed-with", type=Names(), help="On board when weighed.  [race trim]"
)
TO = click.option(
    "--to",
    multiple=True,
    type=Names(),
    help="What is to be on board, or the name of a race trim; may be repeated.  [race trim]",
)
