"""What stands between a car and its ballast: each limit is lifted to see whether it does."""

from collections.abc import Callable
from math import inf
from typing import Literal, NamedTuple

from balancer.car.conventions import Floats
from balancer.car.model import Car, Piece, Place
from balancer.planning.ballast.goal import BallastGoal
from balancer.planning.ballast.program import Program, build


class Bound(NamedTuple):
    """A limit on the ballast.

    Attributes:
        kind: `most` (ballast in all), `place` (what one place takes), `stock` (pieces there
            are), `grid` (whole pieces only).
        name: The place, where it is one.
        limit: [kg]; infinite where it is not a mass.
    """

    kind: Literal["most", "place", "stock", "grid"]
    name: str = ""
    limit: float = inf


class Binding(NamedTuple):
    """What stands between the car and the goal: lift these limits, and the goal can be met.

    Attributes:
        bounds: A single one, or several when only lifting them together helps; none when
            nothing does.
        needed: Ballast that would then meet the goal [kg]; infinite where nothing does.
    """

    bounds: tuple[Bound, ...]
    needed: float


def bindings_of(
    car: Car, goal: BallastGoal, loads: Floats, least: Callable[[Program], float]
) -> tuple[Binding, ...]:
    """Lift each limit alone and see whether the goal can then be met; if none will do, together.

    Args:
        loads: (4,), as in `program.build` [N].
        least: Gives the mass of the lightest ballast of a program that meets the goal [kg],
            infinite where none does.
    """

    def without(bounds: tuple[Bound, ...]) -> Binding:
        places, pieces, most = _lifted(car, goal, bounds)
        return Binding(bounds, least(build(car, places, pieces, most, loads)))

    bounds = _bounds(car, goal)
    alone = [lifted for bound in bounds if (lifted := without((bound,))).needed < inf]
    if alone:
        return tuple(alone)
    if without(bounds).needed == inf:
        return (Binding((), inf),)
    for bound in bounds:
        fewer = tuple(other for other in bounds if other != bound)
        if without(fewer).needed < inf:
            bounds = fewer
    return (without(bounds),)


def _bounds(car: Car, goal: BallastGoal) -> tuple[Bound, ...]:
    bounds = [Bound("grid")] if car.pieces else []
    if any(piece.stock is not None for piece in car.pieces):
        bounds.append(Bound("stock"))
    if goal.most < inf:
        bounds.append(Bound("most", "", goal.most))
    for place in car.places:
        if place.most < inf or place.most_pieces is not None:
            bounds.append(Bound("place", place.name, place.most))
    return tuple(bounds)


def _lifted(
    car: Car, goal: BallastGoal, bounds: tuple[Bound, ...]
) -> tuple[tuple[Place, ...], tuple[Piece, ...], float]:
    """Give places, pieces and most ballast with some limits lifted."""
    kinds = {bound.kind for bound in bounds}
    roomy = {bound.name for bound in bounds if bound.kind == "place"}
    places = tuple(
        place._replace(most=inf, most_pieces=None) if place.name in roomy else place
        for place in car.places
    )
    pieces = () if "grid" in kinds else car.pieces
    if "stock" in kinds:
        pieces = tuple(piece._replace(stock=None) for piece in pieces)
    return places, pieces, inf if "most" in kinds else goal.most
