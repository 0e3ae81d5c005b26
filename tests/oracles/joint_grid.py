"""Ballast and turns by looking at every one: an oracle for the joint plan.

Every way to put whole pieces at places, with every setting of the four perches that keeps the
heights, is weighed in every race trim. Nothing is pruned and nothing is solved.

Order of wheels LF RF LR RR; aft is behind the front axle, left is left of the centerline [m].
Loads and masses are in kg. Cross weight is (RF+LR)/total, in percent.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from tests.oracles import Numbers

SLACK = 1e-9
KG = 9.80665  # newtons


@dataclass(frozen=True)
class Spot:
    """Where ballast may go.

    aft, left : [m]
    most : mass [kg]
    most_pieces : number, or None
    """

    aft: float
    left: float
    most: float
    most_pieces: int | None


@dataclass(frozen=True)
class Problem:
    """A rigid body on four springs, what may be put on it and turned, and what is wanted.

    trims : loads in each race trim (4,) [kg]
    targets : cross weight wanted in each [percent]
    wheelbase, tracks (front, rear) : [m]
    ride_rate : (4,) [N/m]
    step_lift : (4,) rise of a corner at constant load for one step [m]
    step_turns : (4,) turns in one step
    lo, hi : (4,) fewest and most steps
    tolerance : of the cross weight [points]
    height_tolerance : [m]
    spots, pieces : the latter as (mass [kg], how many there are)
    minimum : total [kg]
    front : lowest and highest front share [percent], or None
    wheel : least on every wheel [kg]
    cross : lowest and highest cross weight allowed [percent], or None
    most : ballast in all [kg]
    """

    trims: Sequence[np.ndarray]
    targets: Sequence[float]
    wheelbase: float
    tracks: tuple[float, float]
    ride_rate: Numbers
    step_lift: Numbers
    step_turns: Numbers
    lo: Sequence[int]
    hi: Sequence[int]
    tolerance: float
    height_tolerance: float
    spots: Sequence[Spot]
    pieces: Sequence[tuple[float, int]]
    minimum: float
    front: tuple[float, float] | None
    wheel: float
    cross: tuple[float, float] | None
    most: float


@dataclass(frozen=True)
class Way:
    """One ballast, and what turns make of it.

    counts : for each spot how many of each piece
    added : [kg]
    still : whether it is legal before any turn
    legal : whether turns that keep the heights make it legal
    miss : of such turns the least of the largest |cross - target| of all trims [points]; inf if
        there are none
    reaches : whether that is within tolerance
    front : |share - middle of the band| in the first trim [points]; 0 without a band
    left : |left share - 50| there, before turns [points]
    """

    counts: tuple[tuple[int, ...], ...]
    added: float
    still: bool
    legal: bool
    miss: float
    reaches: bool
    front: float
    left: float


def search(problem: Problem) -> list[Way]:
    """Weigh every way to put pieces at spots, with every setting of the perches."""
    moved, _ = settings(problem)
    return [_way(problem, counts, moved) for counts in ballasts(problem)]


def ballasts(problem: Problem) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Every number of pieces at every spot that stock and room allow."""
    each = [range(stock + 1) for _, stock in problem.pieces]
    masses = np.array([mass for mass, _ in problem.pieces])
    at_one = [list(map(tuple, product(*each))) for _ in problem.spots]
    for spot, options in zip(problem.spots, at_one, strict=True):
        options[:] = [
            one
            for one in options
            if masses @ one <= spot.most * (1 + SLACK)
            and (spot.most_pieces is None or sum(one) <= spot.most_pieces)
        ]
    stock = np.array([number for _, number in problem.pieces])
    for counts in product(*at_one):
        used = np.sum(counts, axis=0)
        if (used <= stock).all() and masses @ used <= problem.most * (1 + SLACK):
            yield counts


def settings(problem: Problem) -> tuple[np.ndarray, np.ndarray]:
    """What every setting that keeps the heights adds at the wheels, (m, 4) [kg], and its turns."""
    body, stiffness = _body(problem)
    steps = np.array(
        list(product(*(range(lo, hi + 1) for lo, hi in zip(problem.lo, problem.hi, strict=True)))),
        dtype=float,
    )
    lifts = steps * np.asarray(problem.step_lift)
    rates = np.asarray(problem.ride_rate)
    rises = np.linalg.solve(stiffness, body.T @ (rates[:, None] * lifts.T))
    heights = (body @ rises).T
    level = np.abs(heights).max(axis=1) <= problem.height_tolerance * (1 + SLACK)
    loads = rates * (lifts - heights) / KG
    return loads[level], steps[level] * np.asarray(problem.step_turns)


def loads_with(
    problem: Problem, counts: Sequence[Sequence[int]], trim: int, lifts: Numbers | None = None
) -> np.ndarray:
    """What the wheels carry with ballast (4,) [kg]; lifts: of the corners by turns (4,) [m]."""
    body, stiffness = _body(problem)
    rates = np.asarray(problem.ride_rate)
    now = np.array(problem.trims[trim], dtype=float)
    for spot, each in zip(problem.spots, counts, strict=True):
        mass = sum(one * number for (one, _), number in zip(problem.pieces, each, strict=True))
        sunk = np.linalg.solve(stiffness, mass * np.array([1.0, spot.aft, spot.left]))
        now += rates * (body @ sunk)
    if lifts is not None:
        rise = np.linalg.solve(stiffness, body.T @ (rates * np.asarray(lifts)))
        now += rates * (np.asarray(lifts) - body @ rise) / KG
    return now


def _way(problem: Problem, counts: tuple[tuple[int, ...], ...], moved: np.ndarray) -> Way:
    added = sum(
        one * number
        for each in counts
        for (one, _), number in zip(problem.pieces, each, strict=True)
    )
    still, legal, off = True, np.ones(len(moved), dtype=bool), np.zeros(len(moved))
    for trim, target in enumerate(problem.targets):
        now = loads_with(problem, counts, trim)
        still = still and bool(_legal(problem, now[None])[0])
        turned = now + moved
        legal &= _legal(problem, turned)
        cross = 100 * (turned[:, 1] + turned[:, 2]) / now.sum()
        off = np.maximum(off, np.abs(cross - target))
    miss = float(off[legal].min()) if legal.any() else np.inf
    first = loads_with(problem, counts, 0)
    front = 0.0
    if problem.front:
        front = abs(100 * first[:2].sum() / first.sum() - sum(problem.front) / 2)
    return Way(
        counts=counts,
        added=added,
        still=still,
        legal=bool(legal.any()),
        miss=miss,
        reaches=miss <= problem.tolerance * (1 + SLACK),
        front=front,
        left=abs(100 * (first[0] + first[2]) / first.sum() - 50),
    )


def _legal(problem: Problem, loads: np.ndarray) -> np.ndarray:
    total = loads.sum(axis=1)
    legal = (total >= problem.minimum - 1e-6) & (loads >= problem.wheel - 1e-6).all(axis=1)
    if problem.front:
        front = 100 * loads[:, :2].sum(axis=1) / total
        legal &= (front >= problem.front[0] - 1e-6) & (front <= problem.front[1] + 1e-6)
    if problem.cross:
        cross = 100 * loads[:, 1:3].sum(axis=1) / total
        legal &= (cross >= problem.cross[0] - 1e-6) & (cross <= problem.cross[1] + 1e-6)
    return np.asarray(legal)


def _body(problem: Problem) -> tuple[np.ndarray, np.ndarray]:
    front, rear = (track / 2 for track in problem.tracks)
    wheelbase = problem.wheelbase
    body = np.array(
        [[1, 0, front], [1, 0, -front], [1, wheelbase, rear], [1, wheelbase, -rear]], dtype=float
    )
    return body, body.T @ (np.asarray(problem.ride_rate)[:, None] * body)
