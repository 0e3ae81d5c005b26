"""What sessions teach of a car without springs: how far it gives way, and nothing of ratios."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balancer.car.conventions import GRAVITY
from balancer.car.linear import lift, load_change, warp_compliance
from balancer.car.model import Car, plain_car
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import plan_perches
from balancer.planning.session.belief import INERT, Sigmas, believed, prior
from balancer.planning.session.diagonal import gain
from balancer.planning.session.learning import learn

law = settings(max_examples=50)
EVEN = np.array([1.0, -1.0, -1.0, 1.0])


def kart(torsion: float = 5e3, tires: float = 110e3) -> Car:
    car = plain_car(1.05, (1.08, 1.14), (inf, inf), (1.0, 1.0), (tires, tires))
    return replace(car, torsional_stiffness=torsion, perch_step=np.ones(4))


@law
@given(more=st.floats(-0.3, 0.3), torsion=st.sampled_from([3e3, 9e3]), tires=st.booleans())
def test_the_compliance_is_learned_and_the_ratios_are_left_alone(
    more: float, torsion: float, tires: bool
) -> None:
    car = kart(torsion, 110e3 if tires else inf)
    before = prior(car, Sigmas())
    answer = gain(car, np.array([more, 0.0, 0.0]), 3 * EVEN)
    taught = learn(car, before, [1.0, 1.0 + answer], [1e-3] * 2, [3 * EVEN], turn_sd=1e-6).belief
    assert taught.mean[0] == pytest.approx(more, abs=1e-3)
    assert taught.mean[1:3] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert np.sqrt(np.diag(taught.covariance))[1:3] == pytest.approx(
        [INERT * taught.wrong] * 2, rel=1e-3
    )
    assert np.linalg.eigvalsh(taught.covariance).min() > 0
    now = believed(car, taught)
    assert (now.motion_ratio == 1).all()
    assert now.solid.all()
    assert warp_compliance(now) == pytest.approx(np.exp(taught.mean[0]) * warp_compliance(car))


def test_the_prior_by_hand() -> None:
    # Half of what gives way is the twist of the frame, 1/K = 4 / (1.2 m)² / (100 kN/m), half four
    # tires alike: √((0.3/2)² + (0.15/2)²/4).
    car = plain_car(1.0, (1.2, 1.2), (inf, inf), (1.0, 1.0), (100e3, 100e3))
    car = replace(car, torsional_stiffness=36e3)
    spread = np.sqrt(np.diag(prior(car, Sigmas()).covariance))[:3]
    assert spread == pytest.approx([np.hypot(0.15, 0.0375), INERT, INERT])
    front = replace(car, spring_rate=np.array([50e3, 50e3, inf, inf]))
    # Springs of the front, tires of each axle, frame: what each gives of the whole.
    parts = np.array([2 / 50e3, 2 / 100e3, 2 / 100e3, 1.44 / 36e3]) / 1.44
    shares = parts / parts.sum()
    springs, tires = shares[0] * 0.08 / 2**0.5, shares[1] * 0.15 / 2**0.5
    ratio = 2 * shares[0] * 0.05
    whole = np.linalg.norm([springs, tires, tires, ratio, shares[3] * 0.3])
    spread = np.sqrt(np.diag(prior(front, Sigmas()).covariance))[:3]
    assert spread == pytest.approx([whole, 0.05, INERT])


@pytest.mark.parametrize("torsion", [3500.0, 7500.0])
def test_a_kart_whose_frame_the_file_has_wrong_gets_there(torsion: float) -> None:
    car = replace(kart(5e3), perch_lead=np.full(4, 0.5e-3))
    true = replace(car, torsional_stiffness=torsion)
    loads = np.array([42.0, 35.0, 44.0, 48.5]) * GRAVITY
    goal = replace(PerchGoal.level(0.5), height_tolerance=10e-3)
    belief, made = prior(car, Sigmas()), 0
    for _ in range(3):
        plan = plan_perches(believed(car, belief), loads, goal, 0.0)
        if abs((loads[1] + loads[2]) / loads.sum() - 0.5) < goal.tolerance:
            break
        turns = plan.best.turns
        before = loads
        loads = loads + load_change(true, lift(true, car.perch_lead * turns))
        made += 1
        pattern = np.array([1 / 1.08, -1 / 1.08, -1 / 1.14, 1 / 1.14])
        moved = [float(pattern @ one / (pattern @ pattern)) for one in (before, loads)]
        belief = learn(car, belief, moved, [0.05] * 2, [turns]).belief
    assert abs((loads[1] + loads[2]) / loads.sum() - 0.5) < goal.tolerance
    assert 1 <= made <= 2
