"""What a command comes to, shown as it was asked for: text, one JSON object, a picture."""

from collections.abc import Callable
from typing import Any, NamedTuple

import click

from balancer.car.errors import Fault, spelled
from balancer.cli.options.numbers import Word, faults_of
from balancer.cli.terminal.show import show, show_json, show_long
from balancer.files.writing import PICTURE, replace_file
from balancer.report.words.opening import Aimed

JSON = click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")


class Result(NamedTuple):
    """What a command has found; each way to show it is taken only when it is asked for.

    Attributes:
        met: Whether all was found and can be reached; if not, the exit status is 1.
        aimed: What the perches are to reach, where something is planned.
    """

    text: Callable[[], str]
    json: Callable[[], dict[str, Any]]
    met: bool = True
    svg: Callable[[], str] | None = None
    aimed: Aimed | None = None

    def show(self, as_json: bool, svg: str | None = None, long: bool = False) -> int:
        """Print it, draw it where a picture is named, and give the exit status.

        Args:
            long: Whether text may be longer than a screen, and is then shown a screen at a time.
        """
        # Nothing is printed where there is nothing to be drawn.
        drawn = self.svg() if svg and self.svg else ""
        if as_json:
            show_json(self.json())
        else:
            (show_long if long else show)(self.text())
        if svg and self.svg:
            write_svg(svg, drawn, as_json)
        return 0 if self.met else 1


class _Svg(Word[str]):
    name = "FILE"

    def _read(self, text: str, where: str, ctx: click.Context | None) -> str:
        if text.startswith("--"):
            fault = Fault(where, "has no value after it", "name the picture: car.svg")
            faults_of(ctx).append(fault)
        elif not text.lower().endswith(".svg"):
            faults_of(ctx).append(Fault(where, f"{text} is no picture", "let it end in .svg"))
        return text


SVG = click.option("--svg", type=_Svg(), help="Draw a picture, too.")


def write_svg(path: str, svg: str, as_json: bool) -> None:
    """Write a picture, whole or not at all, and say where it is."""
    replace_file(path, svg, PICTURE)
    if not as_json:
        show(f"picture: {spelled(path)}")
