"""Two weigh-ins beside each other, told."""

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from balancer.car.conventions import CORNERS, Floats
from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.files.on_board import in_words, words_of
from balancer.files.units import Units
from balancer.report.weighing.states import State, lift_lines, state_rows, uncertainty_row
from balancer.report.words.json_parts import by_corner, center_json, heading_json, loads_json
from balancer.report.words.numbers import amount, amounts, number, side, uncertainty
from balancer.report.words.prose import lines_of, paragraphs, wrapped
from balancer.report.words.tables import cut, table
from balancer.weighing.comparison import Difference
from balancer.weighing.false_alarms import ALARM
from balancer.weighing.weigh import WeighIn

_NAMES = {
    "total": "total", "front": "front share", "left": "left share", "cross": "cross weight"
}  # fmt: skip


class Carried(NamedTuple):
    """What was on board at the first weigh-in, and at the second, to whose state it is carried.

    Attributes:
        learned: Whether by what sessions have taught of how that leans on the car.
    """

    was: tuple[Item, ...]
    now: tuple[Item, ...]
    learned: bool = False


class Beside(NamedTuple):
    """A car beside others: as it was weighed, or carried to a state, and what is on board then."""

    file: CarFile
    weighed: WeighIn
    items: tuple[Item, ...]


def compare_json(
    file: CarFile,
    difference: Difference,
    explained: bool,
    carried: Carried | None = None,
    other: CarFile | None = None,
) -> dict[str, Any]:
    """Give a difference of weigh-ins as the dict that `balancer compare --json` prints.

    Args:
        explained: Whether a prediction was given, so that the rest means something.
        carried: None: the difference is that of the weigh-ins as they are.
        other: The other car, where it is one: no mass was added to get from one to the other.
    """
    units, added = file.units, difference.added
    aboard = (other or file).car.on_board
    known = added.aft_uncertainty < float("inf") and other is None

    def mass_json(mass: float, aft: float, left: float) -> dict[str, float | None]:
        return {
            "mass": units.from_si(mass, "mass"),
            "aft": units.from_si(aft, "length") if known else None,
            "left": units.from_si(left, "length") if known else None,
        }

    return {
        **heading_json(file),
        "carried_to": None if carried is None else list(words_of(carried.now, units, aboard)),
        **loads_json(difference.loads, difference.shares, units),
        "cg": center_json(difference.shares, units),
        "uncertainty": {
            **loads_json(difference.load_uncertainties, difference.uncertainties, units),
            "cg": center_json(difference.uncertainties, units),
        },
        "pads": difference.pads,
        "limit": difference.limit,
        "false_alarm_pct": 100 * ALARM,
        "real": {
            name if name == "total" else f"{name}_pct": difference.real(name) for name in _NAMES
        },
        "added": {
            **mass_json(added.mass, added.aft, added.left),
            "uncertainty": mass_json(
                added.mass_uncertainty, added.aft_uncertainty, added.left_uncertainty
            ),
        },
        "added_place": "other_car" if other else difference.placed(file.car),
        **({"other_car": other.car.name} if other else {}),
        "unexplained": by_corner(difference.rest, "load", units) if explained else None,
    }


def compare_text(
    file: CarFile, weighed: tuple[WeighIn, WeighIn], names: tuple[str, str],
    difference: Difference, predicted: Floats | None, carried: Carried | None = None,
) -> str:  # fmt: skip
    """Tell what is different between two weigh-ins, in at most 80 columns.

    Args:
        weighed: The first as it is carried, where it is.
        predicted: (4,) or None, change of the loads that was expected [N].
    """
    units = file.units
    states = [State(name, one.loads, one.shares) for name, one in zip(names, weighed, strict=True)]
    states_told = _aboard(weighed, names) if carried is None else [_carried(carried, names, file)]
    sure = uncertainty_row(difference.load_uncertainties, difference.uncertainties, units)
    return paragraphs(
        lines_of([f"{file.car.name}: {names[1]} less {names[0]}", *states_told]),
        "\n".join(lift_lines(states)),
        table([*state_rows(states, units), sure], indent=""),
        lines_of(_verdicts(difference)),
        _added(file, difference),
        "" if predicted is None else _explained(difference, predicted, units),
    )


_COLUMNS, _WIDE = 4, 14
"""So many cars stand side by side, and so wide is each; more stand under each other."""


def cars_text(
    cars: Sequence[Beside], names: Sequence[str], differences: Sequence[Difference], moved: bool
) -> str:
    """Tell cars side by side, in at most 80 columns.

    Args:
        differences: Of each but the first, less the first.
        moved: Whether they were carried to the state they are told in.
    """
    units = cars[0].file.units
    states = [State(one.file.car.name, one.weighed.loads, one.weighed.shares) for one in cars]
    alike = len({words_of(one.items, one.file.units) for one in cars}) == 1
    there = "one state" if alike else "the race trim of each"
    how = f"carried to {there}" if moved else "as they were weighed"
    aboard = (
        f"{one.file.car.name}: {name}, {in_words(one.items, one.file.units)}."
        for one, name in zip(cars, names, strict=True)
    )
    rows = state_rows(states, units, change=False)
    if len(cars) <= _COLUMNS:
        rows = [list(row) for row in zip(*rows, strict=True)]
        rows[0] = [units.labels["load"], *(cut(name, _WIDE) for name in rows[0][1:])]
    verdicts = (
        f"{one.file.car.name} and {cars[0].file.car.name}, really different: "
        + (", ".join(text for name, text in _NAMES.items() if difference.real(name)) or "nothing")
        + "."
        for one, difference in zip(cars[1:], differences, strict=True)
    )
    return paragraphs(
        lines_of([f"{len(cars)} cars, {how}.", *aboard]),
        "\n".join(lift_lines(states)),
        table(rows, indent=""),
        lines_of([*verdicts, _PADS[differences[0].pads]]),
    )


def _carried(carried: Carried, names: tuple[str, str], file: CarFile) -> str:
    # As they are typed, so that two drivers under one name are told apart.
    was, now = (
        ", ".join(words_of(items, file.units, file.car.on_board)) or "nothing"
        for items in carried[:2]
    )
    how = f"carried over{', as the log has learned how that leans' if carried.learned else ''}"
    return (
        f"Both with {now} on board, as {names[1]} says: {names[0]} was weighed with {was} and is"
        f" {how}; --as-weighed for the bare difference."
    )


def _aboard(weighed: tuple[WeighIn, WeighIn], names: tuple[str, str]) -> list[str]:
    """Say what was on board each time, and where nobody said it."""
    said = [one.readings.on_board for one in weighed]
    told = [", ".join(words) or "nothing" for words in said if words is not None]
    if len(told) < 2:
        who = f" by {names[said.index(None) ^ 1]} alone" if told else ""
        return [f"What was on board is said{who or ' by neither'}: taken as the same both times."]
    if said[0] == said[1]:
        return [f"Both with {told[0]} on board."]
    return [f"On board then: {told[0]}; now: {told[1]}. That is part of the difference."]


_PADS = {
    "same": "On the same pads, where they stood: what they get wrong each time alike drops out"
    " (--other-floor, --other-pads).",
    "moved": "On the same pads, set up anew: their level counts twice, their accuracy not.",
    "other": "On other pads: accuracy and level of both count.",
}


def _verdicts(difference: Difference) -> Iterator[str]:
    yield _PADS[difference.pads]
    real = [text for name, text in _NAMES.items() if difference.real(name)]
    lost = [text for text in _NAMES.values() if text not in real]
    if real:
        yield (
            f"Real, beyond {number(difference.limit, 1)} times its uncertainty (a false alarm in"
            f" {100 * ALARM:g} of 100 tables): {', '.join(real)}."
        )
    if lost:
        yield f"Within the uncertainty, so nothing to explain: {', '.join(lost)}."


def _added(file: CarFile, difference: Difference) -> str:
    """Tell the added mass, and where it sits if it can only be on the car."""
    units, added, placed = file.units, difference.added, difference.placed(file.car)
    if placed == "no_change":
        return ""
    what = "More" if added.mass > 0 else "Less"
    more = f"{what} by {amount(abs(added.mass), 'mass', units, unit=True)}"
    if placed == "too_unsure":
        return wrapped(f"{more}: too small a difference to say where it sits.")
    if placed == "off_the_car":
        return wrapped(
            f"{more}. No one place on the car explains it: more than one mass was changed or moved."
        )
    aft, left = (
        f"{number(units.from_si(value, 'length'), 0)}"
        f" {uncertainty(units.from_si(sure, 'length'), 0)} {units.labels['length']}"
        for value, sure in (
            (added.aft, added.aft_uncertainty),
            (abs(added.left), added.left_uncertainty),
        )
    )
    return wrapped(
        f"{more}, centered {aft} behind the front axle and {left} {side(added.left)}"
        " of the centerline."
    )


def _explained(difference: Difference, predicted: Floats, units: Units) -> str:
    rows = [["", *CORNERS, f"{units.labels['load']} in all"]]
    changes = {"found": difference.loads, "parts say": predicted, "unexplained": difference.rest}
    for name, loads in changes.items():
        rows.append([name, *amounts([*loads, loads.sum()], "load", units, sign=True)])
    beyond = abs(float(difference.rest.sum())) > difference.limit * difference.uncertainties.total
    verdict = "is more than chance" if beyond else "is within the uncertainty"
    return f"{table(rows, indent='')}\nThe unexplained total {verdict}."
