"""A car in another state, and along a stint, told."""

from collections.abc import Mapping
from typing import Any

from balancer.car.model import FUEL_DENSITY, Item
from balancer.files.car_file import CarFile
from balancer.files.on_board import in_words
from balancer.files.units import Units
from balancer.report.weighing.states import State, lift_lines, state_rows, trim_json, trim_names
from balancer.report.words.json_parts import heading_json
from balancer.report.words.numbers import amount, percent, place, side
from balancer.report.words.opening import off_target
from balancer.report.words.prose import paragraphs, wrapped
from balancer.report.words.tables import table
from balancer.weighing.load_states import Stint, Trim


def trim_told(file: CarFile, was: Trim, now: Mapping[str, Trim], source: str) -> dict[str, Any]:
    """Give a car in other states as the dict that `balancer trim --json` prints.

    Args:
        now: By name, at least one; keys at the top are those of the first.
        source: Who said what was on board when weighed, as in `Aboard`.
    """
    units = file.units
    return {
        **heading_json(file),
        **trim_json(next(iter(now.values())), units),
        "was": {**trim_json(was, units), "from": source},
        "trims": {name: trim_json(trim, units) for name, trim in now.items()},
    }


def trim_text(file: CarFile, was: Trim, now: Mapping[str, Trim]) -> str:
    """Tell what a car, as weighed, weighs in other states, in at most 80 columns."""
    units, several = file.units, len(now) > 1
    states = [State("was", was.loads, was.shares), *_states(now, several)]
    heading = [
        *(
            wrapped(f"{f'{name}:' if several else 'Now with'} {in_words(trim.on_board, units)}.")
            for name, trim in zip([one.name for one in states[1:]], now.values(), strict=True)
        ),
        *lift_lines(states[1:]),
    ]
    centers = zip(states[1:], now.values(), strict=True)
    remarks = [_center(one.name if several else "", trim, units) for one, trim in centers]
    for one, trim in zip(states[1:], now.values(), strict=True):
        if off := off_target(file.car, trim.loads):
            remarks.append(f"{one.name}: {off}" if several else off)
    return _told(heading, states, [*remarks, *_fluids(file)], units, change=not several)


def _states(trims: Mapping[str, Trim], several: bool) -> list[State]:
    """Name a row each: what is on board may be too long for a table, and is said above it."""
    names = trim_names(list(trims)) if several else ["now"]
    each = zip(names, trims.values(), strict=True)
    return [State(name, trim.loads, trim.shares) for name, trim in each]


def _center(name: str, trim: Trim, units: Units) -> str:
    center = trim.shares
    return (
        f"Center of gravity{name and f' of {name}'} {place(center.aft, units)}"
        f" {units.labels['length']} behind the front axle,"
        f" {amount(abs(center.left_offset), 'length', units, unit=True)}"
        f" {side(center.left_offset)} of the centerline."
    )


def _told(
    heading: list[str], states: list[State], remarks: list[str], units: Units, change: bool = True
) -> str:
    rows = table(state_rows(states, units, change), indent="")
    return paragraphs("\n".join(heading), rows, "\n".join(map(wrapped, remarks)))


def _fluids(file: CarFile) -> list[str]:
    """State the density that each fluid on board is taken at (EN 228, from memory)."""
    return [_fluid(item, file.units) for item in file.car.on_board if item.density]


def _fluid(item: Item, units: Units) -> str:
    gasoline = ", the middle of what EN 228 allows gasoline at 15 °C"
    density = f"{units.from_si(item.density, 'density'):.3g} {units.labels['density']}"
    return f"{item.name}: {density}{gasoline if item.density == FUEL_DENSITY else ''}."


def volumes_left(file: CarFile, stint: Stint, fluid: str) -> list[float]:
    """Give what is left of a fluid along a stint, in the units of the car file."""
    density = next(item.density for item in file.car.on_board if item.name == fluid)
    return [file.units.from_si(mass / density, "volume") for mass in stint.masses.tolist()]


def stint_json(file: CarFile, stint: Stint, fluid: str) -> dict[str, Any]:
    """Give a stint as the dict that `balancer stint --json` prints."""
    each = zip(volumes_left(file, stint, fluid), stint.trims, strict=True)
    return {
        **heading_json(file),
        "fluid": fluid,
        "stint": [{"volume": volume, **trim_json(trim, file.units)} for volume, trim in each],
        "worst": stint.worst,
    }


def stint_text(file: CarFile, stint: Stint, fluid: str, cross: float) -> str:
    """Tell a stint, and where it is farthest from a cross weight [1], in at most 80 columns."""
    units = file.units
    each = zip(volumes_left(file, stint, fluid), stint.trims, strict=True)
    label = units.labels["volume"]
    states = [State(f"{volume:.1f} {label}", trim.loads, trim.shares) for volume, trim in each]
    worst = states[stint.worst]
    farthest = f"Farthest from {percent(cross)}: {percent(worst.shares.cross, 2)} at {worst.name}."
    heading = lift_lines(states)
    return _told(heading, states, [farthest, *_fluids(file)], units)
