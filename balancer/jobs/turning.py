"""Turns that are said to be made, held against the car: what can't be turned, or not so far."""

from collections.abc import Iterator, Mapping

from balancer.car.adjusters import ways_to_turn
from balancer.car.conventions import CORNERS
from balancer.car.corner import LINKS
from balancer.car.errors import Fault, refuse
from balancer.files.car_file import CarFile
from balancer.files.counting import LINK_TURN
from balancer.planning.session.session import Session, travel_left
from balancer.report.words.turns import signed_number, way
from balancer.report.words.turns import turns as spoken


def refuse_turns(turns: Mapping[str, float], session: Session, file: CarFile) -> None:
    """Refuse turns that nobody can have made.

    Args:
        turns: By corner or link [turn].

    Raises:
        InputError: With every fault.
    """
    refuse(list(_unturnable(turns, file)) or list(_beyond_travel(turns, session, file)))


def _unturnable(turns: Mapping[str, float], file: CarFile) -> Iterator[Fault]:
    for pad, can in zip(CORNERS, file.car.adjustable, strict=True):
        if pad in turns and not can:
            way_out = "give perch_lead in the car file"
            yield Fault(f"made {pad}", "has no threaded perch", way_out)
    usable = {LINKS[axle] for axle, link in enumerate(file.car.links) if link.usable}
    for name in LINKS:
        if name in turns and name not in usable:
            what = "holds no bar that is connected, or has no thread"
            yield Fault(f"made {name}", what, "see bar_connected and link_lead in the car file")


def _beyond_travel(turns: Mapping[str, float], session: Session, file: CarFile) -> Iterator[Fault]:
    adjusters = next(ways_to_turn(file.car, links=True))
    keys = ["mount" if on_mount else "perch" for on_mount in adjusters.mounts]
    counts = (*file.counts(), LINK_TURN, LINK_TURN)
    limits = [*keys, "link", "link"]
    sides = zip(adjusters.names, travel_left(session), limits, counts, strict=False)
    for pad, (down, up), key, count in sides:
        much = turns.get(pad, 0.0)
        left = -down if much < 0 else up
        if abs(much) > left + 1e-6:
            most = f"only {spoken(left, count)} are" if left > 1e-6 else "none is"
            said = f"{signed_number(much, count)} {count.many}"
            problem = f"{said}, {most} left {way(much, count)}"
            way_out = f"check the number, or {key}_travel in the car file"
            yield Fault(f"made {pad}", problem, way_out)
