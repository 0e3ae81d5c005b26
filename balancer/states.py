"""A state in words, “driver, fuel=20”, to items with their masses.

A name alone is what the car file says of it. A number behind it is another amount: liters or
gallons for a fluid, kg or lb for anything else.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from balancer.car import Item
from balancer.carfile import CarFile
from balancer.crosschecks import unknown_names
from balancer.errors import Fault, InputError
from balancer.typed import Amount, parse
from balancer.units import Units


class State(NamedTuple):
    """What is on board, as said and as masses."""

    words: tuple[str, ...]
    items: tuple[Item, ...]


def split_names(text: str) -> tuple[str, ...]:
    """Split a list of names as typed; `none` and nothing are the empty car.

    Parameters
    ----------
    text : str

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> split_names("driver, fuel=20"), split_names("none")
    (('driver', 'fuel=20'), ())
    """
    words = tuple(word.strip() for word in text.split(",") if word.strip())
    return () if [word.lower() for word in words] == ["none"] else words


def state_of(file: CarFile, words: Iterable[str], where: str) -> State:
    """Find the items of a state.

    Parameters
    ----------
    file : CarFile
    words : iterable of str
        Names, each with `=amount` behind it or not.
    where : str
        What to call them in a fault.

    Returns
    -------
    State
        In the order of the car file.

    Raises
    ------
    InputError
        For a name that is not in the car file or given twice, an amount that is no number, is
        negative, or is more than the tank holds.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from dataclasses import replace
    >>> from balancer.units import METRIC
    >>> car = replace(plain_car(), on_board=(Item("driver", 78, 1.4, 0.3, 0.4),))
    >>> state_of(CarFile("a.toml", car, METRIC, ()), ["driver=82"], "--to").items[0].mass
    82.0
    """
    words = tuple(words)
    names = [word.partition("=")[0].strip() for word in words]
    known = [item.name for item in file.car.on_board]
    faults = [Fault(where, *one) for one in unknown_names(names, known, "the car file")]
    items: dict[str, Item] = {}
    for word, name in zip(words, names, strict=True):
        if name in known:
            item = file.car.on_board[known.index(name)]
            amount = word.partition("=")[2].strip()
            found = _amount(item, amount, file.units, where) if amount else item
            if isinstance(found, Fault):
                faults.append(found)
            else:
                items[name] = found
    if faults:
        raise InputError(faults)
    return State(words, tuple(items[name] for name in known if name in items))


def race_state(file: CarFile) -> State:
    """Find the items on board when the class weighs the car.

    Parameters
    ----------
    file : CarFile

    Returns
    -------
    State
        After the race, fluids without an amount are at reserve.

    Raises
    ------
    InputError
        For an amount in [class] weighed_with that can't be.

    Examples
    --------
    >>> from balancer.car import plain_car
    >>> from balancer.units import METRIC
    >>> race_state(CarFile("a.toml", plain_car(), METRIC, ())).items
    ()
    """
    rules = file.car.rules
    state = state_of(file, rules.weighed_with, "class.weighed_with")
    if rules.moment != "after":
        return state
    said = {word.partition("=")[0].strip() for word in rules.weighed_with if "=" in word}
    items = tuple(
        item._replace(mass=item.reserve) if item.density and item.name not in said else item
        for item in state.items
    )
    return state._replace(items=items)


def _amount(item: Item, text: str, units: Units, where: str) -> Item | Fault:
    """Put another amount of an item on board."""
    suffixes = ("l", "gal", "kg", "lb") if item.density else ("kg", "lb")
    found = parse(text, f"{where} {item.name}", suffixes, f"it like {item.name}=20")
    if isinstance(found, Fault):
        return found
    mass = _mass(item, found, units)
    if mass < 0:
        return Fault(f"{where} {item.name}", f"{text} is negative", "leave out the minus sign")
    if mass > item.tank * (1 + 1e-9):
        full = units.from_si(item.tank / item.density, "volume")
        unit = units.labels["volume"]
        return Fault(f"{where} {item.name}", f"the tank holds {full:g} {unit}", "give that at most")
    return item._replace(mass=mass)


def _mass(item: Item, amount: Amount, units: Units) -> float:
    if item.density and amount.suffix not in ("kg", "lb"):
        return amount.to_si(units, "volume") * item.density
    return amount.to_si(units, "mass")


def in_words(items: Sequence[Item], units: Units) -> str:
    """Say what is on board, fluids with their amount.

    Parameters
    ----------
    items : sequence of Item
    units : Units

    Returns
    -------
    str

    Examples
    --------
    >>> from balancer.units import METRIC
    >>> fuel = Item("fuel", 15, 2.1, 0, 0.3, density=750)
    >>> in_words([Item("driver", 78, 1.4, 0.3, 0.4), fuel], METRIC), in_words([], METRIC)
    ('driver, 20 L of fuel', 'nothing on board')
    """
    if not items:
        return "nothing on board"
    said = []
    for item in items:
        if item.density:
            volume = units.from_si(item.mass / item.density, "volume")
            said.append(f"{round(volume, 1):g} {units.labels['volume']} of {item.name}")
        else:
            said.append(item.name)
    return ", ".join(said)
