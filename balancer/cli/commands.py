"""The commands by name; the module of each loads when it is called."""

import importlib

import click

from balancer.cli.terminal.show import show

COMMANDS = {
    "init": "Write a commented car file to start from.",
    "check": "Say what a car file means: rates, frequencies, what one turn does.",
    "weigh": "Say what the car weighs and where, and how sure that is.",
    "perches": "Find the perch turns that reach a cross weight and keep the heights.",
    "session": "Sit with you at the pads: weigh, turn, weigh again, know when to stop.",
    "learned": "Propose what the sessions have taught for the car file.",
    "ballast": "Find the least ballast, and where, that meets rules and axle split.",
    "trim": "Carry a weigh-in to another state: driver in, fuel out, spares off.",
    "stint": "Follow a stint from full to reserve, and find the worst cross weight.",
    "parts": "Say what parts do to the car, before anybody lifts a wrench.",
    "part": "Weigh a part on the pads, and keep it in the parts book.",
    "springs": "Say what other springs do, and the turns that make it good.",
    "compare": "Compare weigh-ins: what changed, whether it is real, where it sits.",
    "lift": "Find the height of the center of gravity from lifting an axle.",
    "torsion": "Find how stiff the chassis is in torsion, from two weigh-ins.",
    "pads": "Separate what the four pads add from what the car is.",
    "prep": "Check before an event: race trim, rules, ballast, perches, in one go.",
    "cars": "List every car of a folder as it was last weighed.",
    "log": "List, show, annotate and export the log of a car.",
    "back": "Find the turns that bring the perches back to where they stood.",
    "sheet": "Write the page that hangs on the garage wall: for phone and paper.",
    "page": "Serve session, log and sheet to a browser, for a phone beside the car.",
    "guide": "Read the guide, a page a topic: it is there without internet.",
    "schema": "Write the JSON Schema of a file, for your editor.",
}
"""Name to summary, in the order a person meets them."""


HELP_OPTIONS = ["-h", "--help"]


def command_of(name: str) -> click.Command | None:
    """Load a command by its name, or give None where there is no such.

    >>> command_of("weight") is None
    True
    """
    if name not in COMMANDS:
        return None
    command = importlib.import_module(f"balancer.cli.{name}").command
    assert isinstance(command, click.Command)
    return helpful(command)


def helpful(command: click.Command) -> click.Command:
    """Have the help of a command printed as all else is, whatever the output can take."""
    option = command.get_help_option(click.Context(command, help_option_names=HELP_OPTIONS))
    if option:
        option.callback = _show_help
        # Before 8.2 click makes another one each time that it is asked.
        command.get_help_option = lambda ctx: option  # type: ignore[method-assign]
    return command


def _show_help(ctx: click.Context, param: click.Parameter, asked: bool) -> None:
    if asked and not ctx.resilient_parsing:
        show(ctx.get_help())
        ctx.exit()
