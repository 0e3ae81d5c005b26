"""What ballast can reach, held against a linear program with moments and against random ballast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from balancer.car.conventions import GRAVITY
from balancer.car.model import Car, Place, plain_car
from balancer.car.resting import added_loads
from balancer.planning.ballast.reach import reach

WHEELBASE = 2.4
Floor = tuple[float, float, float]


def car_with(*places: Place) -> Car:
    return replace(plain_car(wheelbase=WHEELBASE, tracks=(1.5, 1.4)), places=places)


def floors(*values: Floor) -> tuple[Place, ...]:
    """Rectangles from, long and roomy."""
    return tuple(
        Place(f"floor {n}", (aft, aft + long), (-0.3, 0.4), 0.2, most)
        for n, (aft, long, most) in enumerate(values)
    )


places = st.lists(
    st.tuples(st.floats(-1.2, 3.4), st.floats(0, 1.5), st.floats(0, 60)), min_size=1, max_size=5
)
most = st.floats(0, 150)


def support(car: Car, most: float, along: np.ndarray) -> float:
    """Solve for the farthest reachable pair along a direction: masses and their aft moments."""
    count = len(car.places)
    mass, moment = np.eye(2 * count)[:count], np.eye(2 * count)[count:]
    front = mass - moment / WHEELBASE
    gain = along[0] * mass.sum(axis=0) + along[1] * front.sum(axis=0)
    low = np.array([place.aft[0] for place in car.places])[:, None]
    high = np.array([place.aft[1] for place in car.places])[:, None]
    found = linprog(
        -gain,
        A_ub=np.vstack([mass.sum(axis=0), low * mass - moment, moment - high * mass]),
        b_ub=np.concatenate([[most], np.zeros(2 * count)]),
        bounds=[*((0, place.most) for place in car.places), *[(None, None)] * count],
    )
    assert found.status == 0
    assert found.fun is not None
    return -float(found.fun)


@given(places, most)
def test_it_reaches_as_far_as_a_linear_program_in_every_direction(
    values: list[Floor], limit: float
) -> None:
    car = car_with(*floors(*values))
    corners = reach(car, limit)
    for turn in np.linspace(0, 2 * np.pi, 17):
        along = np.array([np.cos(turn), np.sin(turn)])
        assert (corners @ along).max() == pytest.approx(support(car, limit, along), abs=1e-6)


@given(places, most, st.integers(0, 2**32 - 1))
def test_whatever_ballast_is_put_in_lies_inside(
    values: list[Floor], limit: float, seed: int
) -> None:
    """By what the pads would show: statics on four springs share nothing with the closed form."""
    car, rng = car_with(*floors(*values)), np.random.default_rng(seed)
    masses = rng.uniform(0, 1, len(car.places)) * [place.most for place in car.places]
    masses *= min(1.0, limit / max(masses.sum(), 1e-12))
    each = [
        added_loads(car, mass, rng.uniform(*place.aft), rng.uniform(*place.left))
        for mass, place in zip(masses, car.places, strict=True)
    ]
    loads = np.sum(each, axis=0)
    point = np.array([masses.sum(), np.sum(loads[:2]) / GRAVITY])
    corners = reach(car, limit)
    ahead = np.roll(corners, -1, axis=0) - corners
    beside = point - corners
    # To the left of every side, walked counterclockwise.
    assert (ahead[:, 0] * beside[:, 1] - ahead[:, 1] * beside[:, 0] >= -1e-6).all()


@given(places, most)
def test_its_corners_turn_left(values: list[Floor], limit: float) -> None:
    corners = reach(car_with(*floors(*values)), limit)
    sides = np.roll(corners, -1, axis=0) - corners
    after = np.roll(sides, -1, axis=0)
    assert (sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0] >= -1e-6).all()


def test_a_chassis_that_twists_reaches_the_same() -> None:
    """Front and rear axle carry what moments say, whatever twists between them."""
    floor = floors((0.5, 1.0, 30.0))
    soft = replace(car_with(*floor), torsional_stiffness=2e5)
    loads = added_loads(soft, 30.0, 0.5, 0.4)
    assert reach(soft, 30.0)[:, 1].max() == pytest.approx(loads[:2].sum() / GRAVITY)


def test_no_end_to_the_mass_is_refused() -> None:
    with pytest.raises(ValueError, match="no end"):
        reach(car_with(Place("floor", (1, 2), (0, 0), 0.1)), np.inf)


def test_nowhere_to_put_it_is_a_point() -> None:
    assert reach(car_with(), 50.0).tolist() == [[0.0, 0.0]]
