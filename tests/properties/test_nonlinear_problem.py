"""The search over real corners move by move: what it asks for, in which order, when it stops.

In place of a car are steps that do what is told of them, and in place of the bounds answers that
were told beforehand: so each move is known by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from math import inf, sqrt
from typing import Any

import numpy as np
import pytest

from balancer.car.adjusters import Moves
from balancer.car.conventions import Floats, Integers
from balancer.planning.perches import nonlinear_problem, travel_ends
from balancer.planning.perches.candidates import Cases, Within
from balancer.planning.perches.nonlinear_problem import NonlinearProblem
from balancer.planning.perches.nonlinear_steps import Kept
from balancer.planning.perches.steps import CROSSED, LEVEL, MEETING, NEAREST, Aim, Best, Tried
from balancer.planning.perches.work import CASE, MUCH, SETTLED, SOME, Work

UNIT = 1e-4
"""Of cross weight and of height, a step."""

Measure = Callable[[Integers], tuple[Any, Any, Any]]


def columns(steps: Integers) -> tuple[Any, Any, Any]:
    """Take the second adjuster for cross weight, the third for height, the fourth for stops.

    Of these there is one more step than corners, so that none is mistaken for the other.
    """
    return steps[:, 1] * UNIT, steps[:, 2] * UNIT, steps[:, 3] - 1


def problem_of(measure: Measure = columns, most: Any = (9, 9, 9, 9), **more: Any) -> Any:
    """Make steps that do what is told; a turn is that of the first alone, where columns count."""

    class Told(NonlinearProblem):
        __slots__ = ()

        def tried(self, steps: Integers | Floats) -> Tried:
            off, height, stops = measure(np.asarray(steps))
            off, each = np.asarray(off, dtype=float), self.turns_per_step
            ends = np.asarray(height, dtype=float), (self.tolerance, self.height_tolerance)
            return Tried(np.asarray(steps), each, off, *ends, np.asarray(stops), off == inf)

    none, up = np.zeros((4, 4)), np.array(most)
    usual: dict[str, Any] = {"point": None, "now": None, "cross": 0.4, "rise": np.zeros(4)}
    usual |= {"tolerance": 10 * UNIT, "height_tolerance": 10 * UNIT, "least": -up, "most": up}
    usual |= {"per_step": Moves(np.eye(4), none, np.zeros((4, 2))), "work": Work(1e9)}
    each = np.array([1.0, 0, 0, 0]) if measure is columns else np.ones(4)
    usual |= {"turns_per_step": each, "kept": kept()}
    return Told(**{**usual, **more})


def kept(**more: Any) -> Kept:
    none: dict[str, Any] = {"planes": None, "bounds": {}, "ends": [], "turns": [], "ways": []}
    return Kept(**{**none, **more})


def ways(count: int, turns: Any = 1, cross: Any = 0, height: Any = 0, stops: Any = 0) -> Integers:
    rows = [np.broadcast_to(one, count) for one in (turns, cross, height, stops + 1)]
    return np.stack(rows, axis=1).astype(np.int64)


def listed(steps: Integers, complete: bool = True, off: Any = 0.0) -> Cases:
    """List steps, off by so much at least."""
    least = np.broadcast_to(np.asarray(off, dtype=float), len(steps))
    return Cases(steps, complete, least, least)


NOTHING = listed(ways(0))


class Answers:
    """In place of `cases`, and what was asked: limits, and how many steps, 0 as usual.

    The last answer may take all work that is left.
    """

    def __init__(self) -> None:
        self.told: list[Cases] = []
        self.asked: list[Within] = []
        self.most: list[int] = []
        self.by_slopes: list[int] = []
        self.guesses: list[Integers] = []
        self.tired: Work | None = None

    def __call__(self, _: object, __: int, within: Within, most: int = 0) -> Cases:
        self.asked.append(within)
        self.most.append(most)
        told = self.told.pop(0)
        if self.tired is not None and not self.told:
            self.tired.spend(1e12)
        return told

    def likely(self, _: object, adjusters: int, __: Best) -> Iterator[Integers]:
        self.by_slopes.append(adjusters)
        yield from self.guesses


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch) -> Answers:
    told = Answers()
    monkeypatch.setattr(nonlinear_problem, "cases", told)
    monkeypatch.setattr(nonlinear_problem, "likely", told.likely)
    return told


def driven(problem: Any, steps: Iterable[Integers], best: Best) -> list[Integers]:
    """Take what is yielded as a search does."""
    taken = []
    for some in steps:
        best.put(problem.tried(some))
        taken.append(some)
    return taken


def known(problem: Any, aim: Aim, *steps: int) -> Best:
    """Know of these steps already, or of none."""
    best = Best(aim)
    if steps:
        best.put(problem.tried(np.array([steps])))
        assert best.solution is not None
    return best


# What all searches share.


@pytest.mark.parametrize(
    ("adjusters", "aim", "share"),
    [
        *((None, MEETING, 1.0), (None, CROSSED, 1.0), (4, CROSSED, 1.0), (3, CROSSED, SOME)),
        *((2, MEETING, MUCH), (4, MEETING, MUCH), (4, LEVEL, SOME), (1, NEAREST, SOME)),
    ],
)
def test_a_search_leaves_work_for_the_next_unless_it_is_the_last(
    adjusters: int | None, aim: Aim, share: float, answers: Answers
) -> None:
    problem = problem_of(most=(1, 1, 1, 1), work=Work(1e6))
    tried = next(problem.candidates(adjusters, Best(aim)))
    paid = SETTLED + CASE * len(tried)
    assert problem.work.room(1.0) == pytest.approx(share * 1e6 - paid, abs=1)


def test_small_grids_are_tried_whole_on_most_adjusters_first_and_paid_for(
    answers: Answers,
) -> None:
    problem, best = problem_of(most=(1, 2, 1, 0), others=(None, None)), Best(CROSSED)
    taken = driven(problem, problem.candidates(None, best), best)
    grid = np.stack(np.meshgrid(*([-n, *range(1 - n, n + 1)] for n in (1, 2, 1)))).reshape(3, -1).T
    turned = np.count_nonzero(grid, axis=1)
    assert [len(np.unique(some, axis=0)) for some in taken] == [
        (turned == count).sum() for count in (3, 2, 1)
    ]
    assert [set(np.count_nonzero(some, axis=1).tolist()) for some in taken] == [{3}, {2}, {1}]
    assert (answers.by_slopes, answers.asked) == ([4, 3, 2, 1], [])
    paid = sum(SETTLED + CASE * len(some) for some in taken)
    assert 1e9 - problem.work.room(1.0) == pytest.approx(3 * paid, abs=1)
    assert best.solution is not None
    assert [way.tolist() for way in problem.kept.ways] == [best.solution.steps.tolist()]
    driven(problem, problem.candidates(2, best), best)
    assert answers.by_slopes == [4, 3, 2, 1]


@pytest.mark.parametrize(("more", "asked"), [((5, 10, 10), 0), ((7, 11, 13), 1)])
def test_from_a_thousand_steps_on_bounds_say_which(
    more: tuple[int, int, int], asked: int, answers: Answers
) -> None:
    """10 · 10 · 10 are tried, of 7 · 11 · 13 only what could be."""
    most = np.array([5 if not asked else 3, more[1] // 2, more[2] // 2, 0])
    least = most - np.array([10 if not asked else 7, more[1], more[2], 0])
    problem = problem_of(least=least, most=most)
    answers.told = [NOTHING]
    taken = driven(problem, problem.candidates(3, best := Best(MEETING)), best)
    assert len(answers.asked) == asked
    assert sum(map(len, taken)) == (0 if asked else 1000)


@pytest.mark.parametrize(("stops", "turns"), [(0, [2.0]), (1, [])])
def test_what_meets_free_of_stops_is_remembered(
    stops: int, turns: list[float], answers: Answers
) -> None:
    problem, best = problem_of(), Best(MEETING)
    answers.told = [listed(ways(1, 2, 3, 4, stops))]
    driven(problem, problem.candidates(4, best), best)
    assert problem.kept.turns == turns
    assert [way.tolist() for way in problem.kept.ways] == [[2, 3, 4, stops + 1]]


@pytest.mark.parametrize(
    ("adjusters", "right", "yielded"),
    [
        *((None, (2, 10, 0, 0), True), (2, (2, 10, 0, 0), True), (3, (2, 10, 0, 0), False)),
        *((None, (2, 11, 0, 0), False), (None, (2, 0, 11, 0), False)),
    ],
)
def test_of_steps_in_parts_what_is_right_is_tried_if_it_meets(
    adjusters: int | None,
    right: tuple[int, ...],
    yielded: bool,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(nonlinear_problem, "right_to_a_digit", lambda _: np.array(right))
    found = list(problem_of(finer=2).candidates(adjusters, Best(MEETING)))
    assert [one.tolist() for one in found] == ([[list(right)]] if yielded else [])


def around(steps: Integers) -> tuple[Any, Any, Any]:
    """Be right at 4 and 3."""
    off = (np.abs(steps[:, 0] - 4) + np.abs(steps[:, 1] - 3)) * 0.01
    return off, 0 * off, 0 * steps[:, 0]


@pytest.mark.parametrize("complete", [True, False])
def test_where_not_all_was_looked_at_a_step_beside_the_best_is(
    complete: bool, answers: Answers
) -> None:
    """From 1 and 1 to 4 and 2, past which there is no travel."""
    problem, best = problem_of(around, (40, 2, 30, 0), work=Work(0.0)), Best(LEVEL)
    problem.kept.ends.append((np.zeros(1), False))
    answers.told = [listed(np.array([[1, 1, 0, 0]]), complete)]
    taken = driven(problem, problem.candidates(2, best), best)
    assert best.solution is not None
    assert best.solution.steps.tolist() == [[4, 2, 0, 0], [1, 1, 0, 0]][complete]
    beside = [np.unique(some, axis=0) for some in taken[1:]]
    # With 0 it would be one adjuster fewer.
    assert [len(some) for some in beside] == ([] if complete else [4, 6, 6, 6])
    assert all((np.count_nonzero(some, axis=1) == 2).all() for some in beside)


def test_one_more_adjuster_is_tried_with_the_best_of_one_fewer() -> None:
    problem = problem_of(
        least=np.array([-2, -1, 0, 0]),
        most=np.array([1, 3, 2, 0]),
        kept=kept(ways=[np.array([1, 0, 0, 0]), np.array([1, 2, 0, 0]), np.zeros(4, dtype=int)]),
    )
    (found,) = nonlinear_problem._one_more(problem, 2)
    any_of_one = {*((1, n, 0, 0) for n in (-1, 1, 2, 3)), *((1, 0, n, 0) for n in (1, 2))}
    assert set(map(tuple, found.tolist())) == any_of_one
    # And a step beside, where it is one adjuster still, with two of the other.
    problem = problem._replace(most=np.array([2, 3, 2, 0]))
    (found,) = nonlinear_problem._one_more(problem, 2)
    more = {*((2, n, 0, 0) for n in (-1, 1, 2)), *((2, 0, n, 0) for n in (1, 2))}
    assert set(map(tuple, found.tolist())) == any_of_one | more


# The fewest turns.

WITHIN = Within(((-10 * UNIT, 10 * UNIT),), 10 * UNIT)
FREE = WITHIN._replace(free=True)
MISSED = ways(1, cross=99)


def meeting(problem: Any, adjusters: int, best: Best) -> list[Integers]:
    return driven(problem, nonlinear_problem._meeting(problem, adjusters, best), best)


@pytest.mark.parametrize(("count", "asked"), [(1000, [WITHIN]), (1001, [WITHIN, FREE])])
def test_of_few_that_could_meet_all_are_tried(
    count: int, asked: list[Within], answers: Answers
) -> None:
    answers.told = [listed(ways(count, np.arange(count) + 1))] * 2
    taken = meeting(problem_of(), 2, Best(MEETING))
    assert answers.asked == asked
    assert [len(some) for some in taken] == ([1000] if count == 1000 else [250])
    assert answers.by_slopes == []


def test_of_too_many_that_could_meet_two_thousand_are_tried_of_fewest_turns(
    answers: Answers,
) -> None:
    """What is met there by 5 turns leaves no more than that to be looked for, free of stops."""
    turns = np.random.default_rng(1).permutation(3000)
    answers.told = [listed(ways(3000, turns, np.where(turns == 5, 1, 99)), complete=False), NOTHING]
    taken = meeting(problem_of(), 3, best := Best(MEETING))
    assert sorted(taken[0][:, 0].tolist()) == list(range(2000))
    assert answers.asked == [WITHIN, FREE._replace(turns=5.0)]
    assert (answers.by_slopes, best.complete) == ([3], True)


@pytest.mark.parametrize(
    ("told", "turns", "complete"),
    [
        ([ways(1, 3)], [3.0], True),
        ([MISSED, ways(1, 6)], [3.0, 6.0], True),
        ([MISSED, MISSED, ways(1, 7)], [3.0, 6.0, inf], True),
        ([MISSED, MISSED, MISSED, ways(1, 8, stops=1)], [3.0, 6.0, inf, None], True),
        ([MISSED], [3.0], False),
        ([MISSED, MISSED, MISSED], [3.0, 6.0, inf], False),
    ],
)
def test_hardly_more_turns_than_on_other_numbers_are_looked_for_first(
    told: list[Integers], turns: list[float | None], complete: bool, answers: Answers
) -> None:
    """Then any, then what comes to stand on stops; where some are missing it ends there."""
    answers.told = [listed(some) for some in told[:-1]] + [listed(told[-1], complete)]
    problem = problem_of(kept=kept(turns=[5.0, 3.0]))
    meeting(problem, 2, best := Best(MEETING))
    wanted = [WITHIN if most is None else FREE._replace(turns=most) for most in turns]
    assert (answers.asked, best.complete) == (wanted, complete)
    assert answers.told == []


@pytest.mark.parametrize(("stops", "turns"), [(0, [4.0]), (1, [inf, None])])
def test_what_slopes_say_limits_the_turns_if_it_is_free_of_stops(
    stops: int, turns: list[float | None], answers: Answers
) -> None:
    many = listed(ways(1001, 9))
    answers.told, answers.guesses = [many, NOTHING, NOTHING], [ways(1, 4, 2, 3, stops)]
    meeting(problem_of(), 3, Best(MEETING))
    wanted = [WITHIN if most is None else FREE._replace(turns=most) for most in turns]
    assert answers.asked == [WITHIN, *wanted]


DOUBLING = [250, 500, 1000, 2000, 4000, 8000, 10_000]


@pytest.mark.parametrize(
    ("complete", "work", "sizes"),
    [(True, 1e9, [*DOUBLING, 250]), (False, 1e9, DOUBLING), (True, 0.0, [250])],
)
def test_of_fewest_turns_each_lot_is_twice_the_last_until_work_runs_out(
    complete: bool, work: float, sizes: list[int], answers: Answers
) -> None:
    """Of what proves nothing none are begun past 20,000."""
    answers.told = [listed(ways(26_000, np.arange(26_000)[::-1], cross=99), complete)]
    problem, best = problem_of(work=Work(work)), Best(MEETING)
    taken = driven(problem, nonlinear_problem._fewest(problem, 2, best, FREE), best)
    assert [len(some) for some in taken] == sizes
    assert np.concatenate(taken)[:, 0].tolist() == list(range(sum(sizes)))
    assert best.complete == (len(sizes) == 8)


@pytest.mark.parametrize(
    ("within", "turns", "sizes"),
    [(FREE, 1, [250, 50]), (FREE, 2, []), (WITHIN, 1, [])],
    ids=["ties", "more turns", "a stop"],
)
def test_what_takes_as_few_turns_may_be_nearer_and_what_takes_more_is_not_tried(
    within: Within, turns: int, sizes: list[int], answers: Answers
) -> None:
    problem = problem_of()
    best, nearer = known(problem, MEETING, 1, 9, 0, 1), 2 if sizes else 9
    answers.told = [listed(ways(300, turns, np.where(np.arange(300) < 299, 9, 2)))]
    taken = driven(problem, nonlinear_problem._fewest(problem, 2, best, within), best)
    assert [len(some) for some in taken] == sizes
    assert best.solution is not None
    assert (best.solution.cross_miss, best.complete) == (nearer * UNIT, True)


@pytest.mark.parametrize(("apart", "sizes"), [(2e-10, [250, 50]), (2e-9, [250])])
def test_turns_that_only_their_last_bits_tell_apart_are_tried(
    apart: float, sizes: list[int], answers: Answers
) -> None:
    problem = problem_of(turns_per_step=np.array([1.0, 0, apart, 0]))
    best = known(problem, MEETING, 1, 9, 0, 1)
    answers.told = [listed(ways(300, 1, 9, np.arange(300) >= 250))]
    taken = driven(problem, nonlinear_problem._fewest(problem, 2, best, FREE), best)
    assert [len(some) for some in taken] == sizes


# What comes nearest, ring by ring.


def outward(
    problem: Any, best: Best, ends: tuple[float, float], answers: Answers
) -> tuple[list[float], list[int]]:
    """Look outward; give the ends of all rings that were asked for, and how many were tried."""

    def ring(inner: float, outer: float) -> Within:
        return Within(((inner, outer),), 0.0)

    looked = nonlinear_problem._outward(problem, 2, best, ring, ends)
    taken = driven(problem, looked, best)
    rings = [one for within in answers.asked for one in within.cross[0]]
    return rings, [len(some) for some in taken]


SOME_OFF = listed(ways(1000, cross=300), off=np.arange(1000)[::-1] * UNIT)


@pytest.mark.parametrize(
    ("aim", "first"), [(LEVEL, 16.0), (CROSSED, 0.8)], ids=["cross weight", "heights"]
)
def test_nothing_is_tried_that_is_farther_off_than_the_best(
    aim: Aim, first: float, answers: Answers
) -> None:
    """Past the 300th nothing can be nearer: that is in the second lot."""
    off = ways(1000, cross=300) if aim is LEVEL else ways(1000, height=300)
    answers.told = [SOME_OFF._replace(steps=off)]
    problem, best = problem_of(), Best(aim)
    assert outward(problem, best, (0.8, 16.0), answers) == ([0.0, first], [250, 500])
    assert (best.complete, answers.most, answers.by_slopes) == (True, [20_000], [2])


def test_which_measure_tells_what_is_nearest(answers: Answers) -> None:
    steps = ways(3, [1, 2, 3], 20)
    listing = Cases(steps, True, np.array([2.0, 3, 1]), np.array([3.0, 1, 2]))
    nearest = [nonlinear_problem._nearest_first(listing, level) for level in (True, False)]
    assert [found.steps[:, 0].tolist() for found, _ in nearest] == [[3, 1, 2], [2, 3, 1]]
    assert [off.tolist() for _, off in nearest] == [[1.0, 2, 3]] * 2


@pytest.mark.parametrize(("beyond", "sizes"), [(1e-10, [250, 50]), (3e-10, [250])])
def test_a_tie_is_tried_too(beyond: float, sizes: list[int], answers: Answers) -> None:
    off = np.where(np.arange(300) < 250, 0.0, 30 * UNIT + beyond)
    answers.told = [listed(ways(300, cross=30), off=off)]
    assert outward(problem_of(), Best(LEVEL), (0.8, 16.0), answers)[1] == sizes


def test_rings_that_hold_too_much_are_drawn_closer_and_empty_ones_wider(answers: Answers) -> None:
    problem = problem_of(tolerance=1e-9)
    nothing = listed(ways(1500, height=99), complete=False)
    some = listed(ways(1, cross=20_000), complete=False)
    answers.told = [nothing, some, NOTHING]
    rings, sizes = outward(problem, best := Best(LEVEL), (0.8, 16.0), answers)
    assert rings == pytest.approx([0, 16, 0, sqrt(0.8 * 16), 0, 2])
    assert (sizes, best.complete) == ([1000, 1], True)
    # With 4 known, by halves, from 2 on outward again; a hair nearer is not worth a new ring.
    answers.asked, best = [], known(problem, LEVEL, 1, 40_000, 0, 1)
    answers.told = [nothing, NOTHING, nothing, nothing, nothing, NOTHING, NOTHING, NOTHING]
    answers.told[2] = listed(ways(1, cross=39_600), complete=False)
    rings, _ = outward(problem, best, (0.8, 16.0), answers)
    inner = [0, 4, 0, 2, 2, 4, 2, 3, 2, 2.5, 2, 2.25, 2.25, 2.25 * 1.5, 2.25 * 1.5, 3.96]
    assert rings == pytest.approx(inner)
    # Heights, of which nothing is known: 1, 2, 4 wide, and no farther than it is worth while.
    answers.asked, answers.told = [], [NOTHING] * 3
    assert outward(problem, Best(CROSSED), (1.0, 7.0), answers)[0] == [0, 1, 1, 3, 3, 7]
    answers.asked, answers.told = [], [NOTHING] * 2
    rings = outward(problem, Best(LEVEL), (1.0, 7.0), answers)[0]
    assert (rings, best.complete) == ([0, 7], True)


@pytest.mark.parametrize(
    ("off", "first", "anew"), [(4, 31.9, False), (4, 32.0, True), (4, 32.1, True)]
)
def test_a_narrow_ring_is_not_drawn_closer_but_looked_at_whole(
    off: int, first: float, anew: bool, answers: Answers
) -> None:
    """Narrow is an eighth of what is looked at first."""
    problem = problem_of()
    best = known(problem, LEVEL, 1, off * 10_000, 0, 1)
    many = listed(ways(300, height=99), complete=False)
    answers.told = [many, NOTHING if not anew else many, NOTHING]
    rings, sizes = outward(problem, best, (first, 40.0), answers)
    if anew:
        assert (rings, answers.most, sizes) == ([0, 4] * 2, [20_000, 0], [300, 250, 50])
    else:
        assert (rings, answers.most, sizes) == ([0, 4, 0, 2, 2, 4], [20_000] * 3, [300])
    assert best.complete == (not anew)


@pytest.mark.parametrize(("off", "closer"), [(21_060, True), (21_040, False)])
def test_a_ring_is_narrow_at_a_twentieth_of_its_way_out(
    off: int, closer: bool, answers: Answers
) -> None:
    """From 2 to 2.106 is 0.0503 of it, to 2.104 is 0.0494."""
    problem, many = problem_of(), listed(ways(1, height=99), complete=False)
    best = known(problem, LEVEL, 1, 40_000, 0, 1)
    answers.told = [many, NOTHING, listed(ways(1, cross=off), complete=False), many, NOTHING]
    answers.told += [NOTHING] * 2
    rings, _ = outward(problem, best, (0.8, 16.0), answers)
    assert rings[:8] == pytest.approx([0, 4, 0, 2, 2, 4, 2, off * UNIT])
    assert rings[8:10] == pytest.approx([2, (2 + off * UNIT) / 2 if closer else off * UNIT])
    assert answers.most[4] == (20_000 if closer else 0)


@pytest.mark.parametrize(
    ("complete", "work", "sizes"),
    [
        (True, 1e9, [1000, *DOUBLING, 4250]),
        (False, 1e9, [1000, *DOUBLING]),
        (True, 0.0, [250]),
        (False, 0.0, [250]),
    ],
)
def test_of_what_is_nearest_each_lot_is_twice_the_last_until_work_runs_out(
    complete: bool, work: float, sizes: list[int], answers: Answers
) -> None:
    problem, many = problem_of(work=Work(work)), listed(ways(30_000, height=99), complete)
    best = known(problem, LEVEL, 1, 1, 0, 1)
    answers.told = [many._replace(complete=False), many] if work else [many]
    assert outward(problem, best, (0.8, 16.0), answers)[1] == sizes
    assert best.complete == (complete and work > 0)


@pytest.mark.parametrize(("count", "sizes"), [(1250, [250, 500, 500]), (1251, [250])])
def test_up_to_a_thousand_that_are_left_are_tried_though_work_has_run_out(
    count: int, sizes: list[int], answers: Answers
) -> None:
    """What is found in the last of them is found, and that it is the nearest is proved."""
    problem, best = problem_of(work=Work(0.0)), Best(LEVEL)
    answers.told = [listed(ways(count, cross=99 - (np.arange(count) == count - 1)))]
    assert outward(problem, best, (0.8, 16.0), answers)[1] == sizes
    assert best.complete == (count == 1250)
    assert best.off() == (98 if best.complete else 99) * UNIT


def test_with_nothing_found_it_is_looked_for_about_where_fewer_come_to(answers: Answers) -> None:
    """Of what fewer come to, what holds the heights; and from as far off as they are outward."""
    fewer = [np.array([1, 90, 0, 1]), np.array([1, 80, 0, 1]), np.array([1, 70, 99, 1])]
    answers.told = [NOTHING] * 2
    rings, _ = outward(problem_of(kept=kept(ways=fewer)), Best(LEVEL), (0.8, 0.016), answers)
    assert rings == pytest.approx([0, 0.008, 0.008, 0.024])


@pytest.mark.parametrize(
    ("aim", "off", "about"), [(LEVEL, 201, 1), (LEVEL, 200, 0), (CROSSED, 201, 0)]
)
def test_a_ring_that_would_be_wide_waits_for_what_is_found_about_there(
    aim: Aim, off: int, about: int, answers: Answers
) -> None:
    """What is found is the end of what is to be looked at."""
    fewer, level = np.array([1, 0, 0, 1]), aim is LEVEL
    fewer[1 if level else 2] = off
    found = ways(2, 1, [190, 195]) if level else ways(2, 1, 0, [190, 195])
    answers.told = [NOTHING, NOTHING] if not about else [listed(found, off=[3.0, 0.0]), NOTHING]
    rings, sizes = outward(problem_of(kept=kept(ways=[fewer])), Best(aim), (0.8, 0.05), answers)
    first = [0.9 * 0.0201, 1.1 * 0.0201, 0, 0.019] if about else [0, off * UNIT]
    assert rings[: len(first)] == pytest.approx(first)
    assert sizes == [2] * about


@pytest.mark.parametrize(
    ("adjusters", "known_off", "share"), [(4, 40, 1.0), (4, None, SOME), (3, 40, SOME)]
)
def test_where_heights_are_held_on_four_all_work_is_for_that(
    adjusters: int, known_off: int | None, share: float, answers: Answers
) -> None:
    """Nothing else is asked for after."""
    answers.told, problem = [NOTHING], problem_of(work=Work(1e6))
    best = known(problem, LEVEL, *([1, known_off, 0, 1] if known_off else []))
    looked = nonlinear_problem._outward(
        problem, adjusters, best, lambda *_: Within(((0.0, 1.0),), 0.0), (0.8, 1.0)
    )
    driven(problem, looked, best)
    assert problem.work.room(1.0) == pytest.approx(share * 1e6)


def test_what_is_right_already_leaves_no_ring_to_be_drawn_anew(answers: Answers) -> None:
    problem = problem_of()
    best = known(problem, LEVEL, 1, 0, 0, 1)
    answers.told = [listed(ways(1, cross=1), complete=False), NOTHING]
    rings, _ = outward(problem, best, (0.8, 16.0), answers)
    assert (rings, answers.most, best.complete) == ([0.0] * 4, [20_000, 0], True)


def looked_at(problem: Any, aim: Aim, answers: Answers, *steps: int) -> list[Any]:
    """Give the limits of cross weight that were asked for, with these steps known."""
    search = {LEVEL: nonlinear_problem._level, CROSSED: nonlinear_problem._crossed}[aim]
    best = known(problem, aim, *steps)
    driven(problem, search(problem, 2, best), best)
    assert answers.told == []
    return [within.cross for within in answers.asked]


def at_ends(*off: float, one_way: bool = True, others: int = 0) -> Any:
    return problem_of(kept=kept(ends=[(np.array(off), one_way)]), others=(None,) * others)


@pytest.mark.parametrize(
    ("problem", "sides"),
    [
        (at_ends(-0.3, 0.1), [(-0.3 - 1e-9, 0), (0, 0.1 + 1e-9)]),
        (at_ends(-0.3, 0.1, others=1), [(-0.3 - 1e-9, 0), (0, 0.3 + 1e-9)]),
        (at_ends(-0.3, 0.1, one_way=False), [(-0.4, 0), (0, 0.6)]),
        (at_ends(0.05, 0.1), [(0.05 - 1e-9, 0.1 + 1e-9)]),
        (at_ends(-0.1, -0.05), [(-0.1 - 1e-9, -0.05 + 1e-9)]),
    ],
)
def test_cross_weight_is_looked_for_between_the_ends_if_it_answers_one_way(
    problem: Any, sides: list[tuple[float, float]], answers: Answers
) -> None:
    answers.told = [NOTHING]
    (asked,) = looked_at(problem, LEVEL, answers)
    assert np.array(asked) == pytest.approx(np.array(sides), abs=1e-12)
    assert answers.asked[0][1:] == (problem.height_tolerance, False, inf)


@pytest.mark.parametrize(("off", "together"), [(10, True), (11, False)])
def test_up_to_a_thousandth_both_sides_are_looked_at_at_once(
    off: int, together: bool, answers: Answers
) -> None:
    """But on the way out from half of it, where what lies between was looked at."""
    many = listed(ways(1, height=99), complete=False)
    answers.told, end = [many, NOTHING, NOTHING], off * UNIT
    whole, half, rest = looked_at(at_ends(-0.3, 0.1), LEVEL, answers, 1, off, 0, 1)
    assert np.array(whole) == pytest.approx(
        np.array([(-end, end)] if together else [(-end, 0), (0, end)])
    )
    assert np.array(half) == pytest.approx(np.array([(-end / 2, end / 2)]))
    assert np.array(rest) == pytest.approx(np.array([(-end, -end / 2), (end / 2, end)]))


def test_with_nothing_known_the_nearest_is_looked_for_first(answers: Answers) -> None:
    answers.told = [listed(ways(1, height=99), complete=False), *[NOTHING] * 7]
    asked = looked_at(at_ends(-0.08, 0.02), LEVEL, answers)
    rings = [sqrt(2e-5 * 0.08) * (2**n - 1) for n in range(1, 7)]
    assert [-sides[0][0] for sides in asked] == pytest.approx([0.08, *rings, 0.08])


@pytest.mark.parametrize(
    ("off", "one_way", "asked"),
    [
        ((1.011e-3, 0.2), True, False),
        ((-1.011e-3, -0.2), True, False),
        ((1.011e-3, 0.2), False, True),
        ((-0.2, 1.011e-3), True, True),
        ((1.009e-3, 0.2), True, True),
        ((-1.009e-3, -0.2), True, True),
    ],
)
def test_heights_are_not_looked_for_where_no_end_is_on_the_other_side_of_the_target(
    off: tuple[float, float], one_way: bool, asked: bool, answers: Answers
) -> None:
    answers.told = [NOTHING] * 7 * asked
    looked = looked_at(at_ends(*off, one_way=one_way), CROSSED, answers)
    assert looked == [((-10 * UNIT, 10 * UNIT),)] * 7 * asked
    heights = [one.height for one in answers.asked]
    # To 8 cm.
    assert heights == pytest.approx([1e-3 * (2**n - 1) for n in range(1, 8)] * asked)


def test_heights_that_may_be_off_by_a_lot_are_looked_at_once(answers: Answers) -> None:
    answers.told = [NOTHING]
    problem = at_ends(-0.1, 0.1)._replace(height_tolerance=0.1)
    looked_at(problem, CROSSED, answers)
    assert [one.height for one in answers.asked] == [0.1]


# The closest cross weight, whatever the heights.


@pytest.mark.parametrize(("room", "tried"), [(3600, 3600), (3599, 1)])
def test_where_not_all_can_be_tried_ends_of_travel_are(room: int, tried: int) -> None:
    problem = problem_of(around, (30, 30, 0, 0))
    problem = problem._replace(work=Work(CASE * room))
    problem.work.begin(1.0)
    best = Best(NEAREST)
    taken = driven(problem, travel_ends.nearest(problem, 2, best), best)
    assert sum(map(len, taken)) == tried


def rising(limit: float, slope: float = 0.0, start: float = 0.25) -> Measure:
    """Fall with the first adjuster down to -2, and the second up to 3, by 1/8, then hardly."""

    def measure(steps: Integers) -> tuple[Any, Any, Any]:
        down, up = steps[:, 0], steps[:, 1]
        off = start + np.maximum(down, -2) / 64 - np.minimum(up, 3) / 32
        off += slope * (np.minimum(down + 2, 0) - np.maximum(up - 3, 0))
        return np.where(down > limit, inf, off), 0 * off, 0 * down

    return measure


@pytest.mark.parametrize(
    ("measure", "steps", "complete"),
    [
        (rising(9), [-2, 3, 0, 0], True),
        (rising(9, 4e-8), [-2, 3, 0, 0], True),
        (rising(9, 2e-7), [-4, 5, 0, 0], True),
        (rising(3), [-2, 3, 0, 0], False),
        (rising(9, start=0.125), [-2, 3, 0, 0], False),
        (rising(9, start=0.126), [-2, 3, 0, 0], True),
        (rising(9, start=-7 / 32), [4, -5, 0, 0], True),
        (rising(9, start=-0.21), [3, -5, 0, 0], False),
    ],
    ids=["still", "hardly", "a little", "tips over", "at it", "above", "at it from below", "past"],
)
def test_from_the_best_end_of_travel_it_goes_back_while_that_is_no_worse(
    measure: Measure, steps: list[int], complete: bool
) -> None:
    problem, best = problem_of(measure, (4, 5, 0, 0)), Best(NEAREST)
    taken = driven(problem, travel_ends._inward(problem, [(0, 1)], best), best)
    assert [some.tolist() for some in taken] == [[steps]]
    assert best.complete == complete


def test_nothing_is_tried_where_all_ends_tip_the_car_over() -> None:
    problem, best = problem_of(rising(-9), (4, 5, 0, 0)), Best(NEAREST)
    assert list(travel_ends._inward(problem, [(0, 1)], best)) == []


def crossing(back: float) -> Measure:
    """Rise with the first, or at one end of the second fall by so much."""

    def measure(steps: Integers) -> tuple[Any, Any, Any]:
        rise = np.where(steps[:, 1] > 0, -back, 1.0)
        off = np.where(steps[:, 0] > 0, rise, 0.0) + 3.0 * steps[:, 1]
        return off, 0 * off, 0 * steps[:, 0]

    return measure


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("back", "one_way"), [(0.5e-9, True), (2e-9, False), (1.0, False)])
def test_at_the_ends_cross_weight_answers_one_way_or_not(
    back: float, one_way: bool, sign: int
) -> None:
    """But for what an equilibrium is not known to."""
    calls: list[Integers] = []

    def measure(steps: Integers) -> tuple[Any, Any, Any]:
        calls.append(steps)
        off, height, stops = crossing(back)(steps)
        return sign * off, height, stops

    problem = problem_of(measure, (2, 1, 0, 0))
    for _ in range(2):
        off, told = travel_ends.at_the_ends(problem)
        assert told is one_way
        assert sorted((sign * off).tolist()) == pytest.approx(sorted([-3, -2, 3, 3 - back]))
    assert [sorted(some.tolist()) for some in calls] == [
        [[-2, -1, 0, 0], [-2, 1, 0, 0], [2, -1, 0, 0], [2, 1, 0, 0]]
    ]


def test_an_end_where_the_car_tips_over_tells_nothing() -> None:
    off, one_way = travel_ends.at_the_ends(problem_of(rising(3), (4, 5, 0, 0)))
    assert np.isnan(off).tolist() == [False, False, True, True]
    assert not one_way
