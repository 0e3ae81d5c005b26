"""Cars that were measured must be taken for cars."""

from __future__ import annotations

from pathlib import Path

import pytest

from balancer.carfile import read_car
from balancer.readings import readings_of
from balancer.weighing import weigh
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
