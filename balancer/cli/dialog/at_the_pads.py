"""What a session says to each line, and writes down before it says so."""

from __future__ import annotations

from datetime import datetime
from typing import Any, NamedTuple

import numpy as np

from balancer.car.adjusters import on_mounts
from balancer.car.conventions import CORNERS, Floats
from balancer.errors import Fault, InputError
from balancer.files.car_file import CarFile
from balancer.files.checks.readings import no_car
from balancer.log.commands import HELP, Said, understood
from balancer.log.entry import MOST_NOTE, Entry
from balancer.log.lookup import readings_of_entry
from balancer.log.reader import effective
from balancer.log.replay import NOTHING, Replay, plus, replay, turns_in
from balancer.log.resume import take_up
from balancer.log.session_lines import (
    Row,
    begin_data,
    belief_data,
    plan_data,
    turns_data,
    weigh_in_data,
)
from balancer.log.undo import half_replaced, half_undone, taken_back
from balancer.log.writer import LogWriter
from balancer.perches.goal import PerchGoal
from balancer.report.session import step_json, step_text, suspect_json
from balancer.report.words.numbers import signed_turns, wrapped
from balancer.session.learning import Sigmas
from balancer.session.plausibility import Suspect, odd_pad, suspect_reading
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
from balancer.units import other
from balancer.weighing.weigh import WeighIn, weigh

Answer = dict[str, Any]


class Question(NamedTuple):
    """Readings that were asked about, and not answered for.

    Attributes:
        rows: The last is the one in doubt.
        beside: Of the last weigh-in, that they are more of.
        pads: That look wrong.
    """

    rows: list[Row]
    beside: list[Row]
    pads: tuple[str, ...]


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
        for number in half_replaced(writer.recent):
            writer.append("undo", {"undoes": number})
        self._undo_in_log(half_undone(writer.recent))
        taken_up = take_up(file, writer.entries, goal, sigmas, now)
        self.session: Session = taken_up.session
        self.resumed, self.over = taken_up.resumed, False
        self._ahead = taken_up.ahead
        self.rows: list[Row] = []
        self.partial: Row = {}
        self.asked: Question | None = None
        self.begun = self.resumed
        if self.resumed:
            self._mend()

    @property
    def lines(self) -> Replay:
        """What the log has of this session."""
        return replay(effective(self.writer.recent)) if self.begun else Replay()

    def opening(self) -> str:
        """Say whether an old session goes on."""
        if self._ahead:
            when = f"{self._ahead:%Y-%m-%d %H:%M}"
            return f"a session was broken off at {when}, ahead of the clock: not gone on with"
        if not self.resumed:
            return ""
        count, lines = len(self.session.weigh_ins), self.lines
        weighings = "one weigh-in" if count == 1 else f"{count} weigh-ins"
        going_on = f"going on with the session that was broken off, {weighings} so far"
        if lines.before.any():
            going_on += f"; one is lost, and {_listed(lines.before)} was turned before it"
        if lines.due is not None:
            return f"{going_on}; the plan was {_listed(lines.due)}: made, unless you say otherwise"
        if lines.said:
            return f"{going_on}; made since: {_listed(turns_in(lines.said[-1]))}"
        return going_on

    def _mend(self) -> None:
        """Write down what a kill between a weigh-in and its plan has kept from the log."""
        lines = self.lines
        if not lines.said and not lines.before.any():
            self.rows = self._rows_in(lines.legs[-1].entry)
        if lines.plan is None and not lines.said:
            self.session = remembering(self.session)
            self._conclude(step(self.session))
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
        asked = self.asked.rows if self.asked else []
        lost = [*asked, *([self.partial] if self.partial else ())]
        if not lost:
            return None
        lines = [
            wrapped(f"{_read(row)} was not answered for and is not in the log.") for row in asked
        ]
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
        if self.asked and set(said.values) == set(self.asked.pads):
            # The pad that was asked about, read again.
            rows, beside, _ = self.asked
            return self._ask_or_take([*rows[:-1], {**rows[-1], **said.values}], beside)
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
        return self._take(self.asked.rows, self.asked.beside)

    def _again(self, said: Said) -> Answer:
        if self.asked:
            # The car has not been touched since the reading in doubt, but may have been before it.
            return self._ask_or_take([*self.asked.rows, said.values], self.asked.beside)
        if not self.rows:
            raise InputError.one("again", "nothing was weighed just now", "give the four readings")
        return self._ask_or_take([said.values], self.rows)

    def _ask_or_take(self, rows: list[Row], beside: list[Row]) -> Answer:
        """Ask about new rows, or take them, with those of the last weigh-in they are beside."""
        last = self._loads(rows[-1])
        suspect = self._suspect(rows[-1], beside)
        # A mean of two states of the car is neither: a reading in doubt goes with others in doubt.
        kept = [
            row
            for row in rows
            if row is rows[-1]
            or (
                suspect_reading(self._loads(row), last) is None
                and (suspect or not self._suspect(row, beside))
            )
        ]
        if suspect is None:
            answer = self._take(kept, beside)
        else:
            self.asked = Question(kept, beside, suspect.pads)
            answer = suspect_json(suspect, last, self.file.units)
            answer = {**answer, "text": wrapped(f"{answer['question']}.")}
        left_out = [row for row in rows if row not in kept]
        if not left_out:
            return answer
        lines = [wrapped(f"{_read(row)} was in doubt and is left out.") for row in left_out]
        return {**answer, "not_in_log": left_out, "text": "\n".join([*lines, answer["text"]])}

    def _take(self, rows: list[Row], beside: list[Row]) -> Answer:
        """Weigh, write it down with what came before and what comes of it, and answer."""
        rows, lines = [*beside, *rows], self.lines
        before, turns = self.session, plus(lines.made, lines.due)
        instead: list[Entry] = []
        if beside:
            instead = taken_back(self.writer.recent, with_turns=False)
            before, turns = self._session_before(), None
        session = remembering(weighed(before, self._weighed(rows), turns))
        result = step(session)
        self._begin()
        for entry in instead:
            self.writer.append("undo", {"undoes": entry.number, "replaced": True})
        if lines.due is not None and not beside:
            self.writer.append("made", turns_data(lines.due, assumed=True))
        self.writer.append("weigh_in", weigh_in_data(rows, self.file, self.words))
        self.session, self.rows, self.asked = session, rows, None
        self._conclude(result)
        answer = step_json(self.file, session, result)
        return {**answer, "text": step_text(self.file, session, result)}

    def _weighed(self, rows: list[Row]) -> WeighIn:
        """Weigh the car from rows of readings, unless no car weighs that."""
        label = other(self.file.units).labels["load"]
        numbers = np.array([[row[pad] for pad in CORNERS] for row in rows])
        way_out = f"type {label} behind each: 302{label}"
        if faults := no_car(self.file, numbers, "readings", way_out):
            raise InputError(faults)
        data = weigh_in_data(rows, self.file, self.words)
        entry = Entry(1, "2000-01-01T00:00:00+00:00", "weigh_in", data)
        return weigh(self.file.car, readings_of_entry(entry, self.file))

    def _conclude(self, result: Step) -> None:
        """Write down what a weigh-in has taught and what comes next."""
        made = self.session.made[: len(self.session.weigh_ins) - 1]
        if any(np.any(turns) for at, turns in enumerate(made, 1) if at not in result.disbelieved):
            self.writer.append("belief", belief_data(self.file.car, result.learned.belief))
        self.writer.append("plan", plan_data(result))

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
        lines = self.lines
        turns = np.array([said.values.get(pad, 0.0) for pad in CORNERS])
        self.session = turned(self.session, lines.before + turns)
        self.writer.append("made", turns_data(turns, assumed=False))
        self._forget_earlier_turns()
        self.rows = []
        made = {pad: float(turn) for pad, turn in zip(CORNERS, turns, strict=True)}
        if self.asked:
            answer = self._ask_or_take(self.asked.rows, [])
            replaces = "That replaces what was said before.\n" if lines.said else ""
            return {**answer, "made": made, "text": f"{replaces}{answer['text']}"}
        replaces = ", which replaces what was said before" if lines.said else ""
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
        for entry in self.lines.said[:-1]:
            self.writer.append("undo", {"undoes": entry.number})

    def _undo(self, said: Said) -> Answer:
        if self.asked:
            self.asked = None
            return {"undone": "question", "text": "Forgotten. Give the four readings."}
        if not self.session.weigh_ins:
            raise InputError.one("undo", "nothing was weighed yet", "give the four readings first")
        lines = self.lines
        if lines.said and not lines.assumed:
            return self._unsay(lines.said[-1])
        entries = taken_back(self.writer.recent, with_turns=True)
        self._undo_in_log([entry.number for entry in entries])
        # Turns that were only assumed are a plan again; others stay made.
        assumed = entries[-1].kind == "made"
        self.session = undone(self.session) if assumed else self._session_before()
        self.rows = []
        left = len(self.session.weigh_ins)
        return {"undone": "weigh_in", "weigh_ins": left, "text": self._left(left)}

    def _unsay(self, made: Entry) -> Answer:
        """Take back what was said to be made: the plan counts again."""
        self._undo_in_log([made.number])
        self.session, lines = unsaid(self.session), self.lines
        self.rows = self._rows_in(lines.legs[-1].entry)
        text = "Taken back: what was said to be made. "
        if lines.due is None:
            text += "Nothing was planned: nothing is turned, unless you say otherwise."
        else:
            text += f"The plan was {_listed(lines.due)}: made, unless you say otherwise."
        return {"undone": "made", "weigh_ins": len(self.session.weigh_ins), "text": wrapped(text)}

    def _undo_in_log(self, numbers: list[int]) -> None:
        for number in numbers:
            # With all of them in each, a session killed in between can finish it.
            self.writer.append("undo", {"undoes": number, "all": numbers})

    def _left(self, left: int) -> str:
        if not left:
            return "Taken back: nothing is weighed yet."
        lines = self.lines
        turns = plus(lines.made, lines.due)
        turned_since = _listed(NOTHING if turns is None else turns)
        return f"Taken back: {left} left, and {turned_since} turned since."

    def _session_before(self) -> Session:
        """Give the session without the last weigh-in; what was turned before it stays turned."""
        before = undone(self.session)
        said = self.session.made[: len(self.session.weigh_ins) - 1]
        return turned(before, said[-1]) if said else before

    def _suspect(self, row: Row, beside: list[Row]) -> Suspect | None:
        loads = self._loads(row)
        if beside:
            return suspect_reading(loads, np.mean([self._loads(each) for each in beside], axis=0))
        if not self.session.weigh_ins:
            return odd_pad(loads)
        turns = plus(self.lines.made, self.lines.due)
        expected = self.session.weigh_ins[-1].loads
        if turns is not None and np.any(turns):
            expected = expected_loads(self.session, turns)
        suspect = suspect_reading(loads, expected)
        if suspect is None and surprise(self.session, self._weighed([row]), turns) > ODD:
            return Suspect("turns", (), expected)
        return suspect

    def _loads(self, row: Row) -> Floats:
        return np.array([self.file.units.to_si(row[pad], "load") for pad in CORNERS])


def _read(row: Row) -> str:
    return " ".join(f"{row[pad]:.10g}" for pad in CORNERS)


def _listed(turns: Floats) -> str:
    """List turns by corner.

    >>> _listed(np.array([-0.75, 0.0, 0.0, 0.5]))
    'LF −¾, RR +½'
    """
    pairs = zip(CORNERS, turns, strict=True)
    return (
        ", ".join(f"{pad} {signed_turns(float(turn))}" for pad, turn in pairs if turn) or "nothing"
    )
