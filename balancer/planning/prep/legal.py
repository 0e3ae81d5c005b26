"""Turns that keep to the rules: a target moved to where the car is legal, as little as will do.

Turns move the loads along one pattern. So where a rule is missed after them, or would be, is a
question of how far along it: from here to there all rules are met.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import inf

import numpy as np

from balancer.car.conventions import Floats
from balancer.planning.ballast.goal import SHARES, BallastGoal, met_rules
from balancer.planning.perches.aim import FINE_TOLERANCES
from balancer.planning.perches.goal import OtherTrim, PerchGoal

_CROSS = SHARES["cross"]

_NEVER = 1e-9
"""What a rule changes along the pattern where turns are nothing to it, in its own unit."""


def legal_goals(
    goal: PerchGoal, loads: Floats, rules: BallastGoal, pattern: Floats
) -> Iterator[PerchGoal]:
    """Give goals within what is legal: the part of this one that is, else those nearest to it.

    Args:
        loads: (4,), in the first race trim before any turn; those of others are in the goal [N].
        rules: As if another scale read the same.
        pattern: (4,), what turns add, more or less of it [N].

    Returns:
        None at all where turns alone can't make the car legal.
    """
    trims = [OtherTrim(loads, goal.cross), *goal.others]
    low, high = _legal_span([trim.loads for trim in trims], rules, pattern)
    slopes = [float(_CROSS @ pattern / trim.loads.sum()) for trim in trims]
    if low > high or not slopes[0]:
        return
    # How far along the pattern each cross weight would be met.
    there = [
        (trim.cross - float(_CROSS @ trim.loads / trim.loads.sum())) / slope
        for trim, slope in zip(trims, slopes, strict=True)
    ]
    reach = [abs(goal.tolerance / slope) for slope in slopes]
    first = max(low, *(at - far for at, far in zip(there, reach, strict=True)))
    last = min(high, *(at + far for at, far in zip(there, reach, strict=True)))
    spans = [(first, last)] if first <= last else []
    middle = (min(there) + max(there)) / 2
    for tolerance in (*FINE_TOLERANCES, goal.tolerance):
        room = min(tolerance / abs(slopes[0]), (high - low) / 2)
        at = float(np.clip(middle, low + room, high - room))
        spans.append((at - room, at + room))
    for start, end in spans:
        yield _moved(goal, trims, slopes, start, end)


def _moved(
    goal: PerchGoal, trims: Sequence[OtherTrim], slopes: Sequence[float], start: float, end: float
) -> PerchGoal:
    """Ask for the loads between two ends along the pattern."""
    first, *others = (
        OtherTrim(
            trim.loads, float(_CROSS @ trim.loads / trim.loads.sum()) + slope * (start + end) / 2
        )
        for trim, slope in zip(trims, slopes, strict=True)
    )
    tolerance = min(map(abs, slopes)) * (end - start) / 2
    return replace(goal, cross=first.cross, others=tuple(others), tolerance=tolerance)


def _legal_span(
    trims: Sequence[Floats], rules: BallastGoal, pattern: Floats
) -> tuple[float, float]:
    """Say from where to where along a pattern all rules are met, and no wheel is lifted."""
    low, high = -inf, inf
    for loads in trims:
        for side, slope in _rows(loads, rules, pattern):
            if abs(slope) > _NEVER:
                end = -side / slope
                low, high = (max(low, end), high) if slope > 0 else (low, min(high, end))
            elif side < -1e-5:
                return inf, -inf
    return low, high


def _rows(loads: Floats, rules: BallastGoal, pattern: Floats) -> Iterator[tuple[float, float]]:
    """Give what each rule has to spare, and how much more for one pattern."""
    yield from zip(loads.tolist(), pattern.tolist(), strict=True)
    pairs = zip(met_rules(rules, loads), met_rules(rules, loads + pattern), strict=True)
    for here, there in pairs:
        sign = -1.0 if here.kind == "maximum" or here.kind.endswith("_high") else 1.0
        yield sign * (here.value - here.limit), sign * (there.value - here.value)
