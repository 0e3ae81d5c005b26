"""The command line: it reads, calls one public function, and shows the result.

Here is one file a command; what serves them all is in `options` (what they take) and `terminal`
(how they print, wait and listen). Imports every room.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click

from balancer import __version__
from balancer.cli.commands import COMMANDS, HELP_OPTIONS, command_of, helpful
from balancer.cli.terminal.show import print_error, show
from balancer.cli.terminal.stopping import was_stopped
from balancer.report.words.tables import written_in

OWN_FAULT, STOPPED = 70, 130
"""Exit statuses: a fault in the program itself, and Ctrl-C; `show` has that of a closed pipe."""


def _show_version(ctx: click.Context, param: click.Parameter, asked: bool) -> None:
    if asked and not ctx.resilient_parsing:
        show(f"balancer, version {__version__}")
        ctx.exit()


class _Commands(click.Group):
    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        if args[:1] == ["help"]:
            args = [*args[1:], "--help"]
        # click before 8.2 shows the help and calls that a success.
        if not args and not ctx.resilient_parsing:
            raise click.UsageError(ctx.get_help(), ctx)
        return super().parse_args(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        command = command_of(cmd_name)
        if command and "_BALANCER_COMPLETE" in os.environ:
            from balancer.cli.options.complete import completing

            return completing(command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args[0] not in COMMANDS and not args[0].startswith("-"):
            from balancer.car.errors import InputError
            from balancer.files.format.faults import suggestion

            known = suggestion(args[0], list(COMMANDS))
            raise InputError.one(args[0] or '""', "unknown command", known)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.command(
    cls=_Commands, context_settings={"max_content_width": 80, "help_option_names": HELP_OPTIONS}
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_version,
    help="Show the version and exit.",
)
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
    with _furnished(), written_in(_encoding()):
        status = _status()
        if status == STOPPED and _still_at_work():
            # All is said. The solver's own threads abort a process that ends around them.
            os._exit(status)
        sys.exit(status)


def _still_at_work() -> bool:
    solver = sys.modules.get("balancer.planning.solver")
    return solver is not None and solver.still_solving()


def _encoding() -> str:
    """Give what text is laid out for: JSON is the same everywhere."""
    return "utf-8" if "--json" in sys.argv else sys.stdout.encoding or "utf-8"


def _status() -> int:
    from balancer.car.errors import BalancerError

    try:
        status = helpful(cli).main(prog_name="balancer", standalone_mode=False)
    except BalancerError as error:
        print_error(str(error))
        return error.exit_status
    except click.ClickException as error:
        print_error(_message(error))
        return 2
    except (click.Abort, KeyboardInterrupt):
        print_error("stopped")
        return STOPPED
    except Exception as error:
        return _unforeseen(error)
    return status if isinstance(status, int) else 0


def _unforeseen(error: Exception) -> int:
    """Tell an error that nobody thought of: never by a status that has a meaning of its own."""
    if was_stopped():
        print_error("stopped")
        return STOPPED
    said = " ".join(f"{type(error).__name__}: {error}".split())
    print_error(
        f"balancer: a fault in the program itself ({said[:200]}): nothing of yours is to blame,"
        " BALANCER_TRACEBACK=1 shows where it is"
    )
    if os.environ.get("BALANCER_TRACEBACK"):
        import traceback

        print_error("".join(traceback.format_exception(error)).rstrip())
    return OWN_FAULT


@contextmanager
def _furnished() -> Iterator[None]:
    """Have something behind input and output where the process was started without.

    The next file opened, such as the log, would else be taken for standard output by libraries.
    """
    missing = [name for name in ("stdin", "stdout", "stderr") if getattr(sys, name) is None]
    for name in missing:
        setattr(sys, name, open(os.devnull, "r" if name == "stdin" else "w"))  # noqa: SIM115
    try:
        yield
    finally:
        for name in missing:
            getattr(sys, name).close()
            setattr(sys, name, None)


def _message(error: click.ClickException) -> str:
    if len(sys.argv) == 1:
        # Not a mistake so much as a question.
        return error.format_message()
    from balancer.cli.options.usage import usage_fault

    return str(usage_fault(error))
