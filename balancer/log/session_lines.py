"""What a session writes down: the data of its lines."""

from collections.abc import Sequence
from operator import itemgetter
from typing import Any
from zlib import crc32

import numpy as np

from balancer.car.adjusters import adjusters_of
from balancer.car.conventions import CORNERS, Floats
from balancer.car.corner import LINKS
from balancer.car.model import Car, Item
from balancer.car.rates import rates_of
from balancer.files.car_file import CarFile
from balancer.files.states import state_of
from balancer.files.units import Units
from balancer.log.terms import Terms, target_of_file, terms_data
from balancer.planning.session.belief import Belief
from balancer.planning.session.step import Step

Row = dict[str, float]
"""Readings by corner, in the units of the car file."""


def fingerprint(car: Car) -> str:
    """Name the rates of a car, so that a belief is used for those it was learned on."""
    text = " ".join(f"{value:.6g}" for value in rates_of(car))
    return f"{crc32(text.encode()):08x}"


def begin_data(file: CarFile, terms: Terms, cross: float | None = None) -> dict[str, Any]:
    """Give what the log says when a session begins.

    Args:
        cross: Cross weight wanted, as a fraction; None where it is not known yet.
    """
    return {
        "event": "begin",
        **terms_data(terms, cross),
        "file_target": target_of_file(file),
        "rates": fingerprint(file.car),
        "perch_travel": stated_travel(file.car),
        "lead": stated_lead(file.car),
        **({"drop_links": links} if (links := stated_links(file.car)) else {}),
    }


def stated_travel(car: Car) -> list[list[float]]:
    """Give the travel of the file; 0 where it says nothing, since JSON knows no infinity.

    Returns:
        By corner, turns down and up.
    """
    travel = adjusters_of(car).travel
    stated: list[list[float]] = np.nan_to_num(travel, posinf=0.0, neginf=0.0).tolist()
    return stated


def stated_lead(car: Car) -> list[float]:
    """Give how far a turn moves the right adjuster of each corner [m]; 0 where there is none."""
    lead: list[float] = np.nan_to_num(adjusters_of(car).lead).round(9).tolist()
    return lead


def stated_links(car: Car) -> list[list[float]]:
    """Give what the file says of the drop links that can be turned, 0 for what it does not say.

    Returns:
        By axle how the bar is twisted, the lead and travel of its left link; none where neither
        link can be turned.
    """
    each = [[one.misfit, one.twist, one.lead, *one.travel] for one in car.links]
    if not np.isfinite([one.lead for one in car.links]).any():
        return []
    stated: list[list[float]] = np.nan_to_num(each, posinf=0.0, neginf=0.0).round(9).tolist()
    return stated


def weigh_in_data(
    rows: Sequence[Row], file: CarFile, terms: Terms, first: bool = False
) -> dict[str, Any]:
    """Give what the log says of a weigh-in, under the keys of a readings file.

    Args:
        terms: What the session goes by; it says what is on board, and how high the pads are.
        first: Whether no turns came before it, so that the ride heights are those of the terms.
    """
    words, measured = terms.words or (), {"pad_heights": terms.pads}
    if first:
        measured["ride_heights"] = terms.stands
    heights = {
        key: [file.units.from_si(value, "length") for value in four.tolist()]
        for key, four in measured.items()
        if four is not None
    }
    return {
        "readings": [[row[pad] for pad in CORNERS] for row in rows],
        "units": file.units.name,
        **state_data(file, words),
        **heights,
    }


def state_data(
    file: CarFile, words: Sequence[str], units: Units | None = None, where: str = "on_board"
) -> dict[str, Any]:
    """Give what was on board so that it can be told when the car file no longer names it.

    Args:
        units: Of the line; None: those of the car file.
        where: What to call the words in a fault.
    """
    state, units = state_of(file, words, where), units or file.units
    aboard = [_item_data(item, units) for item in state.items]
    return {"on_board": list(state.words), "aboard": aboard}


def _item_data(item: Item, units: Units) -> dict[str, Any]:
    places = {key: units.from_si(getattr(item, key), "length") for key in ("aft", "left", "up")}
    return {"name": item.name, "mass": units.from_si(item.mass, "mass"), **places}


def turns_data(turns: Floats, assumed: bool) -> dict[str, Any]:
    """Give what the log says of turns made.

    Args:
        turns: (4,), or (6,) with those of both left links.
        assumed: Nobody said so but the plan.
    """
    return {**_turned(turns), "assumed": assumed}


def _turned(turns: Floats) -> dict[str, dict[str, float]]:
    """Give turns by corner and, beside them, of drop links where one was turned."""
    links = dict(filter(itemgetter(1), zip(LINKS, turns[4:].tolist(), strict=False)))
    corners = dict(filter(itemgetter(1), zip(CORNERS, turns[:4].tolist(), strict=True)))
    return {"turns": corners, **({"links": links} if links else {})}


def belief_data(car: Car, belief: Belief) -> dict[str, Any]:
    """Give what the log says of a belief.

    Args:
        car: As the file has it.
    """
    data = {
        "rates": fingerprint(car),
        "mean": belief.mean[:3].tolist(),
        "covariance": belief.covariance[:3, :3].tolist(),
        "settling": belief.settling.tolist(),
    }
    if belief.file is None:
        return data
    # Beside the rest, so that programs of before read what they know.
    return data | {
        "bearing": {"mean": belief.mean[3:].tolist(), "covariance": belief.covariance[3:].tolist()},
        "file": {"covariance": belief.file.tolist(), "wrong": belief.wrong},
    }


def plan_data(step: Step) -> dict[str, Any]:
    """Give what the log says of a plan."""
    best = step.plan.best
    return {
        **_turned(np.zeros(4) if step.stop else best.every_turn),
        "status": step.plan.status,
        "stop": step.stop,
        "cross_pct": 100 * step.cross,
        "promised_cross_pct": 100 * best.shares.cross,
    }
