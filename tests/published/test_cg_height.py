"""Height of the center of gravity by lifting an axle: published forms on an exact rigid body.

No published numeric example survived scrutiny, so several published formulas must return the
same height of the same body. Where they were read:

* course notes (Notes_07_04, citing ISO 10392), p. 4: https://studylib.net/doc/15091818/07_04
* Jazar, eq. 2.32: https://fliphtml5.com/wmjai/xhga/Vehicle_Dynamics/5/
* Crafter guidelines: http://www.vwn-aufbaurichtlinien.de/en/models/crafter/
  3-body-attachments-and-equipment/35-centre-of-gravity-heights/
* the trap: http://geocities.cmolabs.net/YAHOOIDS/M/o/MotorCity/4014/cgrav.html
* ISO 10392:2011, 6.2.2-6.2.6: https://mandarinseed.com/a/ISO/91.html
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import acos, asin, cos, hypot, radians, sin, sqrt, tan
from typing import Literal, NamedTuple

import numpy as np
import pytest
from uncertainties import ufloat

from balancer.car.conventions import GRAVITY
from balancer.weighing.cg_height import CgHeight, Lift, cg_height
from tests.published.printed import printed
from tests.sources import Read, half_digit, source

Axle = Literal["front", "rear"]

NOTES = "Notes_07_04, Vehicle Inertial Measurements (course notes, citing ISO 10392)"
JAZAR = "R. N. Jazar, Vehicle Dynamics: Theory and Application, Springer"
CRAFTER = "Volkswagen Crafter body builder guidelines"
TRAP = "cgrav.html (a hobbyist's derivation)"
ISO = "ISO 10392:2011"
OURS: Read = "formula read, numbers ours"


class Body(NamedTuple):
    """A rigid body on two wheels of a side view: kg and m."""

    mass: float = 1200.0
    wheelbase: float = 2.5
    aft: float = 1.1
    up: float = 0.52
    radii: tuple[float, float] = (0.30, 0.30)

    @property
    def weight(self) -> float:
        return self.mass * GRAVITY

    def lift_for(self, degrees: float) -> float:
        return self.wheelbase * sin(radians(degrees))

    def stays(self, axle: Axle, height: float) -> float:
        """Load [N] on the axle that stays when the other's wheel centers are lifted [m].

        The body turns about the wheel that stays; every wheel stands on level ground straight
        below its center.
        """
        rise = self.radii[1] - self.radii[0]
        across = hypot(self.wheelbase, rise)
        lifted = rise + (height if axle == "rear" else -height)
        turned = asin(lifted / across) - asin(rise / across)
        rear = self.wheelbase * cos(turned) - rise * sin(turned)
        center = self.aft * cos(turned) - (self.up - self.radii[0]) * sin(turned)
        front = self.weight * (rear - center) / rear
        return front if axle == "rear" else self.weight - front

    def lifts(self, axle: Axle, heights: Sequence[float], uncertainty: float = 1.0) -> list[Lift]:
        return [Lift(axle, height, self.stays(axle, height), uncertainty) for height in heights]

    def found(self, lifts: Sequence[Lift]) -> CgHeight:
        return cg_height(lifts, self.weight, self.wheelbase, self.radii, self.aft)


BODY = Body()
ANGLES = [5.0, 10.0, 20.0]


def from_the_notes(body: Body, axle: Axle, height: float) -> float:
    """h = r + l·(F' - F)/(W·tan θ)."""
    theta = asin(height / body.wheelbase)
    grown = body.stays(axle, height) - body.stays(axle, 0.0)
    return body.radii[0] + body.wheelbase * grown / (body.weight * tan(theta))


def from_jazar(body: Body, axle: Axle, height: float) -> float:
    """h = R + (F'·l/(m·g) - a₂)·cot φ, a₂ from the center of gravity to the lifted axle."""
    phi = asin(height / body.wheelbase)
    far = body.wheelbase - body.aft if axle == "rear" else body.aft
    beyond = body.stays(axle, height) * body.wheelbase / body.weight - far
    return body.radii[0] + beyond / tan(phi)


def from_the_crafter(body: Body, axle: Axle, height: float) -> float:
    """z = tan β·(X₁ - √(u² + X₂²)) above the wheel centers, cos β = a/RS₁, a the lift.

    G_v is the load on the axle that is lifted; X is from the axle that stays.
    """
    level, lifted = (body.weight - body.stays(axle, each) for each in (0.0, height))
    shortened = sqrt(body.wheelbase**2 - height**2)
    x_level = level * body.wheelbase / body.weight
    x_lifted = lifted * shortened / body.weight
    u = height * x_lifted / shortened
    beta = acos(height / body.wheelbase)
    return body.radii[0] + tan(beta) * (x_level - hypot(u, x_lifted))


FORMS = [
    pytest.param(
        from_the_notes, marks=pytest.mark.source(work=NOTES, place="p. 4", how=OURS), id="notes"
    ),
    pytest.param(
        from_jazar, marks=pytest.mark.source(work=JAZAR, place="eq. 2.32", how=OURS), id="Jazar"
    ),
    pytest.param(
        from_the_crafter,
        marks=pytest.mark.source(work=CRAFTER, place="sect. 3.5", how=OURS),
        id="Crafter",
    ),
]
BODIES = [
    BODY,
    Body(mass=780, wheelbase=2.29, aft=1.21, up=0.41, radii=(0.27, 0.27)),
    Body(mass=2018, wheelbase=2.83, aft=1.35, up=0.697, radii=(0.36, 0.36)),
]


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("axle", ["front", "rear"])
@pytest.mark.parametrize("degrees", ANGLES)
@pytest.mark.parametrize("form", FORMS)
def test_published_forms_and_ours_find_the_height(
    form: Callable[[Body, Axle, float], float], degrees: float, axle: Axle, body: Body
) -> None:
    height = body.lift_for(degrees)
    assert form(body, axle, height) == pytest.approx(body.up, rel=0, abs=1e-12)
    assert body.found(body.lifts(axle, [0.0, height])).up == pytest.approx(
        form(body, axle, height), rel=0, abs=1e-12
    )


VECTOR = [(5.0, "681.2388"), (10.0, "690.6201"), (20.0, "710.4353")]


@pytest.mark.parametrize(("degrees", "front"), VECTOR)
@source(NOTES, "p. 4, rear lifted by 5, 10 and 20 degrees", OURS)
def test_height_from_the_loads_of_the_vector(degrees: float, front: str) -> None:
    assert BODY.stays("rear", 0.0) / GRAVITY == printed("672.0000")
    assert BODY.stays("rear", BODY.lift_for(degrees)) / GRAVITY == printed(front)
    readings = [(0.0, 672.0), (BODY.lift_for(degrees), float(front))]
    found = BODY.found([Lift("rear", at, kg * GRAVITY, 1.0) for at, kg in readings])
    # What half a digit of the load is worth in height.
    worth = half_digit(front) * BODY.wheelbase / (BODY.mass * tan(radians(degrees)))
    assert found.up == pytest.approx(0.520, rel=0, abs=worth)


@pytest.mark.parametrize(
    ("degrees", "wrong", "percent"),
    [(5.0, "0.22084", "0.4"), (10.0, "0.22339", "1.5"), (20.0, "0.23412", "6.4")],
)
@source(TRAP, "eq. 9", OURS)
def test_the_trap_of_the_sine(degrees: float, wrong: str, percent: str) -> None:
    """ERRATUM: c = l²·(W' - W)/(H·M) has l/H = 1/sin θ where its own eq. 8 has cot θ."""
    height = BODY.lift_for(degrees)
    grown = (BODY.stays("rear", height) - BODY.stays("rear", 0.0)) / GRAVITY
    trap = BODY.wheelbase**2 * grown / (height * BODY.mass)
    assert trap == printed(wrong)
    above_axles = BODY.found(BODY.lifts("rear", [0.0, height])).up - BODY.radii[0]
    assert 100 * (trap / above_axles - 1) == printed(percent)


@pytest.mark.parametrize("order", [1, -1])
@source(ISO, "6.2.2-6.2.6: three or more lifts, both axles, load over the tangent", OURS)
def test_several_lifts_of_both_axles_are_one_straight_line(order: int) -> None:
    heights = [0.0, *(BODY.lift_for(degrees) for degrees in (4.0, 8.0, 12.0))]
    lifts = [*BODY.lifts("rear", heights), *BODY.lifts("front", heights)][::order]
    found = BODY.found(lifts)
    assert found.up == pytest.approx(BODY.up, rel=0, abs=1e-12)
    assert set(found.slopes) == {"rear", "front"}
    slope = BODY.weight * (BODY.up - BODY.radii[0]) / BODY.wheelbase
    assert list(found.slopes.values()) == pytest.approx([slope] * 2, rel=1e-12)
    assert found.residuals == pytest.approx(np.zeros(8), abs=1e-9)


@source(ISO, "6.2.2-6.2.6: also on the way down (hysteresis)", OURS)
def test_friction_on_the_way_up_and_down_cancels_and_shows() -> None:
    """Every load reads a little low going up and as much high coming down."""
    stuck, uncertainty = 15.0, 5.0
    heights = [BODY.lift_for(degrees) for degrees in (0.0, 5.0, 10.0, 15.0)]
    exact = BODY.lifts("rear", heights, uncertainty)
    going_up = [lift._replace(load=lift.load - stuck) for lift in exact]
    coming_down = [lift._replace(load=lift.load + stuck) for lift in reversed(exact)]
    found = BODY.found([*going_up, *coming_down])
    assert found.up == pytest.approx(BODY.up, rel=0, abs=1e-12)
    assert found.residuals == pytest.approx(np.repeat([-3.0, 3.0], 4), abs=1e-9)


@pytest.mark.parametrize("stray", range(4))
@source(ISO, "6.2.2-6.2.6: a straight line over the tangent", OURS)
def test_a_stray_reading_stands_out(stray: int) -> None:
    """What a reading that is off by d leaves: d·(1 - its leverage), in uncertainties."""
    heights = np.array([BODY.lift_for(degrees) for degrees in (0.0, 5.0, 10.0, 15.0)])
    lifts = BODY.lifts("rear", heights.tolist(), uncertainty=5.0)
    lifts[stray] = lifts[stray]._replace(load=lifts[stray].load + 100.0)
    line = np.column_stack([np.ones(4), np.tan(np.arcsin(heights / BODY.wheelbase))])
    hat = line @ np.linalg.pinv(line)
    residuals = BODY.found(lifts).residuals
    assert residuals == pytest.approx(100.0 / 5.0 * (np.eye(4) - hat)[stray], abs=1e-9)


RADII = [(0.28, 0.31), (0.31, 0.28)]


@pytest.mark.parametrize("radii", RADII)
@pytest.mark.parametrize("axle", ["front", "rear"])
@source(JAZAR, "eq. 2.35 has the mean of the radii; by geometry it is (R_f·b + R_r·a)/l", OURS)
def test_unequal_tires_one_axle(axle: Axle, radii: tuple[float, float]) -> None:
    """With small lifts the height of the axle line at the center of gravity is all there is.

    What is left out grows with the lift: 0.2 mm at 3 and 1.6 mm at 20 degrees for 30 mm between
    the radii, up for one axle as far as down for the other.
    """
    body = Body(radii=radii)
    for degrees, within in ((0.1, 1e-5), (3.0, 0.25e-3), (20.0, 1.6e-3)):
        found = body.found(body.lifts(axle, [0.0, body.lift_for(degrees)]))
        assert found.up == pytest.approx(body.up, rel=0, abs=within)


@pytest.mark.parametrize("radii", RADII)
@source(JAZAR, "eq. 2.35 has the mean of the radii; by geometry it is (R_f·b + R_r·a)/l", OURS)
def test_unequal_tires_both_axles(radii: tuple[float, float]) -> None:
    """The mean of the radii is off by (R_r - R_f)·(a/l - 1/2): 1.8 mm here."""
    body = Body(radii=radii)
    heights = [0.0, body.lift_for(5.0), body.lift_for(10.0)]
    found = body.found([*body.lifts("rear", heights), *body.lifts("front", heights)])
    assert found.up == pytest.approx(body.up, rel=0, abs=0.01e-3)
    middle = sum(radii) / 2
    mean = cg_height(
        [*body.lifts("rear", heights), *body.lifts("front", heights)],
        body.weight,
        body.wheelbase,
        (middle, middle),
        body.aft,
    )
    miss = (radii[1] - radii[0]) * (body.aft / body.wheelbase - 0.5)
    assert found.up - mean.up == pytest.approx(miss, rel=1e-9)


UNCERTAINTY = 0.5 * GRAVITY
READINGS = {
    "one lift": [("rear", 0.0, 3.0), ("rear", 0.4, 3.0)],
    "several, some surer": [
        ("rear", 0.0, 2.0),
        ("rear", 0.2, 5.0),
        ("rear", 0.4, 5.0),
        ("rear", 0.6, 9.0),
    ],
    "both axles": [
        ("rear", 0.0, 2.0),
        ("rear", 0.3, 5.0),
        ("rear", 0.5, 3.0),
        ("front", 0.0, 6.0),
        ("front", 0.0, 4.0),
        ("front", 0.35, 8.0),
    ],
}


@pytest.mark.parametrize("readings", READINGS.values(), ids=READINGS.keys())
@source(
    "JCGM 100:2008, Guide to the Expression of Uncertainty in Measurement",
    "5.1.2, carried out by the library uncertainties; numbers ours",
    "from memory",
)
def test_uncertainty_of_the_height_against_another_program(
    readings: list[tuple[Axle, float, float]],
) -> None:
    """One fit of a level load for each axle and one height for both, each with its uncertainty."""
    rng = np.random.default_rng(10392)
    lifts = [
        Lift(axle, height, BODY.stays(axle, height) + rng.normal(0, uncertainty), uncertainty)
        for axle, height, uncertainty in readings
    ]
    axles = sorted({lift.axle for lift in lifts})
    slope = BODY.weight / BODY.wheelbase
    design = np.array(
        [
            [*(float(lift.axle == axle) for axle in axles), slope * tan(asin(lift.height / 2.5))]
            for lift in lifts
        ]
    )
    root = 1 / np.array([lift.uncertainty for lift in lifts])
    solved = np.linalg.pinv(root[:, None] * design)[-1] * root
    height = BODY.radii[0] + sum(
        float(share) * ufloat(lift.load, lift.uncertainty)
        for share, lift in zip(solved, lifts, strict=True)
    )
    found = BODY.found(lifts)
    assert found.up == pytest.approx(height.nominal_value, rel=1e-9)
    assert found.scatter == pytest.approx(height.std_dev, rel=1e-9)
    assert found.uncertainty == pytest.approx(np.hypot(found.scatter, 0.025 * found.up), rel=1e-9)


@source(
    "JCGM 101:2008, Propagation of distributions using a Monte Carlo method",
    "numbers ours",
    "from memory",
)
def test_uncertainty_of_the_height_against_monte_carlo() -> None:
    rng = np.random.default_rng(101)
    exact = [
        *BODY.lifts("rear", [0.0, 0.25, 0.5], UNCERTAINTY),
        *BODY.lifts("front", [0.0, 0.4], 2 * UNCERTAINTY),
    ]
    trials = 4000
    found = [
        BODY.found(
            [lift._replace(load=rng.normal(lift.load, lift.uncertainty)) for lift in exact]
        ).up
        for _ in range(trials)
    ]
    uncertainty = BODY.found(exact).scatter
    # Four standard deviations of the spread and of the mean of this many trials.
    assert np.std(found) == pytest.approx(uncertainty, rel=4 / sqrt(2 * trials))
    assert np.mean(found) == pytest.approx(BODY.up, rel=0, abs=4 * uncertainty / sqrt(trials))


@source(NOTES, "p. 4: the height is divided by the tangent of the lift", OURS)
def test_a_lift_too_small_to_mean_anything() -> None:
    """The uncertainty of the height is l·√2·u/(W·tan θ): it grows as the lift shrinks."""
    steps = [0.5, 0.2, 0.1, 0.05, 0.02]
    found = [BODY.found(BODY.lifts("rear", [0.0, height], UNCERTAINTY)) for height in steps]
    for each, height in zip(found, steps, strict=True):
        theta = asin(height / BODY.wheelbase)
        expected = BODY.wheelbase * sqrt(2) * UNCERTAINTY / (BODY.weight * tan(theta))
        assert each.scatter == pytest.approx(expected, rel=1e-9)
        assert each.means == (np.hypot(expected, 0.025 * each.up) < 0.1)
    assert all(sure.uncertainty < less.uncertainty for sure, less in pairwise(found))
    assert found[0].means
    assert not found[-1].means


@pytest.mark.parametrize(
    "lifts",
    [
        [],
        BODY.lifts("rear", [0.3]),
        BODY.lifts("rear", [0.3, 0.3]),
        [*BODY.lifts("rear", [0.0, 0.3]), *BODY.lifts("front", [0.0])],
        [*BODY.lifts("rear", [0.0]), Lift("rear", BODY.wheelbase, 7000.0, 1.0)],
    ],
    ids=["nothing", "no level reading", "twice the same", "one of two axles", "upright"],
)
@source(ISO, "6.2.2-6.2.6: level and lifted readings of an axle", OURS)
def test_lifts_that_say_nothing_are_refused(lifts: list[Lift]) -> None:
    with pytest.raises(ValueError, match="lift"):
        BODY.found(lifts)
