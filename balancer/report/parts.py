"""What parts do to the car, told."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from balancer.car import Floats, Item
from balancer.carfile import CarFile
from balancer.doubt import Shares
from balancer.parts import Variant
from balancer.partsbook import PartsBook
from balancer.report.tables import table
from balancer.report.trim import load_rows
from balancer.report.weigh import shares_json
from balancer.report.words import amount, by_corner
from balancer.units import Units


def book_text(file: CarFile, book: PartsBook, against: str | None) -> str:
    """List a parts book, each part beside another if one is named.

    Parameters
    ----------
    file : CarFile
    book : PartsBook
    against : str or None

    Returns
    -------
    str

    References
    ----------
    None.

    Examples
    --------
    See README.md.
    """
    units = file.units
    mass, length = units.labels["mass"], units.labels["length"]
    other = f"against {against}" if against else ""
    rows = [["Part", mass, f"aft {length}", f"left {length}", *([other] if other else [])]]
    for part in book.parts.values():
        beside = [_beside(part, book.parts[against], units)] if against else []
        rows.append([part.name, amount(part.mass, "mass", units), *_place(part, units), *beside])
    names = ", ".join(book.variants)
    return table(rows, indent="") + (f"\n\nVariants: {names}" if names else "")


def _place(part: Item, units: Units) -> list[str]:
    return [amount(value, "length", units) for value in (part.aft, part.left)]


def _beside(part: Item, other: Item, units: Units) -> str:
    difference = part.mass - other.mass
    if not difference:
        return "the same"
    heavier = "heavier" if difference > 0 else "lighter"
    return f"{amount(abs(difference), 'mass', units)} {heavier}"


def parts_json(
    file: CarFile, before: tuple[Floats, Shares], variants: Sequence[Variant]
) -> dict[str, Any]:
    """Give variants as the dict that `balancer parts --json` prints.

    Parameters
    ----------
    file : CarFile
    before : tuple of array (4,) and Shares
    variants : sequence of Variant

    Returns
    -------
    dict

    References
    ----------
    README.md, “For scripts”.

    Examples
    --------
    See README.md.
    """
    units = file.units

    def state(loads: Floats, found: Shares) -> dict[str, Any]:
        return {
            "total": units.from_si(found.total, "load"),
            "loads": by_corner(loads, "load", units),
            **shares_json(found),
        }

    return {
        "car": file.car.name,
        "units": units.name,
        "before": state(*before),
        "variants": [
            {
                "name": one.name,
                **state(one.loads, one.shares),
                "load_change": by_corner(one.loads - before[0], "load", units),
                "changes": [
                    {"change": change.label, "load_change": by_corner(effect, "load", units)}
                    for change, effect in zip(one.changes, one.each, strict=True)
                ],
            }
            for one in variants
        ],
    }


def parts_text(file: CarFile, before: tuple[Floats, Shares], variants: Sequence[Variant]) -> str:
    """Tell what variants do to the car, each change and side by side, in at most 80 columns.

    Parameters
    ----------
    file : CarFile
    before : tuple of array (4,) and Shares
    variants : sequence of Variant

    Returns
    -------
    str

    References
    ----------
    None.

    Examples
    --------
    See README.md.
    """
    units = file.units
    parts = [f"{file.car.name}: what if"]
    for one in variants:
        rows = [["", "LF", "RF", "LR", "RR", f"{units.labels['load']} in all"]]
        for change, effect in zip(one.changes, one.each, strict=True):
            masses = [*effect, effect.sum()]
            cells = [amount(mass, "load", units, sign=True) for mass in masses]
            rows.append([change.label, *cells])
        parts.append(f"{one.name}:\n" + table(rows))
    states = [("now", *before), *((one.name, one.loads, one.shares) for one in variants)]
    parts.append(table(load_rows(states, units, change=len(variants) == 1), indent=""))
    return "\n\n".join(parts)
