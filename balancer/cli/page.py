"""`balancer page`."""

import importlib.util
import ipaddress
import os
import re

import click

from balancer.car.errors import Fault, InputError, refuse
from balancer.cli.options.numbers import Word, faults_of
from balancer.cli.terminal.show import show

_NEEDS = ("starlette", "uvicorn", "segno")


class _Address(Word[str]):
    name = "IP"

    def _read(self, text: str, where: str, ctx: click.Context | None) -> str:
        try:
            return str(ipaddress.ip_address(text))
        except ValueError:
            faults_of(ctx).append(Fault(where, f"{text} is no IP address", "see ip addr"))
            return text


class _Port(Word[int]):
    """A number of a port; 0: any that is free."""

    name = "N"

    def _read(self, text: str, where: str, ctx: click.Context | None) -> int:
        if re.fullmatch("[0-9]{1,5}", text) and int(text) < 1 << 16:
            return int(text)
        faults_of(ctx).append(Fault(where, f"{text} is no port", "expected 0 to 65535"))
        return 0


@click.command("page")
@click.argument("folder", default=".", metavar="[FOLDER]")
@click.option("--lan", is_flag=True, help="For phones on the same network, too.")
@click.option("--address", type=_Address(), metavar="IP", help="Of this machine on that network.")
@click.option("--port", type=_Port(), default=8150, help="[8150; 0: any]")
@click.pass_context
def command(ctx: click.Context, folder: str, lan: bool, address: str | None, port: int) -> None:
    """Serve the page beside the car: session, log and sheet in a browser.

    The cars are those of a folder. It is for this machine alone; with --lan also
    for phones on the network that were let in by the address it prints, once each.
    Nothing is sent to or fetched from the internet.

    \b
    Example:
      balancer page examples
    """
    faults = faults_of(ctx)
    if not os.path.isdir(folder):
        faults.append(Fault(folder, "is no folder", "name a folder of car files"))
    if address and not lan:
        faults.append(Fault("--address", "given without --lan", "add --lan"))
    refuse(faults)
    if any(importlib.util.find_spec(name) is None for name in _NEEDS):
        way_out = "pip install '.[page]', in the folder it was installed from"
        raise InputError.one("page", "needs what is not installed", way_out)
    from balancer.page.serve import Where, lan_address, serve

    where = Where((address or lan_address()) if lan else "127.0.0.1", port, lan)
    serve(folder, where, show)
