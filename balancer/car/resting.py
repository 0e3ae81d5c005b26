"""Where the body of a linear car comes to rest, and what masses on it put on the pads.

As in `linear`: SI, arrays of four in the order LF RF LR RR, many cars with one axis more in front.
"""

from collections.abc import Sequence

import numpy as np

from balancer.car.body import body_basis, leaning_weight, twist_stiffness, weight_arms
from balancer.car.conventions import GRAVITY, Floats
from balancer.car.errors import UnstableCarError
from balancer.car.linear import compliance, solve
from balancer.car.model import Car, Item


def height_change(car: Car, lifts: Floats, loads: Floats) -> Floats:
    """Compute how far the body rises above each wheel station when corners are lifted.

    Heave, pitch and roll (front and rear roll apart when the chassis twists) in equilibrium on
    suspension and tires. Weight above the ground softens pitch and roll: W·h is taken off the
    two angular stiffnesses.

    Args:
        lifts: (4,) or (m, 4) [m], as in `load_change`.
        loads: (4,), the loads now [N].

    Returns:
        shape of `lifts` [m], positive up, right for changes of a few degrees at most.

    Raises:
        UnstableCarError: When weight times height is more than the springs hold up in pitch or
            roll.

    References:
        Derived here; see tests/oracles. The softening is that of Barton & Fieldhouse, *Automotive
        Chassis Engineering*, Springer 2018, p. 174, worked example (b).

    Examples:
        >>> from balancer.car.model import plain_car
        >>> raised = height_change(plain_car(), np.full(4, 0.002), np.full(4, 2500.0))
        >>> raised.round(6).tolist()
        [0.002, 0.002, 0.002, 0.002]
    """
    softening = car.cg_up * np.diag(leaning_weight(car, loads))
    if car.solid.any():
        nothing = np.zeros((len(softening), 1))
        _, moved = _settled(car, np.atleast_2d(lifts).T, nothing, softening)
        return (body_basis(car) @ moved).T.reshape(lifts.shape)
    basis, held = _body(car, softening)
    pushed = basis.T @ solve(compliance(car), lifts.T)
    moved = solve(held, pushed)
    return (basis @ moved).T


def at_rest(car: Car, lifts: Floats, down: Floats, softening: Floats) -> tuple[Floats, Floats]:
    """Find where a car comes to rest: lifted at its corners, weighed down, and leaning further.

    Args:
        lifts: (..., 4) [m], as in `load_change`.
        down: (..., n), weight that is added, and its moments, against each move of the body.
        softening: (n,), what weight above the ground takes off the stiffness against each.

    Returns:
        (..., 4), change of the loads [N].
        (..., 4), how far the body rises above each wheel station [m].

    Raises:
        UnstableCarError: Where that is more than the springs hold up.
    """
    lean = softening[..., None] * np.eye(softening.shape[-1])
    lifts, down = lifts[..., None], down[..., None]
    if car.solid.any():
        loads, moved = _settled(car, lifts, down, lean)
        return loads[..., 0], (body_basis(car) @ moved)[..., 0]
    (basis, held), gives = _body(car, lean), compliance(car)
    pushed = np.swapaxes(basis, -1, -2) @ solve(gives, lifts)
    risen = basis @ solve(held, pushed - down)
    return solve(gives, lifts - risen)[..., 0], risen[..., 0]


def added_loads(
    car: Car, mass: Floats | float, aft: Floats | float, left: Floats | float
) -> Floats:
    """Compute what a mass put on the body adds to the four pads.

    Total and moments follow from where it is; the free pattern from the springs, for the
    problem is statically indeterminate.

    Args:
        mass: [kg]; negative for something taken off. Several, (k,), each by itself.
        aft, left: Where it is [m].

    Returns:
        (4,), or (k, 4), ΔN = R·B·(Bᵀ R B)⁻¹·w [N] with R the inverse of the compliance and w the
        load and its two moments. A chassis that twists takes the side moment at front and rear in
        proportion to where the mass sits between the axles.

    References:
        Derived here; see tests/oracles, and tests/published/test_free_pattern.py for the square
        plate on four equal springs.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.conventions import GRAVITY
        >>> (added_loads(plain_car(wheelbase=2.4), 10, 1.2, 0) / GRAVITY).round(9).tolist()
        [2.5, 2.5, 2.5, 2.5]
    """
    weight = np.asarray(mass)[..., None] * GRAVITY * weight_arms(car, aft, left)
    if car.solid.any():
        rigid = np.zeros((weight.shape[-1], weight.shape[-1]))
        return _settled(car, np.zeros((4, 1)), weight[..., None], rigid)[0][..., 0]
    basis, stiffness = _body(car)
    moved = basis @ solve(stiffness, weight[..., None])
    return np.asarray(solve(compliance(car), moved)[..., 0])


def item_loads(car: Car, items: Sequence[Item]) -> Floats:
    """Compute what items on board put on the four pads.

    Args:
        items: Negative masses for what is taken off.

    Returns:
        (4,) [N]: the sum of `added_loads`.
    """
    masses = np.array([item[1:4] for item in items], dtype=np.float64).reshape(-1, 3)
    return np.asarray(added_loads(car, *masses.T).sum(axis=0))


def _body(car: Car, softening: Floats | None = None) -> tuple[Floats, Floats]:
    """Give how the body moves at the wheel stations, and its stiffness against moving so."""
    basis = body_basis(car)
    across = np.swapaxes(basis, -1, -2)
    stiffness = across @ solve(compliance(car), basis) + twist_stiffness(car)
    if softening is None:
        return basis, stiffness
    held = stiffness - softening
    if np.linalg.eigvalsh(held).min() <= 0:
        raise UnstableCarError
    return basis, held


def _settled(car: Car, lifts: Floats, weight: Floats, softening: Floats) -> tuple[Floats, Floats]:
    """Find loads (..., 4, m) and moves (..., n, m) where some corners may not give way at all.

    Both are found together, C·N + B·q = d and Bᵀ·N - (K - softening)·q = w, for a
    compliance of 0 has no inverse. Where all corners give way this is what `_body` solves.
    """
    basis = body_basis(car)
    held = twist_stiffness(car) - softening
    system = np.block([[compliance(car), basis], [basis.T, -held]])
    if not stands(system, len(held)):
        raise UnstableCarError
    each = np.broadcast_shapes(lifts.shape[:-2], weight.shape[:-2])
    many = max(lifts.shape[-1], weight.shape[-1])
    sides = (np.broadcast_to(one, (*each, one.shape[-2], many)) for one in (lifts, weight))
    found = solve(system, np.concatenate(list(sides), axis=-2))
    return found[..., :4, :], found[..., 4:, :]


def stands(system: Floats, moves: int) -> bool:
    """Say whether a body stands that loads at its wheels and moves are found of together.

    Args:
        system: (w + n, w + n), of its equations.
        moves: n.
    """
    # Meters and newtons in like numbers; a body that stands has one negative value for each of
    # its moves, which is what positive stiffness comes to where the compliance may be 0.
    scale = np.concatenate([np.full(len(system) - moves, 1e3), np.full(moves, 1e-3)])
    negative = np.linalg.eigvalsh(scale * system * scale[:, None]) < 0
    return int(np.count_nonzero(negative)) == moves
