"""The file of an axle-lift weighing: level and lifted readings, to `Lift`s."""

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import Fault
from balancer.car.model import Item
from balancer.files.car_file import CarFile
from balancer.files.checks.readings import bad_loads, no_car
from balancer.files.companion import Companion, Opened
from balancer.files.format.beside_keys import LIFTS_SCHEMA
from balancer.files.states import said_aboard
from balancer.weighing.cg_height import Lift
from balancer.weighing.uncertainty import load_covariance, shares


class Lifts(NamedTuple):
    """An axle-lift weighing read.

    Attributes:
        lifts: The level reading is there once for each axle that was lifted.
        weight: [N].
        aft: Center of gravity behind the front axle, from the level reading [m].
        radii: Loaded radii of front and rear tires [m].
        aboard: What was on board; None: nobody said.
    """

    lifts: tuple[Lift, ...]
    weight: float
    aft: float
    radii: tuple[float, float]
    aboard: tuple[Item, ...] | None = None


def _lifts_in(opened: Opened, file: CarFile) -> Lifts:
    level = np.array(opened.si["level"])
    whole = shares(file.car, level)
    front, rear = opened.si["tire_radius"]
    lifts = tuple(_lifts(opened.si["lift"], file, level))
    aboard = said_aboard(file, opened.si.get("on_board"))
    return Lifts(lifts, whole.total, whole.aft, (front, rear), aboard)


def _lifts(entries: list[dict[str, Any]], file: CarFile, level: Floats) -> Iterator[Lift]:
    for axle in dict.fromkeys(entry["axle"] for entry in entries):
        # The two loads of the axle that stays on its pads.
        yield _lift(file, axle, 0.0, level[:2] if axle == "rear" else level[2:])
    for entry in entries:
        yield _lift(file, entry["axle"], entry["height"], np.array(entry["stays"]))


def _lift(file: CarFile, axle: Any, height: float, pair: Floats) -> Lift:
    four = np.array([*pair, 0.0, 0.0])
    variance = np.diag(load_covariance(file.car.scales, four, four[None, :]))[:2].sum()
    return Lift(axle, height, float(pair.sum()), float(np.sqrt(variance)))


def _check(opened: Opened) -> Iterator[Fault]:
    toml, file, units, sound, si = opened
    yield from opened.wrong_state
    if not file or not units or not si:
        return
    if not si["blocked"]:
        yield sound.fault(
            ("blocked",),
            "the suspension was free to move",
            "block it (solid links for dampers) and weigh again: free springs spoil the result",
        )
    level, place = toml.data["level"], toml.place(("level",))
    bad_level = bad_loads(level, [f"{place} {corner}" for corner in CORNERS])
    yield from bad_level or no_car(file._replace(units=units), np.array([level]), place)
    for number, entry in enumerate(toml.data["lift"]):
        if si["lift"][number]["height"] >= file.car.wheelbase / 2:
            length = f"{entry['height']:g} {units.labels['length']}"
            what, way_out = (
                "half the wheelbase or more",
                "give how far the wheel centers were lifted",
            )
            yield sound.fault(("lift", number, "height"), f"{length} is {what}", way_out)
        stays = ("lift", number, "stays")
        sides = [f"{toml.place(stays)} {side}" for side in ("left", "right")]
        yield from bad_loads(entry["stays"], sides)
        if not bad_level and sum(entry["stays"]) >= sum(level):
            way_out = "give the two pads of the axle that stayed on them"
            yield sound.fault(stays, "carries the whole car or more", way_out)


_FILE = Companion(LIFTS_SCHEMA, _check, _lifts_in)
read_lifts, faults_in = _FILE.read, _FILE.faults_in
