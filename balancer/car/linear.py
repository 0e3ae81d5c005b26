"""The car as a rigid (or twisting) body on four springs: loads, and what changes them.

Four loads, three equations of equilibrium: one pattern of loads is free, and it is the only
one that a spring perch can move. Seen from above, with the driver looking up the page:

    LF +1/t_f    RF -1/t_f          LF and RR go up together,
    LR -1/t_r    RR +1/t_r          RF and LR go down: that is the cross weight.

An axle without springs (spring rate infinite, motion ratio 1) is solid: only its tires and the
chassis give way, and a perch move is the thickness of a spacer.

All in SI; arrays of four in the order LF RF LR RR. With one axis more in front they are those of
many cars, for which the formulas are the same (see `fleet`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from balancer.car.body import body_basis, leaning_weight, twist_stiffness, weight_arms
from balancer.car.conventions import CORNERS, GRAVITY, Floats
from balancer.car.model import Car, Item
from balancer.errors import UnstableCarError


def wheel_rate(spring_rate: Floats, motion_ratio: Floats) -> Floats:
    """Compute the spring rate as felt at the wheel: k_w = k_s · MR².

    Args:
        spring_rate: (4,), k_s [N/m].
        motion_ratio: (4,), MR, spring travel divided by wheel travel [1].

    Returns:
        (4,) [N/m]. The force term k_s·x·dMR/dz of a ratio that changes with travel is left out.

    References:
        D. C. Barton, J. D. Fieldhouse, *Automotive Chassis Engineering*, Springer 2018,
        eqs. 3.29-3.33.

    Examples:
        >>> float(wheel_rate(np.array(80e3), np.array(0.5)))
        20000.0
    """
    return spring_rate * motion_ratio**2


def ride_rate(wheel: Floats, tire: Floats) -> Floats:
    """Compute wheel rate and tire rate in series: k_w·k_t / (k_w + k_t).

    Args:
        wheel, tire: (4,), rates [N/m]; an infinite tire rate is a rigid tire, an infinite wheel
            rate an unsprung axle.

    Returns:
        (4,) [N/m]; infinite where both are.

    References:
        T. D. Gillespie, *Fundamentals of Vehicle Dynamics*, SAE 1992, ch. 5 (from memory).

    Examples:
        >>> float(ride_rate(np.array(30e3), np.array(60e3))), float(ride_rate(30e3, np.inf))
        (20000.0, 30000.0)
    """
    with np.errstate(divide="ignore"):
        return 1 / (1 / wheel + 1 / tire)


def ride_frequency(car: Car, loads: Floats) -> Floats:
    """Compute the undamped frequency of each corner on its ride rate.

    Args:
        loads: (4,) [N]; the unsprung mass is taken off, but not at an unsprung axle, where all
            rides on tires.

    Returns:
        (4,), √(k / m) / 2π [Hz], infinite where nothing gives way, NaN where a wheel hangs: its
        pad carries less than its unsprung mass. The corners are taken one by one; heave and
        pitch of the whole body lie around these.

    References:
        T. D. Gillespie, *Fundamentals of Vehicle Dynamics*, SAE 1992, ch. 5 (from memory).

    Examples:
        >>> from balancer.car.model import plain_car
        >>> ride_frequency(plain_car(), np.full(4, 2500.0)).round(2).tolist()
        [1.85, 1.85, 1.71, 1.71]
    """
    rate = ride_rate(wheel_rate(car.spring_rate, car.motion_ratio), car.tire_rate)
    unsprung = np.where(car.solid, 0.0, car.unsprung_mass)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.sqrt(rate / (loads / GRAVITY - unsprung)) / (2 * np.pi)


def off_the_ground(loads: Floats) -> tuple[str, ...]:
    """Name the wheels that are off the ground, or would have to pull on it.

    Args:
        loads: (4,) [N].

    Returns:
        Those that pull, or carry nothing at all since `ground.standing` took them off.
    """
    # What is left of a sum that should be nothing is no pull.
    slack = 1e-9 * np.abs(loads).sum()
    each = zip(CORNERS, loads, strict=True)
    return tuple(name for name, load in each if load < -slack or load == 0)


def lifts_a_wheel(loads: Floats) -> bool:
    """Say whether a wheel would be off the ground.

    Args:
        loads: (4,), as a linear car answers [N].
    """
    return bool(off_the_ground(loads))


def free_pattern(tracks: Floats) -> Floats:
    """Give the load pattern that leaves the total and both moments alone.

    Args:
        tracks: (2,), t_f, t_r [m].

    Returns:
        (4,), n = (1/t_f, -1/t_f, -1/t_r, 1/t_r) [1/m], which solves Bᵀn = 0 for B = [1, x, y].

    Examples:
        >>> free_pattern(np.array([1.6, 1.25])).tolist()
        [0.625, -0.625, -0.8, 0.8]
    """
    inverse = 1 / np.asarray(tracks)
    return np.asarray(inverse[..., [0, 0, 1, 1]] * np.array([1.0, -1.0, -1.0, 1.0]))


def suspension_stiffness(car: Car) -> Floats:
    """Assemble the stiffness between body and hubs: springs, and anti-roll bars across.

    Returns:
        (4, 4) [N/m]: wheel rates on the diagonal; a bar of rate k_b adds k_b·[[1, -1], [-1, 1]]
        to its axle, so that the antisymmetric rate is k_w + 2·k_b. Infinite on the diagonal
        where an axle is solid.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> suspension_stiffness(plain_car())[0].round().tolist()
        [34300.0, 0.0, 0.0, 0.0]
    """
    stiffness = _diagonal(wheel_rate(car.spring_rate, car.motion_ratio))
    for number, axle in enumerate((slice(0, 2), slice(2, 4))):
        bar = car.bar_rate[..., number, None, None]
        stiffness[..., axle, axle] += bar * np.array([[1.0, -1.0], [-1.0, 1.0]])
    return stiffness


def compliance(car: Car) -> Floats:
    """Assemble the compliance of the four corners, suspension and tire in series.

    Returns:
        (4, 4), C [m/N], diagonal when no bar is connected; an unsprung axle gives way in its
        tires alone.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> (1 / compliance(plain_car(tire_rate=(200e3, 200e3)))[0, 0]).round().tolist()
        29279.0
    """
    if not car.solid.any():
        return _solve(suspension_stiffness(car), np.eye(4)) + _diagonal(1 / car.tire_rate)
    sprung = ~car.solid
    springs = np.zeros((4, 4))
    held = np.ix_(sprung, sprung)
    springs[held] = np.linalg.inv(suspension_stiffness(car)[held])
    return np.asarray(springs + np.diag(1 / car.tire_rate), dtype=np.float64)


def lift(car: Car, perch: Floats) -> Floats:
    """Compute how far perch moves lift their corners while the loads stay as they are.

    Args:
        perch: (4,), perch moves [m], positive raises the car.

    Returns:
        (4,), d = p / MR without a bar; a connected bar holds back its antisymmetric part by k_w
        / (k_w + 2·k_b) [m]. d = p on an unsprung axle, bar or no bar.

    References:
        Derived here; see tests/oracles.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> lift(plain_car(), np.array([0.7e-3, 0, 0, 0])).round(6).tolist()
        [0.001, 0.0, 0.0, 0.0]
    """
    if not car.solid.any():
        force = wheel_rate(car.spring_rate, car.motion_ratio) * perch / car.motion_ratio
        return _solve(suspension_stiffness(car), force)
    sprung = ~car.solid
    stiffness, lifts = suspension_stiffness(car), np.array(perch, dtype=np.float64)
    rate = wheel_rate(car.spring_rate, car.motion_ratio)[sprung]
    force = rate * lifts[sprung] / car.motion_ratio[sprung]
    # Across a bar the solid corner, where an axle has just one, pulls the other along.
    force -= stiffness[np.ix_(sprung, ~sprung)] @ lifts[~sprung]
    lifts[sprung] = _solve(stiffness[np.ix_(sprung, sprung)], force)
    return lifts


def warp_compliance(car: Car) -> float:
    """Compute how far the free pattern gives way: nᵀ C n + 1/K.

    Returns:
        [1/(N·m)], with K the chassis torsional stiffness.

    References:
        Derived here (force method with one redundant); see tests/published/test_free_pattern.py.
    """
    return float(_warp(car))


def load_change(car: Car, lifts: Floats) -> Floats:
    """Compute the loads' answer to lifts at the corners, or to pads that are not level.

    Args:
        lifts: (4,) or (m, 4), d [m], positive up: from `lift`, or the heights of the pads.

    Returns:
        shape of `lifts`, ΔN = n · nᵀd / (nᵀ C n + 1/K) [N]. The total and both moments stay:
        the shift of the center of gravity as the body leans is left out, which is well under 1
        % of ΔN.

    References:
        Derived here; see tests/oracles.

    Examples:
        >>> from balancer.car.model import plain_car
        >>> load_change(plain_car(), np.array([0.001, 0, 0, 0])).round(2).tolist()
        [7.92, -7.92, -7.92, 7.92]
    """
    pattern = free_pattern(car.tracks)
    amount = np.einsum("...i,...i", lifts, pattern) / _warp(car)
    return np.asarray(amount[..., None] * pattern)


def pad_slopes(car: Car) -> Floats:
    """Compute what each pad's height does to the loads: `load_change` of each alone.

    Returns:
        (4, 4), pad by pad, n·nᵀ / (nᵀ C n + 1/K) [N/m]; not finite where nothing gives way.
    """
    pattern = free_pattern(car.tracks)
    with np.errstate(divide="ignore", invalid="ignore"):
        each = pattern / np.asarray(_warp(car))[..., None]
    return np.asarray(each[..., :, None] * pattern[..., None, :])


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
    pushed = basis.T @ _solve(compliance(car), lifts.T)
    moved = _solve(held, pushed)
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
    pushed = np.swapaxes(basis, -1, -2) @ _solve(gives, lifts)
    risen = basis @ _solve(held, pushed - down)
    return _solve(gives, lifts - risen)[..., 0], risen[..., 0]


def added_loads(
    car: Car, mass: Floats | float, aft: Floats | float, left: Floats | float
) -> Floats:
    """Compute what a mass put on the body adds to the four pads.

    Total and moments follow from where it is; the free pattern from the springs, for the
    problem is statically indeterminate.

    Args:
        mass: [kg]; negative for something taken off.
        aft, left: Where it is [m].

    Returns:
        (4,), ΔN = R·B·(Bᵀ R B)⁻¹·w [N] with R the inverse of the compliance and w the load and
        its two moments. A chassis that twists takes the side moment at front and rear in
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
        rigid = np.zeros((len(weight), len(weight)))
        return _settled(car, np.zeros((4, 1)), weight[:, None], rigid)[0][:, 0]
    basis, stiffness = _body(car)
    moved = basis @ _solve(stiffness, weight[..., None])
    return np.asarray(_solve(compliance(car), moved)[..., 0])


def item_loads(car: Car, items: Sequence[Item]) -> Floats:
    """Compute what items on board put on the four pads.

    Args:
        items: Negative masses for what is taken off.

    Returns:
        (4,) [N]: the sum of `added_loads`.
    """
    loads = np.zeros(4)
    for item in items:
        loads += added_loads(car, item.mass, item.aft, item.left)
    return loads


def _body(car: Car, softening: Floats | None = None) -> tuple[Floats, Floats]:
    """Give how the body moves at the wheel stations, and its stiffness against moving so."""
    basis = body_basis(car)
    across = np.swapaxes(basis, -1, -2)
    stiffness = across @ _solve(compliance(car), basis) + twist_stiffness(car)
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
    found = _solve(system, np.concatenate(list(sides), axis=-2))
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


def _warp(car: Car) -> Floats:
    pattern = free_pattern(car.tracks)
    gives = np.einsum("...i,...ij,...j", pattern, compliance(car), pattern)
    return np.asarray(gives + 1 / car.torsional_stiffness)


def _diagonal(values: Floats) -> Floats:
    matrix = np.zeros((*values.shape, 4))
    matrix[..., range(4), range(4)] = values
    return matrix


def _solve(matrix: Floats, right: Floats) -> Floats:
    return np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)
