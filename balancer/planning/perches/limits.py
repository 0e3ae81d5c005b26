"""What stands between a car and its target: found by lifting each limit and looking again."""

from typing import NamedTuple

import numpy as np

from balancer.planning.perches.question import FINER, LimitKind, PerchMoves, Question
from balancer.planning.perches.steps import SLACK
from balancer.planning.perches.work import LIMITS


class Limit(NamedTuple):
    """What stands between the car and the goal: lift it, and the goal can be met.

    Attributes:
        kinds: `grid` (the steps are too coarse), `keep` (corners not to be touched), `travel`
            (turns left), `heights` (their tolerance), `lift` (wheels come off the ground, where
            the linear answer ends: that one can't be lifted). Several when only lifting them
            together helps; none when nothing does.
        corners: Where `travel` binds, or whose wheels come off the ground.
        turns_left: At those corners in the direction that is needed [turn].
        would: The moves that would then meet the goal; with `heights` lifted, those that keep
            the worst height as near to what is wanted as can be.
    """

    kinds: tuple[LimitKind, ...]
    corners: tuple[str, ...]
    turns_left: tuple[float, ...]
    would: PerchMoves | None


def limits_of(question: Question, kept: bool) -> tuple[Limit, ...]:
    """Lift each limit alone and see whether the goal can then be met; if none will do, together.

    Args:
        question: For which there is no solution.
        kept: Whether it keeps corners from being touched.

    Returns:
        Each is enough. Work is limited, so on real corners there may be others.
    """

    def limit(kinds: tuple[LimitKind, ...]) -> Limit | None:
        relaxed, finer = question.afresh(LIMITS), 1
        for kind in kinds:
            finer = FINER if kind == "grid" else finer
            relaxed = relaxed.lifted(kind, finer)
        solution = relaxed.least_height() if "heights" in kinds else relaxed.first_to_meet()
        if solution is None:
            return None
        steps = solution.steps / finer
        # A corner that is kept has travel nonetheless.
        least, most = (question.lifted("keep", 1) if "keep" in kinds else question).limits
        beyond = (steps > most + SLACK) | (steps < least - SLACK)
        left = np.where(steps > 0, most, least) * question.problem.turns_per_step
        where = np.flatnonzero(beyond).tolist()
        return Limit(
            kinds=kinds,
            corners=tuple(question.adjusters.names[one] for one in where),
            turns_left=tuple(abs(float(left[one])) for one in where),
            would=relaxed.moves(solution),
        )

    every: tuple[LimitKind, ...] = ("grid", "keep", "travel", "heights")
    kinds = tuple(kind for kind in every if kind != "keep" or kept)
    alone = [one for kind in kinds if (one := limit((kind,)))]
    if alone:
        return tuple(alone)
    if limit(kinds) is None:
        return (Limit((), (), (), None),)
    for kind in kinds:
        without = tuple(other for other in kinds if other != kind)
        if limit(without):
            kinds = without
    together = limit(kinds)
    return (together,) if together else ()
