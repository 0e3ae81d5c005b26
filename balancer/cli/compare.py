"""`balancer compare`."""

from __future__ import annotations

import os

import click

from balancer.car.model import Item
from balancer.cli.options.files import (
    beside,
    car_of,
    note,
    readings_beside,
)
from balancer.cli.options.shared import CAR
from balancer.cli.options.swap import unknown_variants
from balancer.cli.terminal.show import show, show_json
from balancer.errors import Fault, InputError
from balancer.files.car_file import CarFile, operating_faults
from balancer.files.parts_book import faults_in, read_parts
from balancer.files.states import aboard
from balancer.report.weighing.compare import Carried, compare_json, compare_text
from balancer.session.carrying import carried_to
from balancer.weighing.comparison import Pads, compare, standing
from balancer.weighing.parts import variant
from balancer.weighing.weigh import Readings, WeighIn, weigh


@click.command("compare")
@CAR
@click.argument("files", nargs=-1, metavar="READINGS READINGS…")
@click.option("--other-car", metavar="CAR", help="The car of all readings but the first.")
@click.option("--book", metavar="FILE", help="A parts book, to say what the parts predict.")
@click.option("--variant", "named", metavar="NAME", help="What was done, by its name in the book.")
@click.option(
    "--as-weighed", is_flag=True, help="The bare difference, whatever was on board each time."
)
@click.option("--other-floor", is_flag=True, help="The same pads, set up anew somewhere else.")
@click.option("--other-pads", is_flag=True, help="Other pads, or these exchanged for each other.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object for each comparison.")
def command(
    car: str,
    files: tuple[str, ...],
    other_car: str | None,
    book: str | None,
    named: str | None,
    as_weighed: bool,
    other_floor: bool,
    other_pads: bool,
    as_json: bool,
) -> None:
    """Compare weigh-ins: what changed, whether it is real, and where it sits.

    Each is compared with the first: a readings file, or a weigh-in of the log by
    its number or date, as log:12 or log:2026-06-13. Where both say what was on board
    and it was not the same, the first is carried to the state of the other. The
    pads are taken as the same ones, where they stood; say so if they are not.

    \b
    Example:
      balancer compare examples/coupe.toml examples/weigh_in.toml \\
          examples/weigh_in_june.toml
    """
    faults: list[Fault] = []
    if len(files) < 2:
        faults.append(Fault("READINGS", f"got {len(files)}", "give two readings files or more"))
    if (book is None) != (named is None):
        faults.append(Fault("--book", "goes with --variant", "give both or none"))
    file = car_of(car, faults)
    other = car_of(other_car, faults) if other_car is not None else file
    owners = [other if number else file for number in range(len(files))]
    read = [readings_beside(owner, path, faults) for owner, path in zip(owners, files, strict=True)]
    pages = beside(file, book, read_parts, faults_in, faults) if book is not None else None
    if pages and named is not None:
        faults += unknown_variants(pages, book or "", [named])
    readings = [each for each in read if each is not None]
    if faults or file is None or other is None:
        raise InputError(dict.fromkeys(faults))
    predicted = None
    pads: Pads = "other" if other_pads else "moved" if other_floor else "same"
    with operating_faults(file):
        first = weigh(file.car, readings[0])
        if pages and named:
            done = variant(file.car, first.loads, named, pages.variants[named])
            predicted = done.each.sum(axis=0)
    remarks = [remark for each in readings for remark in each.remarks]
    note(*file.notes, *other.notes, *(pages.notes if pages else ()), *remarks)
    for number, (path, later) in enumerate(zip(files[1:], readings[1:], strict=True)):
        with operating_faults(other):
            second = weigh(other.car, later)
            moved = None if as_weighed or other_car else _carried(file, readings[0], later)
            before = first
            if moved:
                before, moved = _leaned(file, first, moved)
            difference = compare(file.car, before, second, predicted, other.car, pads)
        if as_json:
            show_json(compare_json(file, difference, predicted is not None, moved))
        else:
            names = os.path.basename(files[0]), os.path.basename(path)
            text = compare_text(file, (before, second), names, difference, predicted, moved)
            show(text if not number else f"\n{text}")


def _leaned(file: CarFile, first: WeighIn, moved: Carried) -> tuple[WeighIn, Carried]:
    """Carry a weigh-in by what the log has learned of how masses bear, where it has."""
    from balancer.log.car_from_log import leaning_as_learned

    car, learned = leaning_as_learned(file)
    there = carried_to(car, first, moved.was, moved.now, learned)
    return standing(file.car, there), moved._replace(learned=learned is not None)


def _carried(file: CarFile, first: Readings, second: Readings) -> Carried | None:
    """Say what was on board each time; None where nobody said, or it was the same."""
    was, now = (_aboard(file, readings) for readings in (first, second))
    if was is None or now is None or set(was) == set(now):
        return None
    return Carried(was, now)


def _aboard(file: CarFile, readings: Readings) -> tuple[Item, ...] | None:
    return None if readings.on_board is None else aboard(file, readings)
