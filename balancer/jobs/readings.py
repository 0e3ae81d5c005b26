"""Rows of readings in a session: what they weigh, and whether they are to be asked about."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import refuse
from balancer.car.linear import free_pattern
from balancer.car.model import Item
from balancer.car.statics import statics_of
from balancer.files.car_file import CarFile
from balancer.files.checks.readings import no_car
from balancer.files.units import Units, other
from balancer.log.entry import Entry
from balancer.log.entry_readings import readings_of_entry
from balancer.log.session_lines import Row, weigh_in_data
from balancer.log.terms import Terms
from balancer.planning.session.expected import expected_loads
from balancer.planning.session.lessons import ODD, UNTURNED, surprise, unturned
from balancer.planning.session.plausibility import Suspect, odd_pad, other_order, suspect_reading
from balancer.planning.session.session import Session, weighed
from balancer.weighing.weigh import WeighIn, weigh


class Question(NamedTuple):
    """Readings that were asked about, and not answered for.

    Attributes:
        rows: The last is the one in doubt.
        beside: Of the last weigh-in, that they are more of.
        pads: That look wrong.
    """

    rows: list[Row]
    beside: list[Row]
    pads: tuple[str, ...]


class Before(NamedTuple):
    """What new readings are held against.

    Attributes:
        terms: What the session goes by.
        was: What is on board.
        turns: (n,) or None, made or due since the last weigh-in.
        assumed: Whether nobody said that those were made.
        seasons: Loads of the last weigh-ins of other sessions, in this state [N].
    """

    file: CarFile
    terms: Terms
    was: tuple[Item, ...]
    session: Session
    turns: Floats | None
    assumed: bool
    seasons: tuple[Floats, ...] = ()


def loads_of(row: Row, units: Units) -> Floats:
    """Give the loads of a row [N]."""
    return np.array([units.to_si(row[pad], "load") for pad in CORNERS])


def weighed_by(rows: Sequence[Row], file: CarFile, terms: Terms) -> WeighIn:
    """Weigh the car.

    Raises:
        InputError: When no car weighs that.
    """
    numbers = np.array([[row[pad] for pad in CORNERS] for row in rows])
    label = other(file.units).labels["load"]
    refuse(no_car(file, numbers, "readings", f"type {label} behind each: 302{label}"))
    data = weigh_in_data(rows, file, terms)
    entry = Entry(1, "2000-01-01T00:00:00+00:00", "weigh_in", data)
    return weigh(file.car, readings_of_entry(entry, file))


def in_doubt(
    rows: list[Row], beside: list[Row], before: Before
) -> tuple[Suspect | None, list[Row]]:
    """Say what is odd about the last of new rows, and which of the rows to keep with it.

    A mean of two states of the car is neither: a reading in doubt goes with others in doubt.
    """
    suspect, last = _suspect(rows[-1], beside, before), rows[-1]
    loads = loads_of(last, before.file.units)
    kept = [
        row
        for row in rows[:-1]
        if suspect_reading(loads_of(row, before.file.units), loads) is None
        and (suspect or not _suspect(row, beside, before))
    ]
    return suspect, [*kept, last]


def _suspect(row: Row, beside: list[Row], before: Before) -> Suspect | None:
    units, session, turns = before.file.units, before.session, before.turns
    loads = loads_of(row, units)
    if beside:
        return suspect_reading(loads, np.mean([loads_of(each, units) for each in beside], axis=0))
    if not session.weigh_ins:
        pattern = free_pattern(session.car.tracks)
        return odd_pad(loads) or other_order(loads, before.seasons, pattern)
    expected = expected_loads(session, turns, before.was)
    if before.terms.pads is not None:
        expected = statics_of(session.car, expected).on_pads(before.terms.pads)
    suspect = suspect_reading(loads, expected)
    weigh_in = None if suspect else weighed_by([row], before.file, before.terms)
    if weigh_in and surprise(session, weigh_in, turns, before.was) > ODD:
        return Suspect("turns", (), expected)
    after = weigh_in and before.assumed and weighed(session, weigh_in, turns, before.was)
    return Suspect("unturned", (), expected) if after and unturned(after) > UNTURNED else suspect
