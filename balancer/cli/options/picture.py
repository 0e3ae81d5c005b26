"""`--svg FILE`: where the picture of a result goes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from balancer.cli.options.numbers import faults_of
from balancer.cli.options.param import ParamType
from balancer.cli.terminal.show import show
from balancer.errors import Fault, spelled
from balancer.files.writing import PICTURE, replace_file

Function = TypeVar("Function", bound=Callable[..., None])


class _Svg(ParamType[str]):
    """The name of a picture. Faults add up in the context, to be told all together."""

    name = "FILE"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Take the name, or note the faults and go on."""
        path = str(value)
        faults = faults_of(ctx)
        if path.startswith("--"):
            faults.append(Fault("--svg", "has no value after it", "name the picture: car.svg"))
        elif not path.lower().endswith(".svg"):
            faults.append(Fault("--svg", f"{path} is no picture", "let it end in .svg"))
        return path


def with_svg(command: Function) -> Function:
    """Take --svg."""
    return click.option("--svg", type=_Svg(), help="Draw a picture, too.")(command)


def write_svg(path: str, svg: str, as_json: bool) -> None:
    """Write a picture, whole or not at all, and say where it is."""
    replace_file(path, svg, PICTURE)
    if not as_json:
        show(f"picture: {spelled(path)}")
