"""How a result begins: the car, what was on board and how that is known, and what it aims for."""

from collections.abc import Sequence
from typing import Any, Literal, NamedTuple

from balancer.car.conventions import Floats
from balancer.car.model import Car, Item
from balancer.files.car_file import CarFile
from balancer.files.on_board import in_words, words_of
from balancer.files.states import RACE_TRIM, aboard, race_state
from balancer.files.units import Units
from balancer.planning.perches.goal import CROSS, Aim, Asked, aim_of
from balancer.report.words.numbers import amount, number, percent, wanted
from balancer.report.words.prose import wrapped
from balancer.weighing.uncertainty import shares
from balancer.weighing.weigh import Readings


class Aimed(NamedTuple):
    """What the perches are to reach, and in which state.

    Attributes:
        state: Name of the state; empty for the car as it stands on the pads.
        items: What is on board in it.
    """

    aim: Aim
    state: str = ""
    items: tuple[Item, ...] = ()


class Aboard(NamedTuple):
    """What was on board when a car was weighed, and who said so.

    Attributes:
        source: It was `said` beside the readings, is in the readings `file` or in the `log`, or is
            `assumed`, since nobody said it.
        entry, day: Of the log; 0 and empty where it is not from there.
        leans: Whether the log has taught how what comes and goes leans on the car.
    """

    items: tuple[Item, ...]
    source: Literal["said", "file", "log", "assumed"] = "assumed"
    entry: int = 0
    day: str = ""
    leans: bool = False


def aboard_in(file: CarFile, readings: Readings, learned: Floats | None = None) -> Aboard:
    """Find what was on board: as the readings say, else as in race trim.

    Args:
        learned: (6, 6) or None, covariance of what the log has taught of the car.

    Examples:
        >>> import numpy as np
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.units import METRIC
        >>> file = CarFile("a.toml", plain_car(), METRIC, ())
        >>> aboard_in(file, Readings.of(np.full(4, 2500.0))).source
        'assumed'
    """
    items, leans = aboard(file, readings), learned is not None
    if readings.on_board is None:
        return Aboard(items, leans=leans)
    if readings.source is None:
        return Aboard(items, "file")
    return Aboard(items, "log", readings.source.entry, readings.source.at[:10], leans)


def opening(file: CarFile, was: Aboard, aimed: Aimed | None) -> list[str]:
    """Say first what readings are of, and what is aimed at where something is."""
    lines = [state_line(file, was)]
    return [*lines, aim_line(file, aimed, was.items)] if aimed else lines


def opening_words(file: CarFile, was: Aboard, aimed: Aimed) -> list[str]:
    """Say the same in sentences, of a car that is named already."""
    state = state_words(file, was)
    return [state[:1].upper() + state[1:], aim_words(file, aimed, was.items)]


def state_line(file: CarFile, was: Aboard, option: str = "--weighed-with") -> str:
    """Say which car stood on the pads, with what on board, and how that is known.

    Args:
        option: How to say another state where this one is assumed; empty: there is no way.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.units import METRIC
        >>> file = CarFile("a.toml", plain_car(), METRIC, ())
        >>> driver = Item("driver", 78, 1.4, 0.3, 0.4)
        >>> print(state_line(file, Aboard((driver,), "log", 12, "2026-06-13")))
        plain car, on the pads with driver (from the log, entry 12, 2026-06-13).
    """
    return wrapped(f"{file.car.name}, {state_words(file, was, option)}")


def state_words(file: CarFile, was: Aboard, option: str = "") -> str:
    """Say the same of a car that is named already, in a sentence."""
    if not file.path:
        return "on the pads as it stood."
    if was.source == "assumed" and not file.car.on_board:
        return "on the pads; its file names nothing that comes and goes."
    learned = "; what comes and goes leans on it as learned" if was.leans else ""
    known = f"{_known(file, was, option)}{learned}"
    return f"on the pads with {in_words(was.items, file.units)} ({known})."


def stood_line(file: CarFile, items: tuple[Item, ...] | None) -> str:
    """Say which car was weighed several times, and with what on board; None: its file says not.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.files.units import METRIC
        >>> print(stood_line(CarFile("a.toml", plain_car(), METRIC, ()), ()))
        plain car, each time on the pads with nothing on board (from the readings file).
    """
    said = "with whatever was on board: on_board in that file would say it."
    if items is not None or not file.car.on_board:
        was = Aboard(items or (), "assumed" if items is None else "file")
        said = f"each time {state_words(file, was)}"
    return wrapped(f"{file.car.name}, {said}")


def _known(file: CarFile, was: Aboard, option: str) -> str:
    if was.source == "assumed":
        what = f", {RACE_TRIM}" if was.items == race_state(file).items else ""
        return f"assumed{what}: say {option} for another" if option else f"assumed{what}"
    if was.source == "log":
        return f"from the log, entry {was.entry}, {was.day}"
    return "as said" if was.source == "said" else "from the readings file"


def trims_named(names: Sequence[str]) -> str:
    """Name the race trims that something is planned for, before what is on board in the first.

    >>> trims_named(["anna"]), trims_named(["anna", "ben"])
    ('anna', 'each of 2 race trims, the first')
    """
    return names[0] if len(names) == 1 else f"each of {len(names)} race trims, the first"


def aim_line(file: CarFile, aimed: Aimed, was: Sequence[Item]) -> str:
    """Say what the perches are to reach, in which state, and who wants that.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.planning.perches.goal import PerchGoal
        >>> from balancer.files.units import METRIC
        >>> file = CarFile("a.toml", plain_car(), METRIC, ())
        >>> aim = Aim(PerchGoal.level(0.5), "cross weight", "usual")
        >>> print(aim_line(file, Aimed(aim, "race trim"), ()))
        Aims for 50.0 % cross weight ± 0.2 as it stands on the pads; the usual target.
    """
    return wrapped(aim_words(file, aimed, was))


def aim_words(file: CarFile, aimed: Aimed, was: Sequence[Item]) -> str:
    """Say the same in a sentence."""
    aim, state = aimed.aim, "as it stands on the pads"
    if aimed.state and file.car.on_board:
        state = f"in {aimed.state} ({in_words(aimed.items, file.units)})"
    elif set(was) != set(race_state(file).items):
        state += ", not in race trim (for that: prep)"
    share, _, give = wanted(aim.goal.cross, aim.goal.tolerance).partition(" ± ")
    asked = _asked(aim)
    # What it comes to in cross weight is not known before the car is weighed.
    what = f"{asked} ± {give}" if asked == aim.words else f"{asked}{share} cross weight ± {give}"
    source = {
        "said": "target as said",
        "file": "target from the car file",
        "usual": "the usual target",
        "log": "target from the log",
    }
    return f"Aims for {what} {state}; {source[aim.source]}."


def wanted_words(asked: Asked) -> str:
    """Say what cross weight is wanted, in whichever way it was said, see `asked_for`."""
    if asked.loads is not None:
        return asked.called
    if asked.equal is not None:
        return f"equal {asked.equal}s"
    return f"{percent(CROSS if asked.cross is None else asked.cross)} cross weight"


def tolerance_words(asked: Asked, units: Units) -> tuple[str, str]:
    """Say how near the cross weight and the heights are to be, see `asked_for`."""
    points, height = asked.tolerance, asked.height_tolerance
    assert points is not None
    assert height is not None
    return f"± {100 * points:g}", f"heights ± {amount(height, 'length', units, unit=True)}"


def _asked(aim: Aim) -> str:
    return aim.words.removesuffix("cross weight")


def off_target(car: Car, loads: Floats) -> str:
    """Say how far a car is from the target of its file; nothing where the file states none.

    Args:
        loads: (4,) [N].

    Examples:
        >>> import numpy as np
        >>> from dataclasses import replace
        >>> from balancer.car.model import Target, plain_car
        >>> car = replace(plain_car(), target=Target(cross=0.51))
        >>> print(off_target(car, np.array([2500.0, 2500.0, 2600.0, 2500.0])))
        The car file's target is 51.0 % ± 0.2 cross weight: this is 0.50 points below.
    """
    aim, cross = aim_of(car, loads), shares(car, loads).cross
    if aim.source != "file":
        return ""
    off = 100 * (cross - aim.goal.cross)
    target, asked = wanted(aim.goal.cross, aim.goal.tolerance), _asked(aim)
    way = "above" if off > 0 else "below"
    return (
        f"The car file's target is {asked}{target} cross weight: this is"
        f" {number(abs(off), 2)} points {way}."
    )


def state_json(was: Aboard, units: Units) -> dict[str, Any]:
    """Give what was on board, and who said so, under the names of the contract."""
    entry = {"entry": was.entry, "date": was.day} if was.source == "log" else {}
    leans = {"leans_as_learned": True} if was.leans else {}
    return {"on_board": list(words_of(was.items, units)), "from": was.source, **entry, **leans}


def target_json(aimed: Aimed, was: Sequence[Item], units: Units) -> dict[str, Any]:
    """Give what the perches are to reach, and in which state, under the names of the contract."""
    aim, state = aimed.aim, aimed.items if aimed.state else was
    return {
        "cross_pct": 100 * aim.goal.cross,
        "tolerance": 100 * aim.goal.tolerance,
        "height_tolerance": units.from_si(aim.goal.height_tolerance, "length"),
        "state": list(words_of(state, units)),
        "from": aim.source,
    }
