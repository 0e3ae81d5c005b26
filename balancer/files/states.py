"""The states of a car: those that it races in, that are asked for, and that readings are of."""

from collections.abc import Iterable, Sequence

from balancer.car.errors import Fault, gathering, refuse
from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.files.on_board import State, look_up, split_names, words_of
from balancer.weighing.weigh import Readings


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
        >>> from dataclasses import replace
        >>> from balancer.files.units import METRIC
        >>> car = replace(plain_car(), on_board=(Item("driver", 78, 1.4, 0.3, 0.4),))
        >>> state_of(CarFile("a.toml", car, METRIC, ()), ["driver=82"], "--to").items[0].mass
        82.0
    """
    state, faults = look_up(file.car.on_board, words, file.units, where, "the car file")
    refuse(faults)
    return state


RACE_TRIM = "race trim"
"""What the race trim is called where there is but one."""


def race_states(file: CarFile) -> dict[str, State]:
    """Find the states that the car races in, by name.

    Returns:
        At least one: where the file names none, that in which the class weighs the car.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.units import METRIC
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
        >>> from balancer.files.units import METRIC
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
        >>> from balancer.files.units import METRIC
        >>> list(trims_asked(CarFile("a.toml", plain_car(), METRIC, ()), ["none"]))
        ['none']
    """
    named = race_states(file)
    asked: dict[str, State] = {}
    faults: list[Fault] = []
    for text in to:
        with gathering(faults):
            asked[text] = named.get(text) or state_of(file, split_names(text), "--to")
    refuse(faults)
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
