"""The last session as the log has it: weigh-ins, turns between them, and what is still due."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from balancer.car.conventions import Floats
from balancer.car.model import Car
from balancer.files.car_file import CarFile
from balancer.log.entry import Entry
from balancer.log.entry_readings import weigh_in_of
from balancer.log.reader import effective, log_path, read_log
from balancer.log.replay import NOTHING, Replay, replay, session_lines, usable
from balancer.log.terms import terms_in
from balancer.planning.perches.goal import CROSS, HEIGHT_TOLERANCE, TOLERANCE, PerchGoal
from balancer.planning.perches.plan import made, with_moves
from balancer.planning.perches.question import Landed
from balancer.planning.prep.preparation import Preparation
from balancer.planning.prep.task import Status, with_turns_made
from balancer.planning.session.plan import believed_plan
from balancer.weighing.load_states import Trim, carry
from balancer.weighing.weigh import WeighIn


@dataclass(frozen=True, eq=False)
class PastSession:
    """A session that was written down, running or finished.

    Attributes:
        lines: What its lines come to, with at least one leg; weigh-ins whose readings can't be
            used any more are left out.
        weigh_ins: One for each leg.
    """

    lines: Replay
    weigh_ins: tuple[WeighIn, ...]

    @property
    def goal(self) -> PerchGoal:
        """The cross weight wanted, and how near."""
        if self.lines.told is None:
            return PerchGoal.level(CROSS)
        asked = terms_in(self.lines.told).asked
        # Equal wheels and wanted loads have come to this.
        cross = _fraction(self.lines.told.data.get("target_cross_pct"), 20, 80) or CROSS
        return PerchGoal(
            cross,
            TOLERANCE if asked.tolerance is None else asked.tolerance,
            asked.rise,
            HEIGHT_TOLERANCE if asked.height_tolerance is None else asked.height_tolerance,
            asked.keep,
        )

    @property
    def made(self) -> tuple[Floats, ...]:
        """Turns made after each weigh-in, the last included."""
        turns = (*(leg.turns for leg in self.lines.legs[1:]), self.lines.made)
        return tuple(NOTHING if each is None else each for each in turns)

    @property
    def due(self) -> Floats:
        """Turns planned after the last weigh-in and not yet said to be made."""
        return NOTHING if self.lines.due is None else self.lines.due

    @property
    def stop(self) -> str:
        """As `session.Step.stop` at the last weigh-in."""
        why = self.lines.plan.data.get("stop") if self.lines.plan else ""
        return why if isinstance(why, str) else ""

    @property
    def aim(self) -> str:
        """The state that its estimates are of, in words."""
        told = self.lines.told
        return "in race trim" if told and terms_in(told).race else "as weighed"

    @property
    def estimate(self) -> float | None:
        """The cross weight that the last plan reckons with, as a fraction.

        Readings and turns together; None where the log has none.
        """
        plan = self.lines.plan
        return _fraction(plan.data.get("cross_pct"), -1000, 1000) if plan else None


def last_session(file: CarFile) -> PastSession | None:
    """Read from the log the session that the last weigh-in belongs to; None: there is none.

    Raises:
        InputError: When the log can't be read at all.
    """
    return last_session_in(effective(read_log(log_path(file.path)).entries), file)


def last_session_in(entries: Sequence[Entry], file: CarFile) -> PastSession | None:
    """Find the session that the last weigh-in belongs to.

    Returns:
        None where the last weigh-in belongs to no session, or can't be used.
    """
    last = next((n for n in reversed(range(len(entries))) if entries[n].kind == "weigh_in"), -1)
    start = next((n for n in range(last, -1, -1) if entries[n].borders), None)
    if start is None or not entries[start].begins:
        return None
    return past_session(entries, start, lambda entry: weigh_in_of(entry, file))


def past_session(
    entries: Sequence[Entry], start: int, weighed: Callable[[Entry], WeighIn | None]
) -> PastSession | None:
    """Follow a session from where it begins; None where nothing was weighed.

    Args:
        entries: Effective ones.
        start: Where among them it begins.
        weighed: Weighs the car by an entry; None where its readings can't be used.
    """
    lines, weigh_ins = usable(replay(session_lines(entries, start)), weighed)
    return PastSession(lines, weigh_ins) if weigh_ins else None


def _fraction(percent: object, low: float, high: float) -> float | None:
    """Take a percentage from the log, unless it is none that this program wrote."""
    within = isinstance(percent, int | float) and low <= percent <= high
    return float(cast(float, percent)) / 100 if within else None


def _same(goal: PerchGoal, other: PerchGoal) -> bool:
    """Say whether what was planned for one is planned for the other."""
    names = ("cross", "tolerance", "height_tolerance", "keep")
    return np.array_equal(goal.rise, other.rise) and all(
        getattr(goal, name) == getattr(other, name) for name in names
    )


def with_session(
    ready: Preparation,
    car: Car,
    session: PastSession,
    tolerance: float,
    cross_uncertainty: float,
    learned: Floats | None = None,
) -> Preparation:
    """Put what a session has left to turn in the place of a plan made from its last weigh-in.

    Two plans for one car would contradict each other. Only where ballast is still to be bolted in,
    which the session knows nothing of, the turns are planned anew with it on board.

    Args:
        ready: From the last weigh-in of the session.
        tolerance: Of the cross weight, as a fraction.
        cross_uncertainty: Standard uncertainty of the cross weight, as a fraction.
        learned: (6, 6) or None, covariance of what is believed of the car.
    """
    loads, plan = ready.ballast.loads, ready.perches
    goal = replace(session.goal, tolerance=tolerance, others=plan.goal.others)
    if not _same(goal, plan.goal):
        plan = believed_plan(car, loads, goal, cross_uncertainty, learned)
    # What was planned from numbers that were corrected since does not hold.
    planned = session.lines.plan is not None or bool(session.lines.said)
    if planned and not ready.ballast.items:
        moves = made(car, loads, goal, session.due)
        reached = session.stop != "out_of_reach"
        plan = replace(
            plan,
            status="reached" if reached else "closest",
            best=moves,
            alternatives=(),
            limits=() if reached else plan.limits,
        )
    best = plan.best
    landed = (Landed(best.loads, best.shares), *best.others)
    raced, *others = (
        Trim(trim.on_board, *there)
        for trim, there in zip((ready.race_trim, *ready.others), landed, strict=True)
    )
    ballast = with_turns_made(car, ready.ballast, best)
    legal = ballast.status == "met"
    missed: Status = "gave_up" if "gave_up" in (ballast.status, plan.status) else "closest"
    return replace(
        ready,
        status="met" if legal and plan.status == "reached" else missed,
        ballast=ballast,
        perches=plan,
        race_trim=raced,
        others=tuple(others),
        on_the_pads=carry(
            with_moves(car, best), raced.loads, raced.on_board, ready.on_the_pads.on_board
        ),
    )
