"""A state in words, “driver, fuel=20”, to items with their masses.

A name alone is what the car file says of it. A number behind it is another amount: liters or
gallons for a fluid, kg or lb for anything else.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from balancer.car.model import Item
from balancer.errors import Fault, InputError, gathering
from balancer.files.checks.car import unknown_names
from balancer.files.format.numbers import Amount, parse
from balancer.units import Dimension, Units

if TYPE_CHECKING:
    # A car file is held against the states it names, so it imports this module.
    from balancer.files.car_file import CarFile
    from balancer.weighing.weigh import Readings

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


def state_of(file: CarFile, words: Iterable[str], where: str) -> State:
    """Find the items of a state.

    Args:
        words: Names, each with `=amount` behind it or not.
        where: What to call them in a fault.

    Returns:
        In the order of the car file.

    Raises:
        InputError: With every fault: a name that is not in the car file or given twice, an
            amount that is no number, is negative, is more than the tank holds, or is out of
            reason.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.car_file import CarFile
        >>> from dataclasses import replace
        >>> from balancer.units import METRIC
        >>> car = replace(plain_car(), on_board=(Item("driver", 78, 1.4, 0.3, 0.4),))
        >>> state_of(CarFile("a.toml", car, METRIC, ()), ["driver=82"], "--to").items[0].mass
        82.0
    """
    state, faults = look_up(file.car.on_board, words, file.units, where, "the car file")
    if faults:
        raise InputError(faults)
    return state


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
        >>> from balancer.units import METRIC
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


RACE_TRIM = "race trim"
"""What the race trim is called where there is but one."""


def race_states(file: CarFile) -> dict[str, State]:
    """Find the states that the car races in, by name.

    Returns:
        At least one: where the file names none, that in which the class weighs the car.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.car_file import CarFile
        >>> from balancer.units import METRIC
        >>> list(race_states(CarFile("a.toml", plain_car(), METRIC, ())))
        ['race trim']
    """
    named = {trim.name: trim.on_board for trim in file.car.race_trims}
    return {
        name: raced(file, words, "race_trim.on_board")
        for name, words in (named or {RACE_TRIM: file.car.rules.weighed_with}).items()
    }


def race_state(file: CarFile) -> State:
    """Find the items on board in the first race trim; see `race_states`.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.car_file import CarFile
        >>> from balancer.units import METRIC
        >>> race_state(CarFile("a.toml", plain_car(), METRIC, ())).items
        ()
    """
    return next(iter(race_states(file).values()))


def trims_asked(file: CarFile, to: Sequence[str]) -> dict[str, State]:
    """Find the race trims that are asked for, by name.

    Args:
        to: As `--to` has them: names of race trims, or what is on board; none: those of the file.

    Returns:
        At least one. A state that has no name is called by its words.

    Raises:
        InputError: With every fault of every state.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.car_file import CarFile
        >>> from balancer.units import METRIC
        >>> list(trims_asked(CarFile("a.toml", plain_car(), METRIC, ()), ["none"]))
        ['none']
    """
    named = race_states(file)
    asked: dict[str, State] = {}
    faults: list[Fault] = []
    for text in to:
        with gathering(faults):
            asked[text] = named.get(text) or state_of(file, split_names(text), "--to")
    if faults:
        raise InputError(faults)
    return asked or named


def said_aboard(file: CarFile, words: Sequence[str] | None) -> tuple[Item, ...] | None:
    """Find what a file says was on board; None where it says nothing."""
    return None if words is None else state_of(file, words, "on_board").items


def aboard(file: CarFile, readings: Readings) -> tuple[Item, ...]:
    """Find what was on board as readings say it; the items of race trim where they do not."""
    if readings.on_board is None:
        return race_state(file).items
    return (*state_of(file, readings.on_board, "on_board").items, *readings.aboard)


def raced(file: CarFile, words: Sequence[str], where: str) -> State:
    """Find the items of a state at the moment when the class weighs the car.

    Args:
        where: What to call the words in a fault.

    Returns:
        After the race, fluids without an amount are at reserve.
    """
    state = state_of(file, words, where)
    if file.car.rules.moment != "after":
        return state
    said = {word.partition("=")[0].strip() for word in words if "=" in word}
    items = tuple(
        item._replace(mass=item.reserve) if item.density and item.name not in said else item
        for item in state.items
    )
    return State(words_of(items, file.units, file.car.on_board), items)


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


def words_of(items: Sequence[Item], units: Units, known: Sequence[Item] = ()) -> tuple[str, ...]:
    """Spell a state so that it can be said again: fluids and unusual masses with their amount.

    Args:
        known: Those of the car file, by which a mass is usual.

    Returns:
        What `state_of` reads back as the same items.

    Examples:
        >>> from balancer.units import METRIC
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
