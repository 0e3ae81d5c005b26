"""A ballast plan as a picture: all that the places can reach, the rules, and the plan in it."""

from __future__ import annotations

from typing import Any

import numpy as np

from balancer.ballast.plan import BallastPlan
from balancer.ballast.reach import reach
from balancer.car.conventions import GRAVITY, Floats
from balancer.files.car_file import CarFile
from balancer.files.states import in_words
from balancer.report.ballast import ballast_lines, binding_texts, total_and_front
from balancer.report.pictures.page import (
    BLUE,
    GREEN,
    INK,
    MARGIN,
    ROOM,
    SMALL,
    SOFT,
    VERMILLION,
    Paper,
    drawn,
    mark,
    marks,
    span,
)
from balancer.report.words import amount, number, percent
from balancer.units import Units
from balancer.weighing.load_states import Trim

_LEAST_ROOM = 40.0
"""Ballast that is drawn where nothing says how much there may be [kg]."""

_AREA: dict[str, Any] = {"facecolor": "#dcebf5", "edgecolor": BLUE, "linewidth": 1.4}
_LEGAL: dict[str, Any] = {
    "facecolor": "none", "edgecolor": GREEN, "linewidth": 0.8, "hatch": "//////",
}  # fmt: skip
_LEGAL_LINE: dict[str, Any] = {"color": GREEN, "linewidth": 4.0, "solid_capstyle": "butt"}
_LEAST: dict[str, Any] = {"color": INK, "linewidth": 1.4, "linestyle": "solid"}
_MOST: dict[str, Any] = {"color": INK, "linewidth": 1.4, "linestyle": (0, (1, 1.5))}
_BAND: dict[str, Any] = {"color": INK, "linewidth": 1.2, "linestyle": (0, (5, 3))}
_NOW: dict[str, Any] = {
    "color": INK, "marker": "o", "markersize": 8, "markerfacecolor": "white",
    "markeredgewidth": 1.6, "linestyle": "none",
}  # fmt: skip
_PLAN: dict[str, Any] = {
    "color": VERMILLION, "marker": "D", "markersize": 8, "markeredgecolor": INK,
    "linestyle": "none",
}  # fmt: skip


def ballast_picture(file: CarFile, racing: Trim, plan: BallastPlan) -> str:
    """Draw what ballast at the places can do to the front share, and where the plan lies in it.

    Parameters
    ----------
    racing : Trim
        In race trim, without the ballast.
    Returns
    -------
    str
        SVG.
    """
    units, goal, car = file.units, plan.goal, file.car
    total = racing.shares.total / GRAVITY
    front = racing.shares.front * total
    most, limited = _most(car, plan, total)
    corners = reach(car, most)
    least = max(goal.minimum - total, 0.0) if goal.minimum else None
    unit = units.labels["mass"]

    def shown(mass: float) -> float:
        return units.from_si(mass, "mass")

    def draw(paper: Paper) -> None:
        paper.head(
            car.name,
            f"What ballast can do in race trim, with {in_words(racing.on_board, units)}",
        )
        paper.words("front share, %", size=SMALL, color=SOFT)
        paper.top += 16
        axes = paper.axes(230, MARGIN + 34, ROOM - 40)
        paper.top += 18
        paper.words(f"ballast, {unit}", MARGIN + 34, size=SMALL, color=SOFT)
        paper.top += 22
        edge = _edge(corners, total, front)
        band = [100 * one for one in goal.front or ()]
        axes.set_ylim(*span([*(100 * edge[:, 1]), *band], 1.0, 0.1))
        widest = max(most, plan.added, least or 0.0)
        axes.set_xlim(-shown(0.05 * widest), shown(1.05 * widest))
        mark(axes, "x", marks(0.0, shown(widest), 5))
        mark(axes, "y", marks(*axes.get_ylim(), 6))
        axes.fill([shown(m) for m in edge[:, 0]], 100 * edge[:, 1], **_AREA)
        masses, low, high = _legal(corners, plan, total, front)
        legal = high >= low
        if _one_number(plan):
            axes.plot([shown(m) for m in masses[legal]], 100 * low[legal], zorder=3, **_LEGAL_LINE)
        else:
            axes.fill_between([shown(m) for m in masses], 100 * low, 100 * high, legal, **_LEGAL)
        for limit in dict.fromkeys(band):
            axes.axhline(limit, **_BAND)
        if least is not None:
            axes.axvline(shown(least), **_LEAST)
        if goal.maximum < np.inf:
            axes.axvline(shown(goal.maximum - total), **_MOST)
        axes.plot([0], [100 * front / total], zorder=5, **_NOW)
        if plan.items:
            axes.plot([shown(plan.added)], [100 * plan.shares.front], zorder=6, **_PLAN)
        paper.key(_key(plan, racing, limited, bool(legal.any()), units))
        if _unseen(plan):
            paper.top += 4
            paper.prose("Least loads on axles and wheels are not drawn.", SMALL)

    return drawn(
        f"{car.name}: what ballast can reach",
        _told(plan, racing, edge_of(corners, total, front), units),
        draw,
    )


def _most(car: Any, plan: BallastPlan, total: float) -> tuple[float, bool]:
    """Give the most ballast to draw [kg], and whether that is a limit or only the end of paper."""
    stock = (
        sum(np.inf if piece.stock is None else piece.stock * piece.mass for piece in car.pieces)
        if car.pieces
        else np.inf
    )
    places = sum(place.most for place in car.places)
    most = min(plan.goal.most, stock, places)
    if most < np.inf:
        return float(most), True
    needed = max(plan.goal.minimum - total, 0.0)
    return max(1.6 * plan.added, 1.6 * needed, _LEAST_ROOM), False


def _edge(corners: Floats, total: float, front: float) -> Floats:
    """Walk around what can be reached: mass and front share; a straight side bends a little."""
    ends = np.roll(corners, -1, axis=0)
    along = np.linspace(0, 1, 16, endpoint=False)[:, None]
    walked = np.concatenate(
        [here + along * (there - here) for here, there in zip(corners, ends, strict=True)]
    )
    return np.column_stack([walked[:, 0], (front + walked[:, 1]) / (total + walked[:, 0])])


def edge_of(corners: Floats, total: float, front: float) -> tuple[float, float]:
    """Give the lowest and the highest front share that can be reached."""
    shares = (front + corners[:, 1]) / (total + corners[:, 0])
    return float(shares.min()), float(shares.max())


def _legal(
    corners: Floats, plan: BallastPlan, total: float, front: float
) -> tuple[Floats, Floats, Floats]:
    """Give, for masses that the rules on the total allow, front shares that can be and may be."""
    goal = plan.goal
    end = int(np.argmax(corners[:, 0]))
    masses = np.unique(
        np.clip(
            np.linspace(0, corners[end, 0], 400), goal.minimum - total, goal.maximum - total
        ).clip(0, corners[end, 0])
    )
    if goal.minimum - total > corners[end, 0] + 1e-9 or goal.maximum < total:
        return np.zeros(1), np.ones(1), np.zeros(1)
    last = np.flatnonzero(np.isclose(corners[:, 0], corners[end, 0]))
    lower = corners[: last[0] + 1]
    upper = np.vstack([corners[:1], corners[last[-1] :][::-1]])
    low, high = (
        (front + np.interp(masses, side[:, 0], side[:, 1])) / (total + masses)
        for side in (lower, upper)
    )
    if goal.front:
        low, high = np.maximum(low, goal.front[0]), np.minimum(high, goal.front[1])
    return masses, low, high


def _key(
    plan: BallastPlan, racing: Trim, limited: bool, legal: bool, units: Units
) -> list[tuple[str, dict[str, Any]]]:
    goal = plan.goal
    reached = "what mass at the places can reach"
    key: list[tuple[str, dict[str, Any]]] = [
        (reached if limited else f"{reached}; drawn as far as the paper goes", _AREA)
    ]
    if legal:
        key.append(
            (
                "of that, total and front share as the rules want them",
                _LEGAL_LINE if _one_number(plan) else _LEGAL,
            )
        )
    key.append((f"now: {total_and_front(racing.shares, units)}", _NOW))
    if plan.items:
        said = {"met": "the plan", "closest": "the closest there is", "gave_up": "the best found"}
        added = amount(plan.added, "mass", units, unit=True, sign=True)
        key.append((f"{said[plan.status]}: {added}, {percent(plan.shares.front, 2)} front", _PLAN))
    if goal.minimum:
        key.append((f"least weight, {amount(goal.minimum, 'mass', units, unit=True)}", _LEAST))
    if goal.maximum < np.inf:
        key.append((f"most weight, {amount(goal.maximum, 'mass', units, unit=True)}", _MOST))
    if goal.front:
        low, high = (number(100 * one, 2) for one in goal.front)
        key.append((f"front share wanted, {low if low == high else f'{low} to {high}'} %", _BAND))
    return key


def _one_number(plan: BallastPlan) -> bool:
    return plan.goal.front is not None and plan.goal.front[0] == plan.goal.front[1]


def _unseen(plan: BallastPlan) -> bool:
    return any(plan.goal.axle_minimum) or plan.goal.wheel_minimum > 0


def _told(plan: BallastPlan, racing: Trim, ends: tuple[float, float], units: Units) -> str:
    low, high = (percent(one, 2) for one in ends)
    said = [
        f"Now {total_and_front(racing.shares, units)}.",
        f"Ballast at the places reaches front shares from {low} to {high}.",
        *(line.strip() for line in ballast_lines(plan, units)),
        f"That makes {total_and_front(plan.shares, units)}.",
        *(f"{text}." for text in binding_texts(plan, units)),
    ]
    return " ".join(said)
