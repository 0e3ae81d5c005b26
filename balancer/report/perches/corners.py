"""What each corner of a car that is not linear stands on, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from balancer.car.answers import Contacts, OddTravel
from balancer.car.conventions import CORNERS, Floats
from balancer.car.corner import LINKS
from balancer.car.statics import statics_of
from balancer.files.car_file import CarFile
from balancer.files.units import METRIC, Units
from balancer.planning.perches.plan import PerchPlan
from balancer.planning.perches.question import PerchMoves
from balancer.report.perches.limits import heights_off
from balancer.report.words.numbers import amount, number, percent

if TYPE_CHECKING:
    from balancer.planning.perches.bar_links import BarFit


def oddities(odd: Mapping[str, OddTravel], units: Units) -> Iterator[str]:
    """Name corners whose measured shock travel does not fit the rest of the file."""
    for corner, travel in odd.items():
        yield (
            f"{corner}: its preload, rate and ratio say"
            f" {amount(travel.expected, 'length', units, unit=True)} of shock travel, measured are"
            f" {amount(travel.measured, 'length', units, unit=True)}: check them; the measured one"
            " is taken"
        )


def corner_lines(file: CarFile, loads: Floats, plan: PerchPlan) -> list[str]:
    """Say what corners stand on, what turns change there, and what a linear plan would miss."""
    if plan.contacts is None or plan.best.contacts is None:
        return []
    lines = standing_lines(plan.contacts, plan.best.contacts)
    down = statics_of(file.car, loads).excess()
    for index in np.flatnonzero(plan.best.contacts.topped_out & plan.contacts.topped_out).tolist():
        lead, count = file.car.perch_lead[index], file.perch_counts[index]
        if np.isfinite(lead) and down[index] > 0:
            lines.append(
                f"{CORNERS[index]} would come off its droop stop after"
                f" {number(down[index] / lead * count.in_a_turn, 1)} {count.many} down at the"
                " spring perch"
                f" ({amount(down[index], 'length', file.units, unit=True)}), the loads as now."
            )
    linear = plan.linear
    if linear is not None and not (_holds(linear, plan) or not plan.best.corners):
        off = heights_off(linear, plan)
        lines.append(
            "A plan that takes the corners for linear would end at"
            f" {percent(linear.shares.cross, 2)}, heights off by"
            f" {amount(off, 'length', file.units, unit=True)}."
        )
    return lines


def stop_lines(plan: PerchPlan) -> list[str]:
    """Say what corners stand on, as short as at the pads: nothing of a tender that stays solid."""
    if plan.contacts is None or plan.best.contacts is None:
        return []
    stay = plan.contacts.solid & plan.best.contacts.solid
    now, then = (
        one._replace(solid=one.solid & ~stay) for one in (plan.contacts, plan.best.contacts)
    )
    return standing_lines(now, then)


def warnings_of(plan: PerchPlan) -> list[str]:
    """Say what matters before the turns: stops, topped-out dampers, wheels off the ground."""
    return [f"Care: {line}" for line in stop_lines(plan)]


def aside_lines(file: CarFile, loads: Floats, plan: PerchPlan) -> list[str]:
    """Give what `corner_lines` says beyond `warnings_of`."""
    said = stop_lines(plan)
    return [line for line in corner_lines(file, loads, plan) if line not in said]


def _holds(moves: PerchMoves, plan: PerchPlan) -> bool:
    off = heights_off(moves, plan)
    near = abs(moves.shares.cross - plan.goal.cross)
    # A hair over the height tolerance is not worth a line.
    return near <= plan.goal.tolerance + 1e-9 and off <= 1.1 * plan.goal.height_tolerance


def bar_lines(bars: Sequence[BarFit], file: CarFile, turned: bool) -> list[str]:
    """Say how the anti-roll bars go on without load, and what an error costs."""
    if not bars:
        return []
    made = ", these turns made," if turned else ""
    lines = [f"In race trim{made} the bars carry nothing when:"]
    step, size = ("mm", 1e-3) if file.units is METRIC else ("0.1 in", 2.54e-3)
    for fit in bars:
        longer = amount(abs(fit.longer), "length", file.units, unit=True)
        way = "longer" if fit.longer > 0 else "shorter"
        link = f"{longer} {way} than now"
        if np.isfinite(fit.turns):
            link += f", {number(abs(fit.turns), 1)} turns"
        if longer == amount(0.0, "length", file.units, unit=True):
            link = "as long as now"
        points = number(100 * size * fit.cross_per_meter, 2, sign=True)
        lines.append(
            f"- left {LINKS[fit.axle]} {link}; each {step} longer than that does {points} points"
        )
    return lines


def standing_lines(now: Contacts, then: Contacts) -> list[str]:
    """Say what corners stand on now, and what changes when the turns are made.

    Examples:
        >>> free, top = np.zeros(4, dtype=bool), np.array([False, False, False, True])
        >>> now = Contacts(top, free, free, free, free)
        >>> print(*standing_lines(now, now), sep="\\n")
        RR is topped out: a turn at its spring perch changes preload, not height.
    """
    lines = []
    for index, corner in enumerate(CORNERS):
        before, after = contact_names(now, index), contact_names(then, index)
        for name in before:
            phrase = _STAYS if name in after else _LEAVES
            lines.append(phrase[name].format(corner=corner))
        lines += [_COMES[name].format(corner=corner) for name in after if name not in before]
    return lines


def contact_names(contacts: Contacts, index: int) -> list[str]:
    """Name what a corner stands on, empty where it is free."""
    return [name for name in Contacts._fields if getattr(contacts, name)[index]]


_STAYS = {
    "topped_out": "{corner} is topped out: a turn at its spring perch changes preload, not height.",
    "bumped": "{corner} stands on its bump stop.",
    "solid": "{corner}: its tender is solid, the main spring works alone.",
    "loose": "{corner}: its spring is loose.",
    "lifted": "{corner} is off its pad.",
}
_LEAVES = {
    "topped_out": "{corner} is topped out now; with these turns it comes off its droop stop.",
    "bumped": "{corner} stands on its bump stop now; with these turns it comes off.",
    "solid": "{corner}: its tender, solid now, opens with these turns.",
    "loose": "{corner}: its spring, loose now, is loaded with these turns.",
    "lifted": "{corner} is off its pad now and comes down with these turns.",
}
_COMES = {
    "topped_out": "{corner} tops out with these turns: no droop travel is left there.",
    "bumped": "{corner} comes onto its bump stop with these turns.",
    "solid": "{corner}: its tender goes solid with these turns.",
    "loose": "{corner}: its spring comes loose with these turns.",
    "lifted": "{corner} comes off its pad with these turns.",
}
