"""Which weigh-ins and which turns count in a session, and how far each counts."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt
from typing import Any

import numpy as np
import pytest

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.corner import Mount
from balancer.car.curves import ForceCurve
from balancer.car.linear import lift, load_change
from balancer.car.model import Car, Scales, plain_car
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import PerchPlan
from balancer.planning.session.belief import Belief, Sigmas, prior
from balancer.planning.session.diagonal import (
    cross_per_diagonal,
    diagonal_load,
    gain,
    gain_uncertainty,
    scatter_of,
)
from balancer.planning.session.expected import expected
from balancer.planning.session.learning import learn
from balancer.planning.session.lessons import UNTURNED, lessons, remembering, surprise, unturned
from balancer.planning.session.plan import believed_plan
from balancer.planning.session.scatter import EXACTLY
from balancer.planning.session.session import (
    Session,
    travel_left,
    undone,
    weighed,
    with_made,
    without_made,
)
from balancer.planning.session.step import Step, _both, _turning, step
from balancer.weighing.weigh import Readings, WeighIn, weigh
from tests.benchmarks.test_convergence import WELL, Trial
from tests.cars import cornered
from tests.seeds import seeds

LOADS = np.array([2950.0, 2850.0, 2350.0, 2350.0])
EVEN = np.array([-1.0, 1.0, 1.0, -1.0])
PADS = Scales(accuracy=0, common_accuracy=0, resolution=0, repeatability=2.0)


def car_with(travel: tuple[float, float]) -> Car:
    return replace(plain_car(), scales=PADS, perch_travel=np.tile(np.array(travel), (4, 1)))


def after(car: Car, loads: Floats, turns: Floats, share: float = 1.0) -> Floats:
    """Give the loads when the car answers by so much of what its file says."""
    return loads + share * load_change(car, lift(car, car.perch_lead * turns))


def exact(car: Car, sigmas: Sigmas | None = None) -> Belief:
    """Give what is believed of a car that always comes to rest in one place."""
    return prior(car, sigmas or Sigmas())._replace(settling=EXACTLY)


def begun(car: Car, *shown: Floats, cross: float = 0.5) -> Session:
    """Weigh a car a few times, with nothing turned in between."""
    session = Session(car, exact(car), PerchGoal.level(cross))
    for loads in shown:
        session = weighed(session, weigh(car, Readings.of(loads)))
    return session


def went_on(session: Session, turns: Floats, loads: Floats) -> Session:
    return weighed(session, weigh(session.car, Readings.of(loads)), turns)


def limits(found: Step) -> set[tuple[str, ...]]:
    return {limit.kinds for limit in found.plan.limits}


def test_a_plan_stays_within_the_travel_that_turns_have_left() -> None:
    """Two turns at each corner are made, half a turn is left; what is wanted takes far more."""
    car, two = car_with((-2.5, 2.5)), 2 * EVEN
    session = went_on(begun(car, LOADS, cross=0.56), two, after(car, LOADS, two))
    assert travel_left(session).tolist() == [[-0.5, 4.5], [-4.5, 0.5], [-4.5, 0.5], [-0.5, 4.5]]
    found = step(session)
    assert found.plan.status == "closest"
    assert found.stop == ""
    assert limits(found) == {("travel",)}
    assert found.plan.best.turns.tolist() == [-0.5, 0.5, 0.5, -0.5]


def test_a_plan_is_out_of_reach_where_all_travel_is_spent() -> None:
    car, all_of_it = car_with((-2.5, 2.5)), 2.5 * EVEN
    session = went_on(begun(car, LOADS, cross=0.56), all_of_it, after(car, LOADS, all_of_it))
    found = step(session)
    assert found.plan.best.corners == 0
    assert found.stop == "out_of_reach"


def test_turns_made_back_give_travel_back() -> None:
    car = car_with((-2.5, 2.5))
    session = went_on(begun(car, LOADS), 2 * EVEN, after(car, LOADS, 2 * EVEN))
    session = went_on(session, -2 * EVEN, LOADS)
    assert travel_left(session).tolist() == [[-2.5, 2.5]] * 4


def test_travel_is_spent_at_the_mount_that_was_turned() -> None:
    car = cornered(car_with((-2.5, 2.5)))
    corners = [one._replace(shock_travel=0.05) for one in car.corners]
    corners[0] = corners[0]._replace(mount=Mount(1e-3, 0.25, (-4.0, 6.0)))
    session = begun(replace(car, corners=tuple(corners)), LOADS)
    session = went_on(session, np.array([1.0, 0.5, 0, 0]), LOADS)
    assert travel_left(session).tolist() == [[-5, 5], [-3, 2], [-2.5, 2.5], [-2.5, 2.5]]


def test_turns_after_the_last_weigh_in_do_not_count_yet() -> None:
    """The plan is for the car as it was weighed, until it is weighed again."""
    car = car_with((-2.5, 2.5))
    session = went_on(begun(car, LOADS, cross=0.56), EVEN, after(car, LOADS, EVEN))
    said = with_made(session, EVEN)
    assert travel_left(said).tolist() == travel_left(session).tolist()
    one, other = step(session), step(said)
    assert one.plan.best.turns.tolist() == other.plan.best.turns.tolist() == [-1.5, 1.5, 1.5, -1.5]
    assert other.learned.belief.mean.tolist() == one.learned.belief.mean.tolist()
    assert len(without_made(said).made) == 1


def test_what_was_said_last_is_what_was_made() -> None:
    car = car_with((-10, 10))
    session = with_made(with_made(begun(car, LOADS), 3 * EVEN), EVEN)
    session = went_on(session, 9 * EVEN, after(car, LOADS, EVEN))
    assert [one.tolist() for one in session.made] == [EVEN.tolist()]
    assert undone(session).made == ()
    assert len(undone(session).weigh_ins) == 1
    assert undone(undone(session)).weigh_ins == ()
    assert without_made(with_made(begun(car, LOADS), EVEN)).made == ()


def test_a_weigh_in_that_no_turn_explains_begins_anew() -> None:
    """What comes after is learned as if the session had begun there."""
    car = car_with((-10, 10))
    odd = LOADS + np.array([300.0, -300, -300, 300])
    third = after(car, odd, 2 * EVEN, 0.9)
    fourth = after(car, third, -3 * EVEN, 0.9)
    session = went_on(begun(car, LOADS), EVEN, odd)
    session = went_on(went_on(session, 2 * EVEN, third), -3 * EVEN, fourth)
    fresh = went_on(went_on(begun(car, odd), 2 * EVEN, third), -3 * EVEN, fourth)
    found, alone = step(session), step(fresh)
    assert found.disbelieved == (1,)
    assert alone.disbelieved == ()
    assert found.learned.belief.mean == pytest.approx(alone.learned.belief.mean, abs=1e-12)
    assert found.learned.diagonal == pytest.approx(alone.learned.diagonal, abs=1e-9)
    assert found.learned.diagonal_uncertainty == pytest.approx(
        alone.learned.diagonal_uncertainty, abs=1e-12
    )
    # The car answers by 0.9 each time: nearly all of it is learned.
    learned = gain(car, found.learned.belief.mean, EVEN) / gain(car, np.zeros(3), EVEN)
    assert learned == pytest.approx(0.9, abs=0.02)


def test_what_was_learned_before_an_odd_weigh_in_is_kept() -> None:
    car = car_with((-10, 10))
    second = after(car, LOADS, 2 * EVEN, 0.9)
    odd = second + np.array([300.0, -300, -300, 300])
    before = went_on(begun(car, LOADS), 2 * EVEN, second)
    found = step(went_on(before, EVEN, odd))
    assert found.disbelieved == (2,)
    assert found.learned.belief.mean.tolist() == step(before).learned.belief.mean.tolist()
    assert found.learned.diagonal == pytest.approx(diagonal_load(car, odd), rel=1e-12)


@pytest.mark.parametrize(
    ("uncertainties", "odd"), [(4.9, False), (5.1, True), (-4.9, False), (-5.1, True)]
)
def test_five_uncertainties_are_too_many(uncertainties: float, odd: bool) -> None:
    """The uncertainty of a change: of the answer, of one reading, and of the mean of four."""
    car = car_with((-10, 10))
    belief, scatter = prior(car, Sigmas()), scatter_of(car, PADS, 1)
    wanted = gain(car, np.zeros(3), EVEN)
    uncertainty = hypot(gain_uncertainty(car, belief, EVEN), scatter, scatter / 2)
    share = 1 + uncertainties * uncertainty / wanted
    four = np.tile(after(car, LOADS, EVEN, share), (4, 1))
    weigh_in = weigh(car, Readings(four, np.zeros(4), np.zeros(4)))
    assert surprise(begun(car, LOADS), weigh_in, EVEN) == pytest.approx(
        abs(uncertainties), rel=1e-9
    )
    found = step(weighed(begun(car, LOADS), weigh_in, EVEN))
    assert found.disbelieved == ((1,) if odd else ())
    assert bool(np.any(found.learned.belief.mean)) == (not odd)


@pytest.mark.parametrize(("uncertainties", "odd"), [(4.9, False), (5.1, True), (-5.1, True)])
def test_what_is_far_off_with_nothing_turned_begins_anew(uncertainties: float, odd: bool) -> None:
    """Two readings are apart by √2 times what one scatters; a car that rests in one place."""
    car = car_with((-10, 10))
    one = scatter_of(car, PADS, 1) / diagonal_load(car, EVEN)
    found = step(begun(car, LOADS, LOADS + uncertainties * sqrt(2) * one * EVEN))
    assert found.disbelieved == ((1,) if odd else ())


def test_the_usual_uncertainties_of_a_file() -> None:
    """8 % springs and 15 % tires corner by corner, 5 % ratios axle by axle, 2 hundredths a turn.

    On this car springs give way 210/(210 + 70·0.68²) of the whole at every corner.
    """
    car = plain_car(2.4, (1.5, 1.5), (70e3, 70e3), (0.68, 0.68), (210e3, 210e3))
    springs = 210 / (210 + 70 * 0.68**2)
    tires = 1 - springs
    variance = (0.08 * springs) ** 2 / 4 + (0.15 * tires) ** 2 / 4 + (2 * 0.05 * springs) ** 2 / 2
    covariance = prior(car, Sigmas()).covariance
    assert covariance[0, 0] == pytest.approx(variance, rel=1e-12)
    assert covariance[0, 1:3] == pytest.approx(-springs * 0.05**2, rel=1e-12)
    assert covariance[1:3, 1:3] == pytest.approx(np.diag([0.05**2] * 2), rel=1e-12)
    # Four corners turned, each within 0.02 turns: half of that on the whole set of four.
    sure = Belief(np.zeros(3), np.zeros((3, 3)))
    assert gain_uncertainty(car, sure, EVEN) == pytest.approx(
        0.01 * abs(gain(car, np.zeros(3), EVEN)), rel=1e-12
    )
    assert gain_uncertainty(car, sure, np.array([0, 3.0, 0, 0])) == pytest.approx(
        0.02 * abs(gain(car, np.zeros(3), np.array([0, 1.0, 0, 0]))), rel=1e-12
    )


def test_a_frame_may_be_off_by_three_tenths() -> None:
    """A frame on rigid axles and tires: its own twist and the tires are all that gives way."""
    kart = replace(
        plain_car(1.05, (1.1, 1.1), (np.inf, np.inf), (1.0, 1.0), (120e3, 120e3)),
        torsional_stiffness=5e3,
    )
    tires = 4 / 1.1**2 / 120e3
    frame = 1 / 5e3
    expected_variance = (0.15**2 / 4) * tires**2 + 0.3**2 * frame**2
    assert prior(kart, Sigmas()).covariance[0, 0] == pytest.approx(
        expected_variance / (tires + frame) ** 2, rel=1e-9
    )


def test_one_re_weigh_by_bayes() -> None:
    """One number, one linear reading: the textbook update of a Gaussian, on pads that are sure.

    The slope of ln λ over the three logarithms is that of the turns' share of each axle.
    """
    car = car_with((-10, 10))
    whole, scatter = prior(car, Sigmas()), 1e-3
    file = Belief(whole.mean[:3], whole.covariance[:3, :3])
    answer = gain(car, np.zeros(3), EVEN)
    share = 1 + 1e-5
    found = learn(car, file, [0.0, share * answer], [scatter] * 2, [EVEN])
    # Turns of ± 1 on equal tracks and ratios: half of the answer is each axle's.
    pattern = 1 / car.tracks / car.motion_ratio[[0, 2]]
    front = pattern[0] / pattern.sum()
    slope = -answer * np.array([1.0, front, 1 - front])
    noise = 2 * scatter**2 + gain_uncertainty(car, Belief(np.zeros(3), np.zeros((3, 3))), EVEN) ** 2
    kalman = file.covariance @ slope / (slope @ file.covariance @ slope + noise)
    assert found.belief.mean == pytest.approx(kalman * (share - 1) * answer, rel=1e-3)
    left = file.covariance - np.outer(kalman, slope @ file.covariance)
    assert found.belief.covariance == pytest.approx(left, rel=1e-3, abs=1e-9)


def test_where_turns_will_bring_it() -> None:
    """What is expected is what the belief says of the turns, from where the last weigh-in is."""
    car = replace(plain_car(tracks=(1.55, 1.4)), scales=PADS)
    session = begun(car, LOADS)
    loads = after(car, LOADS, EVEN)
    cross, uncertainty = expected(session, EVEN)
    assert cross == pytest.approx((loads[1] + loads[2]) / loads.sum(), rel=1e-12)
    still, scatter = expected(session, np.zeros(4))
    assert still == pytest.approx((LOADS[1] + LOADS[2]) / LOADS.sum(), rel=1e-12)
    # Four pads that scatter by 2 N each, along the free pattern ± 1/t.
    tracks = car.tracks
    level = 2.0 / sqrt(2 * (1 / tracks**2).sum())
    assert scatter == pytest.approx((1 / tracks).sum() * level / LOADS.sum(), rel=1e-9)
    moved = gain_uncertainty(car, session.belief, EVEN) * (1 / tracks).sum() / LOADS.sum()
    assert uncertainty == pytest.approx(hypot(scatter, moved), rel=1e-9)


def test_the_next_turns_count_and_what_the_last_ones_taught() -> None:
    car = replace(plain_car(tracks=(1.55, 1.4)), scales=PADS)
    session = went_on(begun(car, LOADS), 3 * EVEN, after(car, LOADS, 3 * EVEN, 0.92))
    found, per = step(session), -(1 / car.tracks).sum() / LOADS.sum()
    moved = gain(car, found.learned.belief.mean, -EVEN) * per
    assert moved / (gain(car, np.zeros(3), -EVEN) * per) < 0.96
    assert expected(session, -EVEN)[0] == pytest.approx(found.cross + moved, rel=1e-9)
    moves = found.plan.best._replace(turns=-EVEN)
    turning = _turning(session, replace(found.plan, best=moves), per, 0.5)
    assert turning.by == pytest.approx(np.full(turning.by.shape, moved), rel=0.02)


def test_before_any_turns_a_plan_is_as_sure_as_the_readings(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Others who plan have nothing else. Four pads of 2 N: 2 N of the total, loads being even."""
    known = []

    def noted(*asked: Any, **more: Any) -> PerchPlan:
        known.append(asked[3])
        return believed_plan(*asked, **more)

    monkeypatch.setattr("balancer.planning.session.step.believed_plan", noted)
    level, car = np.full(4, 2500.0), replace(plain_car(), scales=PADS)
    loose = replace(begun(car), belief=prior(car, Sigmas()))
    step(weighed(loose, weigh(car, Readings.of(level))))
    # Read twice, and always at rest in one place, it is the mean of two.
    step(begun(car, level, level))
    assert known == pytest.approx([2e-4, 2e-4 / sqrt(2)], rel=1e-6)


def test_what_is_known_and_read_once_more_is_between_the_two() -> None:
    """1/√(1/3² + 1/4²)."""
    assert _both(3.0, 4.0) == pytest.approx(2.4)


def in_uncertainty(cross: float, scatter: float) -> Step:
    """Weigh a car whose cross weight is this, on pads that scatter by so many kilograms."""
    pads = PADS._replace(repeatability=scatter * GRAVITY)
    car = replace(plain_car(tracks=(1.5, 1.5)), scales=pads)
    off = (cross - 0.5) * 10_000 / 2
    loads = 2500 + off * np.array([-1.0, 1, 1, -1])
    return step(begun(car, loads))


def test_a_session_stops_when_another_weighing_is_not_worth_it() -> None:
    """0.1 points off with ± 0.2 allowed; ± is σ = 2·kg·g/√4/10000 of a cross weight.

    P(within) = Φ(0.1/σ) - Φ(-0.3/σ) is 0.9 where σ is 0.078 points: of what is left, half is what
    another weighing costs.
    """

    def sigma(scatter: float) -> float:
        return 100 * scatter * GRAVITY / 10_000

    sure, unsure = in_uncertainty(0.501, 0.76), in_uncertainty(0.501, 0.84)
    assert sigma(0.76) < 0.0780 < sigma(0.84)
    assert (sure.stop, unsure.stop) == ("in_tolerance", "")
    assert (sure.settle_again, unsure.settle_again) == (False, True)
    assert not unsure.plan.best.turns.any()
    assert unsure.plan.alternatives[0].turns.any()
    assert sure.in_tolerance
    assert unsure.in_tolerance
    # Loads of 50.1 % count by 0.499 and 0.501.
    each = hypot(0.499, 0.501) * sqrt(2)
    assert sure.cross_uncertainty == pytest.approx(each * sigma(0.76) / 100, rel=1e-5)
    # Having settled once, nothing is called surer.
    assert sure.confidence == 0.9 > unsure.confidence
    # Φ(-0.3/0.3) counts where pads are as unsure as that: Φ(1/3) - Φ(-1) = 0.6306 - 0.1587.
    vague = in_uncertainty(0.501, 0.3e-2 * 10_000 / GRAVITY)
    assert vague.confidence == pytest.approx(0.4719, abs=1e-4)


def test_what_the_pads_hardly_see_is_weighed_again_and_what_they_never_see_is_left() -> None:
    assert in_uncertainty(0.506, 1.0).plan.best.turns.any()
    assert in_uncertainty(0.506, 3.3).settle_again
    assert in_uncertainty(0.506, 30.0).stop == "below_the_scales"
    assert not in_uncertainty(0.506, 30.0).in_tolerance


def test_the_edge_of_the_tolerance_is_within_it() -> None:
    assert in_uncertainty(0.502, 0.1).in_tolerance
    assert in_uncertainty(0.498, 0.1).in_tolerance
    assert not in_uncertainty(0.50201, 0.1).in_tolerance


def test_perfect_pads_are_sure() -> None:
    """No scatter, no doubt: the cross weight is what was read, and the slightest slip is told."""
    car = replace(plain_car(), scales=Scales(0.0, 0.0, 0.0, 0.0))
    found = step(begun(car, LOADS))
    assert found.cross == pytest.approx(5200 / 10_500, rel=1e-12)
    assert found.cross_uncertainty < 1e-9
    assert found.confidence == 0.0
    sure = replace(begun(car, LOADS), belief=exact(car, Sigmas(1e-5, 1e-5, 1e-5)))
    hundredth = 0.01 * EVEN
    uncertainty = gain_uncertainty(car, sure.belief, hundredth)
    weigh_in = weigh(car, Readings.of(after(car, LOADS, hundredth, 3.0)))
    missed = 2 * abs(gain(car, np.zeros(3), hundredth))
    assert surprise(sure, weigh_in, hundredth) == pytest.approx(missed / uncertainty, rel=1e-3)
    again = weigh(car, Readings.of(after(car, LOADS, EVEN, 0.9)))
    taught = step(weighed(begun(car, LOADS), again, EVEN)).learned
    assert taught.diagonal == pytest.approx(diagonal_load(car, again.loads), abs=1e-5)
    assert gain(car, taught.belief.mean, EVEN) / gain(car, np.zeros(3), EVEN) < 0.95


def test_accuracy_of_the_pads_is_in_the_uncertainty() -> None:
    """Each of four pads off by 1 % on its own: √Σ(0.01·N·∂c/∂N)²; c = 4/11, so 4 and 7 count."""
    car = replace(plain_car(), scales=Scales(0.01, 0.0, 0.0, 0.0))
    found = step(begun(car, np.array([3000.0, 2000, 2000, 4000])))
    off = hypot(3000 * 4, 2000 * 7, 2000 * 7, 4000 * 4) / 11
    assert found.cross_uncertainty == pytest.approx(0.01 * off / 11_000, rel=1e-9)


def test_the_last_turns_are_those_that_surprise() -> None:
    """An honest answer to the second set is none to the first, which was three times as large."""
    car = car_with((-10, 10))
    second = after(car, LOADS, 3 * EVEN)
    session = went_on(begun(car, LOADS), 3 * EVEN, second)
    honest = weigh(car, Readings.of(after(car, second, -EVEN)))
    assert surprise(session, honest, -EVEN) == pytest.approx(0.0, abs=1e-9)
    # And where nothing was turned last, nothing surprises.
    assert surprise(session, honest) == 0.0


def test_real_corners_stand_where_the_first_weigh_in_and_the_turns_have_put_them() -> None:
    """A spring twice as stiff from 12 mm on: three turns up push the right front beyond it.

    Rates 40 kN/m and ratio 1, so that 2450 N close the spring by 61.25 mm less what preload adds:
    the knee is put 3 mm above, and three turns of 1.5 mm each raise this corner's load.
    """
    car = cornered(plain_car(2.4, (1.5, 1.5), (40e3, 40e3), (1.0, 1.0)))
    loads = np.full(4, 2450.0)
    knee = (2450.0 - car.unsprung_mass[1] * GRAVITY) / 40e3 + 2e-3
    corners = list(car.corners)
    corners[1] = corners[1]._replace(
        spring=ForceCurve(np.array([0.0, knee]), np.array([40e3, 80e3]))
    )
    car = replace(car, corners=tuple(corners), scales=PADS)
    made = np.array([0.0, 3.0, 3.0, 0.0])
    later = loads + np.array([-1.0, 1, 1, -1]) * 200
    session = went_on(begun(car, loads), made, later)
    stiffer, softer = (step(one).plan.per_turn.cross[1] for one in (session, begun(car, loads)))
    assert stiffer > 1.02 * softer


def test_nothing_is_planned_or_turned_before_a_weigh_in() -> None:
    empty = Session(plain_car(), prior(plain_car(), Sigmas()), PerchGoal.level(0.5))
    for use in (step, lambda one: with_made(one, EVEN)):
        with pytest.raises(ValueError, match="nothing has been weighed"):
            use(empty)
    assert undone(empty).weigh_ins == ()
    assert without_made(empty).made == ()
    assert travel_left(empty).tolist() == plain_car().perch_travel.tolist()


def test_hardly_a_good_user_is_asked_whether_the_turns_were_made() -> None:
    """Cars whose rates are as far off as files are, some of which bind, and all turns made."""
    asked, told, seen = 0, 0, 0
    for seed in seeds(200, 10):
        trial = Trial(seed, WELL)
        trial.settling = 0.001 * (seed % 4 == 0)
        session, planned = Session(trial.file, prior(trial.file, WELL), PerchGoal.level(0.5)), None
        for _ in range(3):
            session = remembering(weighed(session, trial.read(), planned))
            asked += unturned(session) > UNTURNED
            found = step(session)
            if found.stop:
                break
            planned = found.plan.best.turns
            told += bool(planned.any())
            # The same pads, and nobody has turned; what is known of how it rests is as usual.
            forgotten = weighed(session, session.weigh_ins[-1], planned)
            moved = abs(found.plan.best.shares.cross - found.cross)
            seen += unturned(forgotten) > UNTURNED
            assert moved < 0.004 or unturned(forgotten) > UNTURNED or len(session.weigh_ins) > 1
            trial.turn(planned)
    print(f"asked in vain {asked} times after {told} sets of turns, and after {seen} not made")
    assert asked <= told / 50


def test_what_began_anew_has_settled_once() -> None:
    """Nine settlings would be as sure as 0.95; but eight of them are of another car."""
    car = car_with((-10, 10))
    level = np.array([2650.0, 2650, 2600, 2600])
    found = step(went_on(begun(car, *[level + 300 * EVEN] * 8), EVEN, level))
    assert found.disbelieved == (8,)
    assert found.confidence == 0.9


def test_what_turns_are_to_do_is_by_what_was_learned() -> None:
    """A car that answers by 0.8 is planned for so, and how unsure that is has become less."""
    car, cross = car_with((-10, 10)), 0.52
    session = went_on(begun(car, LOADS, cross=cross), EVEN, after(car, LOADS, EVEN, 0.8))
    found = step(session)
    turns = found.plan.best.turns
    per = cross_per_diagonal(car, LOADS.sum())
    turning = _turning(session, found.plan, per, cross)
    promised = found.plan.best.shares.cross
    assert turns.any()
    assert turning.by[0] == pytest.approx(promised - found.cross, rel=0.01)
    assert turning.miss == pytest.approx(promised - cross, abs=1e-9)
    unsure = gain_uncertainty(car, found.learned.belief, turns)
    assert turning.sds[0] == pytest.approx(abs(per) * unsure, rel=1e-3)


def test_turns_not_made_by_bayes() -> None:
    """A tenth of a turn, and it reads as before: two normals, on a car that rests in one place.

    One set of turns in fifty is a slip: to be as likely as not, it has to be 49 times as likely
    by the reading.
    """
    car, tenth = car_with((-10, 10)), 0.1 * EVEN
    again = went_on(begun(car, LOADS), tenth, LOADS)
    scatter, answer = sqrt(2) * scatter_of(car, PADS, 1), gain(car, np.zeros(3), tenth)
    unsure = hypot(scatter, gain_uncertainty(car, again.belief, tenth))
    ratio = unsure / scatter * np.exp((answer / unsure) ** 2 / 2)
    assert unturned(again) == pytest.approx(ratio, rel=1e-6)
    assert pytest.approx(0.98 / 0.02) == UNTURNED
    assert unturned(begun(car, LOADS, LOADS)) == unturned(begun(car, LOADS)) == 0.0
    # The last turns are asked about, and no others.
    assert unturned(went_on(begun(car, LOADS, LOADS), tenth, LOADS)) > 1
    assert unturned(went_on(again, np.zeros(4), LOADS)) == 0.0
    # It reads as before within two standard deviations of a difference.
    one = scatter / diagonal_load(car, EVEN)
    assert unturned(went_on(begun(car, LOADS), tenth, LOADS + 1.9 * one * EVEN)) > 0
    assert unturned(went_on(begun(car, LOADS), tenth, LOADS + 2.1 * one * EVEN)) == 0.0


def test_each_weigh_in_scatters_as_often_as_it_was_read() -> None:
    car = car_with((-10, 10))
    four = weigh(car, Readings(np.tile(LOADS, (4, 1)), np.zeros(4), np.zeros(4)))
    taught = lessons(weighed(begun(car, LOADS), four))
    assert [float(each.scatter[0]) for each in taught] == pytest.approx(
        [scatter_of(car, PADS, 1), scatter_of(car, PADS, 4)], rel=1e-9
    )


def test_a_linear_car_is_as_sure_to_answer_as_its_file_has_it() -> None:
    car, turns = car_with((-10, 10)), 2 * EVEN
    shown = after(car, LOADS, turns, 0.9)
    found = step(went_on(begun(car, LOADS), turns, shown)).learned
    diagonals = [diagonal_load(car, loads) for loads in (LOADS, shown)]
    by_itself = learn(car, exact(car), diagonals, [scatter_of(car, PADS, 1)] * 2, [turns])
    assert found.belief.mean == pytest.approx(by_itself.belief.mean, rel=1e-6)
    assert found.belief.covariance == pytest.approx(by_itself.belief.covariance, rel=1e-6)


def test_turns_not_made_teach_nothing() -> None:
    car = car_with((-10, 10))
    again: WeighIn = weigh(car, Readings.of(LOADS + 3.0))
    assert surprise(begun(car, LOADS), again) == 0.0
    assert not np.any(step(weighed(begun(car, LOADS), again)).learned.belief.mean)
