"""The check before an event: race trim, rules, ballast, turns, and what the pads will show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from balancer.car.conventions import Floats
from balancer.car.model import Car, Item
from balancer.car.statics import statics_of
from balancer.planning.ballast.goal import BallastGoal, RuleCheck
from balancer.planning.ballast.outcome import BallastPlan, standing
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.perches.plan import PerchPlan, with_moves
from balancer.planning.perches.question import PerchMoves
from balancer.planning.prep.joint import together
from balancer.planning.prep.task import Status, Task
from balancer.weighing.load_states import Trim, carry
from balancer.weighing.uncertainty import shares

if TYPE_CHECKING:
    from balancer.planning.perches.bar_links import BarFit


@dataclass(frozen=True, eq=False)
class Preparation:
    """What to do before the event, and what to expect.

    Attributes:
        status: `met`: legal and in tolerance; `closest`: proved that no ballast and turns reach all
            of it; `gave_up`: that is not proved, or that there is nothing lighter.
        as_weighed, in_race_trim: Before anything is done.
        ballast: Planned in race trim.
        perches: Planned in race trim with that ballast on board.
        race_trim: With ballast and turns, as the class will weigh it.
        on_the_pads: With ballast and turns, as it will stand on the pads next, were they level.
        bars: How the anti-roll bars go on in race trim after the turns.
        others: The other race trims, with ballast and turns.
        rules_alone: Ballast that the rules would take if turns did not matter, where that is other
            ballast; None where it is this [kg].
        ruled: The rules that turns on to the target would break, where they end before it.
        names: Of all race trims, where they have names.
        carried: What of the cross weight's uncertainty in race trim is from carrying it there, and
            from the ballast: rates not quite known share out how masses lean [1].
    """

    status: Status
    as_weighed: Trim
    in_race_trim: Trim
    ballast: BallastPlan
    perches: PerchPlan
    race_trim: Trim
    on_the_pads: Trim
    bars: tuple[BarFit, ...] = ()
    others: tuple[Trim, ...] = ()
    rules_alone: float | None = None
    ruled: tuple[RuleCheck, ...] = ()
    names: tuple[str, ...] = ()
    carried: float = 0.0


def prepare(
    car: Car,
    loads: Floats,
    was: Sequence[Item],
    race: Sequence[Item],
    pads: Sequence[Item],
    ballast: BallastGoal,
    perches: PerchGoal,
    cross_uncertainty: float = 0.0,
    learned: Floats | None = None,
    others: Sequence[Sequence[Item]] = (),
) -> Preparation:
    """Plan ballast and perches for race trim from a weigh-in in any state.

    Args:
        loads: (4,), as weighed, on level pads [N].
        was, race, pads: On board when weighed, in race trim, and when the car stands on the
            pads next.
        cross_uncertainty: Standard uncertainty of the cross weight, as a fraction.
        learned: (6, 6) or None, covariance of what is believed of the car.
        others: On board in other race trims, in which the car is to be legal and in tolerance too.

    References:
        Derived here; tests/oracles lands a simulated car with it.

    Examples:
        >>> import numpy as np
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.conventions import GRAVITY
        >>> driver = Item("driver", 80, 1.3, 0.34, 0.4)
        >>> ready = prepare(plain_car(), np.full(4, 250 * GRAVITY), [], [driver], [],
        ...                 BallastGoal(minimum=1070), PerchGoal.level(0.5))
        >>> ready.status, round(ready.race_trim.shares.total / GRAVITY, 6)
        ('met', 1080.0)
    """
    trims = [carry(car, loads, was, state) for state in (race, *others)]
    as_weighed = carry(car, loads, was, was)
    return prepare_trims(car, as_weighed, trims, pads, ballast, perches, cross_uncertainty, learned)


def prepare_trims(
    car: Car,
    as_weighed: Trim,
    trims: Sequence[Trim],
    pads: Sequence[Item],
    ballast: BallastGoal,
    perches: PerchGoal,
    cross_uncertainty: float = 0.0,
    learned: Floats | None = None,
    names: Sequence[str] = (),
) -> Preparation:
    """Plan ballast and perches for race trims that a weigh-in was carried to.

    Args:
        trims: At least one, before anything is done.
        pads: On board when the car stands on the pads next.
        cross_uncertainty: Standard uncertainty of the cross weight as weighed, as a fraction.
        learned: (6, 6) or None, as in `prepare`.
        names: Of the trims, where they have names.
    """
    racing, *elsewhere = trims
    task = Task(
        car,
        tuple(trim.held for trim in trims),
        ballast,
        perches,
        cross_uncertainty,
        learned,
        as_weighed.on_board,
        racing.on_board,
    )
    apart = task.one_after_the_other()
    done = together(task, apart)
    bolted, turned = done.ballast, done.perches
    after = with_moves(car, turned.best)
    raced = Trim(racing.on_board, turned.best.loads, turned.best.shares)
    return Preparation(
        status=done.status,
        as_weighed=as_weighed,
        in_race_trim=racing,
        ballast=standing(car, bolted),
        perches=turned,
        race_trim=raced,
        on_the_pads=carry(after, raced.loads, racing.on_board, pads),
        bars=_bars(car, bolted.loads, turned.best),
        others=tuple(
            Trim(other.on_board, landed.loads, landed.shares)
            for other, landed in zip(elsewhere, turned.best.others, strict=True)
        ),
        ruled=done.ruled,
        names=tuple(names),
        carried=done.left_open,
        rules_alone=apart.ballast.added if bolted.items != apart.ballast.items else None,
    )


def _bars(car: Car, loads: Floats, moves: PerchMoves) -> tuple[BarFit, ...]:
    if not car.links:
        return ()
    from balancer.planning.perches.bar_links import bar_fits

    return bar_fits(car, loads, moves)


def as_read(car: Car, ready: Preparation, heights: Floats) -> Trim:
    """Find what pads of these heights will show of the prepared car, next time it is on them.

    Args:
        ready: Made for that car.
        heights: (4,), of the pads above the lowest [m].

    Returns:
        `on_the_pads`, with what the heights add; the same where they are level.

    References:
        See `Statics.on_pads`; the other way round than `Statics.pad_effect`.

    Examples:
        >>> import numpy as np
        >>> from balancer.car.model import plain_car
        >>> from balancer.car.conventions import GRAVITY
        >>> ready = prepare(plain_car(), np.full(4, 250 * GRAVITY), [], [], [], BallastGoal(),
        ...                 PerchGoal.level(0.5))
        >>> high = np.array([3e-3, 0.0, 0.0, 0.0])
        >>> (as_read(plain_car(), ready, high).loads / GRAVITY).round(1).tolist()
        [252.4, 247.6, 247.6, 252.4]
    """
    level = ready.on_the_pads
    if not heights.any():
        return level
    after = with_moves(car, ready.perches.best)
    loads = statics_of(after, level.held).on_pads(heights)
    stands = statics_of(after, loads).standing.loads
    return Trim(level.on_board, stands, shares(car, stands))
