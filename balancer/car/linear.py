"""Four springs under a rigid (or twisting) body: how they give way, and the one free pattern.

Four loads, three equations of equilibrium: one pattern of loads is free, and it is the only
one that a spring perch can move. Seen from above, with the driver looking up the page:

    LF +1/t_f    RF -1/t_f          LF and RR go up together,
    LR -1/t_r    RR +1/t_r          RF and LR go down: that is the cross weight.

An axle without springs (spring rate infinite, motion ratio 1) is solid: only its tires and the
chassis give way, and a perch move is the thickness of a spacer.

All in SI; arrays of four in the order LF RF LR RR. With one axis more in front they are those of
many cars, for which the formulas are the same (see `fleet`).
"""

import numpy as np

from balancer.car.conventions import GRAVITY, Floats
from balancer.car.model import Car


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
        return solve(suspension_stiffness(car), np.eye(4)) + _diagonal(1 / car.tire_rate)
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
        return solve(suspension_stiffness(car), force)
    sprung = ~car.solid
    stiffness, lifts = suspension_stiffness(car), np.array(perch, dtype=np.float64)
    rate = wheel_rate(car.spring_rate, car.motion_ratio)[sprung]
    force = rate * lifts[sprung] / car.motion_ratio[sprung]
    # Across a bar the solid corner, where an axle has just one, pulls the other along.
    force -= stiffness[np.ix_(sprung, ~sprung)] @ lifts[~sprung]
    lifts[sprung] = solve(stiffness[np.ix_(sprung, sprung)], force)
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


def _warp(car: Car) -> Floats:
    pattern = free_pattern(car.tracks)
    gives = np.einsum("...i,...ij,...j", pattern, compliance(car), pattern)
    return np.asarray(gives + 1 / car.torsional_stiffness)


def _diagonal(values: Floats) -> Floats:
    matrix = np.zeros((*values.shape, 4))
    matrix[..., range(4), range(4)] = values
    return matrix


def solve(matrix: Floats, right: Floats) -> Floats:
    """Solve a linear system, or many at once.

    Args:
        matrix: (..., n, n).
        right: (..., n, m), or (n,).
    """
    return np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)
