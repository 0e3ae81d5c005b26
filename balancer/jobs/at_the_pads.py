"""A session at the pads: it hears lines and gives answers."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import cached_property

import numpy as np

from balancer.car.adjusters import all_turns
from balancer.car.conventions import CORNERS, Floats
from balancer.car.corner import LINKS
from balancer.car.errors import InputError
from balancer.files.car_file import CarFile
from balancer.files.checks.plausible import refuse_bounces
from balancer.files.on_board import split_names
from balancer.files.states import RACE_TRIM, race_state, state_of
from balancer.jobs import answers
from balancer.jobs.answers import Answer
from balancer.jobs.readings import Before, Question, in_doubt, loads_of, weighed_by
from balancer.jobs.record import Record
from balancer.jobs.turning import refuse_turns
from balancer.log.commands import HELP, Kind, Said, understood
from balancer.log.entry_readings import loads_before
from balancer.log.replay import plus, turns_in
from balancer.log.resume import take_up, with_goal
from balancer.log.session_lines import Row
from balancer.log.terms import Terms, overridden
from balancer.log.writer import LogWriter
from balancer.planning.session.identify import lessons_to_be_had
from balancer.planning.session.lessons import remembering
from balancer.planning.session.session import Session, undone, weighed, with_made, without_made
from balancer.planning.session.step import Step, step
from balancer.report.session_terms import differences, opening_text, terms_json

_GIVE_FIRST = "give the four readings first"
_FORGOTTEN = "Forgotten. Give the four readings."
_KEEPS_PADS = ("nothing", "help", "note", "plan", "done", "pad")
"""Lines after which pads that were read one at a time still count."""


class AtThePads:
    """A session with its record.

    The one thing in the package that keeps a state, since a conversation is one. Nothing in it
    counts as heard before the log has it.

    Attributes:
        rows: Of the last weigh-in, while the car was not touched since.
        partial: Pads read one at a time, until there are four.
        asked: What is not answered for.
    """

    def __init__(
        self, file: CarFile, given: Terms, writer: LogWriter, now: datetime, identify: bool = False
    ) -> None:
        self.file, self.record = file, Record(file, given, writer)
        self.taken_up = taken_up = take_up(file, writer.entries, given, now)
        self.terms = self.record.terms = taken_up.terms
        self.was = taken_up.terms.on_pads(file)
        self.session: Session = taken_up.session
        self.resumed, self.over, self._ahead = taken_up.resumed, False, taken_up.ahead
        self._identify = identify
        self.rows: list[Row] = []
        self.partial: Row = {}
        self.asked: Question | None = None
        self._answers: dict[Kind, Callable[[Said], Answer | None]] = {
            "nothing": lambda said: None,
            "help": lambda said: {"help": HELP.splitlines(), "text": HELP},
            "note": self._note,
            "done": self._done,
            "pad": self._pad,
            "weigh": lambda said: self._ask_or_take([said.values], []),
            "again": self._again,
            "yes": self._yes,
            "no": self._no,
            "made": self._made,
            "aboard": self._aboard,
            "links": self._links,
            "plan": self._plan,
            "undo": self._undo,
        }
        self.record.begun = self.resumed
        self.changes = tuple(differences(taken_up.told, self.terms, file)) if taken_up.told else ()
        if self.resumed:
            if self.changes:
                self.record.options(self.session.goal.cross)
            self._mend()
        elif given.says:
            # Said once, it is known after a kill too, however early.
            self.record.begin()

    def opening(self) -> Answer:
        """Say which car this is, how it stands, what it is to reach, and whether it goes on."""
        lines, count = self.record.lines, len(self.session.weigh_ins)
        going_on = answers.going_on(self.file, lines, count, self._ahead, bool(self.changes))
        told, begin = self.taken_up.lines.told, self.taken_up.begin
        return {
            **terms_json(self.file, self.terms, told, self.session.goal),
            "resumed": self.resumed,
            "changed": list(self.changes),
            "note": "; ".join(filter(None, (going_on, *self.changes))),
            "text": opening_text(self.file, self.terms, told, self.session.goal, begin),
        }

    def hear(self, line: str) -> Answer | None:
        """Answer a line; None where there is nothing to say."""
        said = understood(line, self.file.units, self.file.counts())
        if said.kind not in _KEEPS_PADS:
            partial, self.partial = self.partial, {}
            if partial and said.kind == "undo":
                return {"undone": "pads", "text": _FORGOTTEN}
        return self._answers[said.kind](said)

    def unanswered(self) -> Answer | None:
        """Tell of readings that the log does not have; None where it has all of them."""
        return answers.unanswered(self.asked.rows if self.asked else [], self.partial)

    def end(self) -> None:
        """End the session, so that the next one is a new one."""
        if not self.over:
            self.record.end()
        self.over = True

    def _mend(self) -> None:
        """Write down what a kill between a weigh-in and its plan has kept from the log.

        A plan from before what the session goes by now was for something else.
        """
        lines = self.record.lines
        plan, options = lines.plan, lines.options
        anew = plan is None or (options is not None and options.number > plan.number)
        told = self.taken_up.told
        moved = told is not None and not np.array_equal(_level(told), _level(self.terms))
        if not lines.said and not lines.before.any() and not moved:
            self.rows = self.record.last_rows()
        if anew and not lines.said:
            self.session = remembering(self.session)
            self.record.step(self.session, step(self.session))
        self.record.forget_earlier_turns()

    def _done(self, said: Said) -> Answer:
        self.end()
        return answers.done(self.unanswered(), self.record.begun)

    def _note(self, said: Said) -> Answer:
        number = self.record.note(said.text)
        return {"noted": number, "text": f"Noted as {number} in the log."}

    def _pad(self, said: Said) -> Answer | None:
        if self.asked and set(said.values) == set(self.asked.pads):
            # The pad that was asked about, read again.
            rows, beside, _ = self.asked
            return self._ask_or_take([*rows[:-1], {**rows[-1], **said.values}], beside)
        self.partial.update(said.values)
        if missing := [pad for pad in CORNERS if pad not in self.partial]:
            return {"waiting_for": missing, "text": f"Still to read: {' '.join(missing)}"}
        row, self.partial = {pad: self.partial[pad] for pad in CORNERS}, {}
        return self._ask_or_take([row], [])

    def _yes(self, said: Said) -> Answer:
        asked = self._question(said)
        return self._take(asked.rows, asked.beside)

    def _no(self, said: Said) -> Answer:
        self._question(said)
        return self._undo(said)

    def _question(self, said: Said) -> Question:
        if self.asked is None:
            raise InputError.one(said.kind, "nothing was asked", "give the four readings")
        return self.asked

    def _again(self, said: Said) -> Answer:
        if self.asked:
            # The car has not been touched since the reading in doubt, but may have been before it.
            return self._ask_or_take([*self.asked.rows, said.values], self.asked.beside)
        if not self.rows:
            raise InputError.one("again", "nothing was weighed just now", "give the four readings")
        return self._ask_or_take([said.values], self.rows)

    def _ask_or_take(self, rows: list[Row], beside: list[Row]) -> Answer:
        """Ask about new rows, or take them, with those of the last weigh-in they are beside."""
        lines = self.record.lines
        turns = plus(lines.made, lines.due)
        before = Before(
            self.file, self.terms, self.was, self.session, turns, lines.assumed, self._seasons
        )
        suspect, kept = in_doubt(rows, beside, before)
        if suspect is None:
            answer = self._take(kept, beside)
        else:
            self.asked = Question(kept, beside, suspect.pads)
            answer = answers.asked(suspect, loads_of(rows[-1], self.file.units), self.file.units)
        return answers.less(answer, [row for row in rows if row not in kept])

    @cached_property
    def _seasons(self) -> tuple[Floats, ...]:
        """Loads of the last weigh-ins before this session, in the state of this one."""
        return loads_before(self.file, self.record.writer.entries, self.was)

    def _take(self, rows: list[Row], beside: list[Row]) -> Answer:
        """Weigh, write it down with what came before and what comes of it, and answer."""
        rows, lines = [*beside, *rows], self.record.lines
        before, turns = self.session, plus(lines.made, lines.due)
        if beside:
            before, turns = self._session_before(), None
        weigh_in = weighed_by(rows, self.file, self.terms)
        refuse_bounces(self.file, weigh_in.loads)
        session = remembering(weighed(before, weigh_in, turns, self.was))
        session = with_goal(session, self.terms)
        result = step(session)
        self.record.weigh_in(rows, session.goal, instead=bool(beside))
        self.session, self.rows, self.asked = session, rows, None
        self.record.step(session, result)
        return self._stepped(session, result)

    def _stepped(self, session: Session, result: Step) -> Answer:
        answer = answers.stepped(self.file, session, result, self.terms)
        if not self._identify:
            return answer
        return answers.with_lessons(answer, lessons_to_be_had(session, result), self.file)

    def _made(self, said: Said) -> Answer:
        if not self.session.weigh_ins:
            raise InputError.one("made", "nothing was weighed yet", _GIVE_FIRST)
        refuse_turns(said.values, self.session, self.file)
        lines = self.record.lines
        turns = np.array([said.values.get(place, 0.0) for place in (*CORNERS, *LINKS)])
        turns = turns if turns[4:].any() else turns[:4]
        self.record.made(turns)
        self.session = with_made(self.session, all_turns([lines.before, turns]))
        self.rows = []
        waited = self._ask_or_take(self.asked.rows, []) if self.asked else None
        return answers.made(self.file, turns, bool(lines.said), waited)

    def _aboard(self, said: Said) -> Answer:
        """Say what is on the pads from here on; whoever boards the car has not turned anything."""
        if self.terms.race is False:
            way_out = "begin a session anew with --weighed-with"
            raise InputError.one("aboard", "this session is for the car as it stands", way_out)
        words = race_state(self.file).words
        if said.text.lower() not in ("race", RACE_TRIM):
            names = "none" if said.text.lower() == "nothing" else said.text
            words = state_of(self.file, split_names(names), "aboard").words
        self.terms = self.record.terms = overridden(self.terms, Terms(words=words, state="said"))
        self.was, self.asked = self.terms.on_pads(self.file), None
        if not self.session.weigh_ins:
            self.record.begin()
        elif not self.record.lines.said:
            self._made(Said("made", {}))
        self.record.options(self.session.goal.cross)
        self.rows = []
        return answers.boarded(words, turned=bool(np.any(self.record.lines.made)))

    def _links(self, said: Said) -> Answer:
        """Let drop links be turned from here on, or not; plan anew."""
        if not said.text and not any(link.usable for link in self.file.car.links):
            what = "change nothing: no bar is connected by a link that can be turned"
            raise InputError.one("links", what, "give link_lead in the car file")
        self.terms = self.record.terms = self.terms._replace(links=not said.text)
        self.session = replace(self.session, links=not said.text)
        self.record.begin()
        self.record.options(self.session.goal.cross)
        answer = answers.linked(self.file, self.terms)
        if not self.session.weigh_ins or self.record.lines.said:
            return answer
        result = step(self.session)
        self.record.step(self.session, result)
        stepped = self._stepped(self.session, result)
        return {**stepped, **answer, "text": f"{answer['text']}\n{stepped['text']}"}

    def _plan(self, said: Said) -> Answer:
        if not self.session.weigh_ins:
            raise InputError.one("plan", "nothing was weighed yet", _GIVE_FIRST)
        session = without_made(self.session)
        answer, said_made = self._stepped(session, step(session)), self.record.lines.said
        if said_made:
            answer["text"] += f"\n{answers.since(self.file, turns_in(said_made[-1]))}"
        return answer

    def _undo(self, said: Said) -> Answer:
        if self.asked:
            self.asked = None
            return {"undone": "question", "text": _FORGOTTEN}
        if not self.session.weigh_ins:
            raise InputError.one("undo", "nothing was weighed yet", _GIVE_FIRST)
        lines = self.record.lines
        if lines.said and not lines.assumed:
            return self._unmake(lines.said[-1].number)
        # Turns that were only assumed are a plan again; others stay made.
        assumed = self.record.take_back()
        before, self.rows = undone(self.session) if assumed else self._session_before(), []
        self.session = with_goal(before, self.terms)
        return answers.taken_back(self.file, self.record.lines, len(self.session.weigh_ins))

    def _unmake(self, number: int) -> Answer:
        """Take back what was said to be made: the plan counts again."""
        self.record.undo([number])
        self.session, self.rows = without_made(self.session), self.record.last_rows()
        return answers.unmade(self.file, self.record.lines, len(self.session.weigh_ins))

    def _session_before(self) -> Session:
        """Give the session without the last weigh-in; what was turned before it stays turned."""
        before = undone(self.session)
        said = self.session.made[: len(self.session.weigh_ins) - 1]
        return with_made(before, said[-1]) if said else before


def _level(terms: Terms) -> Floats:
    """Give the heights of the pads, level ones where nobody said any."""
    return np.zeros(4) if terms.pads is None else terms.pads
