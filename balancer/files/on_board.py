"""A state in words, “driver, fuel=20”, to items with their masses, and back.

A name alone is what the car file says of it. A number behind it is another amount: liters or
gallons for a fluid, kg or lb for anything else.
"""

import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from balancer.car.errors import Fault
from balancer.car.model import Item
from balancer.files.checks.car import unknown_names
from balancer.files.format.numbers import Amount, parse
from balancer.files.units import Dimension, Units

_SOLID = 300.0
"""Most of what is no fluid, where the car file doesn't have more itself [kg]."""
_FULL = 0.5
"""Most of a fluid whose tank is not in the car file [m³], as for the tanks that are."""


class State(NamedTuple):
    """What is on board: in words that can be said again, and as masses."""

    words: tuple[str, ...]
    items: tuple[Item, ...]


def split_names(text: str) -> tuple[str, ...]:
    """Split a list of names as typed; `none` and nothing are the empty car.

    Examples:
        >>> split_names("driver, fuel=20"), split_names("none")
        (('driver', 'fuel=20'), ())
    """
    words = tuple(word.strip() for word in text.split(",") if word.strip())
    return () if [word.lower() for word in words] == ["none"] else words


def look_up(
    on_board: Sequence[Item], words: Iterable[str], units: Units, where: str, home: str
) -> tuple[State, list[Fault]]:
    """Find the items of a state among those there are, and all that is wrong with it.

    Args:
        on_board: What comes and goes.
        units: Of amounts without a unit.
        where: What to call the words in a fault.
        home: Where the known names are.

    Examples:
        >>> from balancer.files.units import METRIC
        >>> fuel = Item("fuel", 6, 2.1, 0, 0.3, density=750, tank=30)
        >>> print(*look_up([fuel], ["fuel=1", "5"], METRIC, "--to", "the car file")[1])
        --to fuel: 1,5 has a decimal comma: write 1.5
    """
    known = [item.name for item in on_board]
    words = _rejoined(words, known)
    names = [word.partition("=")[0].strip() for word in words]
    faults = [Fault(where, *fault) for fault in unknown_names(names, known, home)]
    items: dict[str, Item] = {}
    for word, name in zip(words, names, strict=True):
        if name in known:
            item = _item(on_board[known.index(name)], word, units, f"{where} {name}")
            if isinstance(item, Fault):
                faults.append(item)
            else:
                items[name] = item
    chosen = tuple(items[name] for name in known if name in items)
    return State(words_of(chosen, units, on_board), chosen), faults


def _rejoined(words: Iterable[str], known: Sequence[str]) -> tuple[str, ...]:
    """Put an amount with a decimal comma together again, so that it is told as one."""
    joined: list[str] = []
    for word in words:
        decimals = word not in known and re.fullmatch(r"\d+\s*[a-zA-Z]*", word)
        if joined and decimals and re.fullmatch(r".*=\s*[+\-−]?\d+", joined[-1]):
            joined[-1] += f",{word}"
        else:
            joined.append(word)
    return tuple(joined)


def _item(item: Item, word: str, units: Units, where: str) -> Item | Fault:
    """Put an item on board, in another amount if one is said."""
    _, sign, text = word.partition("=")
    text = text.strip()
    if not sign:
        return item
    if not text:
        way_out = f"write {item.name}=20, or {item.name} alone for what the car file says"
        return Fault(where, "has no amount after =", way_out)
    suffixes = ("l", "gal", "kg", "lb") if item.density else ("kg", "lb")
    amount = parse(text, where, suffixes, f"it like {item.name}=20")
    if isinstance(amount, Fault):
        return amount
    mass = _mass(item, amount, units)
    wrong = _wrong_amount(item, mass, text, units)
    return Fault(where, *wrong) if wrong else item._replace(mass=mass)


def _wrong_amount(item: Item, mass: float, text: str, units: Units) -> tuple[str, str] | None:
    """Say what is wrong with an amount of an item that can't be."""
    if mass < 0:
        return f"{text} is negative", "leave out the minus sign"
    if mass > item.tank * (1 + 1e-9):
        full = units.from_si(item.tank / item.density, "volume")
        return f"the tank holds {full:g} {units.labels['volume']}", "give that at most"
    if mass > _most(item) * (1 + 1e-9):
        kind: Dimension = "volume" if item.density else "mass"
        most = units.from_si(_most(item) / (item.density or 1), kind)
        return f"{text} is out of reason", f"expected {most:.0f} {units.labels[kind]} at most"
    return None


def _most(item: Item) -> float:
    """Give the most of an item that is no slip [kg]."""
    if item.density:
        return _FULL * item.density
    return _SOLID if item.mass <= _SOLID else 3 * item.mass


def _mass(item: Item, amount: Amount, units: Units) -> float:
    if item.density and amount.suffix not in ("kg", "lb"):
        return amount.to_si(units, "volume") * item.density
    return amount.to_si(units, "mass")


def in_words(items: Sequence[Item], units: Units) -> str:
    """Say what is on board, fluids with their amount.

    Examples:
        >>> from balancer.files.units import METRIC
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


def words_of(items: Sequence[Item], units: Units, known: Sequence[Item] = ()) -> tuple[str, ...]:
    """Spell a state so that it can be said again: fluids and unusual masses with their amount.

    Args:
        known: Those of the car file, by which a mass is usual.

    Returns:
        What `state_of` reads back as the same items.

    Examples:
        >>> from balancer.files.units import METRIC
        >>> fuel = Item("fuel", 3.0, 2.1, 0, 0.3, density=750)
        >>> words_of([Item("driver", 78, 1.4, 0.3, 0.4), fuel], METRIC)
        ('driver', 'fuel=4')
    """
    usual = {item.name: item.mass for item in known}
    words = []
    for item in items:
        if item.density:
            amount = units.from_si(item.mass / item.density, "volume")
        elif item.mass != usual.get(item.name, item.mass):
            amount = units.from_si(item.mass, "mass")
        else:
            words.append(item.name)
            continue
        words.append(f"{item.name}={amount:.9g}")
    return tuple(words)
