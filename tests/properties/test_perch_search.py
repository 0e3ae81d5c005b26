"""What a search prefers, step by step, and what it says of its result: no proof that is none."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count
from math import inf
from typing import Any, Self

import numpy as np
import pytest

from balancer.car.conventions import Floats, Integers
from balancer.car.model import plain_car
from balancer.planning.perches import linear_problem, milp
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.linear_problem import LinearProblem
from balancer.planning.perches.plan import _recommended, plan_perches
from balancer.planning.perches.search import best_steps, first_to_meet, least_height
from balancer.planning.perches.steps import AIMS, MEETING, NEAREST, Aim, Best, Solution, Tried
from balancer.planning.solver import Solved, solve

LOADS = np.array([2950.0, 2850.0, 2350.0, 2350.0])
LEAN = LinearProblem(
    cross_off=0.01,
    cross_per_step=np.full(4, -0.002),
    heights_off=np.zeros(4),
    height_per_step=np.eye(4) / 1e3,
    tolerance=0.002,
    height_tolerance=1e-3,
    least=np.full(4, -9),
    most=np.full(4, 9),
    turns_per_step=np.full(4, 0.25),
)
"""Four steps up, no two at one corner, or five anywhere: the latter spoil the heights."""


def answering(answers: dict[int, Solved]) -> Callable[..., Solved]:
    """Solve, but at some calls, counted from 0, say what is given."""
    calls = count()

    def say(*asked: Any) -> Solved:
        return answers.get(next(calls)) or solve(*asked)

    return say


NOTHING_YET = Solved(None, proved=False)


@pytest.fixture
def _by_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(linear_problem, "MOST_NODES", -1)


@pytest.mark.usefixtures("_by_solver")
def test_a_solver_out_of_time_leaves_the_car_as_it_is_and_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(milp, "solve", lambda *_: NOTHING_YET)
    found = best_steps(LEAN, 2)
    assert found is not None
    assert (found.steps.tolist(), found.proved) == ([0, 0, 0, 0], False)
    assert plan_perches(plain_car(), LOADS, PerchGoal.level(0.55)).status == "gave_up"


@pytest.mark.usefixtures("_by_solver")
@pytest.mark.parametrize("call", [0, 1])
def test_what_a_solver_has_not_shown_to_be_out_of_reach_may_be_within(
    call: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two corners meet one tolerance, not both; that the first search ended is what proves it."""
    found = best_steps(LEAN, 2)
    assert found is not None
    assert (found.cross_met, found.heights_met, found.proved) == (False, True, True)
    monkeypatch.setattr(milp, "solve", answering({call: NOTHING_YET}))
    late = best_steps(LEAN, 2)
    assert late is not None
    assert not late.proved


@pytest.mark.usefixtures("_by_solver")
def test_an_optimum_not_proved_is_not_called_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def unproved(*asked: Any) -> Solved:
        return solve(*asked)._replace(proved=False)

    proved = plan_perches(plain_car(), LOADS, PerchGoal.level(0.5))
    monkeypatch.setattr(milp, "solve", unproved)
    plan = plan_perches(plain_car(), LOADS, PerchGoal.level(0.5))
    assert (proved.status, plan.status) == ("reached", "reached")
    assert (proved.best.proved, plan.best.proved) == (True, False)


class Five(LinearProblem):
    """A problem of five adjusters that are all needed."""

    __slots__ = ()

    def candidates(self, adjusters: int | None, best: Best) -> Iterator[Integers]:
        """Yield the one way to touch so many."""
        assert best.complete
        yield (np.arange(5)[None] < (adjusters or 0)).astype(np.int64)

    def cut(self, parts: int) -> Self:
        """Not asked for."""
        raise NotImplementedError(parts)

    def within(self, least: Integers, most: Integers) -> Self:
        """Not asked for."""
        raise NotImplementedError(least, most)


class Stalled(Five):
    """A problem whose search ends before it has anything."""

    __slots__ = ()

    def candidates(self, adjusters: int | None, best: Best) -> Iterator[Integers]:
        """Yield nothing, and say that it was not all."""
        best.complete = adjusters is None
        return iter(())


def test_a_search_that_ends_with_nothing_leaves_the_car_as_it_is_and_says_so() -> None:
    best = best_steps(Stalled(*LEAN), 2)
    assert best is not None
    assert (best.steps.tolist(), best.proved) == ([0] * 4, False)


@pytest.mark.parametrize(("needed", "found"), [(1, True), (4, True), (5, False)])
def test_nobody_is_sent_to_more_than_four_adjusters(needed: int, found: bool) -> None:
    zero, one = np.zeros(5), np.ones(5, dtype=int)
    problem = Five(-0.01 * needed, zero + 0.01, zero, np.eye(5), 1e-3, 2.0, -one, one, one)
    met = first_to_meet(problem)
    assert (met is not None) == found
    if met is not None:
        assert np.count_nonzero(met.steps) == needed


ORDERS = (
    (True, True, ("stops", "turns", "cross", "height")),
    (False, True, ("cross", "turns", "height", "stops")),
    (True, False, ("height", "turns", "cross", "stops")),
    (False, False, ("cross", "height", "turns", "stops")),
)
"""What is held, and the order of what is then preferred: as `search.best_steps` tells it."""


def tried(steps: Any, off: Any, height: Any, **more: Any) -> Tried:
    """Make candidates on quarter turns, within 2 ‰ and 1 mm."""
    none = np.zeros(len(steps), dtype=np.int64)
    usual: dict[str, Any] = {"turns_per_step": np.full(4, 0.25), "tolerances": (2e-3, 1e-3)}
    usual |= {"stops": none, "idle": none > 0}
    return Tried(np.array(steps), off=np.array(off), height=np.array(height), **{**usual, **more})


def random_candidates(seed: int) -> Tried:
    """Make candidates full of ties: mirrored, the other way, at the other axle."""
    rng = np.random.default_rng([seed, 61])
    some = rng.integers(-1, 2, (12, 4)) * rng.integers(1, 3 - seed % 2)
    mirrored, axles = some[:, [1, 0, 3, 2]], some[:, [2, 3, 0, 1]]
    front, rear = rng.choice([0.25, 0.5], 2) if seed % 2 else (0.25, 0.25)
    return tried(
        np.vstack([axles, some, mirrored, -some, -mirrored]),
        np.tile(rng.choice([-3e-3, -1e-3, 1e-3, 2e-3], 12), 5),
        np.tile(rng.choice([5e-4, 1e-3, 2e-3], 12), 5),
        turns_per_step=np.array([front, front, rear, rear]),
        stops=np.tile(rng.integers(0, 2, 12), 5),
        idle=np.tile(rng.random(12) < 0.3, 5),
    )


def preferred(some: Tried, aim: Aim, order: tuple[str, ...]) -> int | None:
    """Pick one candidate by the rules as they are told, the tie-breakers as well."""

    def rank(row: int) -> tuple[float, ...]:
        steps = some.steps[row].tolist()
        turns = [abs(one) * each for one, each in zip(steps, some.turns_per_step, strict=True)]
        values = {"stops": some.stops[row], "turns": sum(turns), "height": some.height[row]}
        values["cross"] = abs(some.off[row])
        return (*(float(values[name]) for name in order), -sum(turns[:2]), sum(steps), *steps)

    cross, heights = np.abs(some.off) <= 2e-3, some.height <= 1e-3
    kept = ~some.idle & (cross | (not aim.hold_cross)) & (heights | (not aim.hold_heights))
    return min(np.flatnonzero(kept).tolist(), key=rank, default=None)


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("number", range(4))
def test_of_some_candidates_the_best_is_taken_in_one_go_and_in_two(number: int, seed: int) -> None:
    aim = AIMS[number]
    assert tuple(aim) == ORDERS[number]
    some = random_candidates(seed)
    row = preferred(some, aim, ORDERS[number][2])
    at_once, in_two = Best(aim), Best(aim)
    at_once.put(some)
    for part in (slice(0, 25), slice(25, 60)):
        names = ("steps", "off", "height", "stops", "idle")
        in_two.put(some._replace(**{name: getattr(some, name)[part] for name in names}))
    assert at_once.complete
    for best in (at_once, in_two):
        if row is None:
            assert best.solution is None
            assert best.off() == inf
            continue
        assert best.solution is not None
        assert best.solution.steps.tolist() == some.steps[row].tolist()
        told = (
            best.solution.cross_miss,
            best.solution.height_miss,
            best.solution.stops,
            best.solution.proved,
        )
        assert told == (abs(some.off[row]), some.height[row], some.stops[row], True)
        assert best.solution.cross_met == (abs(some.off[row]) <= 2e-3)
        assert best.solution.heights_met == (some.height[row] <= 1e-3)
        assert best.off() == told[aim.order[0] != "cross"]


@pytest.mark.parametrize(
    ("tolerance", "within", "beyond"),
    [(0.5, 0.5 * (1 + 0.9e-9), 0.5 * (1 + 1.5e-9)), (1e-9, 1e-9 + 0.9e-12, 1e-9 + 1.5e-12)],
)
def test_the_very_edge_of_a_tolerance_counts(
    tolerance: float, within: float, beyond: float
) -> None:
    """Beyond it by a billionth of it, and by the last bits of the sums it is held against."""
    one = tried(np.zeros((3, 4), dtype=int), [within, -within, beyond], [0.0] * 3)
    met = one._replace(tolerances=(tolerance, 1.0)).cross_met
    assert met.tolist() == [True, True, False]
    one = tried(np.zeros((2, 4), dtype=int), [0.0] * 2, [within, beyond])
    assert one._replace(tolerances=(1.0, tolerance)).heights_met.tolist() == [True, False]


@pytest.mark.parametrize(("apart", "tie"), [(2e-11, True), (2e-10, False)])
def test_cross_weights_that_no_scale_tells_apart_are_a_tie(apart: float, tie: bool) -> None:
    two = tried([[1, 0, 0, 0], [0, 1, 0, 0]], [1e-3 + apart, 1e-3], [1e-4, 2e-4])
    best = Best(NEAREST)
    best.put(two)
    assert best.solution is not None
    assert best.solution.steps.tolist() == ([1, 0, 0, 0] if tie else [0, 1, 0, 0])


@pytest.mark.parametrize(("apart", "tie"), [(2e-10, True), (2e-9, False)])
def test_turns_that_only_their_last_bits_tell_apart_are_a_tie(apart: float, tie: bool) -> None:
    each: Floats = np.array([0.25 + apart, 0.25, 0.25, 0.25])
    two = tried([[1, 0, 0, 0], [0, 1, 0, 0]], [1e-3, 2e-3], [1e-4] * 2, turns_per_step=each)
    best = Best(MEETING)
    best.put(two)
    assert best.solution is not None
    assert best.solution.steps.tolist() == ([1, 0, 0, 0] if tie else [0, 1, 0, 0])


def test_what_steps_come_to_by_hand() -> None:
    """0.01 less 2 · 0.002 and 0.003; heights by row, each station of what each corner does."""
    height = np.array([[1.0, 0, 0, 0], [2, 3, 0, 0], [0, 0, 1, 0], [0, 0, 5, -7]]) * 1e-3
    steps = LinearProblem(
        0.01,
        -np.array([2, 4, 3, 1]) * 1e-3,
        np.array([0, -1e-3, 0, 1e-3]),
        height,
        3e-3,
        1e-3,
        np.full(4, -3),
        np.full(4, 3),
        np.array([0.25, 0.5, 0.25, 0.25]),
    )
    found = steps.tried(np.array([[2, 0, 1, 0], [0, 1, 0, -1], [0, 0, 0, 0]]))
    assert found.off == pytest.approx([0.003, 0.007, 0.01], abs=1e-15)
    assert found.height == pytest.approx([6e-3, 8e-3, 1e-3], abs=1e-15)
    assert found.turns.tolist() == [0.75, 0.75, 0.0]
    assert found.cross_met.tolist() == [True, False, False]
    assert found.heights_met.tolist() == [False, False, True]
    assert (found.stops.tolist(), found.idle.tolist()) == ([0] * 3, [False] * 3)


def found(corners: int, cross: float, height: float, met: str = "", stops: int = 0) -> Solution:
    """Make steps on so many corners, and what they miss."""
    steps = (np.arange(4) < corners).astype(np.int64)
    return Solution(steps, cross, height, "cross" in met, "heights" in met, stops=stops)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        # Met is met, at whatever stop; then the fewest stops, then the fewest corners.
        (found(4, 1e-3, 1e-3, "cross, heights", stops=4), found(0, 3e-3, 1e-3, "heights")),
        (found(2, 1e-3, 1e-3, "cross, heights"), found(1, 0, 0, "cross, heights", stops=1)),
        (found(1, 2e-3, 1e-3, "cross, heights"), found(2, 0, 0, "cross, heights")),
        # Heights that are held go before a cross weight that is met, either before neither.
        (found(0, 9e-3, 1e-3, "heights"), found(1, 0, 2e-3, "cross")),
        (found(1, 0, 9e-3, "cross"), found(0, 3e-3, 2e-3)),
        (found(3, 0.9, 1e-3, "heights"), found(0, 3e-3, 2e-3)),
        # The nearer, if anybody can tell; else the fewest corners, then the other miss.
        (found(2, 5e-3, 1e-3, "heights"), found(1, 5e-3 + 2e-9, 1e-3, "heights")),
        (found(1, 5e-3 + 2e-10, 1e-3, "heights"), found(2, 5e-3, 1e-3, "heights")),
        (found(2, 1e-3, 5e-3, "cross"), found(1, 1e-3, 5e-3 + 2e-7, "cross")),
        (found(1, 1e-3, 5e-3 + 2e-8, "cross"), found(2, 1e-3, 5e-3, "cross")),
        (found(2, 5e-3, 9e-3), found(1, 6e-3, 2e-3)),
        (found(1, 5e-3, 9e-3), found(2, 5e-3, 2e-3)),
        (found(1, 5e-3, 2e-3), found(1, 5e-3, 9e-3)),
        (found(1, 5e-3, 5e-4, "heights"), found(1, 5e-3, 9e-4, "heights")),
        (found(1, 1e-3, 5e-3, "cross"), found(1, 2e-3, 5e-3, "cross")),
    ],
)
def test_which_of_two_is_recommended(first: Solution, second: Solution) -> None:
    assert _recommended([first, second]) is first
    assert _recommended([second, first]) is first


@pytest.mark.parametrize("most_nodes", [linear_problem.MOST_NODES, -1], ids=["grid", "solver"])
@pytest.mark.parametrize(
    ("corners", "steps"), [(1, [1, 0, 0, 0]), (2, [1, 1, 0, 0]), (4, [1, 1, 1, 1])]
)
def test_heights_at_corners_that_are_not_turned_may_be_off(
    corners: int, steps: list[int], most_nodes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(linear_problem, "MOST_NODES", most_nodes)
    best = best_steps(LEAN, corners)
    assert best is not None
    assert sorted(best.steps.tolist()) == sorted(steps)
    assert best.heights_met


def test_a_step_to_the_very_edge_of_the_tolerance_counts() -> None:
    """Five steps from 10 to 5 ‰ off, where 5 are allowed, and none that holds the heights."""
    edge = LEAN._replace(
        cross_per_step=np.full(4, -0.001), tolerance=0.005, height_tolerance=0.5e-3
    )
    best = best_steps(edge, 1)
    assert best is not None
    assert np.abs(best.steps).sum() == 5
    assert (best.cross_met, best.heights_met, best.proved) == (True, False, True)


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize(
    ("cross", "met"), [((0.003, 0.01), False), ((0.003, 0.0), False), ((0.007, 0.0), True)]
)
def test_the_one_way_that_another_corner_leaves(
    cross: tuple[float, float], met: bool, way: int
) -> None:
    """Half a millimeter from the third corner: the fourth may go back a step, not on.

    Either takes the cross weight farther off, the way on by less; or neither does.
    """
    height = np.diag([1.0, 1.0, 1.0, 1.0]) * 1e-3
    height[3, 2] = 0.5e-3
    problem = LinearProblem(
        cross_off=-0.007 * way,
        cross_per_step=np.array([0.0, 0.0, *cross]),
        heights_off=np.zeros(4),
        height_per_step=height,
        tolerance=7.5e-3 if met else 1e-3,
        height_tolerance=1e-3,
        least=np.array([0, 0, min(way, 0), -3]),
        most=np.array([0, 0, max(way, 0), 3]),
        turns_per_step=np.full(4, 0.25),
    )
    best = best_steps(problem, 2)
    assert best is not None
    assert best.steps.tolist() == [0, 0, way, -way]
    assert (best.cross_met, best.heights_met) == (met, True)


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize(("spoiled", "fewest"), [(3e-3, -2), (1e-3, -1)])
def test_a_corner_makes_up_for_what_another_spoils_by_the_fewest_turns(
    spoiled: float, fewest: int, way: int
) -> None:
    """A step at the third corner lifts the fourth station so far, within 1 mm of it will do.

    One step more there would be the closest cross weight.
    """
    height = np.diag([1.0, 1.0, 0.4, 1.0]) * 1e-3
    height[3, 2] = spoiled
    problem = LEAN._replace(
        cross_off=-way * (0.01 + 0.001 * (fewest - 1)),
        cross_per_step=np.array([0.0, 0.0, 0.01, 0.001]),
        height_per_step=height,
        tolerance=0.005,
    )
    best = best_steps(problem, 2)
    assert best is not None
    assert best.steps.tolist() == [0, 0, way, fewest * way]
    assert (best.cross_met, best.heights_met) == (True, True)


@pytest.mark.parametrize("way", [1, -1])
def test_the_least_height_that_whole_steps_can_have_one_way_only(way: int) -> None:
    """3a + 2b = 7: one and two, the worst of them two; in parts each could be 1.4."""
    limits = np.array([9, 9, 0, 0]) * way
    problem = LEAN._replace(
        cross_off=-0.007 * way,
        cross_per_step=np.array([3.0, 2.0, 0.0, 0.0]) * 1e-3,
        tolerance=1e-4,
        least=np.minimum(limits, 0),
        most=np.maximum(limits, 0),
    )
    best = least_height(problem)
    assert best is not None
    assert best.steps.tolist() == [way, 2 * way, 0, 0]
    assert best.height_miss == pytest.approx(2e-3, abs=1e-12)
    assert best.proved


def test_heights_that_no_turn_changes_stay_what_they_are() -> None:
    still = LEAN._replace(heights_off=np.array([0, 0, 4e-3, 0]), height_per_step=np.zeros((4, 4)))
    best = least_height(still)
    assert best is not None
    assert (best.cross_met, best.height_miss) == (True, 4e-3)


@pytest.mark.usefixtures("_by_solver")
@pytest.mark.parametrize("rung", [1.25, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0, 100.0, 1000.0])
def test_heights_enough_where_the_least_can_not_be_searched_for(rung: float) -> None:
    """Two steps at one corner miss by just more than a rung of the tolerance; one at each, less."""
    tolerance = 1e-3 / rung
    problem = LEAN._replace(
        cross_off=-0.02,
        cross_per_step=np.array([0.01, 0.01, 0.0, 0.0]),
        height_per_step=np.diag([0.505, 0.99, 1.0, 1.0]) * 1e-3,
        tolerance=1e-3,
        height_tolerance=tolerance,
        least=np.zeros(4, dtype=np.int64),
        most=np.array([3, 3, 0, 0]),
    )
    best = least_height(problem)
    assert best is not None
    assert (best.steps.tolist(), best.proved) == ([1, 1, 0, 0], False)


def test_the_least_height_where_heights_are_off_to_begin_with() -> None:
    """Four steps down at a corner that stands 4 mm high are just right for the cross weight too."""
    high = LEAN._replace(cross_off=-0.008, heights_off=np.array([4e-3, 0, 0, 0]))
    best = least_height(high)
    assert best is not None
    assert best.steps.tolist() == [-4, 0, 0, 0]
    assert best.height_miss == pytest.approx(0.0, abs=1e-12)
    assert best.proved
