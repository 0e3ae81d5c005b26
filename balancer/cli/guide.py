"""`balancer guide`."""

import click

from balancer.car.errors import Fault, InputError
from balancer.cli.terminal.show import show, show_long
from balancer.files.format.faults import suggestion
from balancer.report.guide.pages import TOPICS, page, plain


@click.command("guide")
@click.argument("topic", required=False)
@click.option("--markdown", is_flag=True, help="As it is written, not laid out for a terminal.")
def command(topic: str | None, markdown: bool) -> None:
    """Read the guide: without TOPIC the list of its pages.

    It ships with the program, so it is there where there is no internet.

    \b
    Examples:
      balancer guide
      balancer guide sessions
    """
    if topic is None:
        wide = max(map(len, TOPICS))
        rows = [f"  {name:<{wide}}  {about}" for name, about in TOPICS.items()]
        show("\n".join(["balancer guide TOPIC prints a page:", "", *rows]))
        return
    if topic not in TOPICS:
        raise InputError([Fault("TOPIC", f"“{topic}” is no page", suggestion(topic, list(TOPICS)))])
    text = page(topic) if markdown else plain(page(topic))
    show_long(text)
