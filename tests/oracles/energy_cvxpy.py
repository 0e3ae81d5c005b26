"""Rest as the least potential energy, by cvxpy: an oracle for cars with stops, tenders and bars.

All positions are relative to the state in which the car was weighed; all are 0 there. Unknown are
the body (heave, pitch slope and roll slope, or front and rear roll apart on a chassis that twists),
the four hubs and the four tenders:

    body over station i   b = heave + pitch·aft + roll·left
    wheel travel          u = z - b                       z: hub
    shock, spring         s = s₀ + r·u + mount,  x = x₀ + r·u + mount + perch
    tire                  squash = N₀/k + pad - z

Each element stores ½·k·max(0, what squeezes it)², and gravity is the constant force that balances
the weighed state. Two springs in series have a compression each; nothing is said of their force.
That the weight leans outwards is the one part that isn't convex; it is taken at the attitude of the
round before until nothing moves; each round shrinks the error by weight·height over stiffness.

Motion ratios r are constant here. SI units, corners LF RF LR RR.
"""

import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, isinf

import cvxpy as cp
import numpy as np

from tests.oracles import Numbers

GRAVITY = 9.80665  # m/s²
MM = 1e3  # in the program, so that its numbers are of like size: mm, slopes in mm/m
KN = 1e-3  # likewise: kN, kN/mm; energies come in J
TIGHT = {"tol_gap_abs": 1e-11, "tol_gap_rel": 1e-11, "tol_feas": 1e-11}
BALANCED = 1e-7  # of the weight, what may be left over on a hub
MOST_ROUNDS = 100
STILL = 1e-8  # kN·m, the change of the leaning weight's moment from one round to the next

Table = Sequence[tuple[float, float]]
"""Rows (compression from which [m], rate [N/m]); rates may rise only."""
NONE = (0.0, 0.0, 0.0, 0.0)
NO_BUMP: Table = ((0.0, 0.0),)


@dataclass(frozen=True)
class EnergyCar:
    """The car as it was weighed.

    aft, left : (4,) wheel stations [m]
    loads : (4,) on the pads [N]
    motion_ratio : (4,) shock per wheel travel
    spring : 4 tables, of the main springs
    compression : (4,) of the springs, main and tender together [m]; negative is a gap
    tire_rate : (4,) [N/m]; inf: rigid
    shock_travel : (4,) from full extension [m]
    droop_rate : (4,) of the stops at full extension [N/m]; inf: solid
    droop_force : (4,) what solid stops hold back as weighed, along the shock [N]
    bump_stop : (4,) shock travel at which they are touched [m]; inf: none
    bump : 4 tables
    tender_rate : (4,) [N/m]; 0: none
    tender_travel : (4,) compression at which they are solid [m]
    bar_rate : (2,) at the wheel, one wheel against the other [N/m]
    link_ratio : (2,) travel of the drop link per wheel travel
    bar_twist : (2,) load of the bar over its rate, positive: it pushes the left hub down [m]
    torsion : chassis [N·m/rad]; inf: rigid, one roll
    softening : (pitch, roll), or (pitch, front roll, rear roll): weight times height [N·m]
    """

    aft: Numbers
    left: Numbers
    loads: Numbers
    motion_ratio: Numbers
    spring: Sequence[Table]
    compression: Numbers
    tire_rate: Numbers
    shock_travel: Numbers = (1.0, 1.0, 1.0, 1.0)
    droop_rate: Numbers = (5e6, 5e6, 5e6, 5e6)
    droop_force: Numbers = NONE
    bump_stop: Numbers = (inf, inf, inf, inf)
    bump: Sequence[Table] = (NO_BUMP, NO_BUMP, NO_BUMP, NO_BUMP)
    tender_rate: Numbers = NONE
    tender_travel: Numbers = NONE
    bar_rate: Numbers = (0.0, 0.0)
    link_ratio: Numbers = (1.0, 1.0)
    bar_twist: Numbers = (0.0, 0.0)
    torsion: float = inf
    softening: Numbers | None = None


@dataclass(frozen=True)
class Least:
    """Where the energy is least.

    loads : (4,) on the pads [N]
    heights : (4,) rise of the body over the wheel stations [m]
    travels : (4,) wheel travel, positive in bump [m]
    shock_travel : (4,) from full extension [m]
    body : (3,) or (4,) heave [m], pitch slope, roll slope or slopes
    """

    loads: np.ndarray
    heights: np.ndarray
    travels: np.ndarray
    shock_travel: np.ndarray
    body: np.ndarray


def least_energy(
    car: EnergyCar,
    perch: Numbers = NONE,
    mount: Numbers = NONE,
    link: Numbers = (0.0, 0.0),
    pads: Numbers = NONE,
    added: Sequence[tuple[float, float, float]] = (),
) -> Least:
    """Find where the car comes to rest.

    Parameters
    ----------
    car : EnergyCar
    perch, mount : (4,)
        Moves of the perches, and of the lower mounts; positive squeezes the spring [m].
    link : (2,)
        How much longer the left drop link is made, front and rear [m].
    pads : (4,)
        Rise of the pads [m].
    added : sequence of (mass, aft, left)
        Put on the body [kg, m, m]. A chassis that twists takes its side moment front and rear by
        where it lies between the axles.

    Returns
    -------
    Least

    Raises
    ------
    RuntimeError
        The solver found no optimum, its forces don't balance, or the car tips over.
    ValueError
        A rate that falls with compression, or a softening for another number of rolls.
    """
    basis = _basis(car)
    body, hubs, tender = cp.Variable(basis.shape[1]), cp.Variable(4), cp.Variable(4)
    weight = cp.Parameter(basis.shape[1])
    travel = hubs - basis @ body
    closing = cp.multiply(np.array(car.motion_ratio), travel) + MM * np.array(mount)
    held = _held(car)
    on_pads, rigid = _on_rigid_tires(car, hubs, pads)
    energy = (
        _springs(car, closing + MM * np.array(perch), tender)
        + _stops(car, closing)
        + _bars(car, travel, link)
        + _tires(car, hubs, pads)
        + _chassis(car, body)
        + weight @ body
        + KN * (np.array(car.loads) - held) @ hubs
    )
    shock = MM * np.array(car.shock_travel) + closing
    extended = {i: shock[i] >= 0 for i in range(4) if isinf(car.droop_rate[i])}
    limits = [
        *extended.values(),
        tender <= MM * np.where(np.array(car.tender_rate) > 0.0, car.tender_travel, 0.0),
    ]
    problem = cp.Problem(cp.Minimize(energy), [*limits, *on_pads])
    upright = KN * (basis.T @ held + _added(added, basis))
    _solve(problem, body, weight, upright, KN / MM * _softening(car))
    squash = MM * (np.array(car.loads) / car.tire_rate + pads) - value(hubs)
    loads = np.where(rigid, 0.0, car.tire_rate) / MM * np.maximum(squash, 0.0)
    for i, constraint in zip(np.flatnonzero(rigid), on_pads, strict=True):
        loads[i] = constraint.dual_value / KN
    dual = {i: one.dual_value for i, one in extended.items()}
    stopped = [float(dual[i]) / KN if i in dual else 0.0 for i in range(4)]
    moved = replace(_moved(car, closing, travel, perch, link), droop_force=stopped)
    pushed = _held(moved)
    held_by_body = (_torsion(car) - np.diag(_softening(car))) @ value(body) / MM
    left = [
        *(np.array(car.loads) - held + pushed - loads),
        *(upright / KN + held_by_body - basis.T @ pushed),
    ]
    if np.abs(left).max() > BALANCED * loads.sum():
        raise RuntimeError(f"forces left over, on hubs and body [N, N·m]: {left}")
    return Least(
        loads=loads,
        heights=basis @ value(body) / MM,
        travels=value(travel) / MM,
        shock_travel=value(closing) / MM + car.shock_travel,
        body=value(body) / MM,
    )


def _moved(
    car: EnergyCar,
    closing: cp.Expression,
    travel: cp.Expression,
    perch: Numbers,
    link: Numbers,
) -> EnergyCar:
    """The car with springs, shocks and bars as they are in the solution."""
    closed, up = value(closing) / MM, value(travel) / MM
    return replace(
        car,
        compression=closed + car.compression + perch,
        shock_travel=closed + car.shock_travel,
        bar_twist=up[::2] - up[1::2] + car.bar_twist + np.array(link) / car.link_ratio,
    )


def _solve(
    problem: cp.Problem,
    body: cp.Variable,
    weight: cp.Parameter,
    upright: np.ndarray,
    softening: np.ndarray,
) -> None:
    """Leave the least energy in the variables, the weight leaning as the body does."""
    leaning = np.zeros(len(softening))
    for _ in range(MOST_ROUNDS):
        weight.value = upright - softening * leaning
        with warnings.catch_warnings():
            # Tolerances are tighter than it can always meet; the balance of forces decides.
            warnings.filterwarnings("ignore", "Solution may be inaccurate")
            problem.solve(solver=cp.CLARABEL, **TIGHT)
        if problem.status not in (cp.OPTIMAL, cp.OPTIMAL_INACCURATE):
            raise RuntimeError(f"CLARABEL: {problem.status}")
        moved = softening * np.abs(value(body) - leaning)
        if moved.max() < STILL:
            return
        leaning = value(body)
    raise RuntimeError("the car tips over, or nearly")


def value(expression: cp.Expression) -> np.ndarray:
    """Give what a solved problem has found for it."""
    assert expression.value is not None
    return np.array(expression.value)


# What stores energy, in J -------------------------------------------------------------------------


def _springs(car: EnergyCar, moved: cp.Expression, tender: cp.Variable) -> cp.Expression:
    """Main springs and tenders, `moved` [mm] from the compression they were weighed with."""
    main = MM * np.array(car.compression) + moved - tender
    return sum(
        (_push(main[i], car.spring[i]) for i in range(4)),
        _one_sided(np.array(car.tender_rate), tender),
    )


def _stops(car: EnergyCar, closing: cp.Expression) -> cp.Expression:
    shock = MM * np.array(car.shock_travel) + closing
    bump = (
        _push(shock[i] - MM * at, car.bump[i])
        for i, at in enumerate(car.bump_stop)
        if not isinf(at)
    )
    return sum(bump, _one_sided(_giving(car), -shock))


def _giving(car: EnergyCar) -> np.ndarray:
    """Rates of the droop stops that give [N/m]."""
    rate = np.array(car.droop_rate)
    return np.where(np.isinf(rate), 0.0, rate)


def _bars(car: EnergyCar, travel: cp.Expression, link: Numbers) -> cp.Expression:
    twist = np.array(car.bar_twist) + np.array(link) / car.link_ratio
    across = cp.hstack([travel[0] - travel[1], travel[2] - travel[3]]) + MM * twist
    return stored(np.array(car.bar_rate), across)


def _tires(car: EnergyCar, hubs: cp.Variable, pads: Numbers) -> cp.Expression:
    """Those that give way."""
    rate = np.array(car.tire_rate)
    squash = MM * (np.array(car.loads) / rate + pads) - hubs
    return _one_sided(np.where(np.isinf(rate), 0.0, rate), squash)


def _on_rigid_tires(
    car: EnergyCar, hubs: cp.Variable, pads: Numbers
) -> tuple[list[cp.Constraint], np.ndarray]:
    """Hubs that can't come closer to their pads; what that takes is the load."""
    rigid = np.isinf(np.array(car.tire_rate))
    return [hubs[i] >= MM * pads[i] for i in range(4) if rigid[i]], rigid


def _chassis(car: EnergyCar, body: cp.Variable) -> cp.Expression:
    if isinf(car.torsion):
        return cp.Constant(0.0)
    return stored(np.array(car.torsion), body[2] - body[3])


def _push(squeezed: cp.Expression, table: Table) -> cp.Expression:
    """A spring by its table: one spring for each row, with the rate that it adds."""
    starts, rates = np.array(table, dtype=float).T
    more = np.diff(rates, prepend=0.0)
    if (more < 0.0).any():
        raise ValueError(f"{table}: the rate falls")
    return _one_sided(more, squeezed - MM * starts)


def _one_sided(rate: np.ndarray, squeezed: cp.Expression) -> cp.Expression:
    return stored(rate, cp.pos(squeezed))


def stored(rate: np.ndarray, closed: cp.Expression) -> cp.Expression:
    """Give the energy in springs [J] of these rates [N/m] that are closed by so much [mm]."""
    energy: cp.Expression = cp.sum(cp.multiply(rate * KN / MM / 2, cp.square(closed)))
    return energy


# The weighed state --------------------------------------------------------------------------------


def _basis(car: EnergyCar) -> np.ndarray:
    """How the body moves over the stations: heave, pitch and roll, or two rolls."""
    left, front = np.array(car.left), np.array([1.0, 1.0, 0.0, 0.0])
    rolls = [left] if isinf(car.torsion) else [left * front, left * (1.0 - front)]
    return np.column_stack([np.ones(4), car.aft, *rolls])


def _softening(car: EnergyCar) -> np.ndarray:
    """Weight times height for heave (none), pitch and roll or rolls [N·m]."""
    rolls = 1 if isinf(car.torsion) else 2
    given = [0.0] * (1 + rolls) if car.softening is None else car.softening
    softening = np.array([0.0, *given])
    if len(softening) != 2 + rolls:
        raise ValueError(f"softening: for pitch and {rolls} roll(s)")
    return softening


def _torsion(car: EnergyCar) -> np.ndarray:
    """What the chassis itself puts against the moves of `_basis` [N·m]."""
    if isinf(car.torsion):
        return np.zeros((3, 3))
    apart = np.array([0.0, 0.0, 1.0, -1.0])
    return car.torsion * np.outer(apart, apart)


def _added(added: Sequence[tuple[float, float, float]], basis: np.ndarray) -> np.ndarray:
    """Weight and moments of masses put on the body [N, N·m]."""
    force = np.zeros(basis.shape[1])
    wheelbase = basis[2, 1] - basis[0, 1]
    for mass, aft, left in added:
        rearward = min(max((aft - basis[0, 1]) / wheelbase, 0.0), 1.0)
        roll = [left] if len(force) == 3 else [left * (1.0 - rearward), left * rearward]
        force += mass * GRAVITY * np.array([1.0, aft, *roll])
    return force


def _held(car: EnergyCar) -> np.ndarray:
    """What springs, stops and bars push each hub down with as weighed [N]."""
    shock = np.array(car.shock_travel)
    unit = np.array([_unit_force(car, i) for i in range(4)])
    unit -= _giving(car) * np.maximum(-shock, 0.0) + car.droop_force
    unit += [_force(shock[i] - car.bump_stop[i], car.bump[i]) for i in range(4)]
    bars = np.array(car.bar_rate) * car.bar_twist
    across = np.repeat(bars, 2) * [1.0, -1.0, 1.0, -1.0]
    return np.asarray(np.array(car.motion_ratio) * unit + across)


def _unit_force(car: EnergyCar, i: int) -> float:
    """Of main spring and tender i: where both push alike, or the tender is solid."""
    rate, low, high = car.tender_rate[i], 0.0, car.tender_travel[i]
    if rate and _force(car.compression[i] - high, car.spring[i]) < rate * high:
        for _ in range(100):
            tender = (low + high) / 2
            if _force(car.compression[i] - tender, car.spring[i]) < rate * tender:
                high = tender
            else:
                low = tender
    return _force(car.compression[i] - (high if rate else 0.0), car.spring[i])


def _force(squeezed: float, table: Table) -> float:
    starts, rates = np.array(table, dtype=float).T
    return float(np.diff(rates, prepend=0.0) @ np.maximum(squeezed - starts, 0.0))
