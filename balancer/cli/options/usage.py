"""Words for what click finds wrong with a command line."""

import sys
from collections.abc import Iterator

import click

from balancer.car.errors import Fault
from balancer.cli.commands import COMMANDS, command_of
from balancer.files.format.faults import meant


def usage_fault(error: click.ClickException) -> Fault:
    """Give a click error as a fault, worded as all others are.

    >>> print(usage_fault(click.UsageError("Got  one too many.")))
    balancer: got one too many: see balancer --help
    """
    ctx = getattr(error, "ctx", None)
    # click's parser knows no context: then the command line says which command it was.
    command = ctx.command if ctx else command_of("".join(sys.argv[1:2]))
    path = ctx.command_path if ctx else f"balancer {command.name}" if command else "balancer"
    if isinstance(error, click.NoSuchOption):
        return strange_option(error.option_name, command)
    if isinstance(error, click.BadOptionUsage) and command:
        return _bad_usage(error.option_name, command)
    if isinstance(error, click.MissingParameter) and error.param:
        if isinstance(error.param, click.Option):
            return Fault(error.param.opts[0], "is missing", f"give it, see {path} --help")
        name = error.param.human_readable_name.upper()
        return Fault(name, "is missing", f"name the file, see {path} --help")
    what = " ".join(error.format_message().split()).rstrip(".")
    return Fault(path, what[:1].lower() + what[1:], f"see {path} --help")


def strange_option(name: str, command: click.Command | None) -> Fault:
    """Tell of an option that a command does not know, and what may be meant.

    >>> print(strange_option("--blue", click.Command("x", params=[click.Option(["--small"])])))
    --blue: unknown option: known here: --small
    """
    what = "unknown option"
    if command is None or isinstance(command, click.Group):
        return Fault(name, what, "options come after the command: balancer weigh CAR … --json")
    known = list(_options(command))
    if name in known:
        return Fault(name, "is an option after --", "leave out the --")
    homes = [str(other.name) for other in _others(command) if name in _options(other)]
    if homes:
        way_out = f"it belongs to balancer {', '.join(homes)}"
        return Fault(name, f"is no option of {command.name}", way_out)
    close = meant(name.lstrip("-–—"), [one.lstrip("-") for one in known])
    return Fault(
        name, what, f"did you mean --{close}?" if close else f"known here: {', '.join(known)}"
    )


def _options(command: click.Command) -> Iterator[str]:
    for param in command.params:
        if isinstance(param, click.Option) and not param.hidden:
            yield from param.opts


def _others(command: click.Command) -> Iterator[click.Command]:
    for name in COMMANDS:
        other = command_of(name)
        if other and name != command.name:
            yield other


def _bad_usage(name: str, command: click.Command) -> Fault:
    """Tell of an option without its value, or with one that it does not take."""
    option = next((one for one in command.params if name in one.opts), None)
    if isinstance(option, click.Option) and option.is_flag:
        return Fault(name, "takes no value", f"write {name} alone")
    if option is not None and option.nargs > 1:
        return Fault(name, f"has fewer than {option.nargs} values after it", "give LF RF LR RR")
    return Fault(name, "has no value after it", f"give one, see balancer {command.name} --help")
