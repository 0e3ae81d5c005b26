"""The file of an axle-lift weighing: level and lifted readings, to `Lift`s."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.errors import Fault
from balancer.files.car_file import CarFile
from balancer.files.checks.readings import bad_loads, no_car
from balancer.files.companion import Beside
from balancer.files.format.keys import LIFTS_SCHEMA
from balancer.files.format.toml_text import TomlFile, read_toml
from balancer.units import Units, other
from balancer.weighing.cg_height import Lift
from balancer.weighing.uncertainty import load_covariance, shares


class Lifts(NamedTuple):
    """An axle-lift weighing read.

    Attributes:
        lifts: The level reading is there once for each axle that was lifted.
        weight: [N].
        aft: Center of gravity behind the front axle, from the level reading [m].
        radii: Loaded radii of front and rear tires [m].
    """

    lifts: tuple[Lift, ...]
    weight: float
    aft: float
    radii: tuple[float, float]


def read_lifts(path: str | os.PathLike[str], file: CarFile) -> Lifts:
    """Read an axle-lift weighing of a car.

    Raises:
        InputError: With every fault of the file.

    References:
        The file format is documented in README.md.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.units import METRIC
        >>> read_lifts("nowhere.toml", CarFile("a.toml", plain_car(), METRIC, ()))
        Traceback (most recent call last):
        balancer.errors.InputError: nowhere.toml: no such file: check the name and the folder
    """
    toml = read_toml(path)
    units = _FILE.units_in(toml, file)
    data, load = toml.data, units.factors["load"]
    level = np.array(data["level"], dtype=float) * load
    found = shares(file.car, level)
    front, rear = (units.to_si(radius, "length") for radius in data["tire_radius"])
    return Lifts(tuple(_lifts(data, file, units, level)), found.total, found.aft, (front, rear))


def _lifts(data: dict[str, Any], file: CarFile, units: Units, level: Floats) -> Iterator[Lift]:
    entries = data["lift"]
    for axle in dict.fromkeys(entry["axle"] for entry in entries):
        yield _lift(file, axle, 0.0, _staying(level, axle))
    for entry in entries:
        stays = np.array(entry["stays"], dtype=float) * units.factors["load"]
        yield _lift(file, entry["axle"], units.to_si(entry["height"], "length"), stays)


def _staying(loads: Floats, lifted: str) -> Floats:
    """Give the two loads of the axle that stays on its pads."""
    return loads[:2] if lifted == "rear" else loads[2:]


def _lift(file: CarFile, axle: Any, height: float, pair: Floats) -> Lift:
    four = np.array([*pair, 0.0, 0.0])
    variance = np.diag(load_covariance(file.car.scales, four, four[None, :]))[:2].sum()
    return Lift(axle, height, float(pair.sum()), float(np.sqrt(variance)))


def _uncertainties(
    toml: TomlFile, faults: list[Fault], file: CarFile | None, units: Units | None
) -> Iterator[Fault]:
    """Find what is wrong in an axle-lift weighing whose keys are right."""
    if faults or not file or not units:
        return
    data = toml.data
    if not data["blocked"]:
        yield Fault(
            toml.place(("blocked",)),
            "the suspension was free to move",
            "block it (solid links for dampers) and weigh again: free springs spoil the result",
        )
    rows, level = np.array([data["level"]], dtype=float), toml.place(("level",))
    wrong = bad_loads(data["level"], [f"{level} {corner}" for corner in CORNERS])
    way_out = f'write units = "{other(units).name}"'
    yield from wrong or no_car(file._replace(units=units), rows, level, way_out)
    total = sum(data["level"])
    longest = units.from_si(file.car.wheelbase, "length")
    for number, entry in enumerate(data["lift"]):
        if entry["height"] >= longest / 2:
            yield Fault(
                toml.place(("lift", number, "height")),
                f"{entry['height']:g} {units.labels['length']} is half the wheelbase or more",
                "give how far the wheel centers were lifted",
            )
        where = toml.place(("lift", number, "stays"))
        yield from bad_loads(entry["stays"], [f"{where} {side}" for side in ("left", "right")])
        if not wrong and sum(entry["stays"]) >= total:
            yield Fault(
                where,
                "carries the whole car or more",
                "give the two pads of the axle that stayed on them",
            )


_FILE = Beside(LIFTS_SCHEMA, _uncertainties)
faults_in = _FILE.faults_in
