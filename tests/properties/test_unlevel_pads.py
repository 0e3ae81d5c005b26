"""Sessions on pads that stand unlevel, unknown to anybody: what is called sure, and where.

The cars are the package's own statics with hidden true rates and a hidden floor; what is held is
what the session says of itself.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.linear import lift, load_change
from balancer.car.model import Scales, plain_car
from balancer.car.statics import statics_of
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.session.belief import Sigmas, prior
from balancer.planning.session.session import Session, weighed
from balancer.planning.session.step import Step, step
from balancer.weighing.weigh import Readings, weigh
from tests.cars import cornered
from tests.seeds import seeds

ALL, FEW = 200, 20
MM = 1e-3
GOAL = PerchGoal.level(0.5)


class Stop(NamedTuple):
    """Where a session stopped.

    Attributes:
        weighings: So many, the first one too.
        here, level: Cross weight on these pads but for their scatter, and on level ones [1].
    """

    step: Step
    weighings: int
    here: float
    level: float


def cross(loads: Floats) -> float:
    return float((loads[1] + loads[2]) / loads.sum())


def stopped(seed: int, heights: Floats, known: bool = False) -> Stop:
    """Sit at pads of these heights [m] until the session says stop."""
    rng = np.random.default_rng(seed)
    tire = rng.uniform(180e3, 280e3)
    file = plain_car(
        wheelbase=rng.uniform(2.25, 2.6),
        tracks=tuple(rng.uniform(1.35, 1.55, 2)),
        spring_rate=tuple(rng.uniform(40e3, 110e3, 2)),
        motion_ratio=tuple(rng.uniform(0.6, 0.9, 2)),
        tire_rate=(tire, tire),
    )
    pads = Scales(0.0, 0.0, 0.5 * GRAVITY, 0.5 * GRAVITY, 0.0 if known else MM)
    file = replace(file, scales=pads, perch_travel=np.tile([-8.0, 8.0], (4, 1)))
    true = replace(
        file,
        spring_rate=file.spring_rate * np.exp(rng.normal(0, 0.08, 4)),
        motion_ratio=file.motion_ratio * np.repeat(np.exp(rng.normal(0, 0.05, 2)), 2),
        tire_rate=file.tire_rate * np.exp(rng.normal(0, 0.15, 4)),
    )
    front = rng.uniform(0.45, 0.56)
    even = rng.uniform(800, 1400) * GRAVITY / 2 * np.array([front, front, 1 - front, 1 - front])
    loads = even + load_change(file, np.array([rng.uniform(-0.02, 0.02), 0, 0, 0]))
    said = heights if known else np.zeros(4)
    state, planned = Session(file, prior(file, Sigmas()), GOAL), None
    for count in range(1, 12):
        on_pads = loads + load_change(true, heights)
        shown = np.round((on_pads / GRAVITY + rng.normal(0, 0.5, 4)) / 0.5) * 0.5 * GRAVITY
        state = weighed(state, weigh(file, Readings(shown[None], np.zeros(4), said)), planned)
        found = step(state)
        if found.stop:
            return Stop(found, count, cross(on_pads), cross(loads))
        planned = found.plan.best.turns
        made = planned + np.where(planned != 0, rng.normal(0, 0.02, 4), 0.0)
        loads = loads + load_change(true, lift(true, made * file.perch_lead))
    raise AssertionError("twelve weighings were not enough")


def one_wheel(seed: int, height: float) -> Floats:
    return np.where(np.arange(4) == seed % 4, height, 0.0)


def uneven(seed: int) -> Floats:
    """Draw a floor as level as the file says."""
    return np.random.default_rng(seed + 10**6).normal(0, MM, 4)


def surely_wrong(stops: list[Stop], known: bool) -> int:
    """Count stops beyond 0.35 points on level ground that are said with more than 90 %."""
    return sum(
        abs(one.level - 0.5) > 0.0035
        and (one.step.confidence if known else one.step.confidence_elsewhere) > 0.9
        for one in stops
    )


@pytest.mark.parametrize("height", [0.0, 1.0, 3.0], ids="{:g} mm".format)
def test_no_floor_is_called_sure(height: float) -> None:
    """The issue is what is said: on these pads it is sure, on another floor it is not."""
    stops = [stopped(seed, one_wheel(seed, height * MM)) for seed in seeds(ALL, FEW)]
    assert surely_wrong(stops, known=False) == 0
    there = [one for one in stops if one.step.stop == "in_tolerance"]
    assert len(there) >= 0.9 * len(stops)
    assert all(one.step.confidence > one.step.confidence_elsewhere + 0.1 for one in there)
    assert max(one.step.confidence_elsewhere for one in there) < 0.9
    # Here it is so: a floor that stays does not matter.
    assert np.mean([abs(one.here - 0.5) <= 0.002 for one in there]) >= 0.9
    assert np.mean([one.weighings for one in stops]) <= 2.5
    assert max(abs(one.here - 0.5) for one in stops) <= 0.0035


def test_both_chances_are_met(monkeypatch: pytest.MonkeyPatch) -> None:
    """On floors as level as is said: the mean of what is stated, and what comes true.

    But for what is held back for what binds or is not modeled: these have none of that.
    """
    monkeypatch.setattr("balancer.planning.session.step.SUREST", 1.0)
    monkeypatch.setattr("balancer.planning.session.step.suspected", lambda now: now)
    stops = [stopped(seed, uneven(seed)) for seed in seeds(ALL, FEW * 2)]
    for said, true in (
        ([one.step.confidence for one in stops], [one.here for one in stops]),
        ([one.step.confidence_elsewhere for one in stops], [one.level for one in stops]),
    ):
        stated = float(np.mean(said))
        met = float(np.mean(np.abs(np.array(true) - 0.5) <= 0.002))
        slack = 3 * np.sqrt(max(stated * (1 - stated), 0.01) / len(stops))
        assert abs(stated - met) <= slack
    off = [(one.level - one.step.cross) / one.step.cross_uncertainty for one in stops]
    assert float(np.std(off)) == pytest.approx(1, abs=3 / (2 * len(off)) ** 0.5)


def test_known_heights_are_no_error() -> None:
    stops = [stopped(seed, one_wheel(seed, 3 * MM), known=True) for seed in seeds(ALL, FEW)]
    assert max(abs(one.level - 0.5) for one in stops) <= 0.0035
    there = [one for one in stops if one.step.stop == "in_tolerance"]
    assert len(there) >= 0.9 * len(stops)
    assert all(one.step.confidence_elsewhere == one.step.confidence for one in there)


@pytest.mark.parametrize("corners", [False, True], ids=["linear", "real corners"])
def test_the_uncertainty_of_level_against_draws(corners: bool) -> None:
    """JCGM 101, 7: pads drawn as high as they may be, the car brought to rest on each set."""
    rng = np.random.default_rng(3)
    car = replace(plain_car(tracks=(1.5, 1.4)), scales=Scales(0, 0, 0, 0, MM))
    car = cornered(car) if corners else car
    loads = np.array([2950.0, 2850.0, 2350.0, 2450.0])
    found = weigh(car, Readings.of(loads))
    statics = statics_of(car, loads)
    drawn = np.array([statics.on_pads(rng.normal(0, MM, 4)) for _ in range(1500)])
    each = drawn / drawn.sum(axis=1, keepdims=True)
    spread = (each[:, 1] + each[:, 2]).std(ddof=1)
    assert found.uncertainties.cross == pytest.approx(spread, rel=0.06)
    assert found.uncertainties.left == pytest.approx((each[:, 0] + each[:, 2]).std(), rel=0.06)
    assert found.uncertainties.total == pytest.approx(0.0, abs=1e-6)
    assert found.repeatable.cross == 0.0
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(drawn.std(axis=0), rel=0.06)
