"""Cars that were measured must be taken for cars.

The line through heights of centers of gravity was read at https://kktse.github.io, post of
2020-10-21, repository commit 8989c57, which restates the database.
"""

from __future__ import annotations

import tomllib
from math import sqrt
from pathlib import Path

import numpy as np
import pytest

from balancer.files.car_reader import read_car
from balancer.files.readings import readings_of
from balancer.files.starter import starter
from balancer.files.units import SYSTEMS
from balancer.weighing.uncertainty import load_covariance
from balancer.weighing.weigh import weigh
from tests.sources import source

CAR = """
name = "measured"
units = "metric"
wheelbase = 2500
[front]
track = 1468
spring_rate = 40
motion_ratio = 0.7
[rear]
track = 1468
spring_rate = 40
motion_ratio = 0.7
[body]
cg_up = {cg_up}
"""


@pytest.mark.parametrize(
    ("mass", "cg_up"),
    [
        (1143, 513),
        (996, 550),
        (1412, 504),
        (2018, 697),
        (1805, 695),
        (2201, 682),
        (1838, 692),
        (1889, 700),
        (1436, 568),
    ],
)
@source(
    "NHTSA inertia database, SAE 1999-01-1336",
    "mass and height of the center of gravity, nine vehicles restated in an open file",
    "read in a secondary copy",
)
def test_measured_cars_pass_the_checks(mass: float, cg_up: float, tmp_path: Path) -> None:
    """The wheelbase and the springs are ours: the database row has none."""
    path = tmp_path / "car.toml"
    path.write_text(CAR.format(cg_up=cg_up), encoding="utf-8")
    file = read_car(path)
    assert file.notes == ()
    weighed = weigh(file.car, readings_of(file, [mass / 4] * 4))
    assert file.units.from_si(weighed.shares.total, "load") == pytest.approx(mass)
    assert file.car.cg_up == pytest.approx(cg_up * 1e-3)


@pytest.mark.parametrize("stability", [1.220, 1.341, 1.435])
@pytest.mark.parametrize("mass", [700, 1100, 1600, 2200])
@source(
    "NHTSA inertia database, SAE 1999-01-1336",
    "73 cars: height 0.00005·m + 0.46983 m; static stability factor 1.220 to 1.435, mean 1.341",
    "read in a secondary copy",
)
def test_cars_on_the_line_through_73_pass_the_checks(
    mass: float, stability: float, tmp_path: Path
) -> None:
    """The stability factor is half the track over the height."""
    cg_up = 1e3 * (0.00005 * mass + 0.46983)
    path = tmp_path / "car.toml"
    text = CAR.replace("1468", f"{2 * stability * cg_up:.1f}")
    path.write_text(text.format(cg_up=f"{cg_up:.1f}"), encoding="utf-8")
    assert read_car(path).notes == ()


@source(
    "NHTSA inertia database, SAE 1999-01-1336",
    "73 cars: height 0.00005·m + 0.46983 m",
    "read in a secondary copy",
)
def test_the_car_that_init_writes_is_lower_than_a_usual_one() -> None:
    """A track car is lower than what is on the road, but not by half."""
    usual = 0.00005 * 1100 + 0.46983
    for units in SYSTEMS.values():
        written = tomllib.loads(starter(units))["body"]["cg_up"]
        assert 0.6 * usual < units.to_si(written, "length") < usual


def assumed(car: str, load: float, tmp_path: Path) -> float:
    """Give the uncertainty of one reading on pads of which a file says nothing, in its units."""
    path = tmp_path / "car.toml"
    path.write_text(car, encoding="utf-8")
    file = read_car(path)
    assert not file.car.scales.stated
    loads = np.full(4, file.units.to_si(load, "load"))
    covariance = load_covariance(file.car.scales, loads, loads[None, :])
    return file.units.from_si(sqrt(covariance[0, 0]), "load")


@pytest.mark.parametrize(
    ("load", "limit"), [(20, 0.25), (100, 0.25), (249, 0.25), (251, 0.5), (400, 0.5), (900, 0.5)]
)
@source(
    "OIML R 76-1",
    "table 6, class III, initial verification: 0.5 e to 500 e, 1 e to 2,000 e; e = 0.5 kg",
    "read in a secondary copy",
)
def test_pads_of_no_known_make_are_no_surer_than_class_iii(
    load: float, limit: float, tmp_path: Path
) -> None:
    """A limit is a uncertainty of a √3rd of it: JCGM 100:2008, 4.3.7."""
    assert assumed(CAR.format(cg_up=500), load, tmp_path) >= limit / sqrt(3)


@source(
    "NIST Handbook 44",
    "Scales code, table 6, class III, maintenance: 3 d from 2,001 to 4,000 d; 0.15 lb at 150 lb",
    "read in a secondary copy",
)
def test_pads_of_no_known_make_are_no_surer_than_a_scale_in_use(tmp_path: Path) -> None:
    """Divisions of 0.05 lb, 3,000 of them."""
    car = CAR.replace("metric", "us").replace("2500", "98").replace("1468", "58")
    assert assumed(car.replace("= 40", "= 230").format(cg_up=20), 150, tmp_path) >= 0.15 / sqrt(3)
