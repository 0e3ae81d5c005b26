"""What a session writes down in the log, before it says so."""

from collections.abc import Sequence

import numpy as np

from balancer.car.conventions import CORNERS, Floats
from balancer.car.errors import InputError
from balancer.files.car_file import CarFile
from balancer.log import session_lines as lines_of
from balancer.log.entry import MOST_NOTE, Entry
from balancer.log.reader import effective
from balancer.log.replay import Replay, replay
from balancer.log.session_lines import Row
from balancer.log.terms import Terms, terms_data
from balancer.log.undo import half_replaced, half_undone, taken_back
from balancer.log.writer import LogWriter
from balancer.planning.perches.goal import PerchGoal
from balancer.planning.session.session import Session
from balancer.planning.session.step import Step


class Record:
    """The lines of one session.

    Attributes:
        terms: What the session goes by.
        begun: Whether the log has anything of the session.
    """

    def __init__(self, file: CarFile, terms: Terms, writer: LogWriter) -> None:
        self.file, self.terms, self.writer, self.begun = file, terms, writer, False
        for number in half_replaced(writer.recent):
            writer.append("undo", {"undoes": number})
        self.undo(half_undone(writer.recent))

    @property
    def lines(self) -> Replay:
        """What the log has of this session."""
        return replay(effective(self.writer.recent)) if self.begun else Replay()

    def begin(self, goal: PerchGoal | None = None) -> None:
        """Begin the session, unless it is; a cross weight that was not known then is written.

        Args:
            goal: None before the first weigh-in.
        """
        cross = self.terms.asked.cross if goal is None else goal.cross
        if not self.begun:
            self.writer.append("session", lines_of.begin_data(self.file, self.terms, cross))
            self.begun = True
        elif goal and (told := self.lines.told) and "target_cross_pct" not in told.data:
            self.options(cross)

    def options(self, cross: float | None) -> None:
        """Write what the session goes by from now on."""
        told = terms_data(self.terms, cross)
        self.writer.append("session", {"event": "options", **told})

    def end(self) -> None:
        """End the session, so that the next one is a new one."""
        if self.begun:
            self.writer.append("session", {"event": "end"})

    def note(self, text: str) -> int:
        """Write a note and give its number."""
        if len(text) > MOST_NOTE:
            raise InputError.one("note", f"has {len(text)} characters", f"{MOST_NOTE} at most")
        self.begin()
        return self.writer.append("note", {"text": text, "about": None}).number

    def weigh_in(self, rows: list[Row], goal: PerchGoal, instead: bool) -> None:
        """Write a weigh-in, instead of the last one or after the turns that were planned."""
        replaced = taken_back(self.writer.recent, with_turns=False) if instead else []
        before = self.lines
        due = None if instead else before.due
        first = not before.legs or (instead and len(before.legs) == 1)
        self.begin(goal)
        for entry in replaced:
            self.writer.append("undo", {"undoes": entry.number, "replaced": True})
        if due is not None:
            self.writer.append("made", lines_of.turns_data(due, assumed=True))
        self.writer.append("weigh_in", lines_of.weigh_in_data(rows, self.file, self.terms, first))

    def step(self, session: Session, step: Step) -> None:
        """Write what a weigh-in has taught, and what comes next."""
        made = session.made[: len(session.weigh_ins) - 1]
        # Who sat in the car each time teaches how that bears on it, turned or not.
        boarded = len({None if was is None else frozenset(was) for was in session.aboard}) > 1
        turned = (turns for at, turns in enumerate(made, 1) if at not in step.disbelieved)
        if boarded or any(map(np.any, turned)):
            self.writer.append("belief", lines_of.belief_data(self.file.car, step.learned.belief))
        self.writer.append("plan", lines_of.plan_data(step))

    def made(self, turns: Floats) -> None:
        """Write what was turned."""
        self.writer.append("made", lines_of.turns_data(turns, assumed=False))
        self.forget_earlier_turns()

    def forget_earlier_turns(self) -> None:
        """Undo what was said to be made before it was said anew."""
        for entry in self.lines.said[:-1]:
            self.writer.append("undo", {"undoes": entry.number})

    def take_back(self) -> bool:
        """Undo the last weigh-in; say whether turns before it that were only assumed went too."""
        entries = taken_back(self.writer.recent, with_turns=True)
        self.undo([entry.number for entry in entries])
        return entries[-1].kind == "made"

    def undo(self, numbers: Sequence[int]) -> None:
        """Undo entries: with all of them in each, a session killed in between can finish it."""
        for number in numbers:
            self.writer.append("undo", {"undoes": number, "all": list(numbers)})

    def last_rows(self) -> list[Row]:
        """Give the readings of the last weigh-in, where they are in the units of the car file."""
        entry: Entry = self.lines.legs[-1].entry
        if entry.data.get("units") != self.file.units.name:
            return []
        return [dict(zip(CORNERS, row, strict=True)) for row in entry.data["readings"]]
