"""`balancer parts`."""

import os
from collections.abc import Iterator, Sequence
from typing import Any

import click

from balancer.car.errors import Fault
from balancer.cli.options.files import note
from balancer.cli.options.inputs import ReadingsCommand, with_readings
from balancer.cli.options.results import SVG, Result
from balancer.cli.options.swap import unknown_variants
from balancer.cli.terminal.waiting import waiting
from balancer.files.car_file import CarFile
from balancer.files.format.faults import suggestion
from balancer.files.parts_book import PartsBook, both_ways, exchange, faults_in, read_parts
from balancer.jobs.weighed import Weighed
from balancer.report.weighing.parts import book_text, parts_json, parts_text
from balancer.weighing.parts import Change, variant


class _Parts(ReadingsCommand):
    def check(self, file: CarFile | None, given: dict[str, Any]) -> Iterator[Fault]:
        yield from super().check(file, given)
        yield from _slips(given)
        if given["book"] is not None:
            faults = faults_in(given["book"], file)
            yield from faults
            if file and not faults:
                yield from _strangers(read_parts(given["book"], file), file, given)


@click.command("parts", cls=_Parts)
@with_readings
@click.option("--book", metavar="FILE", help="The parts book.")
@click.option("--off", multiple=True, metavar="PART", help="Take a part off; may be repeated.")
@click.option("--on", multiple=True, metavar="PART", help="Put a part on; may be repeated.")
@click.option("--exchange", "swaps", multiple=True, metavar="OLD=NEW", help="Put NEW for OLD.")
@click.option(
    "--variant", "named", multiple=True, metavar="NAME", help="One of the book; may be repeated."
)
@click.option("--against", metavar="PART", help="List the book beside this part.")
@SVG
def command(
    weighed: Weighed,
    book: str,
    off: tuple[str, ...],
    on: tuple[str, ...],
    swaps: tuple[str, ...],
    named: tuple[str, ...],
    against: str | None,
) -> Result:
    """Say what parts do to the car, before anybody lifts a wrench.

    Each change with what it does, and variants side by side. With --against, or
    with nothing to change, the parts of the book are listed.

    \b
    Example:
      balancer parts examples/coupe.toml 302 288.5 231 244 \\
          --book examples/parts.toml --variant aft
    """
    file, loads = weighed.file, weighed.weigh_in.loads
    pages = read_parts(book, file)
    note(*pages.notes)
    changes = _changes(pages, off, on, swaps)
    sets = [(name, pages.variants[name]) for name in named]
    if changes:
        sets.append(("as asked", tuple(changes)))
    with waiting("putting parts on and off"):
        variants = [variant(file.car, loads, name, each) for name, each in sets]
    before = (loads, weighed.weigh_in.shares)

    def text() -> str:
        if against or not variants:
            return book_text(file, pages, against)
        return parts_text(file, before, variants)

    def svg() -> str:
        from balancer.report.pictures.parts import parts_picture

        return parts_picture(file, before, variants)

    return Result(text, lambda: parts_json(file, before, variants, pages, against), svg=svg)


def _changes(
    book: PartsBook, off: Sequence[str], on: Sequence[str], swaps: Sequence[str]
) -> list[Change]:
    changes = [Change(f"{name} off", book.parts[name], None) for name in off]
    changes += [Change(f"{name} on", None, book.parts[name]) for name in on]
    changes += [exchange(book.parts[old], book.parts[new]) for old, new in map(_pair, swaps)]
    return changes


def _pair(text: str) -> tuple[str, str]:
    old, _, new = text.partition("=")
    return old.strip(), new.strip()


def _strangers(book: PartsBook, file: CarFile, given: dict[str, Any]) -> Iterator[Fault]:
    asked = [(name, f"--{key}") for key in ("off", "on") for name in given[key]]
    asked += [
        (name, "--exchange") for text in given["swaps"] if all(_pair(text)) for name in _pair(text)
    ]
    asked += [(given["against"], "--against")] if given["against"] is not None else []
    on_board = [item.name for item in file.car.on_board]
    home = f"the book ({os.path.basename(given['book'])})"
    for name, where in asked:
        if name in on_board and name not in book.parts:
            way_out = "balancer trim takes it off and on"
            yield Fault(where, f"“{name}” is in [[on_board]], not in {home}", way_out)
        elif name not in book.parts:
            way_out = suggestion(name, list(book.parts)) if book.parts else "it has none"
            yield Fault(where, f"“{name}” is not in {home}", way_out)
    yield from unknown_variants(book, given["book"], given["named"])


def _slips(given: dict[str, Any]) -> Iterator[Fault]:
    """Find what is asked for twice, or comes to nothing."""
    if given["book"] is None:
        yield Fault("--book", "is missing", "give it, see balancer parts --help")
    for text in given["swaps"]:
        if not all(_pair(text)):
            yield Fault("--exchange", f"“{text}” is not OLD=NEW", "write both names")
    pairs = [_pair(text) for text in given["swaps"] if all(_pair(text))]
    for old, new in pairs:
        if old == new:
            yield Fault("--exchange", f"“{old}” for itself", "name two parts")
    off = [*given["off"], *(old for old, new in pairs if old != new)]
    on = [*given["on"], *(new for old, new in pairs if old != new)]
    for names, what in ((off, "goes off"), (on, "goes on")):
        for name in dict.fromkeys(names):
            if names.count(name) > 1:
                yield Fault("parts", f"“{name}” {what} more than once", "say it once")
    for name in both_ways(off, on):
        yield Fault("parts", f"“{name}” goes off and on", "leave both out")
    for name in dict.fromkeys(given["named"]):
        if given["named"].count(name) > 1:
            yield Fault("--variant", f"“{name}” is there twice", "name each once")
    if given["svg"] is not None and not (off or on or given["named"]):
        yield Fault("--svg", "nothing to draw", "name changes, or a --variant")
    if given["against"] is not None and (off or on or given["named"]):
        yield Fault("--against", "given beside changes", "give one or the other")
