"""What the weigh-ins of a session teach, each seen against the turns before it."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import hypot

import numpy as np

from balancer.car.adjusters import all_turns
from balancer.car.conventions import Flags, Floats, Integers
from balancer.car.model import Car, Item
from balancer.car.statics import statics_of, taken_for_linear
from balancer.planning.session.belief import Belief
from balancer.planning.session.diagonal import (
    cross_per_diagonal,
    diagonal_load,
    gain,
    gain_uncertainty,
    scatter_of,
)
from balancer.planning.session.learning import REAL_CORNERS_SD, Learned, learn
from balancer.planning.session.scatter import SETTLING, SLIP, Mixed, repeated, seen
from balancer.planning.session.session import Session, Taught, weighed
from balancer.weighing.weigh import WeighIn

ODD = 5.0
"""Standard deviations between turns and their answer from which on the pads are believed alone."""


AS_BEFORE = 2.0
"""Standard deviations of the pads within which a weigh-in reads as another."""

UNTURNED = 1 / SLIP - 1
"""How much likelier a weigh-in has to be without the turns for that to be likelier than that they
were made; of good users one in so many at most is asked in vain, by Markov's inequality."""


def remembering(session: Session) -> Session:
    """Learn from a session what it has to teach, and carry it along: its steps come sooner."""
    return replace(session, taught=lessons(session))


def lessons(session: Session) -> tuple[Taught, ...]:
    """Learn from the weigh-ins that nothing was learned from yet; give all, one a weigh-in."""
    car, taught = session.linear_car, session.taught
    for index in range(len(taught), len(session.weigh_ins)):
        taught = (*taught, _teach(session, car, taught, index))
    return taught


def surprise(
    session: Session,
    weigh_in: WeighIn,
    planned: Floats | None = None,
    was: Sequence[Item] | None = None,
) -> float:
    """Say how unlike the turns made the change since the last weigh-in is.

    Args:
        session: With at least one weigh-in.
        weigh_in: The next.
        planned: (n,) or None, as in `weighed`.
        was: What was on board, as in `weighed`.

    Returns:
        In standard deviations of belief, hands and scales together; 0 where nothing was turned.
    """
    after = weighed(session, weigh_in, planned, was)
    if not np.any(after.made[-1]):
        return 0.0
    car = session.linear_car
    turns = counted_turns(after, car, len(session.weigh_ins) - 1)
    last = lessons(session)[-1]
    missed, _ = _missed(car, last, after.weigh_ins[-1], turns, after.moved[-1])
    return _far(missed)


def unturned(session: Session) -> float:
    """Say how much likelier the last weigh-in is if nothing was turned since the one before.

    Args:
        session: With at least one weigh-in.

    Returns:
        0 where nothing was to be turned, something came on board or went, or it reads otherwise
        than before by more than the pads show; from `UNTURNED` on it tells.
    """
    if len(session.weigh_ins) < 2 or not session.made_before[-1].any():
        return 0.0
    car, (before, now) = session.linear_car, session.weigh_ins[-2:]
    was, there = (None if one is None else set(one) for one in session.aboard[-2:])
    pads = hypot(*(scatter_of(car, car.scales, one.repeats) for one in (before, now)))
    moved = diagonal_load(car, now.loads) - diagonal_load(car, before.loads)
    if was != there or abs(moved) > AS_BEFORE * pads:
        return 0.0
    last, turns = lessons(session)[-2], counted_turns(session, car, len(session.weigh_ins) - 2)
    still, missed = (
        _missed(car, last, now, each, session.moved[-1])[0] for each in (np.zeros(4), turns)
    )
    return still.density / max(missed.density, 1e-300)


def counted_turns(session: Session, linear: Car, after: int) -> Floats:
    """Give the turns made after a weigh-in by what they come to where the car is not linear.

    Args:
        linear: The session's `linear_car`.
        after: Number of the weigh-in, from 0.
    """
    weigh_ins, made = session.weigh_ins, session.made
    before = session.at_first(session.car).after(all_turns(made[:after]))
    return statics_of(before, weigh_ins[after].loads).counted(made[after], linear)


def _far(missed: Mixed) -> float:
    """Give a miss in standard deviations."""
    return abs(missed.mean) / max(missed.uncertainty, 1e-12)


def _odd(missed: Mixed, turns: Floats) -> Flags:
    """Say by which values of the settling a miss is none of theirs (k,).

    With nothing turned there is nobody whose slip it could be: then by all of them, or by none.
    """
    if not turns.any():
        return np.full(len(SETTLING), abs(missed.mean) > ODD * missed.sd)
    return np.asarray(np.abs(missed.means) > ODD * np.maximum(missed.sds, missed.uncertainty))


def _missed(
    car: Car, last: Taught, weigh_in: WeighIn, turns: Floats, carried: Floats
) -> tuple[Mixed, Floats]:
    """Give how far a weigh-in is off what was expected, as each value of the settling has it; and
    what turns were to do (k,) [1]."""
    per = cross_per_diagonal(car, weigh_in.shares.total)
    levels, unsure = np.array([each.shown(carried) for each in last.each]).T
    turned = np.array([gain(car, each.belief.mean, turns) for each in last.each])
    sds = np.hypot([gain_uncertainty(car, each.belief, turns) for each in last.each], unsure)
    off = diagonal_load(car, weigh_in.loads) - levels - turned
    spread = np.hypot(sds, _scatter(car, weigh_in))
    return Mixed(last.learned.belief.settling, per * off, abs(per) * spread), per * turned


def _scatter(car: Car, weigh_in: WeighIn) -> Floats:
    """Give how a weigh-in scatters, as each value of the settling has it (k,) [N·m].

    Repeats are weighings too: each time the car was rolled off and on.
    """
    per = cross_per_diagonal(car, weigh_in.shares.total)
    pads = max(scatter_of(car, car.scales, weigh_in.repeats), 1e-6)
    return np.asarray(np.hypot(pads, SETTLING / per / np.sqrt(weigh_in.repeats)))


def _of_repeats(car: Car, weights: Floats, weigh_in: WeighIn) -> Floats:
    """Believe the settling by the repeats of a weigh-in."""
    if weigh_in.repeats < 2:
        return weights
    per = cross_per_diagonal(car, weigh_in.shares.total)
    rows = [per * diagonal_load(car, row) for row in weigh_in.readings.repeats]
    single = per * scatter_of(car, car.scales, 1)
    return repeated(weights, np.array(rows), np.hypot(SETTLING, single))


def _teach(session: Session, car: Car, taught: tuple[Taught, ...], index: int) -> Taught:
    """Learn from a weigh-in; begin anew by each value of the settling that can't explain it.

    Such a weigh-in is there only because somebody has said that it was read right: either the car
    binds, and what was read before counts, or the turns were not what was said. Where that is
    likelier all begin anew. It follows from the readings alone, so a session taken up again comes
    to the same.
    """
    weigh_in, turns, settling = session.weigh_ins[index], np.zeros(4), session.belief.settling
    since, odd = np.zeros(len(SETTLING), dtype=int), np.zeros(len(SETTLING), dtype=bool)
    if taught:
        turns = counted_turns(session, car, index - 1)
        missed, turned = _missed(car, taught[-1], weigh_in, turns, session.moved[index])
        odd, settling = _odd(missed, turns), seen(*missed, turned)
    settling = _of_repeats(car, settling, weigh_in)
    disbelieved = bool(settling[odd].sum() > 0.5)
    if taught:
        since = np.where(odd | disbelieved, index, taught[-1].since)
    diagonals = [*(each.diagonal for each in taught), diagonal_load(car, weigh_in.loads)]
    counted = [*(each.counted for each in taught), turns]
    scatters = np.array([*(each.scatter for each in taught), _scatter(car, weigh_in)])
    linear = taken_for_linear(session.car) is session.car

    def learn_with(first: int, scatters: Floats) -> Learned:
        before = taught[first - 1].learned.belief if first else session.belief
        spread, carried = scatters[first:].tolist(), session.moved[first : index + 1]
        answer_sd = 0.0 if linear else REAL_CORNERS_SD
        span, made = diagonals[first:], counted[first + 1 :]
        return learn(car, before, span, spread, made, carried=carried, answer_sd=answer_sd)

    learned, each = _learned(learn_with, since, scatters, settling)
    learned = _mixed(car, learned, each, weigh_in)
    return Taught(diagonals[-1], scatters[-1], turns, learned, each, since, disbelieved)


def _learned(
    learn_with: Callable[[int, Floats], Learned],
    since: Integers,
    scatters: Floats,
    settling: Floats,
) -> tuple[Learned, tuple[Learned, ...]]:
    """Learn from weigh-ins together, and as each value of the settling has it.

    Args:
        learn_with: From which weigh-in on, and from how each scatters (n,).
        since: (k,), from which one on, as each value has it.
        scatters: (n, k), as each value has it [N·m].
        settling: (k,), how much each value is believed now.
    """
    held = np.flatnonzero(settling).tolist()
    found = {k: learn_with(since[k], scatters[:, k]) for k in held}
    each = tuple(found.get(k, found[held[0]]) for k in range(len(settling)))
    first = int(np.bincount(since, settling).argmax())
    likelier = np.where(since == first, settling, 0.0)
    # As much as each weigh-in tells on average, by how dense the mixture is: a mean would be drawn
    # from what is likeliest by what is not.
    often = likelier * _density([one.belief for one in each], likelier)
    learned = learn_with(first, 1 / np.sqrt((often / often.sum() / scatters**2).sum(axis=1)))
    return learned._replace(belief=learned.belief._replace(settling=settling)), each


def _mixed(car: Car, learned: Learned, each: Sequence[Learned], weigh_in: WeighIn) -> Learned:
    """Mix where the car stands by how much each value of the settling is believed."""
    per = cross_per_diagonal(car, weigh_in.shares.total)
    diagonals = np.array([one.diagonal for one in each])
    sds = np.array([one.read_uncertainty for one in each])
    now = Mixed(learned.belief.settling, per * (diagonals - diagonals[0]), abs(per) * sds)
    read = now.uncertainty / abs(per)
    borne = learned.diagonal_uncertainty**2 - learned.read_uncertainty**2
    return learned._replace(
        diagonal=diagonals[0] + now.mean / per,
        diagonal_uncertainty=float(np.sqrt(read**2 + max(borne, 0.0))),
        read_uncertainty=read,
    )


def _density(each: Sequence[Belief], settling: Floats) -> Floats:
    """Give how dense the mixture of beliefs in the answer is at the middle of each (k,)."""
    means = np.array([one.mean[:3] for one in each])
    inverses = np.linalg.inv([one.covariance[:3, :3] for one in each])
    off = means[:, None] - means
    far = np.einsum("ijk,jkl,ijl->ij", off, inverses, off)
    return np.asarray(np.exp(-far / 2) @ (settling * np.sqrt(np.linalg.det(inverses))))
