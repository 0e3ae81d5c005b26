"""A ballast plan as a picture: all that the places can reach, the rules, and the plan in it."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.files.on_board import in_words
from balancer.files.units import Units
from balancer.planning.ballast.outcome import BallastPlan
from balancer.planning.ballast.reach import reach
from balancer.report.ballast import ballast_lines, total_and_front
from balancer.report.pictures import svg
from balancer.report.pictures.chart import Chart, captioned, chart, marks, span
from balancer.report.pictures.page import MARGIN, ROOM, SMALL, Page
from balancer.report.pictures.svg import Look, Point
from balancer.report.rules import band_words, binding_texts
from balancer.report.words.numbers import amount, percent
from balancer.weighing.load_states import Trim

_LEAST_ROOM = 40.0
"""Ballast that is drawn where nothing says how much there may be [kg]."""

_AREA = Look(svg.BLUE, 1.4, fill="#dcebf5")
_LEGAL = Look(svg.GREEN, 0.8, fill=svg.HATCH)
_LEGAL_LINE = Look(svg.GREEN, 4.0)
_LEAST = Look(svg.INK, 1.4)
_MOST = Look(svg.INK, 1.4, svg.DOTTED)
_BAND = Look(svg.INK, 1.2, svg.DASHED)
_NOW = Look(svg.INK, 0, shape="circle", size=8, fill=svg.PAPER)
_PLAN = Look(svg.INK, 0, shape="diamond", size=8, fill=svg.VERMILLION)


class _Reach(NamedTuple):
    """What mass at the places can do to a car, all in kg.

    Attributes:
        corners: (n, 2), of what can be reached: ballast, and what of it is on the front axle.
        limited: Whether the widest that is drawn is a limit, and not only the end of the paper.
    """

    corners: Floats
    total: float
    front: float
    widest: float
    limited: bool


def ballast_picture(file: CarFile, racing: Trim, plan: BallastPlan) -> str:
    """Draw what ballast at the places can do to the front share, and where the plan lies in it."""
    units, car = file.units, file.car
    reached = _reach(car, racing, plan)
    trim = in_words(racing.on_board, units)
    page = Page()
    page.head(car.name, f"What ballast can do in race trim, with {trim}")
    captioned(page, "front share, %")
    axes = _axes(page, reached, plan, units)
    legal = _draw(axes, reached, plan, units)
    axes.caption_below(f"ballast, {units.labels['mass']}")
    page.key(_key(plan, racing, reached.limited, legal, units))
    if any(plan.goal.axle_minimum) or plan.goal.wheel_minimum > 0:
        page.top += 4
        page.prose("Minimum loads on axles and wheels are not drawn.", SMALL)
    return page.finish(
        f"{car.name}: what ballast can reach", _told(plan, racing, _ends(reached), units)
    )


def _reach(car: Car, racing: Trim, plan: BallastPlan) -> _Reach:
    total = racing.shares.total / GRAVITY
    most, limited = _most(car, plan, total)
    # Where nothing may be bolted in there still is an axis.
    widest = max(most, plan.added, plan.goal.minimum - total, 1.0)
    return _Reach(reach(car, most), total, racing.shares.front * total, widest, limited)


def _axes(page: Page, reached: _Reach, plan: BallastPlan, units: Units) -> Chart:
    widest = units.from_si(reached.widest, "mass")
    front = [*(100 * _edge(reached)[:, 1]), *(100 * one for one in plan.goal.front or ())]
    y = span(map(float, front), 1.0, 0.1)
    axes = chart(page, 230, (-0.05 * widest, 1.05 * widest), y, MARGIN + 34, ROOM - 40)
    axes.axis_below(marks(0.0, widest, 5))
    axes.axis_left(marks(*y, 6))
    return axes


def _draw(axes: Chart, reached: _Reach, plan: BallastPlan, units: Units) -> bool:
    """Draw it all, and say whether anything that can be reached is legal."""
    goal, total = plan.goal, reached.total

    def shown(pairs: Iterable[Iterable[float]]) -> Iterator[Point]:
        for mass, front in pairs:
            yield units.from_si(float(mass), "mass"), 100 * float(front)

    axes.area(shown(_edge(reached)), _AREA)
    masses, low, high = _legal(reached, plan)
    if masses.size and _one_number(plan):
        axes.line(shown(zip(masses, low, strict=True)), _LEGAL_LINE)
    elif masses.size:
        around = [*zip(masses, low, strict=True), *zip(masses[::-1], high[::-1], strict=True)]
        axes.area(shown(around), _LEGAL)
    for limit in dict.fromkeys(goal.front or ()):
        axes.across(100 * limit, _BAND)
    if goal.minimum:
        axes.upright(units.from_si(max(goal.minimum - total, 0.0), "mass"), _LEAST)
    if goal.maximum < np.inf:
        axes.upright(units.from_si(goal.maximum - total, "mass"), _MOST)
    axes.mark(0.0, 100 * reached.front / total, _NOW)
    if plan.items:
        axes.mark(units.from_si(plan.added, "mass"), 100 * plan.shares.front, _PLAN)
    return bool(masses.size)


def _most(car: Car, plan: BallastPlan, total: float) -> tuple[float, bool]:
    """Give the most ballast to draw [kg], and whether that is a limit or only the end of paper."""
    stocks = (np.inf if one.stock is None else one.stock * one.mass for one in car.pieces)
    stock = sum(stocks) if car.pieces else np.inf
    most = min(plan.goal.most, stock, sum(place.most for place in car.places))
    if most < np.inf:
        return float(most), True
    needed = max(plan.goal.minimum - total, 0.0)
    return max(1.6 * plan.added, 1.6 * needed, _LEAST_ROOM), False


def _edge(reached: _Reach) -> Floats:
    """Walk around what can be reached: mass and front share; a straight side bends a little."""
    corners = reached.corners
    along = np.linspace(0, 1, 16, endpoint=False)[:, None]
    walked = np.concatenate(
        [
            here + along * (there - here)
            for here, there in zip(corners, np.roll(corners, -1, axis=0), strict=True)
        ]
    )
    return _shares(walked, reached)


def _shares(walked: Floats, reached: _Reach) -> Floats:
    front = (reached.front + walked[:, 1]) / (reached.total + walked[:, 0])
    return np.column_stack([walked[:, 0], front])


def _ends(reached: _Reach) -> tuple[float, float]:
    shares = _shares(reached.corners, reached)[:, 1]
    return float(shares.min()), float(shares.max())


def _legal(reached: _Reach, plan: BallastPlan) -> tuple[Floats, Floats, Floats]:
    """Give masses that the rules allow, and the least and the most front share with each."""
    goal, total, corners = plan.goal, reached.total, reached.corners
    heaviest = float(corners[:, 0].max())
    if goal.minimum - total > heaviest + 1e-9 or goal.maximum < total:
        return np.empty(0), np.empty(0), np.empty(0)
    limits = np.clip([goal.minimum - total, goal.maximum - total], 0, heaviest)
    masses = np.unique(np.clip(np.linspace(0, heaviest, 400), *limits))
    last = np.flatnonzero(np.isclose(corners[:, 0], heaviest))
    lower, upper = corners[: last[0] + 1], np.vstack([corners[:1], corners[last[-1] :][::-1]])
    low, high = (
        (reached.front + np.interp(masses, side[:, 0], side[:, 1])) / (total + masses)
        for side in (lower, upper)
    )
    if goal.front:
        low, high = np.maximum(low, goal.front[0]), np.minimum(high, goal.front[1])
    legal = high >= low
    return masses[legal], low[legal], high[legal]


def _key(
    plan: BallastPlan, racing: Trim, limited: bool, legal: bool, units: Units
) -> list[tuple[str, Look]]:
    reached = "what mass at the places can reach"
    key = [(reached if limited else f"{reached}; drawn as far as the paper goes", _AREA)]
    if legal:
        words = "of that, total and front share as the rules want them"
        key.append((words, _LEGAL_LINE if _one_number(plan) else _LEGAL))
    key.append((f"now: {total_and_front(racing.shares, units)}", _NOW))
    if plan.items:
        said = {"met": "the plan", "closest": "the closest there is", "gave_up": "the best found"}
        added = amount(plan.added, "mass", units, unit=True, sign=True)
        key.append((f"{said[plan.status]}: {added}, {percent(plan.shares.front, 2)} front", _PLAN))
    return [*key, *_key_of_rules(plan, units)]


def _key_of_rules(plan: BallastPlan, units: Units) -> Iterator[tuple[str, Look]]:
    goal = plan.goal
    if goal.minimum:
        yield f"minimum weight, {amount(goal.minimum, 'mass', units, unit=True)}", _LEAST
    if goal.maximum < np.inf:
        yield f"maximum weight, {amount(goal.maximum, 'mass', units, unit=True)}", _MOST
    if goal.front:
        yield f"front share wanted, {band_words(goal.front)} %", _BAND


def _one_number(plan: BallastPlan) -> bool:
    return plan.goal.front is not None and plan.goal.front[0] == plan.goal.front[1]


def _told(plan: BallastPlan, racing: Trim, ends: tuple[float, float], units: Units) -> str:
    low, high = (percent(one, 2) for one in ends)
    sentences = [
        f"Now {total_and_front(racing.shares, units)}.",
        f"Ballast at the places reaches front shares from {low} to {high}.",
        *(line.strip() for line in ballast_lines(plan, units)),
        f"That makes {total_and_front(plan.shares, units)}.",
        *(f"{text}." for text in binding_texts(plan, units)),
    ]
    return " ".join(sentences)
