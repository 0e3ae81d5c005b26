"""What parts do to the car, told."""

from collections.abc import Mapping, Sequence
from typing import Any

from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.files.parts_book import PartsBook
from balancer.files.units import Units
from balancer.report.weighing.states import State, lift_lines, state_rows
from balancer.report.words.json_parts import by_corner, heading_json, loads_json, place_json
from balancer.report.words.numbers import amount, amounts, number, uncertainty
from balancer.report.words.prose import lifted, lines_of, paragraphs, wrapped
from balancer.report.words.tables import cut, table
from balancer.weighing.parts import Change, Variant
from balancer.weighing.uncertainty import Shares


def book_text(file: CarFile, book: PartsBook, against: str | None) -> str:
    """List a parts book, each part beside another if one is named."""
    units = file.units
    mass, length = units.labels["mass"], units.labels["length"]
    other = [f"against {cut(against, 20)}"] if against else []
    sure = ["±"] if book.sure else []
    rows = [["Part", mass, *sure, f"aft {length}", f"left {length}", *other]]
    for part in book.parts.values():
        beside = [_beside(part, book.parts[against], units)] if against else []
        places = amounts((part.aft, part.left), "length", units)
        known = [""] if book.sure else []
        if part.name in book.sure:
            known = [number(units.from_si(book.sure[part.name], "mass"), 1)]
        rows.append([part.name, amount(part.mass, "mass", units), *known, *places, *beside])
    names = ", ".join(book.variants)
    return paragraphs(table(rows, indent=""), wrapped(f"Variants: {names}") if names else "")


def _beside(part: Item, other: Item, units: Units) -> str:
    difference = part.mass - other.mass
    if not difference:
        return "the same"
    heavier = "heavier" if difference > 0 else "lighter"
    return f"{amount(abs(difference), 'mass', units)} {heavier}"


def parts_json(
    file: CarFile, before: tuple[Floats, Shares], variants: Sequence[Variant], book: PartsBook,
    against: str | None,
) -> dict[str, Any]:  # fmt: skip
    """Give variants as the dict that `balancer parts --json` prints."""
    units, other = file.units, book.parts[against] if against else None
    return {
        **heading_json(file),
        "before": loads_json(*before, units),
        "variants": [_variant_json(variant, before[0], units) for variant in variants],
        "parts": [_part_json(part, other, book, units) for part in book.parts.values()],
    }


def _variant_json(variant: Variant, before: Floats, units: Units) -> dict[str, Any]:
    each = zip(variant.changes, variant.each, strict=True)
    return {
        "name": variant.name,
        **loads_json(variant.loads, variant.shares, units),
        "load_change": by_corner(variant.loads - before, "load", units),
        "warnings": lifted(variant.loads),
        "changes": [
            {"change": change.label, "load_change": by_corner(effect, "load", units)}
            for change, effect in each
        ],
    }


def _part_json(part: Item, other: Item | None, book: PartsBook, units: Units) -> dict[str, Any]:
    sure = book.sure.get(part.name)
    return {
        "name": part.name,
        **place_json(part, units),
        "uncertainty": None if sure is None else units.from_si(sure, "mass"),
        "heavier_by": units.from_si(part.mass - other.mass, "mass") if other else None,
    }


def kept_text(book: str, entry: Mapping[str, Any], mass: float, units: Units, stated: bool) -> str:
    """Say what was weighed, and that the book has it.

    Args:
        mass: In the units of the book.
        stated: Whether a car file says what the scales do.
    """
    label = units.labels["mass"]
    assumed = "" if stated else " Nothing is said of the scales (--car): usual ones are assumed."
    return lines_of(
        [
            f"{entry['name']}: {number(mass, 1)} {label} {uncertainty(entry['uncertainty'], 1)}",
            f"Kept in {book}, {entry['date']}.{assumed}",
        ]
    )


def what_if_line(changes: Sequence[Change]) -> str:
    """Say that what follows is not for the car as weighed."""
    each = ", ".join(change.label for change in changes)
    return wrapped(f"What if: {each}. All below is for the car as it will be, not as weighed.")


def parts_text(file: CarFile, before: tuple[Floats, Shares], variants: Sequence[Variant]) -> str:
    """Tell what variants do to the car, each change and side by side, in at most 80 columns."""
    beside = side_by_side(before, variants)
    states = state_rows(beside, file.units, change=len(variants) == 1)
    return paragraphs(
        "What if:",
        "\n".join(lift_lines(beside)),
        *(_changes(variant, file.units) for variant in variants),
        table(states, indent=""),
    )


def _changes(variant: Variant, units: Units) -> str:
    rows = [["", *CORNERS, f"{units.labels['load']} in all"]]
    for change, effect in zip(variant.changes, variant.each, strict=True):
        rows.append([change.label, *amounts([*effect, effect.sum()], "load", units, sign=True)])
    return f"{wrapped(f'{variant.name}:')}\n{table(rows)}"


def side_by_side(before: tuple[Floats, Shares], variants: Sequence[Variant]) -> list[State]:
    """Name the car as it is and as each variant would make it."""
    return [State("now", *before), *(State(one.name, one.loads, one.shares) for one in variants)]
