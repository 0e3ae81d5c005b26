"""`balancer parts`."""

from __future__ import annotations

import click

from balancer.car import Item
from balancer.cli.gather import ReadingsCommand, Weighed, with_readings
from balancer.cli.show import complain, show, show_json
from balancer.errors import Fault, InputError
from balancer.faults import suggestion
from balancer.parts import Change, variant
from balancer.partsbook import PartsBook, exchange, read_parts
from balancer.report.parts import book_text, parts_json, parts_text


@click.command("parts", cls=ReadingsCommand)
@with_readings
@click.option("--book", required=True, metavar="FILE", help="The parts book.")
@click.option("--off", multiple=True, metavar="PART", help="Take a part off; may be repeated.")
@click.option("--on", multiple=True, metavar="PART", help="Put a part on; may be repeated.")
@click.option("--exchange", "swaps", multiple=True, metavar="OLD=NEW", help="Put NEW for OLD.")
@click.option(
    "--variant", "named", multiple=True, metavar="NAME", help="One of the book; may be repeated."
)
@click.option("--against", metavar="PART", help="List the book beside this part.")
def command(
    weighed: Weighed,
    book: str,
    off: tuple[str, ...],
    on: tuple[str, ...],
    swaps: tuple[str, ...],
    named: tuple[str, ...],
    against: str | None,
) -> None:
    """Say what parts do to the car, before anybody lifts a spanner.

    Each change with what it does, and variants side by side. With --against, or
    with nothing to change, the parts of the book are listed.

    \b
    Example:
      balancer parts examples/coupe.toml 302 288.5 231 244 \\
          --book examples/parts.toml --variant aft
    """
    file, loads = weighed.file, weighed.weigh_in.loads
    pages = read_parts(book, file)
    for note in pages.notes:
        complain(f"note: {note}")
    changes = _changes(pages, off, on, swaps, named, against)
    sets = [(name, pages.variants[name]) for name in named]
    if changes:
        sets.append(("as asked", tuple(changes)))
    variants = [variant(file.car, loads, name, each) for name, each in sets]
    before = (loads, weighed.weigh_in.shares)
    if weighed.as_json:
        show_json(parts_json(file, before, variants))
    elif against or not variants:
        show(book_text(file, pages, against))
    else:
        show(parts_text(file, before, variants))


def _changes(
    book: PartsBook,
    off: tuple[str, ...],
    on: tuple[str, ...],
    swaps: tuple[str, ...],
    named: tuple[str, ...],
    against: str | None,
) -> list[Change]:
    """Look up what is asked for; every name that is not in the book is told at once."""
    faults: list[Fault] = []

    def part(name: str, where: str) -> Item | None:
        if name in book.parts:
            return book.parts[name]
        way_out = suggestion(name, list(book.parts))
        faults.append(Fault(where, f"“{name}” is not in the book", way_out))
        return None

    changes = [Change(f"{name} off", part(name, "--off"), None) for name in off]
    changes += [Change(f"{name} on", None, part(name, "--on")) for name in on]
    for text in swaps:
        old, sign, new = text.partition("=")
        if not sign:
            faults.append(Fault("--exchange", f"“{text}” is not OLD=NEW", "write both names"))
            continue
        pair = part(old.strip(), "--exchange"), part(new.strip(), "--exchange")
        if pair[0] and pair[1]:
            changes.append(exchange(pair[0], pair[1]))
    for name in named:
        if name not in book.variants:
            way_out = suggestion(name, list(book.variants)) if book.variants else "it has none"
            faults.append(Fault("--variant", f"“{name}” is not in the book", way_out))
    if against is not None:
        part(against, "--against")
    if faults:
        raise InputError(faults)
    return changes
