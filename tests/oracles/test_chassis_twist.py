"""The stiffness of a chassis, found again from loads that a frame solver says."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from balancer.car.model import Car, Scales
from balancer.planning.session.chassis_stiffness import torsion
from balancer.weighing.weigh import Readings, WeighIn, weigh
from tests.conftest import random_car, random_loads
from tests.oracles import frame_car

PERFECT = Scales(0.0, 0.0, 0.0, 0.0)


def _weighed(car: Car, turns: np.ndarray, loads: np.ndarray) -> WeighIn:
    equilibrium = frame_car.solve_equilibrium(
        car.wheelbase,
        car.tracks,
        car.spring_rate * car.motion_ratio**2,
        [],
        np.nan_to_num(car.perch_lead) * turns / car.motion_ratio,
        bars=car.bar_rate,
        torsion=car.torsional_stiffness,
        tire_rate=car.tire_rate,
    )
    return weigh(car, Readings.of(loads + equilibrium.loads))


@pytest.mark.parametrize("solid", [False, True], ids=["springs", "solid"])
@pytest.mark.parametrize("bars", [False, True], ids=["bars off", "bars on"])
@pytest.mark.parametrize("seed", range(8))
def test_the_frame_gives_its_stiffness_back(seed: int, bars: bool, solid: bool) -> None:
    rng = np.random.default_rng([seed, bars, solid])
    car = replace(random_car(rng), scales=PERFECT)
    true = rng.uniform(3e3, 1e4) if solid else rng.uniform(6e4, 6e5)
    car = replace(
        car,
        torsional_stiffness=true,
        bar_rate=rng.uniform(5e3, 40e3, 2) if bars else np.zeros(2),
        spring_rate=np.full(4, inf) if solid else car.spring_rate,
        motion_ratio=np.ones(4) if solid else car.motion_ratio,
    )
    loads, made = random_loads(rng), [rng.integers(1, 9, 4) / 4 * [1, -1, -1, 1] for _ in range(3)]
    made[1] = -made[1]
    weigh_ins = [_weighed(car, turns, loads) for turns in np.cumsum([np.zeros(4), *made], axis=0)]
    # What the file says of the chassis is not looked at.
    blind = replace(car, torsional_stiffness=inf)
    found = torsion(blind, weigh_ins, made, 0.0)
    assert found.stiffness == pytest.approx(true, rel=2e-5)
    assert not found.strange
    pair = torsion(blind, weigh_ins[:2], made[:1], 0.0)
    assert pair.stiffness == pytest.approx(true, rel=2e-5)
