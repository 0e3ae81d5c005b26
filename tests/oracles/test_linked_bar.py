"""Drop links that stand or hang, and what is measured of them, against a bar that has geometry."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import NamedTuple

import numpy as np
import pytest

from balancer.car.adjusters import Moves
from balancer.car.conventions import Floats
from balancer.car.corner import Link
from balancer.car.equilibrium import solve_equilibrium
from balancer.car.model import Car
from balancer.car.undone import standing
from balancer.planning.perches.bar_links import bar_fits
from tests.oracles.linked_bar import Linked, LinkedBar, settled
from tests.oracles.real_cars import SWEEP, random_real_car, written_down
from tests.oracles.stopped_model import StoppedCar
from tests.oracles.stopped_random import random_stopped_car
from tests.seeds import seeds


class Measured(NamedTuple):
    """A simulated car with a bar, and the car file that a person would write of it."""

    simulated: StoppedCar
    bar: LinkedBar
    on: Linked
    car: Car
    links: dict[str, Link]


@cache
def measured(seed: int, hangs: bool) -> Measured:
    """Measure the bar both ways: by the gap with one end undone, and by its twist as it stands."""
    rng = np.random.default_rng([seed, 41])
    simulated = random_stopped_car(np.random.default_rng(seed))
    way = rng.choice([-1.0, 1.0])
    ratio = 1.0 if hangs else float(rng.uniform(0.5, 0.9))
    bar = LinkedBar(
        float(rng.uniform(8e3, 25e3)), hangs, ratio, way * float(rng.uniform(2e-3, 6e-3))
    )
    on = settled(simulated, bar, SWEEP.tolist())
    gap = settled(simulated, replace(bar, undone=True)).gap
    common = Link(bar.rate, ratio=ratio, hangs=hangs, lead=1e-3)
    links = {
        "misfit": common._replace(misfit=gap),
        "twist": common._replace(twist=on.twist),
    }
    return Measured(simulated, bar, on, written_down(simulated, on.measured), links)


def cross_of(loads: Floats) -> float:
    return float((loads[1] + loads[2]) / loads.sum())


WAYS = pytest.mark.parametrize("hangs", [False, True], ids=["stands", "hangs"])


@WAYS
@pytest.mark.parametrize("seed", seeds(20, 5))
@pytest.mark.parametrize("said", ["misfit", "twist"])
def test_a_bar_goes_on_without_load_by_the_link_that_is_said(
    seed: int, hangs: bool, said: str
) -> None:
    """The advice is carried out on the simulated car: its bar is then free, and it stands so."""
    case = measured(seed, hangs)
    car = replace(case.car, links=(case.links[said], Link(0.0)))
    loads = case.on.measured.rest.loads
    (fit,) = bar_fits(car, loads)
    after = settled(case.simulated, replace(case.bar, longer=case.bar.longer + fit.longer))
    was = abs(case.on.twist)
    assert abs(after.twist) < 0.02 * was + 2e-5
    assert abs(cross_of(after.measured.rest.loads) - fit.cross) < 0.02e-2
    more = settled(case.simulated, replace(case.bar, longer=case.bar.longer + fit.longer + 1e-3))
    cost = cross_of(more.measured.rest.loads) - cross_of(after.measured.rest.loads)
    assert cost == pytest.approx(1e-3 * fit.cross_per_meter, rel=0.03)


@WAYS
@pytest.mark.parametrize("seed", seeds(20, 5))
def test_the_gap_with_one_end_undone_tells_the_twist(seed: int, hangs: bool) -> None:
    """Undone, the car settles without the bar, and the gap is wider than the bar was twisted."""
    case = measured(seed, hangs)
    loads = case.on.measured.rest.loads
    twists = {
        said: standing(replace(case.car, links=(link, Link(0.0))), loads).misfit[0] * link.ratio
        for said, link in case.links.items()
    }
    assert twists["twist"] == pytest.approx(case.on.twist, abs=1e-9)
    assert twists["misfit"] == pytest.approx(case.on.twist, abs=0.05e-3)


def test_a_gap_taken_for_the_twist_would_be_off_by_millimeters() -> None:
    cases = [measured(seed, hangs) for seed in range(8) for hangs in (False, True)]
    off = [case.links["misfit"].way * case.links["misfit"].misfit - case.on.twist for case in cases]
    assert np.abs(off).max() > 2e-3


@WAYS
@pytest.mark.parametrize("seed", range(3))
def test_a_longer_link_takes_its_end_of_the_bar_up_or_down(seed: int, hangs: bool) -> None:
    case = measured(seed, hangs)
    longer = settled(case.simulated, replace(case.bar, longer=case.bar.longer + 1e-3))
    assert np.sign(longer.twist - case.on.twist) == case.links["twist"].way


@pytest.mark.parametrize("seed", seeds(40, 10))
def test_gaps_at_both_axles_are_those_that_were_seen(seed: int) -> None:
    """Each seen with the other bar on: cars of all kinds, their bars taken off one at a time."""
    car, loads, _, _ = random_real_car(4 * seed + 1)
    point = standing(car, loads)
    gaps = []
    for axle, link in enumerate(car.links):
        rates = point.bar_rate * (np.arange(2) != axle)
        travel = solve_equilibrium(replace(point, bar_rate=rates), Moves.none()).travel[0]
        across = travel[2 * axle] - travel[2 * axle + 1]
        gaps.append(link.way * link.ratio * (float(point.misfit[axle]) + across))
    assert np.abs(gaps).max() > 0
    links = tuple(
        one._replace(misfit=gap, twist=0.0) for one, gap in zip(car.links, gaps, strict=True)
    )
    again = standing(replace(car, links=links), loads)
    assert again.misfit == pytest.approx(point.misfit, abs=1e-8)
    assert again.compression == pytest.approx(point.compression, abs=1e-8)
