"""Plans for cars of which much is asked, against a long look at all steps without any bounds.

Of one or two adjusters every step is settled. Of three, and of four with the fourth on either side
of what slopes say is right, those are settled that by the slopes at the plan come near being as
good: so what is better is found unless the car is far from as linear as that.
"""

from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pytest

from balancer.car.conventions import Floats, Integers
from balancer.car.equilibrium import solve_or_tip
from balancer.car.statics import statics_of
from balancer.planning.perches.question import Question, questions_of
from balancer.planning.perches.steps import Solution
from tests.oracles.test_nonlinear_search import AIMS, best_of, odd, problem_of, ranked
from tests.seeds import seeds

MOST = 500
"""Of a set of adjusters, so many are settled for each aim."""


@pytest.mark.parametrize("seed", seeds(400, 1))
def test_no_plan_and_no_way_beside_it_is_bettered(seed: int) -> None:
    car, loads, goal, links = odd(seed)
    question = next(questions_of(statics_of(car, loads), goal, links))
    for found in question.best_of_each():
        plan, count = ranked(question, found), int(np.count_nonzero(found.steps))
        for steps in filter(len, near_as_good(question, found) if count else ()):
            best = best_of(question.problem.tried(steps), question, count)
            assert best is None or plan <= best or plan == pytest.approx(best, abs=2e-9)


def near_as_good(question: Question, found: Solution) -> Iterator[Integers]:
    """List steps on as many adjusters, of each set of them."""
    problem, count = problem_of(question), int(np.count_nonzero(found.steps))
    at = slopes_at(question, found.steps)
    limits = zip(*question.limits, strict=True)
    spans = [np.array([n for n in range(low, high + 1) if n]) for low, high in limits]
    corners = problem.per_step.perch + problem.per_step.mount != 0
    for chosen in map(list, combinations(range(len(spans)), count)):
        if corners[chosen].sum(axis=0).max() > 1:
            continue
        grid = np.stack([one.ravel() for one in np.meshgrid(*(spans[one] for one in chosen[:3]))])
        some = np.zeros((grid.shape[1], len(spans)), dtype=np.int64)
        some[:, chosen[:3]] = grid.T
        if count < 3:
            yield some
        elif at is not None:
            four = on_either_side(at, some, chosen[-1], spans[chosen[-1]])
            for steps in [some] if count == 3 else four:
                yield likely(question, found, at, steps)


def slopes_at(question: Question, steps: Integers) -> tuple[Floats, Floats] | None:
    """Give what cross weight and heights are off by with no step (5,), and by each (5, n)."""
    problem = problem_of(question)
    after, tipped = solve_or_tip(
        problem.point, problem.moves(np.vstack([steps, steps + np.eye(len(steps))]))
    )
    if tipped.any():
        return None
    cross = (after.loads[:, 1] + after.loads[:, 2]) / after.loads.sum(axis=1)
    off = np.column_stack([cross - problem.cross, after.heights - problem.rise])
    slopes = (off[1:] - off[0]).T
    return off[0] - slopes @ steps, slopes


def on_either_side(
    at: tuple[Floats, Floats], some: Integers, fourth: int, span: Integers
) -> Iterator[Integers]:
    """Add a fourth adjuster where by slopes cross weight, or it and the heights, are right."""
    off, slope = at[0] + some @ at[1].T, at[1][:, fourth]
    for heavy in (np.array([10.0, 1, 1, 1, 1]), np.array([1.0, 0, 0, 0, 0])):
        weighed = slope * heavy**2
        right = off @ weighed / -(slope @ weighed) if slope @ weighed else np.zeros(len(some))
        for beside in (np.floor(right), np.ceil(right)):
            steps = some.copy()
            steps[:, fourth] = np.clip(beside, span.min(), span.max())
            yield steps[steps[:, fourth] != 0]


def likely(
    question: Question, found: Solution, at: tuple[Floats, Floats], steps: Integers
) -> Integers:
    """Keep what by slopes holds what an aim holds, or nearly, and is the least off of that."""
    problem, aim = problem_of(question), int(ranked(question, found)[0])
    off = np.abs(at[0] + steps @ at[1].T)
    least = {
        "turns": np.abs(steps) @ problem.turns_per_step,
        "cross": off[:, 0],
        "height": off[:, 1:].max(axis=1),
    }
    crossed = least["cross"] <= 1.15 * problem.tolerance + 1e-5
    level = least["height"] <= 1.15 * problem.height_tolerance + 2e-5
    kept: list[int] = []
    for hold_cross, hold_heights, order in AIMS[: aim + 1]:
        rows = np.flatnonzero((crossed | (not hold_cross)) & (level | (not hold_heights)))
        first = least[order[order[0] == "stops"]]
        kept += rows[np.argsort(first[rows], kind="stable")[:MOST]].tolist()
    return steps[np.unique(np.array(kept, dtype=np.int64))]
