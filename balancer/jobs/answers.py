"""What a session says to each line that is not a weigh-in: dicts with the text that is shown."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from balancer.car.conventions import CORNERS, Floats
from balancer.car.corner import LINKS
from balancer.files.car_file import CarFile
from balancer.files.units import Units
from balancer.log.replay import NOTHING, Replay, plus, turns_in
from balancer.log.session_lines import Row
from balancer.log.terms import Terms
from balancer.planning.session.identify import Lesson
from balancer.planning.session.plausibility import Suspect
from balancer.planning.session.session import Session
from balancer.planning.session.step import Step
from balancer.report.learned import lessons_json, lessons_text
from balancer.report.perches.trims import trims_json
from balancer.report.session import step_json, step_text, suspect_json
from balancer.report.session_terms import links_words
from balancer.report.words.prose import wrapped
from balancer.report.words.turns import turned_corners

Answer = dict[str, Any]


def going_on(
    file: CarFile, lines: Replay, weigh_ins: int, ahead: datetime | None, anew: bool
) -> str:
    """Say whether an old session goes on; nothing for a new one.

    Args:
        weigh_ins: How many it has.
        ahead: When one was broken off that is yet to come.
        anew: Whether it goes by something else now, and the plan is another.
    """
    if ahead:
        when = f"{ahead:%Y-%m-%d %H:%M}"
        return f"a session was broken off at {when}, ahead of the clock: not gone on with"
    if not weigh_ins:
        return ""
    weighings = "one weigh-in" if weigh_ins == 1 else f"{weigh_ins} weigh-ins"
    text = f"going on with the session that was broken off, {weighings} so far"
    if lines.before.any():
        text += f"; one is lost, and {listed(lines.before, file)} was turned before it"
    if lines.due is not None:
        return f"{text}; {_as_planned(lines.due, file, 'is now' if anew else 'was')}"
    if lines.said:
        return f"{text}; made since: {listed(turns_in(lines.said[-1]), file)}"
    return text


def stepped(file: CarFile, session: Session, step: Step, terms: Terms) -> Answer:
    """Say what a weigh-in comes to in the state that is planned for, and what to turn."""
    trims = terms.aimed_at(file) if session.others else {}
    several = trims_json(trims, step.plan, step.cross, file.units)
    text = step_text(file, session, step, next(iter(trims), terms.aim), list(trims))
    return {**step_json(file, session, step), **several, "state": terms.aim, "text": text}


def with_lessons(answer: Answer, lessons: Sequence[Lesson], file: CarFile) -> Answer:
    """Say as well what turns made only to learn would bring."""
    text = f"{answer['text']}\n{lessons_text(lessons, file)}"
    return {**answer, "identify": lessons_json(lessons), "text": text}


def asked(suspect: Suspect, loads: Floats, units: Units) -> Answer:
    """Ask about a reading.

    Args:
        loads: (4,), as read [N].
    """
    answer = suspect_json(suspect, loads, units)
    return {**answer, "text": wrapped(f"{answer['question']}.")}


def less(answer: Answer, left_out: Sequence[Row]) -> Answer:
    """Say before an answer which readings in doubt it does without.

    Args:
        left_out: Rows by corner.
    """
    if not left_out:
        return answer
    lines = [wrapped(f"{_read(row)} was in doubt and is left out.") for row in left_out]
    return {**answer, "not_in_log": left_out, "text": "\n".join([*lines, answer["text"]])}


def made(file: CarFile, turns: Floats, replaces: bool, answer: Answer | None) -> Answer:
    """Say what counts as made, and the answer to readings that had waited for it.

    Args:
        turns: (n,), as in `replay.turns_in`.
    """
    by_corner = dict(zip((*CORNERS, *LINKS), turns.tolist(), strict=False))
    if answer:
        before = "That replaces what was said before.\n" if replaces else ""
        return {**answer, "made": by_corner, "text": f"{before}{answer['text']}"}
    before = ", which replaces what was said before" if replaces else ""
    return {"made": by_corner, "text": since(file, turns, before)}


def since(file: CarFile, turns: Floats, more: str = "") -> str:
    """Say what counts as made since the last weigh-in.

    Args:
        turns: (n,), as in `replay.turns_in`.
        more: To say of it.
    """
    made = f"Made since the last weigh-in: {listed(turns, file)}{more}."
    return wrapped(f"{made} Settle the car and weigh again.")


def boarded(words: Sequence[str], turned: bool) -> Answer:
    """Say what is on the pads from here on.

    Args:
        words: Names, with their amount or not.
        turned: Whether it was said that something was turned since the last weigh-in.
    """
    there = ", ".join(words) or "nothing that comes and goes"
    turns = "" if turned else " Nothing counts as turned since the last weigh-in."
    text = wrapped(f"On the pads from here on: {there}.{turns} Settle the car and weigh.")
    return {"aboard": list(words), "text": text}


def linked(file: CarFile, terms: Terms) -> Answer:
    """Say whether drop links may be turned from here on."""
    text = links_words(file, terms) or "Drop links are left alone from here on."
    return {"links": terms.links is True, "text": wrapped(text)}


def unmade(file: CarFile, lines: Replay, weigh_ins: int) -> Answer:
    """Say that turns are taken back, and what counts as made instead.

    Args:
        weigh_ins: How many there are.
    """
    counts = _as_planned(lines.due, file)
    text = wrapped(f"Taken back: what was said to be made. {counts[:1].upper()}{counts[1:]}.")
    return {"undone": "made", "weigh_ins": weigh_ins, "text": text}


def taken_back(file: CarFile, lines: Replay, weigh_ins: int) -> Answer:
    """Say that a weigh-in is taken back, and what is left.

    Args:
        weigh_ins: How many are left.
    """
    text = "Taken back: nothing is weighed yet."
    if weigh_ins:
        turns = plus(lines.made, lines.due)
        since = listed(NOTHING if turns is None else turns, file)
        text = f"Taken back: {weigh_ins} left, and {since} turned since."
    return {"undone": "weigh_in", "weigh_ins": weigh_ins, "text": text}


def unanswered(rows: Sequence[Row], partial: Row) -> Answer | None:
    """Tell of readings that the log does not have; None where it has all of them.

    Args:
        rows: Read, and not answered for.
        partial: Pads read one at a time, not yet four.
    """
    lost = [*rows, *([partial] if partial else ())]
    lines = [wrapped(f"{_read(row)} was not answered for and is not in the log.") for row in rows]
    if partial:
        pads = ", ".join(f"{pad} {load:.10g}" for pad, load in partial.items())
        lines.append(wrapped(f"{pads}: not all four were read, and it is not in the log."))
    return {"not_in_log": lost, "text": "\n".join(lines)} if lost else None


def done(lost: Answer | None, begun: bool) -> Answer:
    """Say that the session is over, and what the log has of it."""
    if lost is None:
        return {"done": True, "text": "Session ended; the log has it all."}
    rest = "the log has the rest" if begun else "nothing of it is in the log"
    return {"done": True, **lost, "text": f"{lost['text']}\nSession ended; {rest}."}


def listed(turns: Floats, file: CarFile) -> str:
    """List turns by corner, as they are counted there, and of drop links.

    Args:
        turns: (n,), as in `replay.turns_in`.
    """
    return turned_corners(turns, file.counts()) or "nothing"


def _as_planned(due: Floats | None, file: CarFile, verb: str = "was") -> str:
    if due is None or not due.any():
        return "nothing was planned: nothing is turned, unless you say otherwise"
    return f"the plan {verb} {listed(due, file)}: made, unless you say otherwise"


def _read(row: Row) -> str:
    return " ".join(f"{row[pad]:.10g}" for pad in CORNERS)
