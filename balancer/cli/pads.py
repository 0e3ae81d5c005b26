"""What a session says to each line, and writes down before it says so."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np

from balancer.car import CORNERS, Floats
from balancer.carfile import CarFile
from balancer.chronicle import (
    begin_data,
    belief_data,
    plan_data,
    take_up,
    turns_data,
    weigh_in_data,
    weigh_rows,
)
from balancer.dialog import HELP, Said, understood
from balancer.errors import InputError
from balancer.expecting import Slip, odd_pad, slip_in
from balancer.learning import Sigmas
from balancer.log import effective
from balancer.log_writer import LogWriter
from balancer.perches import PerchGoal
from balancer.report.session import slip_json, step_json, step_text
from balancer.report.words import signed_turns
from balancer.session import Session, Step, step, turned, undone, weighed

Answer = dict[str, Any]
Row = dict[str, float]


class AtThePads:
    """A session with its log; it hears lines and gives answers.

    The one thing in the package that keeps a state, since a conversation is one. Nothing in it
    counts as heard before the log has it.
    """

    def __init__(
        self,
        file: CarFile,
        goal: PerchGoal,
        sigmas: Sigmas,
        words: tuple[str, ...],
        writer: LogWriter,
        now: datetime,
    ) -> None:
        self.file, self.words, self.writer = file, words, writer
        found = take_up(file, writer.entries, goal, sigmas, now)
        self.session: Session = found.session
        self.planned: Floats | None = found.planned
        self.resumed, self.over = found.resumed, False
        self.rows: list[Row] = []
        self.partial: Row = {}
        self.asked: Row | None = None
        self.begun = found.resumed

    def opening(self) -> str:
        """Say whether an old session goes on."""
        if not self.resumed:
            return ""
        count = len(self.session.weigh_ins)
        weighings = "one weigh-in" if count == 1 else f"{count} weigh-ins"
        return f"going on with the session that was broken off, {weighings} so far"

    def hear(self, line: str) -> Answer | None:
        """Answer a line; None where there is nothing to say."""
        said = understood(line, self.file.units)
        if said.kind == "nothing":
            return None
        if said.kind == "help":
            return {"help": HELP.splitlines(), "text": HELP}
        if said.kind == "done":
            self.end()
            return {"done": True, "text": "Session ended; the log has it all."}
        if said.kind == "note":
            self._begin()
            entry = self.writer.append("note", {"text": said.text, "about": None})
            return {"noted": entry.number, "text": f"Noted as {entry.number} in the log."}
        if said.kind == "pad":
            return self._one_pad(said)
        self.partial = {}
        return {
            "made": self._made,
            "undo": self._undo,
            "yes": self._kept,
            "again": self._again,
            "weigh": self._weigh,
        }[said.kind](said)

    def end(self) -> None:
        """End the session, so that the next one is a new one."""
        if self.begun and not self.over:
            self.writer.append("session", {"event": "end"})
        self.over = True

    def _begin(self) -> None:
        if not self.begun:
            self.writer.append("session", begin_data(self.file, self.session.goal))
            self.begun = True

    def _one_pad(self, said: Said) -> Answer | None:
        self.partial.update(said.values)
        missing = [pad for pad in CORNERS if pad not in self.partial]
        if missing:
            return {"waiting_for": missing, "text": f"Still to read: {' '.join(missing)}"}
        row, self.partial = {pad: self.partial[pad] for pad in CORNERS}, {}
        return self._weigh(Said("weigh", row))

    def _weigh(self, said: Said, sure: bool = False) -> Answer:
        slip = None if sure else self._slip(said.values)
        if slip is not None:
            self.asked = said.values
            told = slip_json(slip, self._loads(said.values), self.file.units)
            return {**told, "text": f"Is that right? {told['question']}."}
        return self._take([said.values])

    def _kept(self, said: Said) -> Answer:
        if self.asked is None:
            raise InputError.one("yes", "nothing was asked", "give the four readings")
        return self._weigh(Said("weigh", self.asked), sure=True)

    def _again(self, said: Said) -> Answer:
        if not self.rows:
            raise InputError.one("again", "nothing was weighed just now", "give the four readings")
        rows = [*self.rows, said.values]
        self._take_back()
        return self._take(rows)

    def _take(self, rows: list[Row]) -> Answer:
        """Weigh, write it down with what came before and what comes of it, and answer."""
        weigh_in = weigh_rows(self.file, rows, self.words)
        session = weighed(self.session, weigh_in, self.planned)
        found = step(session)
        self._begin()
        if self._turns_due() and self.planned is not None:
            self.writer.append("made", turns_data(self.planned, assumed=True))
        self.writer.append("weigh_in", weigh_in_data(rows, self.file, self.words))
        self.writer.append("belief", belief_data(self.file.car, found.learned.belief))
        self.writer.append("plan", plan_data(found))
        self.session, self.rows, self.asked = session, rows, None
        self.planned = None if found.stop else found.plan.best.turns
        return self._answer(found)

    def _answer(self, found: Step) -> Answer:
        told = step_json(self.file, self.session, found)
        return {**told, "text": step_text(self.file, self.session, found)}

    def _made(self, said: Said) -> Answer:
        if not self.session.weigh_ins:
            raise InputError.one("made", "nothing was weighed yet", "give the four readings first")
        turns = np.array([said.values.get(pad, 0.0) for pad in CORNERS])
        self.session = turned(self.session, turns)
        self.writer.append("made", turns_data(turns, assumed=False))
        self.planned, self.rows = None, []
        listed = ", ".join(f"{pad} {signed_turns(turn)}" for pad, turn in said.values.items())
        return {
            "made": {pad: float(turn) for pad, turn in zip(CORNERS, turns, strict=True)},
            "text": f"Made: {listed or 'nothing'}. Settle the car and weigh again.",
        }

    def _undo(self, said: Said) -> Answer:
        if self.asked is not None:
            self.asked = None
            return {"undone": "question", "text": "Forgotten. Give the four readings."}
        if not self.session.weigh_ins:
            raise InputError.one("undo", "nothing was weighed yet", "give the four readings first")
        self._take_back()
        left = len(self.session.weigh_ins)
        return {"undone": "weigh_in", "weigh_ins": left, "text": f"Taken back; {left} left."}

    def _take_back(self) -> None:
        """Undo the last weigh-in with what followed, and the turns that were only assumed."""
        kept = effective(self.writer.entries)
        last = max(index for index, entry in enumerate(kept) if entry.kind == "weigh_in")
        before = kept[last - 1] if last else None
        first = last
        planned: Floats | None = None
        if before is not None and before.kind == "made" and before.data.get("assumed"):
            first = last - 1
            planned = np.array([float(before.data["turns"].get(pad, 0.0)) for pad in CORNERS])
        for entry in reversed(kept[first:]):
            if entry.kind in ("weigh_in", "belief", "plan", "made"):
                self.writer.append("undo", {"undoes": entry.number})
        said = self.session.made[: len(self.session.weigh_ins) - 1]
        self.session, self.rows = undone(self.session), []
        if planned is None and said and self.session.weigh_ins:
            # What was said to be turned stays said; only the reading is taken back.
            self.session = turned(self.session, said[-1])
        self.planned = planned

    def _turns_due(self) -> bool:
        count = len(self.session.weigh_ins)
        return count > 0 and len(self.session.made) < count

    def _slip(self, row: Row) -> Slip | None:
        loads = self._loads(row)
        if not self.session.weigh_ins:
            return odd_pad(loads)
        last = step(self.session)
        expected = self.session.weigh_ins[-1].loads
        turns = self.session.made[-1] if not self._turns_due() else self.planned
        if turns is not None and np.any(turns):
            expected = expected + np.nan_to_num(last.plan.per_turn.loads).T @ turns
        return slip_in(loads, expected)

    def _loads(self, row: Row) -> Floats:
        return np.array([self.file.units.to_si(row[pad], "load") for pad in CORNERS])
