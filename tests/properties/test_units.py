"""The same car in both systems of units is the same car, and gets the same advice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from math import inf, isfinite
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from balancer.car.conventions import CORNERS, GRAVITY, Floats
from balancer.car.errors import InputError, UnstableCarError
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.files.car_reader import read_car
from balancer.files.readings import readings_of
from balancer.files.units import METRIC, US, Units
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.plan import plan_ballast
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import PerchPlan, plan_perches

law = settings(max_examples=50)


def floats(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_subnormal=False)


@dataclass(frozen=True)
class Sheet:
    """What somebody knows of a car, in SI; per corner LF RF LR RR."""

    wheelbase: float
    tracks: tuple[float, float]
    spring_rate: tuple[float, ...]
    motion_ratio: tuple[float, ...]
    tire_rate: tuple[float, ...]
    unsprung_mass: tuple[float, ...]
    bar_rate: tuple[float, float]
    perch_lead: tuple[float, ...]
    cg_up: float
    torsional_stiffness: float
    minimum: float
    place: tuple[float, float, float, float]


def fours(low: float, high: float) -> st.SearchStrategy[tuple[float, ...]]:
    return st.tuples(*[floats(low, high)] * 4)


def twos(low: float, high: float) -> st.SearchStrategy[tuple[float, float]]:
    return st.tuples(*[floats(low, high)] * 2)


SHEETS = st.builds(
    Sheet,
    wheelbase=floats(1.8, 3.0),
    tracks=twos(1.2, 1.8),
    spring_rate=fours(2e4, 2e5),
    motion_ratio=fours(0.4, 1.2),
    tire_rate=fours(1.2e5, 5e5),
    unsprung_mass=fours(5.0, 45.0),
    bar_rate=twos(0.0, 8e4),
    perch_lead=fours(1e-3, 3e-3),
    cg_up=floats(0.2, 0.7),
    torsional_stiffness=floats(6e4, 3e6),
    minimum=floats(850.0, 1150.0),
    place=st.tuples(floats(0.0, 1.0), floats(1.0, 1.8), floats(-0.5, 0.0), floats(0.0, 0.5)),
)
# Readings that are far from the class minimum are refused: they may be in the other units.
LOADS = fours(2000.0, 3000.0).map(np.array)


def text_of(sheet: Sheet, units: Units) -> str:
    """Write a car file as a person with these units would."""

    def lines() -> Iterator[str]:
        yield 'name = "any car"'
        yield f'units = "{units.name}"'
        yield f"wheelbase = {units.from_si(sheet.wheelbase, 'length')}"
        for axle, name in enumerate(("front", "rear")):
            yield f"[{name}]"
            yield f"track = {units.from_si(sheet.tracks[axle], 'length')}"
            yield f"anti_roll_bar = {units.from_si(sheet.bar_rate[axle], 'rate')}"
            yield 'perch_step = "1/4"'
            yield "perch_travel = [-5, 6]"
        for corner, name in enumerate(CORNERS):
            yield f"[{name}]"
            yield f"spring_rate = {units.from_si(sheet.spring_rate[corner], 'rate')}"
            yield f"motion_ratio = {sheet.motion_ratio[corner]}"
            yield f"tire_rate = {units.from_si(sheet.tire_rate[corner], 'rate')}"
            yield f"unsprung_mass = {units.from_si(sheet.unsprung_mass[corner], 'mass')}"
            yield f"perch_lead = {units.from_si(sheet.perch_lead[corner], 'length')}"
        yield "[body]"
        yield f"cg_up = {units.from_si(sheet.cg_up, 'length')}"
        yield f"torsional_stiffness = {units.from_si(sheet.torsional_stiffness, 'torsion')}"
        yield "[class]"
        yield f"minimum = {units.from_si(sheet.minimum, 'mass')}"
        yield "[[place]]"
        yield 'name = "floor"'
        aft = [units.from_si(value, "length") for value in sheet.place[:2]]
        left = [units.from_si(value, "length") for value in sheet.place[2:]]
        yield f"aft = {aft}"
        yield f"left = {left}"
        yield f"up = {units.from_si(0.1, 'length')}"

    return "\n".join(lines()) + "\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cars")


def both(sheet: Sheet, folder: Path) -> list[CarFile]:
    files = []
    for units in (METRIC, US):
        path = folder / f"{units.name}.toml"
        path.write_text(text_of(sheet, units), encoding="utf-8")
        files.append(read_car(path))
    return files


@law
@given(sheet=SHEETS)
def test_both_files_are_the_same_car(sheet: Sheet, folder: Path) -> None:
    metric, us = (file.car for file in both(sheet, folder))
    for field in fields(Car):
        values = getattr(metric, field.name), getattr(us, field.name)
        if isinstance(values[0], float | np.ndarray):
            assert values[1] == pytest.approx(values[0], rel=1e-12)
    assert metric.spring_rate == pytest.approx(np.array(sheet.spring_rate), rel=1e-12)
    assert metric.torsional_stiffness == pytest.approx(sheet.torsional_stiffness, rel=1e-12)
    assert us.rules.minimum == pytest.approx(sheet.minimum, rel=1e-12)
    for file_place in (metric.places[0], us.places[0]):
        assert (*file_place.aft, *file_place.left) == pytest.approx(sheet.place, abs=1e-12)


SOFT = Sheet(
    wheelbase=2.0,
    tracks=(1.25, 1.203125),
    spring_rate=(20000.0,) * 4,
    motion_ratio=(0.40625, 0.40625, 0.40625, 0.4375),
    tire_rate=(120000.0,) * 4,
    unsprung_mass=(5.0,) * 4,
    bar_rate=(0.0, 2.0),
    perch_lead=(0.001953125,) * 4,
    cg_up=0.625,
    torsional_stiffness=60000.0,
    minimum=850.0,
    place=(0.0, 1.0, 0.0, 0.0),
)
"""It barely stands: one of the other ways to turn would tip it over."""


@law
@example(sheet=SOFT, loads=np.full(4, 2000.0), cross=0.5)
@example(sheet=replace(SOFT, bar_rate=(0.0, 0.0)), loads=np.full(4, 2000.0), cross=0.5)
@given(sheet=SHEETS, loads=LOADS, cross=floats(0.47, 0.53))
def test_both_files_get_the_same_turns(
    sheet: Sheet, loads: Floats, cross: float, folder: Path
) -> None:
    goal = PerchGoal(cross, 0.002, np.zeros(4), 1.5e-3)
    plans: list[PerchPlan | None] = []
    for file in both(sheet, folder):
        shown = loads / file.units.factors["load"]
        readings = readings_of(file, shown.tolist())
        assert readings.repeats[0] == pytest.approx(loads, rel=1e-12)
        try:
            plans.append(plan_perches(file.car, readings.repeats[0], goal))
        except UnstableCarError:
            plans.append(None)
    metric, us = plans
    assert (us is None) == (metric is None)
    if us is None or metric is None:
        return
    assert us.status == metric.status
    assert us.best.turns.tolist() == metric.best.turns.tolist()
    assert us.best.height_change == pytest.approx(metric.best.height_change, abs=1e-12)
    for one, other in zip(metric.alternatives, us.alternatives, strict=True):
        assert other.turns.tolist() == one.turns.tolist()


@law
@given(sheet=SHEETS, loads=LOADS)
def test_both_files_get_the_same_ballast(sheet: Sheet, loads: Floats, folder: Path) -> None:
    plans = [
        plan_ballast(file.car, loads, BallastGoal.of(file.car)) for file in both(sheet, folder)
    ]
    missing = max(sheet.minimum - loads.sum() / GRAVITY, 0.0)
    for plan in plans:
        assert plan.status == "met"
        assert plan.added == pytest.approx(missing, abs=1e-4)
    assert plans[1].shares.front == pytest.approx(plans[0].shares.front, abs=1e-5)


@law
@given(
    sheet=SHEETS,
    units=st.sampled_from([METRIC, US]),
    key=st.sampled_from(
        ["spring_rate", "motion_ratio", "tire_rate", "unsprung_mass", "perch_lead"]
    ),
    value=st.floats(),
)
def test_any_number_in_a_file_is_read_or_refused(
    sheet: Sheet, units: Units, key: str, value: float, folder: Path
) -> None:
    lines = text_of(sheet, units).splitlines()
    spot = next(number for number, line in enumerate(lines) if line.startswith(key))
    lines[spot] = f"{key} = {value!r}"
    path = folder / "odd.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    try:
        car = read_car(path).car
    except InputError as error:
        refused = [fault.where for fault in error.faults]
        if f"odd.toml:{spot + 1}: LF.{key}" not in refused:
            raise
        return
    read = getattr(car, key)[0]
    assert isfinite(read)
    assert 0 <= read < inf
