"""`balancer compare`."""

import os
from collections.abc import Sequence

import click

from balancer.car.conventions import Floats
from balancer.car.errors import Fault, InputError
from balancer.cli.options.files import beside, car_of, note, readings_beside
from balancer.cli.options.numbers import CAR, Names
from balancer.cli.options.swap import unknown_variants
from balancer.cli.terminal.show import show, show_json
from balancer.files.car_file import CarFile, operating_faults
from balancer.files.on_board import split_names
from balancer.files.parts_book import faults_in, read_parts
from balancer.files.states import RACE_TRIM, aboard, race_state, state_of
from balancer.planning.session.carrying import carried_to
from balancer.report.weighing.compare import Beside, Carried, cars_text, compare_json, compare_text
from balancer.weighing.comparison import Pads, compare, standing
from balancer.weighing.parts import variant
from balancer.weighing.weigh import Readings, WeighIn, weigh


@click.command("compare")
@CAR
@click.argument("files", nargs=-1, metavar="READINGS READINGS…")
@click.option(
    "--other-car",
    "others",
    multiple=True,
    metavar="CAR",
    help="The car of all readings but the first; again and again: of each.",
)
@click.option("--state", type=Names(), help="Carry other cars there.  [race trim of each]")
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
    others: tuple[str, ...],
    state: str | None,
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

    Other cars stand side by side, carried to one state.

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
    if others and len(others) not in (1, len(files) - 1):
        what = f"got {len(others)} for {len(files) - 1} readings"
        faults.append(Fault("--other-car", what, "give one for all, or one for each"))
    if state is not None and (as_weighed or not others):
        way_out = "leave --as-weighed out" if as_weighed else "it goes with --other-car"
        faults.append(Fault("--state", "carries nothing here", way_out))
    rest = [car_of(name, faults) for name in others] or [file]
    # One for all, or one for each; what is too few of them is told above.
    owners = [file, *(rest * len(files) if len(rest) == 1 else rest), *[file] * len(files)]
    owners = owners[: len(files)]
    read = [readings_beside(owner, path, faults) for owner, path in zip(owners, files, strict=True)]
    pages = beside(file, book, read_parts, faults_in, faults) if book is not None else None
    if pages and named is not None:
        faults += unknown_variants(pages, book or "", [named])
    readings = [each for each in read if each is not None]
    cars = [owner for owner in owners if owner is not None]
    if faults or file is None:
        raise InputError(dict.fromkeys(faults))
    predicted = None
    pads: Pads = "other" if other_pads else "moved" if other_floor else "same"
    with operating_faults(file):
        first = weigh(file.car, readings[0])
        if pages and named:
            done = variant(file.car, first.loads, named, pages.variants[named])
            predicted = done.each.sum(axis=0)
    remarks = [remark for each in readings for remark in each.remarks]
    note(
        *dict.fromkeys(said for each in cars for said in each.notes),
        *(pages.notes if pages else ()),
        *remarks,
    )
    if others:
        placed = [
            _stood(owner, read, None if as_weighed else state or RACE_TRIM)
            for owner, read in zip(cars, readings, strict=True)
        ]
        _show_cars(placed, files, predicted, pads, as_json, not as_weighed)
        return
    for number, (path, later) in enumerate(zip(files[1:], readings[1:], strict=True)):
        with operating_faults(file):
            second = weigh(file.car, later)
            moved = None if as_weighed else _carried(file, readings[0], later)
            before = first
            if moved:
                before, moved = _leaned(file, first, moved)
            difference = compare(file.car, before, second, predicted, file.car, pads)
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


def _stood(file: CarFile, readings: Readings, state: str | None) -> Beside:
    with operating_faults(file):
        weighed, items = weigh(file.car, readings), aboard(file, readings)
        if state is not None:
            there = race_state(file)
            if state != RACE_TRIM:
                where = f"--state ({os.path.basename(file.path)})"
                there = state_of(file, split_names(state), where)
            weighed, _ = _leaned(file, weighed, Carried(items, there.items))
            items = there.items
    return Beside(file, weighed, items)


def _show_cars(
    cars: Sequence[Beside],
    files: Sequence[str],
    predicted: Floats | None,
    pads: Pads,
    as_json: bool,
    moved: bool,
) -> None:
    first, *rest = cars
    each = [
        compare(first.file.car, first.weighed, one.weighed, predicted, one.file.car, pads)
        for one in rest
    ]
    if not as_json:
        show(cars_text(cars, [os.path.basename(path) for path in files], each, moved))
        return
    for one, difference in zip(rest, each, strict=True):
        explained = predicted is not None
        to = Carried(first.items, one.items) if moved else None
        show_json(compare_json(first.file, difference, explained, to, one.file))


def _carried(file: CarFile, first: Readings, second: Readings) -> Carried | None:
    """Say what was on board each time; None where nobody said, or it was the same."""
    if first.on_board is None or second.on_board is None:
        return None
    was, now = aboard(file, first), aboard(file, second)
    return None if set(was) == set(now) else Carried(was, now)
