"""How steps within limits are listed, part by part: of bounds that are told, and no car."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from balancer.car.adjusters import Moves
from balancer.car.answers import Contacts
from balancer.planning.perches import candidates
from balancer.planning.perches.bounds import Reach, Span
from balancer.planning.perches.candidates import Cases, Within, _Bounds, _once, cases
from balancer.planning.perches.nonlinear_steps import Kept, NonlinearSteps
from balancer.planning.perches.work import LISTED, SUBSET, Work

STEP = 0.25e-3
"""Of perches at the left front and the right rear, mounts at the others [m]."""

PERCHES, FREE = np.array([1.0, 0, 0, 1]), np.array([True, True, False, True])


def problem_of(links: tuple[Any, ...] = (), work: float = 1e9) -> Any:
    """Make four corners and two drop links, the left rear corner on its bump stop."""
    nowhere = np.zeros(4, dtype=bool)
    corners, none = np.vstack([STEP * np.eye(4), np.zeros((2, 4))]), np.zeros((4, 2))
    problem = NonlinearSteps(
        point=SimpleNamespace(car=SimpleNamespace(links=links)),  # type: ignore[arg-type]
        cross=0.4,
        tolerance=1e-3,
        rise=np.array([0.0, 1e-3, 0.0, -1e-3]),
        height_tolerance=1e-3,
        per_step=Moves(
            corners * PERCHES, corners * (1 - PERCHES), np.vstack([none, [[3e-3, 0], [0, 4e-3]]])
        ),
        least=np.array([-9, -9, -9, -9, -2, -1]),
        most=np.array([3, 9, 9, 9, 1, 3]),
        turns_per_step=np.array([0.25, 0.5, 0.25, 0.25, 1.0, 1.0]),
        now=Contacts(nowhere, ~FREE, nowhere, nowhere, nowhere),
        work=Work(work),
        kept=Kept({}, {}, [], [], []),
    )
    problem.work.begin(1.0)
    return problem


def bounds_of(**more: Any) -> _Bounds:
    return _Bounds(problem_of(**more), -0.02, 0.01, 5e-3, free=True)


def rows(*steps: tuple[int, ...]) -> Any:
    return np.array([(*one, *[0] * (6 - len(one))) for one in steps], dtype=np.int64)


class Asked:
    """In place of bounds: how many steps each set of adjusters is said to have, and who asked."""

    def __init__(self, sizes: dict[int, int], complete: bool = True) -> None:
        self.sizes, self.complete = sizes, complete
        self.made: list[tuple[Any, ...]] = []
        self.sets: list[tuple[Any, ...]] = []

    def __call__(self, _: object, *limits: Any) -> Any:
        self.made.append(limits)
        return SimpleNamespace(cases=self.listed)

    def listed(self, subset: tuple[int, ...], turns: float, most: int) -> Cases:
        self.sets.append((subset, turns, most))
        size = self.sizes[subset[0]]
        steps = np.zeros((size, 6), dtype=np.int64)
        steps[:, subset[0]] = np.arange(size) + 1
        return Cases(steps, self.complete, np.full(size, 0.1), np.full(size, 0.2))


ONE_SIDE = Within(((-0.02, 0.01),), 5e-3)


@pytest.mark.parametrize("complete", [True, False])
def test_sets_are_listed_one_after_the_other_and_paid_for(
    complete: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked, problem = Asked({0: 1, 1: 2, 2: 0, 3: 4, 4: 1, 5: 2}, complete), problem_of()
    monkeypatch.setattr(candidates, "_Bounds", asked)
    found = cases(problem, 1, ONE_SIDE._replace(turns=7.0), most=100)
    assert asked.sets == [((column,), 7.0, 100) for column in range(6)]
    assert (len(found.steps), found.complete) == (10, complete)
    assert (found.cross.tolist(), found.height.tolist()) == ([0.1] * 10, [0.2] * 10)
    assert 1e9 - problem.work.room(1.0) == 6 * SUBSET + 10 * LISTED
    # The same limits again need no new bounds; others do, of both sides.
    cases(problem, 1, Within(((-0.02, 0.01),), 5e-3))
    assert asked.made == [(-0.02, 0.01, 5e-3, False)]
    both = cases(problem, 1, Within(((-0.02, 0.0), (0.0, 0.01)), 5e-3, free=True))
    assert len(both.steps) == 10
    assert asked.made[1:] == [(-0.02, 0.0, 5e-3, True), (0.0, 0.01, 5e-3, True)]


def test_a_set_lists_fifty_thousand_at_most_and_past_twice_that_no_other_is_begun(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked = Asked(dict.fromkeys(range(6), 50_000))
    monkeypatch.setattr(candidates, "_Bounds", asked)
    found = cases(problem_of(), 1, ONE_SIDE)
    assert [most for _, _, most in asked.sets] == [50_000] * 3
    assert (len(found.steps), found.complete) == (150_000, False)


def test_where_work_has_run_out_no_other_set_is_begun(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = Asked(dict.fromkeys(range(6), 1))
    monkeypatch.setattr(candidates, "_Bounds", asked)
    found = cases(problem_of(work=1.5 * SUBSET), 1, Within(((-0.02, 0.0), (0.0, 0.01)), 5e-3))
    assert (len(asked.sets), len(found.steps), found.complete) == (2, 2, False)


@pytest.mark.parametrize("keyed", [True, False])
def test_of_two_sides_each_is_listed_once_and_off_by_the_least(
    keyed: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not keyed:
        monkeypatch.setattr(candidates, "row_keys", lambda *_: None)
    first = Cases(rows((1, 2), (0, -3)), True, np.array([0.1, 0.2]), np.array([0.3, 0.4]))
    other = Cases(rows((0, -3), (2, 2)), True, np.array([0.15, 0.5]), np.array([0.6, 0.7]))
    none = Cases(rows((1,))[:0], True, np.zeros(0), np.zeros(0))
    found = _once(problem_of(), [none, first, other])
    told = {
        tuple(steps[:2]): (cross, height)
        for steps, cross, height in zip(
            found.steps.tolist(), found.cross, found.height, strict=True
        )
    }
    assert told == {(1, 2): (0.1, 0.3), (0, -3): (0.15, 0.4), (2, 2): (0.5, 0.7)}
    assert len(found.steps) == 3
    assert _once(problem_of(), [none, first]) is first
    assert len(_once(problem_of(), [none, none]).steps) == 0


@pytest.mark.parametrize("free", [True, False])
def test_limits_have_a_nanometer_of_room_and_a_billionth(free: bool) -> None:
    bounds = _Bounds(problem_of(), -0.02, 0.01, 1.0, free)
    assert bounds.rises.low == pytest.approx(np.array([-1, -0.999, -1, -1.001]) - 2e-9, abs=1e-13)
    assert bounds.rises.high == pytest.approx(np.array([1, 1.001, 1, 0.999]) + 2e-9, abs=1e-13)
    assert bounds.cross == pytest.approx((0.38 - 1e-9, 0.41 + 1e-9), abs=1e-13)
    # Who is on a stop already comes to stand on none.
    assert bounds.free.tolist() == (FREE & free).tolist()


def test_links_are_so_much_longer_at_the_wheel() -> None:
    """By 3 and 4 mm a step, at ratios of 0.5 and 2 by 6 and 2; without any links it is as is."""
    links = SimpleNamespace(ratio=0.5), SimpleNamespace(ratio=2.0)
    assert bounds_of(links=links).lengths[4:] == pytest.approx(np.diag([6e-3, 2e-3]))
    assert bounds_of().lengths[4:] == pytest.approx(np.diag([3e-3, 4e-3]))


def test_what_links_can_do_in_all_and_those_of_a_set(monkeypatch: pytest.MonkeyPatch) -> None:
    """From two steps shorter to one longer in front, from one to three at the rear."""
    framed: list[Any] = []
    reached: list[Any] = []
    monkeypatch.setattr(candidates, "Frame", lambda *given: framed.append(given))

    def reach(*given: Any) -> int:
        reached.append(given)
        return len(reached)

    monkeypatch.setattr(candidates, "reach", reach)
    bounds: Any = bounds_of()
    assert bounds.frame is None
    ((_, rises, cross, longer, free, work, planes),) = framed
    assert (rises, cross, free) == (bounds.rises, bounds.cross, bounds.free)
    assert (work, planes) == (bounds.problem.work, bounds.problem.kept.planes)
    assert np.array(longer) == pytest.approx(np.array([[-6e-3, -4e-3], [3e-3, 12e-3]]))
    for subset, number in (((0, 4), 1), ((1, 2), 2), ((4,), 1), ((0,), 2), ((4, 5), 3)):
        assert bounds._reach(subset) == number
    wanted = np.array([[[-6, 0], [3, 0]], [[0, 0], [0, 0]], [[-6, -4], [3, 12]]]) * 1e-3
    assert np.array([one[3] for one in reached]) == pytest.approx(wanted)
    assert reached[0][1:3] == (bounds.rises, bounds.cross)
    assert reached[0][4].tolist() == [False, True, True, False]


def test_what_steps_of_a_set_move() -> None:
    motion = bounds_of()._motion((0, 2, 5))
    assert motion.perch == pytest.approx(np.array([[STEP, 0, 0]] + [[0] * 3] * 3))
    assert motion.mount == pytest.approx(np.array([[0, 0, 0]] * 2 + [[0, STEP, 0], [0] * 3]))
    assert motion.longer == pytest.approx(np.array([[0, 0, 0], [0, 0, 4e-3]]))
    assert (motion.least.tolist(), motion.most.tolist()) == ([-9, -9, -1], [3, 9, 3])


def told(perch: tuple[float, float], mount: tuple[float, float], still: Any = True) -> Reach:
    """Tell by how many steps perches would have to move, and mounts, all alike."""
    moves, others = (Span(*(np.full(4, end * STEP) for end in ends)) for ends in (perch, mount))
    return Reach(moves, others, np.broadcast_to(still, 4))


@pytest.mark.parametrize(
    ("column", "perch", "mount", "steps"),
    [
        (0, (-2.4, 2.2), (9, 9), [-2, -1, 1, 2]),
        (0, (1.2, 7.0), (9, 9), [2, 3]),
        (3, (2.0, 2.0), (9, 9), [2]),
        (3, (0.2, 0.8), (9, 9), []),
        (1, (9, 9), (-2.4, 1.2), [-2, -1, 1]),
        (4, (9, 9), (9, 9), [-2, -1, 1]),
    ],
    ids=["perch", "end of travel", "one", "none", "mount", "link"],
)
def test_whole_steps_between_bounds_and_within_the_travel(
    column: int, perch: tuple[float, float], mount: tuple[float, float], steps: list[int]
) -> None:
    assert bounds_of()._range(told(perch, mount), column).tolist() == steps


@pytest.mark.parametrize(
    ("work", "most", "each"),
    [(1e9, 50_000, 4), (1e9, 16, 4), (1e9, 15, 2), (4 * LISTED, 50_000, 2), (0.0, 50_000, 1)],
)
def test_of_too_many_every_so_many_th_of_each_is_listed(
    work: float, most: int, each: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of 4 · 4 all, or 2 · 2, or one, where there is no room for any."""
    if most < 50_000:
        monkeypatch.setattr(candidates, "MOST_CASES", most)
    spans = [np.array([1, 2, 3, 4]), np.array([-2, -1, 1, 2])]
    found = bounds_of(work=work)._all((1, 3), spans)
    thin = {4: 1, 2: 2, 1: 4}[each]
    assert sorted(found.steps[:, [1, 3]].tolist()) == [
        [one, other] for one in (1, 2, 3, 4)[::thin] for other in (-2, -1, 1, 2)[::thin]
    ]
    assert not found.steps[:, [0, 2, 4, 5]].any()
    assert found.complete == (each == 4)
    assert (found.cross.tolist(), found.height.tolist()) == ([0.0] * each**2,) * 2


class Slanted:
    """In place of a slant: the step at the first corner is what it is off by."""

    def least_off(self, steps: Any) -> tuple[Any, Any]:
        return np.abs(steps[:, 0]) * 0.1, np.abs(steps[:, 0]) * 0.2


def listed(
    monkeypatch: pytest.MonkeyPatch, reached: Reach, slants: int | None, most: int, missing: int
) -> tuple[Cases, list[tuple[Any, ...]]]:
    """List steps of the first and fourth corner; a slant each gives one, but for a missing one."""
    asked: list[tuple[Any, ...]] = []

    def between(*given: Any) -> tuple[Any, bool]:
        asked.append(given)
        return np.array([[len(asked), -1]]), len(asked) != missing

    bounds, ways = bounds_of(), None if slants is None else [Slanted()] * slants
    monkeypatch.setattr(candidates, "reach", lambda *_: reached)
    monkeypatch.setattr(candidates, "between", between)
    vars(bounds)["frame"] = SimpleNamespace(slants=lambda *_: ways)
    return bounds.cases((0, 3), 7.0, most), asked


@pytest.mark.parametrize("missing", [0, 1, 2])
def test_each_way_to_lay_planes_lists_what_room_the_others_left(
    missing: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of two at most the third has none left, so one."""
    found, asked = listed(monkeypatch, told((-2, 1), (0, 0)), 3, 2, missing)
    assert [given[3] for given in asked] == [2, 1, 1]
    assert [one.tolist() for one in asked[0][1]] == [[-2, -1, 1], [-2, -1, 1]]
    assert (asked[0][2].per_step.tolist(), asked[0][2].most) == ([0.25, 0.25], 7.0)
    assert sorted(found.steps.tolist()) == rows(*((n, 0, 0, -1) for n in (1, 2, 3))).tolist()
    assert sorted(found.cross.tolist()) == pytest.approx([0.1, 0.2, 0.3])
    assert sorted(found.height.tolist()) == pytest.approx([0.2, 0.4, 0.6])
    assert found.complete == (not missing)


@pytest.mark.parametrize(
    ("reached", "slants", "count"),
    [
        (told((-2, 1), (0, 0)), None, 9),
        (told((-2, 1), (0, 0)), 1, 1),
        (told((-2, 1), (0, 0), [False, True, True, False]), 1, 1),
        (told((-2, 1), (0, 0), [True, False, True, True]), 1, 0),
        (told((0.2, 0.8), (0, 0)), 1, 0),
    ],
    ids=["no planes", "planes", "it moves", "another has to", "no step"],
)
def test_a_set_has_candidates_where_no_other_corner_has_to_move(
    reached: Reach, slants: int | None, count: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    found, _ = listed(monkeypatch, reached, slants, 100, 0)
    assert (len(found.steps), found.complete) == (count, True)
    assert found.steps.shape[1] == 6
