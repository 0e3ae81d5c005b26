"""Adjusters of a car file: steps and travels that nobody could turn, and what is counted."""

from collections.abc import Iterator

from balancer.car.conventions import CORNERS
from balancer.car.errors import Fault
from balancer.files.checks.sound import AXLE_OF, Sound, corner_value, is_unsprung
from balancer.files.counting import TURN, Count, read_count
from balancer.files.format.bounds import MOST_STEPS
from balancer.files.format.value_types import LARGEST_STEP, MOST_TURNS, SMALLEST_STEP, Key
from balancer.files.units import Units

_USUAL_STEPS = {"perch": 0.25, "mount": 0.25, "link": 0.5}
"""Of adjusters whose step is left out [turns]."""


def adjuster_faults(sound: Sound, units: Units | None) -> Iterator[Fault]:
    """Find what is wrong with adjusters across their keys.

    Args:
        units: Of the file; None: they are not known.
    """
    yield from _no_lead(sound)
    counts = {corner: _count(sound, corner, units) for corner in CORNERS}
    said = dict.fromkeys(fault for pad in CORNERS for fault in _out_of_reason(sound, pad, counts))
    yield from said
    yield from _too_fine(Sound(sound.file, [*sound.faults, *said]), counts)


def _no_lead(sound: Sound) -> Iterator[Fault]:
    """Find steps and travels of perches that are not there."""
    for key in ("perch_count", "perch_step", "perch_travel"):
        without: dict[Key, list[str]] = {}
        for corner in CORNERS:
            lead, _ = corner_value(sound.data, corner, "perch_lead")
            value, place = corner_value(sound.data, corner, key)
            axle = sound.data.get(AXLE_OF[corner])
            if value is not None and lead is None and isinstance(axle, dict):
                without.setdefault(place, []).append(corner)
        for place, corners in without.items():
            has = "has" if len(corners) == 1 else "have"
            what = f"given, but {' and '.join(corners)} {has} no perch_lead"
            yield sound.fault(place, what, "give perch_lead too")


def _count(sound: Sound, corner: str, units: Units | None) -> Count:
    said, lead = (
        sound.get(*corner_value(sound.data, corner, key)[1])
        for key in ("perch_count", "perch_lead")
    )
    known = isinstance(lead, int | float) and units is not None
    length = units.to_si(lead, "length") if units is not None and known else float("nan")
    count = read_count(said, length) if isinstance(said, str) else None
    return count if count is not None and count.in_a_turn > 0 else TURN


def _out_of_reason(sound: Sound, corner: str, counts: dict[str, Count]) -> Iterator[Fault]:
    """Find steps and travels of a perch that are no perch's, and what can't be counted there."""
    count, unsprung = counts[corner], is_unsprung(sound.data, AXLE_OF[corner])
    _, own = corner_value(sound.data, corner, "perch_count")
    if unsprung and sound.get(*own) is not None:
        yield sound.fault(own, "given, but an axle without springs has spacers", "leave it out")
    _, place = corner_value(sound.data, corner, "perch_step")
    step = sound.get(*place)
    if step is not None and not SMALLEST_STEP <= _number(step) / count.in_a_turn <= LARGEST_STEP:
        least, largest = (end * count.in_a_turn for end in (SMALLEST_STEP, LARGEST_STEP))
        what = f"{_number(step):g} {count.many} is out of reason"
        yield sound.fault(place, what, f"expected {least:.3g} to {largest:.3g} {count.many}")
    _, place = corner_value(sound.data, corner, "perch_travel")
    for number, end in enumerate(sound.get(*place) or []):
        most = MOST_TURNS * count.in_a_turn
        if abs(end) > most:
            what = f"{end:g} is out of reason"
            yield sound.fault((*place, number), what, f"expected {-most:.4g} to {most:.4g}")


def _too_fine(sound: Sound, counts: dict[str, Count]) -> Iterator[Fault]:
    """Find adjusters with more steps than anybody counts and a plan could try."""
    said: set[Key] = set()
    for corner in CORNERS:
        for adjuster, usual in _USUAL_STEPS.items():
            count = counts[corner] if adjuster == "perch" else TURN
            usual = count.step if count is not TURN else usual
            step, own = corner_value(sound.data, corner, f"{adjuster}_step")
            _, place = corner_value(sound.data, corner, f"{adjuster}_travel")
            travel = sound.get(*place)
            if place in said or not travel or (step is not None and sound.get(*own) is None):
                continue
            length, size = travel[1] - travel[0], usual if step is None else _number(step)
            if length / size > MOST_STEPS:
                said.add(place)
                what = f"{length:g} {count.many} in steps of {size:g} are {length / size:.0f} steps"
                way_out = f"expected {MOST_STEPS} at most: give the {count.many} that are left"
                yield sound.fault(place, what, f"{way_out}, or a larger {adjuster}_step")


def _number(step: float | str) -> float:
    over, _, under = str(step).partition("/")
    return float(over) / float(under or 1)
