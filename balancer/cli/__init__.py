"""The command line: it reads, calls one public function, and shows the result."""

from __future__ import annotations

import importlib
import sys

import click

from balancer.cli.show import complain

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
    "compare": "Compare weigh-ins: what changed, whether it is real, where it sits.",
    "lift": "Find the height of the center of gravity from lifting an axle.",
    "torsion": "Find how stiff the chassis is in torsion, from two weigh-ins.",
    "pads": "Separate what the four pads add from what the car is.",
    "prep": "Check before an event: race trim, rules, ballast, perches, in one go.",
    "log": "List, show, annotate and export the log of a car.",
    "sheet": "Write the page that hangs on the garage wall: for phone and paper.",
    "schema": "Write the JSON Schema of a file, for your editor.",
}
"""Name to summary, in the order a person meets them. Modules load when they are called."""


class _Commands(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"balancer.cli.{cmd_name}")
        command = module.command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args[0] not in COMMANDS and not args[0].startswith("-"):
            from balancer.errors import InputError
            from balancer.faults import suggestion

            raise InputError.one(args[0], "unknown command", suggestion(args[0], list(COMMANDS)))
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.command(cls=_Commands, context_settings={"max_content_width": 80})
@click.version_option(package_name="balancer")
def cli() -> None:
    """Spring-perch moves and ballast for a car on four wheel scales.

    \b
    Pads and loads are always in the order LF RF LR RR, left and right as seen
    from the driver's seat. Start with:
      balancer init car.toml
      balancer check car.toml
      balancer weigh car.toml 285.5 279.0 231.5 240.0
    """


def main() -> None:
    """Run the command line; every error ends here, as lines on standard error."""
    from balancer.errors import BalancerError

    try:
        status = cli.main(prog_name="balancer", standalone_mode=False)
    except BalancerError as error:
        complain(str(error))
        status = error.exit_status
    except click.ClickException as error:
        complain(_told(error))
        status = 2
    except (click.Abort, KeyboardInterrupt):
        complain("stopped")
        status = 130
    sys.exit(status if isinstance(status, int) else 0)


def _told(error: click.ClickException) -> str:
    if len(sys.argv) == 1:
        # Not a mistake so much as a question.
        return error.format_message()
    from balancer.cli.usage import told

    return str(told(error))
