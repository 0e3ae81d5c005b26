"""What a session says to each line, and writes down before it says so."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np

from balancer.car.adjusters import on_mounts
from balancer.car.conventions import CORNERS, Floats
from balancer.errors import Fault, InputError
from balancer.files.car_file import CarFile
from balancer.log.commands import HELP, Said, understood
from balancer.log.entry import MOST_NOTE, Entry
from balancer.log.reader import effective
from balancer.log.sessions import (
    begin_data,
    belief_data,
    on_top,
    plan_data,
    take_up,
    turns_data,
    weigh_in_data,
    weigh_rows,
)
from balancer.log.undo import (
    half_replaced,
    half_undone,
    made_before,
    said_since,
    taken_back,
    turns_in,
)
from balancer.log.writer import LogWriter
from balancer.perches.goal import PerchGoal
from balancer.report.session import slip_json, step_json, step_text
from balancer.report.words import signed_turns, wrapped
from balancer.session.learning import Sigmas
from balancer.session.plausibility import Slip, odd_pad, slip_in
from balancer.session.session import (
    ODD,
    Session,
    Step,
    expected_loads,
    remembering,
    step,
    surprise,
    travel_left,
    turned,
    undone,
    unsaid,
    weighed,
)

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
        for entry in half_replaced(writer.recent):
            writer.append("undo", {"undoes": entry.number})
        self._undo_in_log(half_undone(writer.recent))
        found = take_up(file, writer.entries, goal, sigmas, now)
        self.session: Session = found.session
        self.planned: Floats | None = found.planned
        self.resumed, self.over = found.resumed, False
        self._lost = (len(self.session.weigh_ins), found.before)
        self.rows: list[Row] = []
        self.partial: Row = {}
        self.asked: list[Row] | None = None
        self.beside: list[Row] = []
        self.suspect: tuple[str, ...] = ()
        self.begun = found.resumed
        if self.resumed:
            self._mend()

    def opening(self) -> str:
        """Say whether an old session goes on."""
        if not self.resumed:
            return ""
        count = len(self.session.weigh_ins)
        weighings = "one weigh-in" if count == 1 else f"{count} weigh-ins"
        going_on = f"going on with the session that was broken off, {weighings} so far"
        before = self._before()
        if before.any():
            going_on += f"; one is lost, and {_listed(before)} was turned before it"
        if self.planned is not None:
            listed = _listed(self.planned)
            return f"{going_on}; the plan was {listed}: made, unless you say otherwise"
        if not self._turns_due():
            return f"{going_on}; made since: {_listed(self.session.made[-1] - before)}"
        return going_on

    def _mend(self) -> None:
        """Write down what a kill between a weigh-in and its plan has kept from the log."""
        kept = effective(self.writer.recent)
        last = max(index for index, entry in enumerate(kept) if entry.kind == "weigh_in")
        after = {entry.kind for entry in kept[last:]}
        if "made" not in after:
            self.rows = self._rows_in(kept[last])
        if not after & {"plan", "made"}:
            found = step(self.session)
            self.session = remembering(self.session, found)
            self._conclude(found)
        self._forget_earlier_turns()

    def _rows_in(self, entry: Entry) -> list[Row]:
        if entry.data.get("units") != self.file.units.name:
            return []
        return [dict(zip(CORNERS, row, strict=True)) for row in entry.data["readings"]]

    def hear(self, line: str) -> Answer | None:
        """Answer a line; None where there is nothing to say."""
        said = understood(line, self.file.units)
        if said.kind == "nothing":
            return None
        if said.kind == "help":
            return {"help": HELP.splitlines(), "text": HELP}
        if said.kind == "done":
            return self._done()
        if said.kind == "note":
            if len(said.text) > MOST_NOTE:
                held = f"has {len(said.text)} characters"
                raise InputError.one("note", held, f"{MOST_NOTE} at most")
            self._begin()
            entry = self.writer.append("note", {"text": said.text, "about": None})
            return {"noted": entry.number, "text": f"Noted as {entry.number} in the log."}
        if said.kind == "pad":
            return self._one_pad(said)
        if said.kind == "undo" and self.partial:
            self.partial = {}
            return {"undone": "pads", "text": "Forgotten. Give the four readings."}
        self.partial = {}
        return {
            "made": self._made,
            "undo": self._undo,
            "yes": self._kept,
            "again": self._again,
            "weigh": self._weigh,
        }[said.kind](said)

    def unanswered(self) -> Answer | None:
        """Tell of readings that the log does not have; None where it has all of them."""
        lost = [*(self.asked or ()), *([self.partial] if self.partial else ())]
        if not lost:
            return None
        lines = []
        for row in self.asked or ():
            lines.append(wrapped(f"{_read(row)} was not answered for and is not in the log."))
        if self.partial:
            read = ", ".join(f"{pad} {load:.10g}" for pad, load in self.partial.items())
            lines.append(wrapped(f"{read}: not all four were read, and it is not in the log."))
        return {"not_in_log": lost, "text": "\n".join(lines)}

    def _done(self) -> Answer:
        lost = self.unanswered()
        begun = self.begun
        self.end()
        if lost is None:
            return {"done": True, "text": "Session ended; the log has it all."}
        rest = "the log has the rest" if begun else "nothing of it is in the log"
        return {"done": True, **lost, "text": f"{lost['text']}\nSession ended; {rest}."}

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
        if self.asked is not None and set(said.values) == set(self.suspect):
            # The pad that was asked about, read again.
            mended = [*self.asked[:-1], {**self.asked[-1], **said.values}]
            return self._ask_or_take(mended, self.beside)
        self.partial.update(said.values)
        missing = [pad for pad in CORNERS if pad not in self.partial]
        if missing:
            return {"waiting_for": missing, "text": f"Still to read: {' '.join(missing)}"}
        row, self.partial = {pad: self.partial[pad] for pad in CORNERS}, {}
        return self._ask_or_take([row], [])

    def _weigh(self, said: Said) -> Answer:
        return self._ask_or_take([said.values], [])

    def _kept(self, said: Said) -> Answer:
        if self.asked is None:
            raise InputError.one("yes", "nothing was asked", "give the four readings")
        return self._take(self.asked, self.beside)

    def _again(self, said: Said) -> Answer:
        if self.asked is not None:
            # The car has not been touched since the reading in doubt, but may have been before it.
            return self._ask_or_take([*self.asked, said.values], self.beside)
        if not self.rows:
            raise InputError.one("again", "nothing was weighed just now", "give the four readings")
        return self._ask_or_take([said.values], self.rows)

    def _ask_or_take(self, rows: list[Row], beside: list[Row]) -> Answer:
        """Ask about new rows, or take them, with those of the last weigh-in they are beside."""
        last = self._loads(rows[-1])
        slip = self._slip(rows[-1], beside)
        # A mean of two states of the car is neither: a reading in doubt goes with others in doubt.
        kept = [
            row
            for row in rows
            if row is rows[-1]
            or (slip_in(self._loads(row), last) is None and (slip or not self._slip(row, beside)))
        ]
        if slip is None:
            told = self._take(kept, beside)
        else:
            self.asked, self.beside, self.suspect = kept, beside, slip.pads
            told = slip_json(slip, last, self.file.units)
            told = {**told, "text": wrapped(f"{told['question']}.")}
        left_out = [row for row in rows if row not in kept]
        if not left_out:
            return told
        lines = [wrapped(f"{_read(row)} was in doubt and is left out.") for row in left_out]
        return {**told, "not_in_log": left_out, "text": "\n".join([*lines, told["text"]])}

    def _take(self, rows: list[Row], beside: list[Row]) -> Answer:
        """Weigh, write it down with what came before and what comes of it, and answer."""
        rows = [*beside, *rows]
        weigh_in = weigh_rows(self.file, rows, self.words)
        instead: list[Entry] = []
        before, planned = self.session, self.planned
        assumed = on_top(self._before(), planned)
        if beside:
            instead, _ = taken_back(self.writer.recent, with_turns=False)
            before, planned, assumed = self._session_before(), None, None
        session = weighed(before, weigh_in, assumed)
        found = step(session)
        self._begin()
        for entry in instead:
            self.writer.append("undo", {"undoes": entry.number, "replaced": True})
        if planned is not None and self._turns_due():
            self.writer.append("made", turns_data(planned, assumed=True))
        self.writer.append("weigh_in", weigh_in_data(rows, self.file, self.words))
        self.session = remembering(session, found)
        self.rows, self.asked, self.beside = rows, None, []
        self._conclude(found)
        told = step_json(self.file, self.session, found)
        return {**told, "text": step_text(self.file, self.session, found)}

    def _conclude(self, found: Step) -> None:
        """Write down what a weigh-in has taught and what comes next."""
        made = self.session.made[: len(self.session.weigh_ins) - 1]
        if any(np.any(turns) for at, turns in enumerate(made, 1) if at not in found.disbelieved):
            self.writer.append("belief", belief_data(self.file.car, found.learned.belief))
        self.writer.append("plan", plan_data(found))
        self.planned = None if found.stop else found.plan.best.turns

    def _made(self, said: Said) -> Answer:
        if not self.session.weigh_ins:
            raise InputError.one("made", "nothing was weighed yet", "give the four readings first")
        fixed = [pad for pad, can in zip(CORNERS, self.file.car.adjustable, strict=True) if not can]
        if faults := [
            Fault(f"made {pad}", "has no threaded perch", "give perch_lead in the car file")
            for pad in said.values
            if pad in fixed
        ]:
            raise InputError(faults)
        if faults := self._beyond_travel(said.values):
            raise InputError(faults)
        anew = not self._turns_due()
        turns = np.array([said.values.get(pad, 0.0) for pad in CORNERS])
        self.session = turned(self.session, self._before() + turns)
        self.writer.append("made", turns_data(turns, assumed=False))
        self._forget_earlier_turns()
        self.planned, self.rows = None, []
        made = {pad: float(turn) for pad, turn in zip(CORNERS, turns, strict=True)}
        if self.asked is not None:
            told = self._ask_or_take(self.asked, [])
            text = f"That replaces what was said before.\n{told['text']}" if anew else told["text"]
            return {**told, "made": made, "text": text}
        replaces = ", which replaces what was said before" if anew else ""
        text = f"Made since the last weigh-in: {_listed(turns)}{replaces}."
        return {"made": made, "text": wrapped(f"{text} Settle the car and weigh again.")}

    def _beyond_travel(self, made: Row) -> list[Fault]:
        faults = []
        sides = zip(CORNERS, travel_left(self.session), on_mounts(self.file.car), strict=True)
        for pad, (down, up), on_mount in sides:
            key = "mount" if on_mount else "perch"
            turns = made.get(pad, 0.0)
            left, way = (-down, "down") if turns < 0 else (up, "up")
            if abs(turns) > left + 1e-6:
                most = f"only {signed_turns(left).lstrip('+')} are" if left > 1e-6 else "none is"
                problem = f"{signed_turns(turns)} turns, {most} left {way}"
                way_out = f"check the number, or {key}_travel in the car file"
                faults.append(Fault(f"made {pad}", problem, way_out))
        return faults

    def _forget_earlier_turns(self) -> None:
        """Undo in the log what `made` had said before it was said anew."""
        for entry in made_before(self.writer.recent):
            self.writer.append("undo", {"undoes": entry.number})

    def _undo(self, said: Said) -> Answer:
        if self.asked is not None:
            self.asked, self.beside = None, []
            return {"undone": "question", "text": "Forgotten. Give the four readings."}
        if not self.session.weigh_ins:
            raise InputError.one("undo", "nothing was weighed yet", "give the four readings first")
        if last := said_since(self.writer.recent):
            return self._unsay(last)
        entries, self.planned = taken_back(self.writer.recent, with_turns=True)
        self._undo_in_log([entry.number for entry in entries])
        planned = self.planned is not None
        self.session = undone(self.session) if planned else self._session_before()
        self.rows = []
        left = len(self.session.weigh_ins)
        return {"undone": "weigh_in", "weigh_ins": left, "text": self._left(left)}

    def _unsay(self, said: Entry) -> Answer:
        """Take back what was said to be made: the plan counts again."""
        self._undo_in_log([said.number])
        self.session = unsaid(self.session)
        for entry in effective(self.writer.recent):
            if entry.kind == "weigh_in":
                self.rows = self._rows_in(entry)
            elif entry.kind == "plan":
                self.planned = None if entry.data.get("stop") else turns_in(entry)
        text = "Taken back: what was said to be made. "
        if self.planned is None:
            text += "Nothing was planned: nothing is turned, unless you say otherwise."
        else:
            text += f"The plan was {_listed(self.planned)}: made, unless you say otherwise."
        return {"undone": "made", "weigh_ins": len(self.session.weigh_ins), "text": wrapped(text)}

    def _undo_in_log(self, numbers: list[int]) -> None:
        for number in numbers:
            # With all of them in each, a session killed in between can finish it.
            self.writer.append("undo", {"undoes": number, "all": numbers})

    def _left(self, left: int) -> str:
        if not left:
            return "Taken back: nothing is weighed yet."
        turns = self.planned if self.planned is not None else self.session.made[-1]
        return f"Taken back: {left} left, and {_listed(turns)} turned since."

    def _session_before(self) -> Session:
        """Give the session without the last weigh-in; what was turned before it stays turned."""
        before = undone(self.session)
        said = self.session.made[: len(self.session.weigh_ins) - 1]
        return turned(before, said[-1]) if said else before

    def _before(self) -> Floats:
        """Give the turns since the last weigh-in that came before one that can't be read."""
        count, turns = self._lost
        return turns if count == len(self.session.weigh_ins) else np.zeros(4)

    def _turns_due(self) -> bool:
        count = len(self.session.weigh_ins)
        return count > 0 and len(self.session.made) < count

    def _slip(self, row: Row, beside: list[Row]) -> Slip | None:
        loads = self._loads(row)
        if beside:
            return slip_in(loads, np.mean([self._loads(one) for one in beside], axis=0))
        if not self.session.weigh_ins:
            return odd_pad(loads)
        expected = self.session.weigh_ins[-1].loads
        assumed = on_top(self._before(), self.planned)
        turns = self.session.made[-1] if not self._turns_due() else assumed
        if turns is not None and np.any(turns):
            expected = expected_loads(self.session, turns)
        slip = slip_in(loads, expected)
        weigh_in = weigh_rows(self.file, [row], self.words)
        if slip is None and surprise(self.session, weigh_in, assumed) > ODD:
            return Slip("turns", (), expected)
        return slip

    def _loads(self, row: Row) -> Floats:
        return np.array([self.file.units.to_si(row[pad], "load") for pad in CORNERS])


def _read(row: Row) -> str:
    return " ".join(f"{row[pad]:.10g}" for pad in CORNERS)


def _listed(turns: Floats) -> str:
    """List turns by corner.

    >>> _listed(np.array([-0.75, 0.0, 0.0, 0.5]))
    'LF −¾, RR +½'
    """
    said = [
        f"{pad} {signed_turns(float(one))}" for pad, one in zip(CORNERS, turns, strict=True) if one
    ]
    return ", ".join(said) or "nothing"
