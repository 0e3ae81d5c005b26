"""What parts do to the car, told."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from balancer.car.conventions import Floats
from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.files.parts_book import PartsBook
from balancer.report.weighing.trim import load_rows
from balancer.report.words.json_parts import by_corner, heading_json, loads_json, place_json
from balancer.report.words.numbers import amount, amounts, paragraphs, wrapped
from balancer.report.words.tables import cut, table
from balancer.units import Units
from balancer.weighing.parts import Variant
from balancer.weighing.uncertainty import Shares


def book_text(file: CarFile, book: PartsBook, against: str | None) -> str:
    """List a parts book, each part beside another if one is named."""
    units = file.units
    mass, length = units.labels["mass"], units.labels["length"]
    other = f"against {cut(against, 20)}" if against else ""
    rows = [["Part", mass, f"aft {length}", f"left {length}", *([other] if other else [])]]
    for part in book.parts.values():
        beside = [_beside(part, book.parts[against], units)] if against else []
        rows.append([part.name, amount(part.mass, "mass", units), *_place(part, units), *beside])
    names = ", ".join(book.variants)
    return table(rows, indent="") + ("\n\n" + wrapped(f"Variants: {names}") if names else "")


def _place(part: Item, units: Units) -> list[str]:
    return amounts((part.aft, part.left), "length", units)


def _beside(part: Item, other: Item, units: Units) -> str:
    difference = part.mass - other.mass
    if not difference:
        return "the same"
    heavier = "heavier" if difference > 0 else "lighter"
    return f"{amount(abs(difference), 'mass', units)} {heavier}"


def parts_json(
    file: CarFile,
    before: tuple[Floats, Shares],
    variants: Sequence[Variant],
    book: PartsBook,
    against: str | None,
) -> dict[str, Any]:
    """Give variants as the dict that `balancer parts --json` prints.

    Args:
        before: tuple of array (4,) and Shares.
        against: Part that the others are held beside.
    """
    units = file.units

    return {
        **heading_json(file),
        "before": loads_json(*before, units),
        "variants": [
            {
                "name": one.name,
                **loads_json(one.loads, one.shares, units),
                "load_change": by_corner(one.loads - before[0], "load", units),
                "changes": [
                    {"change": change.label, "load_change": by_corner(effect, "load", units)}
                    for change, effect in zip(one.changes, one.each, strict=True)
                ],
            }
            for one in variants
        ],
        "parts": [
            _part_json(part, book.parts[against] if against else None, units)
            for part in book.parts.values()
        ],
    }


def _part_json(part: Item, other: Item | None, units: Units) -> dict[str, Any]:
    return {
        "name": part.name,
        **place_json(part, units),
        "heavier_by": units.from_si(part.mass - other.mass, "mass") if other else None,
    }


def parts_text(file: CarFile, before: tuple[Floats, Shares], variants: Sequence[Variant]) -> str:
    """Tell what variants do to the car, each change and side by side, in at most 80 columns.

    Args:
        before: tuple of array (4,) and Shares.
    """
    units = file.units
    parts = [wrapped(f"{file.car.name}: what if")]
    for one in variants:
        rows = [["", "LF", "RF", "LR", "RR", f"{units.labels['load']} in all"]]
        for change, effect in zip(one.changes, one.each, strict=True):
            cells = amounts([*effect, effect.sum()], "load", units, sign=True)
            rows.append([change.label, *cells])
        parts.append(wrapped(f"{one.name}:") + "\n" + table(rows))
    states = load_rows(side_by_side(before, variants), units, change=len(variants) == 1)
    parts.append(table(states, indent=""))
    return paragraphs(*parts)


def side_by_side(
    before: tuple[Floats, Shares], variants: Sequence[Variant]
) -> list[tuple[str, Floats, Shares]]:
    """Name the car as it is and as each variant would make it, with loads and shares.

    Args:
        before: tuple of array (4,) and Shares.

    Returns:
        list of (str, array (4,), Shares)
    """
    return [("now", *before), *((one.name, one.loads, one.shares) for one in variants)]
