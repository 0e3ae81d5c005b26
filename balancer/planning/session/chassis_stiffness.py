"""The torsional stiffness of the chassis, from what the pads say to perches turned.

A perch move answers through everything that gives way under the free pattern: springs, tires and
the twist of the chassis. Trust the rates, and what is left over is the chassis. It is a small
difference of two larger numbers: its uncertainty goes with it, and often only one end of it is
known.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import inf
from statistics import NormalDist
from typing import Literal, NamedTuple

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.linear import compliance, free_pattern, lift
from balancer.car.model import Car
from balancer.car.statics import statics_of
from balancer.planning.session.diagonal import TURN_SD, diagonal_load
from balancer.weighing.weigh import WeighIn

RATES_UNCERTAINTY = 0.03
"""Relative standard uncertainty of what springs and tires give way, where rates were measured;
common practice, no published source."""

CONFIDENCE_LEVEL = 0.9
"""Chance that the interval holds the true stiffness."""

BLAMED = 3.0
"""Uncertainties beyond a rigid chassis from which on rates or turns are blamed."""

STRANGE = 3.0
"""Uncertainties that a pad may be off the free pattern before something else has changed."""

Status = Literal["found", "at_least", "contradiction", "unclear"]


class Torsion(NamedTuple):
    """What weigh-ins and turns say of a chassis.

    Attributes:
        status: `found`: both ends of the interval are known; `at_least`: only the lower one,
            the chassis may as well be rigid; `contradiction`: even a rigid one would have
            answered less, or the loads went against the turns; `unclear`: the answer is lost in
            its own uncertainty.
        stiffness: K [N·m/rad]; infinite where the best estimate is a rigid chassis or there is
            none.
        low, high: Ends of the interval of `CONFIDENCE_LEVEL` [N·m/rad]; 0 and infinite where they
            are not known.
        flexibility, uncertainty: 1/K and its standard uncertainty [1/(N·m)]; may be negative.
            Infinite uncertainty where `unclear`.
        answer, answer_uncertainty: Change of the loads, over what a rigid chassis would make of
            these turns [1]; 0 where nothing but the chassis gives way.
        share: Of all that gives way, what the chassis gives [1].
        causes: Standard uncertainty of 1/K from `scales`, `turns` and `rates`, over all that
            gives way [1].
        strange: tuple of (int, array (4,)), sets of turns, from 0, after which pads changed in
            a way that no turn explains, and by how much [N].
    """

    status: Status
    stiffness: float
    low: float
    high: float
    flexibility: float
    uncertainty: float
    answer: float
    answer_uncertainty: float
    share: float
    causes: dict[str, float]
    strange: tuple[tuple[int, Floats], ...]


def applied_warp(car: Car, turns: Floats) -> float:
    """Compute what turns put into the free pattern: nᵀd.

    Args:
        turns: (4,), at corners with a threaded perch; positive up [turn].

    Returns:
        An angle, the warp that the turns make [rad]. 0 for turns that raise and lower the car
        without twisting it: they can't tell anything of a chassis.
    """
    perch = np.nan_to_num(car.perch_lead) * turns
    return float(free_pattern(car.tracks) @ lift(car, perch))


def torsion(
    car: Car,
    weigh_ins: Sequence[WeighIn],
    turns: Sequence[Floats],
    rates_uncertainty: float = RATES_UNCERTAINTY,
    turn_sd: float = TURN_SD,
) -> Torsion:
    """Estimate the torsional stiffness of a chassis from weigh-ins and the turns between them.

    ΔN = λ·n with λ = nᵀd / (nᵀ C n + 1/K), so 1/K = nᵀd/λ - nᵀ C n. Several sets of turns are put
    together by generalized least squares in the answer 1/(nᵀ C n + 1/K).

    Args:
        car: Springs, motion ratios and tires as measured; its torsional stiffness is not used.
            Corners that are not linear are taken as they stand at the first weigh-in.
        weigh_ins: Two or more, in the order they were weighed, with nothing but perches
            changed.
        turns: sequence of array (4,), between them, so one fewer [turn].
        rates_uncertainty: Relative standard uncertainty of nᵀ C n, from that of rates and
            motion ratios [1].
        turn_sd: Standard deviation of the turns at each corner that was turned [turn].

    Returns:
        Scatter of the pads, turns and rates are in its uncertainty; what pads get wrong every
        time alike counts only in the change. The interval takes the answer's bend (a quotient)
        into account.

    Raises:
        ValueError: When there are not one fewer turns than weigh-ins, or no turn twists the
            car.

    References:
        JCGM 100:2008, 5.1.2 and 5.2.2. Derived here; held against a frame solver in
        tests/oracles/test_chassis_twist.py and draws in tests/properties/test_chassis_stiffness.py.
    """
    car = statics_of(car, weigh_ins[0].loads).linear
    arms = np.array([applied_warp(car, each) for each in turns])
    if len(turns) != len(weigh_ins) - 1 or not np.abs(np.cumsum(arms)).max(initial=0.0) > 1e-9:
        raise ValueError("turns between the weigh-ins that twist the car are needed")
    pattern = free_pattern(car.tracks)
    rates = float(pattern @ compliance(car) @ pattern)
    diagonals = np.array([diagonal_load(car, weigh_in.loads) for weigh_in in weigh_ins])
    # A millionth of a newton meter, so that perfect pads can be weighed against each other.
    scatter = 1e-12 + np.array([_scatter(car, weigh_in) for weigh_in in weigh_ins])
    turn_sds = np.array([_arm_sd(car, each, turn_sd) for each in turns])
    # What the turns came out wrong by stays for all later weigh-ins; it answers as the turns do.
    later = np.tril(np.ones((len(diagonals), len(turns))), -1)
    rows = np.column_stack([np.ones(len(diagonals)), later @ arms])
    wrong = (later * turn_sds) @ (later * turn_sds).T
    answer, gains = 0.0, np.zeros(len(diagonals))
    for _ in range(4):
        covariance = np.diag(scatter) + answer**2 * wrong
        gains = _least_squares(rows, covariance)
        answer = float(gains @ diagonals)
    parts = {
        "scales": float(np.hypot(np.sqrt(gains @ (scatter * gains)), answer * _pads(car))),
        "turns": float(abs(answer) * np.sqrt(gains @ wrong @ gains)),
    }
    unsure = float(np.hypot(parts["scales"], parts["turns"]))
    strange = tuple(_strange(car, weigh_ins))
    return _with_interval(answer, unsure, rates, rates_uncertainty * rates, parts, strange)


def _least_squares(rows: Floats, covariance: Floats) -> Floats:
    """Give the weights with which the diagonal loads make the answer."""
    weighed = np.linalg.solve(covariance, rows)
    return np.asarray(np.linalg.solve(rows.T @ weighed, weighed.T)[1], dtype=np.float64)


def _with_interval(
    answer: float,
    unsure: float,
    rates: float,
    rates_unsure: float,
    parts: dict[str, float],
    strange: tuple[tuple[int, Floats], ...],
) -> Torsion:
    """Turn the answer 1/(nᵀ C n + 1/K) and its uncertainty into a stiffness and its interval."""
    far = NormalDist().inv_cdf((1 + CONFIDENCE_LEVEL) / 2)
    ratio = answer * rates, float(np.hypot(unsure * rates, answer * rates_unsure))
    if answer <= far * unsure:
        status: Status = "contradiction" if answer < -BLAMED * unsure else "unclear"
        nothing = {**dict.fromkeys(parts, inf), "rates": inf}
        return Torsion(status, inf, 0.0, inf, inf, inf, *ratio, 0.0, nothing, strange)
    warp = 1 / answer

    def end(times: float) -> float:
        """Give the flexibility so many uncertainties away, minding that a quotient bends."""
        there = answer - times * unsure
        off = 1 / there - warp if there > 0 else inf
        return float(warp - rates + np.copysign(np.hypot(off, times * rates_unsure), times))

    softest, stiffest = end(far), end(-far)
    if softest <= 0:
        # A rigid chassis, seldom, looks so by chance: nobody is blamed before three uncertainties.
        softest = max(end(BLAMED), 0.0)
    status = "found" if stiffest > 0 else "at_least" if softest > 0 else "contradiction"
    return Torsion(
        status=status,
        stiffness=1 / (warp - rates) if warp > rates else inf,
        low=1 / softest if softest > 0 else 0.0,
        high=1 / stiffest if stiffest > 0 else inf,
        flexibility=warp - rates,
        uncertainty=float(np.hypot(unsure * warp**2, rates_unsure)),
        answer=ratio[0],
        answer_uncertainty=ratio[1],
        share=(warp - rates) * answer,
        causes={name: part * warp for name, part in parts.items()}
        | {"rates": rates_unsure * answer},
        strange=strange,
    )


def _scatter(car: Car, weigh_in: WeighIn) -> float:
    """Give the variance of the free pattern's amount in the loads."""
    pattern = free_pattern(car.tracks)
    return float(pattern @ weigh_in.scatter @ pattern / (pattern @ pattern) ** 2)


def _pads(car: Car) -> float:
    """Give how wrong the pads' accuracy makes a change along the free pattern [1]."""
    squares = free_pattern(car.tracks) ** 2
    alone = car.scales.accuracy * np.linalg.norm(squares) / squares.sum()
    return float(np.hypot(alone, car.scales.common_accuracy))


def _arm_sd(car: Car, turns: Floats, turn_sd: float) -> float:
    """Give what turns put in the free pattern may come out wrong by [rad]."""
    each = [applied_warp(car, unit) for unit in np.diag(np.where(turns != 0, turn_sd, 0.0))]
    return float(np.linalg.norm(each))


def _strange(car: Car, weigh_ins: Sequence[WeighIn]) -> list[tuple[int, Floats]]:
    """Find changes that are not along the free pattern: something else was done to the car."""
    pattern = free_pattern(car.tracks)
    strange = []
    for index, (before, after) in enumerate(pairwise(weigh_ins)):
        change = after.loads - before.loads
        rest = change - diagonal_load(car, change) * pattern
        uncertainties = np.sqrt(np.diag(before.scatter + after.scatter))
        # A tenth of a gram on top, so that perfect pads are not held to the last bit.
        most = STRANGE * uncertainties + car.scales.accuracy * np.abs(change) + 1e-3
        if (np.abs(rest) > most).any():
            strange.append((index, rest))
    return strange
